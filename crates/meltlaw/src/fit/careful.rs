//! Sums of products with about twice the digits of a double: what a fit needs where large terms cancel.
//!
//! # Source
//! Ogita, Rump and Oishi (2005), SIAM J. Sci. Comput. 26, 1955–1988: Dot2; its parts by Knuth
//! (sum) and by a fused multiply-add (product).

/// A number as a double and what rounding took from it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct TwoPart {
    /// The number rounded.
    pub(super) value: f64,
    /// What is missing.
    pub(super) rest: f64,
}

/// a + b without rounding.
pub(super) fn sum(a: f64, b: f64) -> TwoPart {
    let value = a + b;
    let back = value - a;
    TwoPart { value, rest: (a - (value - back)) + (b - back) }
}

/// start + Σ a·b.
pub(super) fn dot(start: f64, a: impl IntoIterator<Item = f64>, b: impl IntoIterator<Item = f64>) -> TwoPart {
    let (mut value, mut rest) = (start, 0.0);
    for (a, b) in a.into_iter().zip(b) {
        let product = a * b;
        let next = sum(value, product);
        value = next.value;
        rest += next.rest + a.mul_add(b, -product);
    }
    sum(value, rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_that_cancels_keeps_its_digits() {
        // (1 + 2⁻⁵²)² − 1 − 2⁻⁵¹ = 2⁻¹⁰⁴, lost in doubles.
        let a = 1.0 + f64::EPSILON;
        let found = dot(-1.0, [a, -2.0], [a, f64::EPSILON]);
        assert!((found.value / 2.0_f64.powi(-104) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn the_rest_is_what_the_value_lacks() {
        // 10¹⁶ + 1 lies between two doubles 2 apart.
        let found = dot(1e16, [1.0], [1.0]);
        assert!((found.value, found.rest) == (1e16, 1.0), "{found:?}");
    }
}
