//! A number in a message: as short as it can be told.

/// A number as it was typed; by a power of ten where it would be many zeros.
pub fn short_number(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || (1e-4..1e7).contains(&size) || !size.is_finite() {
        format!("{value}")
    } else {
        format!("{value:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_of_three_hundred_digits_is_told_in_five_letters() {
        let told = [1e308, -1e308, 5e-324, 1e7, 180.0, 6.096, 0.0, f64::NAN].map(short_number);
        assert_eq!(told, ["1e308", "-1e308", "5e-324", "1e7", "180", "6.096", "0", "NaN"]);
    }
}
