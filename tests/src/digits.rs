//! How many digits two numbers share.

/// Digits that `found` shares with `wanted`: −log₁₀ of the relative difference, of the absolute one where
/// `wanted` is 0, at most 16 (all that a double has).
///
/// # Source
/// The LRE of McCullough (1998), The American Statistician 52, 358–366.
pub fn digits(found: f64, wanted: f64) -> f64 {
    if !found.is_finite() || !wanted.is_finite() {
        return 0.0;
    }
    let apart = if wanted == 0.0 { found.abs() } else { ((found - wanted) / wanted).abs() };
    if apart == 0.0 { 16.0 } else { (-apart.log10()).clamp(0.0, 16.0) }
}

/// The fewest digits that two lists share, entry by entry.
pub fn fewest_digits(found: &[f64], wanted: &[f64]) -> f64 {
    assert_eq!(found.len(), wanted.len(), "lists of different length");
    found.iter().zip(wanted).map(|(f, w)| digits(*f, *w)).fold(16.0, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_part_in_a_thousand_is_three_digits() {
        // |1001 − 1000|/1000 = 10⁻³
        assert!((digits(1001.0, 1000.0) - 3.0).abs() < 1e-9);
        assert!((digits(1e-5, 0.0) - 5.0).abs() < 1e-9);
        assert!(digits(f64::NAN, 1.0) < 1e-9);
    }
}
