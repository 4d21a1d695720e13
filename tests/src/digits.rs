//! How many digits two numbers share.

/// Digits that `found` shares with `wanted`: −log₁₀ of the relative difference, of the absolute one where
/// `wanted` is 0, at most 16 (all that a double has).
///
/// # Source
/// The LRE of McCullough (1998), The American Statistician 52, 358 (from memory).
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

/// Σ a·b − c as if computed with twice the digits of a double, then rounded.
///
/// # Source
/// Ogita, Rump and Oishi (2005), SIAM J. Sci. Comput. 26, 1955: Dot2 (from memory).
pub fn dot_less(a: &[f64], b: &[f64], c: f64) -> f64 {
    let (mut sum, mut rest) = (-c, 0.0);
    for (a, b) in a.iter().zip(b) {
        let product = a * b;
        let product_rest = a.mul_add(*b, -product);
        let next = sum + product;
        let back = next - sum;
        rest += (sum - (next - back)) + (product - back) + product_rest;
        sum = next;
    }
    sum + rest
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

    #[test]
    fn a_sum_that_cancels_keeps_its_digits() {
        // (1 + 2⁻⁵²)² − 1 − 2⁻⁵¹ = 2⁻¹⁰⁴, lost in doubles.
        let a = 1.0 + f64::EPSILON;
        assert!((dot_less(&[a, -2.0], &[a, f64::EPSILON], 1.0) / 2.0_f64.powi(-104) - 1.0).abs() < 1e-15);
    }
}
