//! What a law fitted by least squares is: a formula with named coefficients, nothing about how they
//! are found.

/// A coefficient's name and unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CoefficientName {
    /// Name with its unit suffix.
    pub name: &'static str,
    /// Unit for people.
    pub unit: &'static str,
}

/// A formula with named coefficients.
///
/// `row` holds the measured quantities the law predicts from, in the law's own units and order;
/// errors in variables need the derivatives by them.
pub trait Law {
    /// Names and units, in the order of every coefficient vector and covariance.
    fn coefficients(&self) -> &'static [CoefficientName];
    /// Number of measured quantities in a row.
    fn quantities(&self) -> usize;
    /// The predicted value, in the law's unit.
    fn predict(&self, coefficients: &[f64], row: &[f64]) -> f64;
    /// Writes the derivative of `predict` by each coefficient.
    fn gradient(&self, coefficients: &[f64], row: &[f64], out: &mut [f64]);
    /// Writes the derivative of `predict` by each measured quantity.
    fn gradient_by_row(&self, coefficients: &[f64], row: &[f64], out: &mut [f64]);
}
