//! Numbers that carry their derivatives: exact derivatives of any formula written with them.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// Most variables that a formula may be differentiated by.
pub const MOST: usize = 9;

/// A value and its derivatives by up to [`MOST`] variables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dual {
    /// The value.
    pub value: f64,
    /// Its derivatives.
    pub by: [f64; MOST],
}

impl Dual {
    /// A number that depends on nothing.
    pub const fn constant(value: f64) -> Self {
        Self { value, by: [0.0; MOST] }
    }

    /// The variable with index `index`.
    pub fn variable(value: f64, index: usize) -> Self {
        let mut by = [0.0; MOST];
        by[index] = 1.0;
        Self { value, by }
    }

    /// All of `values` as variables.
    pub fn variables(values: &[f64]) -> Vec<Self> {
        values.iter().enumerate().map(|(i, v)| Self::variable(*v, i)).collect()
    }

    /// f(self) from its value and derivative.
    fn chain(self, value: f64, derivative: f64) -> Self {
        Self { value, by: self.by.map(|d| if d == 0.0 { 0.0 } else { derivative * d }) }
    }

    /// e to the power.
    #[must_use]
    pub fn exp(self) -> Self {
        let e = self.value.exp();
        self.chain(e, e)
    }

    /// Natural logarithm.
    #[must_use]
    pub fn ln(self) -> Self {
        self.chain(self.value.ln(), 1.0 / self.value)
    }

    /// Sine.
    #[must_use]
    pub fn sin(self) -> Self {
        self.chain(self.value.sin(), self.value.cos())
    }

    /// Cosine.
    #[must_use]
    pub fn cos(self) -> Self {
        self.chain(self.value.cos(), -self.value.sin())
    }

    /// Arctangent.
    #[must_use]
    pub fn atan(self) -> Self {
        self.chain(self.value.atan(), 1.0 / (1.0 + self.value * self.value))
    }

    /// A whole power.
    #[must_use]
    pub fn powi(self, n: i32) -> Self {
        self.chain(self.value.powi(n), f64::from(n) * self.value.powi(n - 1))
    }

    /// A power that itself depends on the variables; the base must be positive.
    #[must_use]
    pub fn pow(self, exponent: Self) -> Self {
        let value = self.value.powf(exponent.value);
        let by_base = exponent.value * self.value.powf(exponent.value - 1.0);
        let by_exponent = value * self.value.ln();
        let mut by = [0.0; MOST];
        for (i, out) in by.iter_mut().enumerate() {
            *out = by_base * self.by[i] + by_exponent * exponent.by[i];
        }
        Self { value, by }
    }
}

impl From<f64> for Dual {
    fn from(value: f64) -> Self {
        Self::constant(value)
    }
}

impl Neg for Dual {
    type Output = Self;
    fn neg(self) -> Self {
        self.chain(-self.value, -1.0)
    }
}

macro_rules! operator {
    ($trait:ident, $name:ident, |$a:ident, $b:ident| $value:expr, $by_a:expr, $by_b:expr) => {
        impl $trait for Dual {
            type Output = Dual;
            fn $name(self, other: Dual) -> Dual {
                let ($a, $b) = (self.value, other.value);
                let (by_a, by_b) = ($by_a, $by_b);
                let mut by = [0.0; MOST];
                for (i, out) in by.iter_mut().enumerate() {
                    let _ = ($a, $b);
                    *out = by_a * self.by[i] + by_b * other.by[i];
                }
                Dual { value: $value, by }
            }
        }
        impl $trait<f64> for Dual {
            type Output = Dual;
            fn $name(self, other: f64) -> Dual {
                self.$name(Dual::constant(other))
            }
        }
        impl $trait<Dual> for f64 {
            type Output = Dual;
            fn $name(self, other: Dual) -> Dual {
                Dual::constant(self).$name(other)
            }
        }
    };
}

operator!(Add, add, |a, b| a + b, 1.0, 1.0);
operator!(Sub, sub, |a, b| a - b, 1.0, -1.0);
operator!(Mul, mul, |a, b| a * b, b, a);
operator!(Div, div, |a, b| a / b, 1.0 / b, -a / (b * b));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn derivatives_of_a_formula_are_those_by_hand() {
        // f = x^y·sin(x)/y at x = 2, y = 3: f = 8·sin 2/3;
        // ∂f/∂x = (12·sin 2 + 8·cos 2)/3; ∂f/∂y = 8·sin 2·(ln 2/3 − 1/9).
        let [x, y] = [Dual::variable(2.0, 0), Dual::variable(3.0, 1)];
        let f = x.pow(y) * x.sin() / y;
        let (s, c) = 2.0_f64.sin_cos();
        assert!((f.value - 8.0 * s / 3.0).abs() < 1e-14);
        assert!((f.by[0] - (12.0 * s + 8.0 * c) / 3.0).abs() < 1e-13);
        assert!((f.by[1] - 8.0 * s * (2.0_f64.ln() / 3.0 - 1.0 / 9.0)).abs() < 1e-13);
    }
}
