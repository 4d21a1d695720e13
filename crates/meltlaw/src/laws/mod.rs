//! The three laws: formulas with named coefficients, and what a fit leaves of them.

mod arc_voltage;
mod burn_off;
mod cloud;
mod detachment;
mod distance;
mod fitted;
mod law;

pub use arc_voltage::ArcVoltage;
pub use burn_off::BurnOff;
pub use cloud::{CloudEnd, JointRegion, TrialCloud};
pub use detachment::{DETACHMENT_COEFFICIENTS, Detachment, logistic};
pub use distance::{DistanceRange, distance_ranges, is_one_distance};
pub use fitted::*;
pub use law::{CoefficientName, Law};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::{ArcVoltageForm, BurnOffForm};
    use proptest::prelude::*;

    /// Central differences of `predict` against both gradients: what would be wrong is a sign, a factor
    /// or an index in an analytic derivative.
    fn derivatives_agree(law: &impl Law, b: &[f64], row: &[f64]) {
        let mut by_coefficient = vec![0.0; b.len()];
        law.gradient(b, row, &mut by_coefficient);
        let mut by_row = vec![0.0; row.len()];
        law.gradient_by_row(b, row, &mut by_row);
        let size = law.predict(b, row).abs().max(1.0);
        let check = |values: &[f64], derivative: &[f64], f: &dyn Fn(&[f64]) -> f64| {
            for i in 0..values.len() {
                let h = values[i].abs().max(1e-3) * 1e-5;
                let (mut up, mut down) = (values.to_vec(), values.to_vec());
                up[i] += h;
                down[i] -= h;
                let difference = (f(&up) - f(&down)) / (2.0 * h);
                // Central differences at this step leave 1e-10 of the value over the step, 1e-5.
                assert!(
                    (difference - derivative[i]).abs() * values[i].abs().max(1e-3) < 1e-5 * size,
                    "{i}: {difference} {}",
                    derivative[i]
                );
            }
        };
        check(b, &by_coefficient, &|b| law.predict(b, row));
        check(row, &by_row, &|row| law.predict(b, row));
    }

    proptest! {
        #[test]
        fn gradients_agree_with_central_differences(
            alpha in 0.1..1.0_f64, beta in 1e-6..3e-4_f64, offset in -10.0..10.0_f64,
            mean in 30.0..400.0_f64, more in 1.0..1.5_f64, extension in 5.0..30.0_f64, arc in 1.0..8.0_f64,
            u0 in 5.0..25.0_f64, r in 0.0..0.1_f64, e in 0.1..2.0_f64, rl in 1e-5..2e-3_f64,
        ) {
            let row = [mean, mean * more, extension];
            derivatives_agree(&BurnOff(BurnOffForm::Proportional), &[alpha, beta], &row);
            derivatives_agree(&BurnOff(BurnOffForm::Offset), &[alpha, beta, offset], &row);
            let row = [mean, arc, extension];
            derivatives_agree(&ArcVoltage(ArcVoltageForm::Current), &[u0, r], &row);
            derivatives_agree(&ArcVoltage(ArcVoltageForm::CurrentArc), &[u0, r, e], &row);
            derivatives_agree(&ArcVoltage(ArcVoltageForm::CurrentArcExtension), &[u0, r, e, rl], &row);
        }
    }
}
