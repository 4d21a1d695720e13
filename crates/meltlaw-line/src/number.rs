//! The two precisions that a table of a line may have.

use core::fmt::Debug;
use core::ops::{Add, Div, Mul, Sub};

/// `f64` or `f32`: what the formulas of the line need of a number. Every operation rounds once, to nearest
/// (IEEE 754), so that a result is the same on every machine.
pub trait Number:
    sealed::Sealed
    + Copy
    + Debug
    + PartialOrd
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
{
    /// The number of this precision nearest to `value`.
    fn nearest(value: f64) -> Self;
    /// Square root, correctly rounded.
    fn square_root(self) -> Self;
    /// Neither NaN nor infinite.
    fn finite(self) -> bool;
    /// NaN.
    fn not_a_number(self) -> bool;
}

mod sealed {
    /// Keeps [`super::Number`] to the two precisions that the bounds are proven for.
    pub trait Sealed {}
    impl Sealed for f64 {}
    impl Sealed for f32 {}
}

impl Number for f64 {
    fn nearest(value: f64) -> Self {
        value
    }
    fn square_root(self) -> Self {
        libm::sqrt(self)
    }
    fn finite(self) -> bool {
        self.is_finite()
    }
    fn not_a_number(self) -> bool {
        self.is_nan()
    }
}

impl Number for f32 {
    fn nearest(value: f64) -> Self {
        value as f32
    }
    fn square_root(self) -> Self {
        libm::sqrtf(self)
    }
    fn finite(self) -> bool {
        self.is_finite()
    }
    fn not_a_number(self) -> bool {
        self.is_nan()
    }
}
