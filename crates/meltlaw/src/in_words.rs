//! Numbers of a reading in words: one way of writing each, wherever it is read.

/// A probability with its letter: `p = 0.12`, two digits, and `p < 0.001` for all that is smaller.
pub fn probability(p: f64) -> String {
    match p {
        p if !p.is_finite() => "p unknown".to_owned(),
        p if p < 0.001 => "p < 0.001".to_owned(),
        p => {
            // Written with two digits, 0.0996 is 1.0e-1.
            let written = format!("{p:.1e}");
            let power = written.split_once('e').and_then(|(_, power)| power.parse::<i32>().ok()).unwrap_or(0);
            format!("p = {p:.*}", usize::try_from(1 - power).unwrap_or(0))
        }
    }
}

/// A number as written with its unit; the unit `1` of a bare number is not printed.
pub fn with_unit(number: &str, unit: &str) -> String {
    if matches!(unit, "" | "1") { number.to_owned() } else { format!("{number} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_probability_has_two_digits_and_is_never_nought() {
        for (p, words) in [
            (1.0, "p = 1.0"),
            (0.5, "p = 0.50"),
            (0.0996, "p = 0.10"),
            (0.1, "p = 0.10"),
            (0.004_04, "p = 0.0040"),
            (0.001, "p = 0.0010"),
            (0.000_999, "p < 0.001"),
            (0.0, "p < 0.001"),
            (f64::NAN, "p unknown"),
        ] {
            assert_eq!(probability(p), words);
        }
    }

    #[test]
    fn a_bare_number_stays_bare() {
        assert_eq!(with_unit("3.00", "1"), "3.00");
        assert_eq!(with_unit("3.00", "ms"), "3.00 ms");
    }
}
