//! Numbers that carry their first and second derivatives by the three free settings of a feed.

use std::ops::{Add, Mul, Neg, Sub};

/// A value with gradient and Hessian; the Hessian as (11, 12, 13, 22, 23, 33).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Jet {
    pub(super) value: f64,
    pub(super) gradient: [f64; 3],
    pub(super) hessian: [f64; 6],
}

/// Places of the Hessian's upper triangle.
pub(super) const PAIRS: [(usize, usize); 6] = [(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)];

impl Jet {
    /// A number that depends on nothing.
    pub(super) const fn constant(value: f64) -> Self {
        Self { value, gradient: [0.0; 3], hessian: [0.0; 6] }
    }

    /// The free setting number `index` itself.
    pub(super) fn variable(value: f64, index: usize) -> Self {
        let mut gradient = [0.0; 3];
        gradient[index] = 1.0;
        Self { value, gradient, hessian: [0.0; 6] }
    }

    /// A function of this number, from its value and its first two derivatives.
    pub(super) fn chain(self, value: f64, first: f64, second: f64) -> Self {
        let g = self.gradient;
        let mut hessian = self.hessian.map(|h| first * h);
        for (h, (i, j)) in hessian.iter_mut().zip(PAIRS) {
            *h += second * g[i] * g[j];
        }
        Self { value, gradient: g.map(|g| first * g), hessian }
    }

    pub(super) fn ln(self) -> Self {
        let v = self.value;
        self.chain(v.ln(), 1.0 / v, -1.0 / (v * v))
    }

    pub(super) fn exp(self) -> Self {
        let e = self.value.exp();
        self.chain(e, e, e)
    }

    pub(super) fn square(self) -> Self {
        self.chain(self.value * self.value, 2.0 * self.value, 2.0)
    }

    pub(super) fn over(self, divisor: Self) -> Self {
        let d = divisor.value;
        self * divisor.chain(1.0 / d, -1.0 / (d * d), 2.0 / (d * d * d))
    }
}

impl Add for Jet {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            value: self.value + other.value,
            gradient: std::array::from_fn(|i| self.gradient[i] + other.gradient[i]),
            hessian: std::array::from_fn(|i| self.hessian[i] + other.hessian[i]),
        }
    }
}

impl Add<f64> for Jet {
    type Output = Self;
    fn add(self, other: f64) -> Self {
        Self { value: self.value + other, ..self }
    }
}

impl Sub for Jet {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Neg for Jet {
    type Output = Self;
    fn neg(self) -> Self {
        self * -1.0
    }
}

impl Mul<f64> for Jet {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self {
            value: factor * self.value,
            gradient: self.gradient.map(|g| factor * g),
            hessian: self.hessian.map(|h| factor * h),
        }
    }
}

impl Mul for Jet {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let (a, b) = (self.value, other.value);
        let mut hessian = std::array::from_fn(|k| b * self.hessian[k] + a * other.hessian[k]);
        for (h, (i, j)) in hessian.iter_mut().zip(PAIRS) {
            *h += self.gradient[i] * other.gradient[j] + self.gradient[j] * other.gradient[i];
        }
        Self { value: a * b, gradient: std::array::from_fn(|i| b * self.gradient[i] + a * other.gradient[i]), hessian }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn derivatives_agree_with_differences() {
        let f = |u: [f64; 3]| {
            let [x, y, v] = [0, 1, 2].map(|i| Jet::variable(u[i], i));
            let inner = (x * y + v.exp()).ln() - (v + 2.0).over(x.square() + 1.0);
            inner * y.exp()
        };
        let at = [1.3, 0.7, -0.4];
        let here = f(at);
        let h = 1e-5;
        for i in 0..3 {
            let moved = |by: f64| {
                let mut u = at;
                u[i] += by;
                f(u)
            };
            let (up, down) = (moved(h), moved(-h));
            // Central differences: error h² times third derivatives of order 10.
            assert!(((up.value - down.value) / (2.0 * h) - here.gradient[i]).abs() < 1e-8);
            for (k, (a, b)) in PAIRS.into_iter().enumerate() {
                if a == i {
                    let second = (up.gradient[b] - down.gradient[b]) / (2.0 * h);
                    assert!((second - here.hessian[k]).abs() < 1e-7, "{a}{b}");
                }
            }
        }
    }
}
