//! Separation found by arithmetic before any fit: where the classes do not overlap, the steepness
//! diverges and no standard error means anything.

use microlp::{ComparisonOp, LinearExpr, OptimizationDirection, Problem};

/// Which classes a trial has shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Seen {
    /// A pulse without a drop.
    pub none: bool,
    /// A pulse with one drop.
    pub one: bool,
    /// A pulse with more.
    pub more: bool,
}

/// Whether some direction in (current, time, thresholds) separates the classes at least weakly, in
/// which case the likelihood has no maximum.
///
/// `settings` are (ln current, ln time) per trial. Classes that no trial shows must be taken out first.
///
/// # Source
/// Albert and Anderson (1984), Biometrika 71, 1–10, as a linear programme in four unknowns.
pub fn separated(settings: &[(f64, f64)], seen: &[Seen], two_thresholds: bool) -> bool {
    let scaled = standardise(settings);
    let mut total = [0.0; 4];
    let mut rows: Vec<[f64; 4]> = Vec::new();
    for (&(x, y), s) in scaled.iter().zip(seen) {
        // b·(x, y) − θ1 ≥ 0 where a drop was seen, ≤ 0 where none was; the same for θ2.
        let first = [x, y, -1.0, 0.0];
        let second = [x, y, 0.0, -1.0];
        if s.none {
            rows.push(first.map(|v| -v));
        }
        if s.one || (s.more && !two_thresholds) {
            rows.push(first);
        }
        if two_thresholds && s.one {
            rows.push(second.map(|v| -v));
        }
        if two_thresholds && s.more {
            rows.push(second);
        }
    }
    for row in &rows {
        for (t, v) in total.iter_mut().zip(row) {
            *t += v;
        }
    }
    let mut problem = Problem::new(OptimizationDirection::Maximize);
    // The steepness is positive: longer pulses drop more.
    let bounds = [(-1.0, 1.0), (0.0, 1.0), (-10.0, 10.0), (-10.0, 10.0)];
    let variables: Vec<_> = total.iter().zip(bounds).map(|(&t, b)| problem.add_var(t, b)).collect();
    let expression = |row: &[f64]| {
        let mut e = LinearExpr::empty();
        for (&variable, &value) in variables.iter().zip(row) {
            e.add(variable, value);
        }
        e
    };
    for row in &rows {
        problem.add_constraint(expression(row), ComparisonOp::Ge, 0.0);
    }
    if two_thresholds {
        problem.add_constraint(expression(&[0.0, 0.0, -1.0, 1.0]), ComparisonOp::Ge, 0.0);
    }
    match problem.solve() {
        Ok(outcome) => outcome.into_solution().is_ok_and(|s| s.objective() > 1e-7),
        Err(_) => false,
    }
}

fn standardise(settings: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let scale = |values: Vec<f64>| -> Vec<f64> {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let spread = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt();
        let unit = if spread > 1e-9 { spread } else { 1.0 };
        values.iter().map(|v| if spread > 1e-9 { (v - mean) / unit } else { 0.0 }).collect()
    };
    let x = scale(settings.iter().map(|s| s.0).collect());
    let y = scale(settings.iter().map(|s| s.1).collect());
    x.into_iter().zip(y).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn none() -> Seen {
        Seen { none: true, ..Seen::default() }
    }
    fn one() -> Seen {
        Seen { one: true, ..Seen::default() }
    }

    #[test]
    fn a_clean_step_is_separated_and_an_overlap_is_not() {
        let settings: Vec<(f64, f64)> = (0..6).map(|i| (0.1 * f64::from(i % 2), f64::from(i))).collect();
        let step = [none(), none(), none(), one(), one(), one()];
        assert!(separated(&settings, &step, false));
        let overlap = [none(), one(), none(), one(), none(), one()];
        let flat: Vec<(f64, f64)> = settings.iter().map(|s| (0.0, s.1)).collect();
        assert!(!separated(&flat, &overlap, false));
    }

    #[test]
    fn overlap_at_a_single_setting_is_still_separated() {
        let settings = [(0.0, 0.0), (0.0, 1.0), (0.0, 2.0)];
        let both = Seen { none: true, one: true, more: false };
        assert!(separated(&settings, &[none(), both, one()], false));
    }
}
