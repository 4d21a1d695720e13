//! The size and shape of the residuals: against the stated errors, against repeats, against a normal sample.

use super::{WARNS_BELOW, judged, name_list};
use crate::fit::errors_in_variables::EivFit;
use crate::fit::information::STRONGLY_COLLINEAR;
use crate::fit::selection::Selection;
use crate::laws::{FitTest, Reading};
use crate::statistics::{chi_squared_above, f_above, mean, shapiro_wilk};

/// Fewest residuals whose shape tells anything. Of fewer the fit itself gives them their shape: with one degree of
/// freedom every residual is as large as any other, and the test warns always. From here on normal errors warn at most
/// as often as stated, with two coefficients and with four.
const FEWEST_RESIDUALS: usize = 8;

/// Residuals against a normal sample.
pub(super) fn normality(studentised: &[Option<f64>]) -> FitTest {
    let expected = "residuals like a normal sample";
    let values: Vec<f64> = studentised.iter().filter_map(|v| *v).collect();
    if values.len() < FEWEST_RESIDUALS {
        let reason = format!(
            "{} residuals were found, {FEWEST_RESIDUALS} are needed: the shape of fewer is the fit's own",
            values.len()
        );
        return FitTest::not_made("1", expected, reason, "weld more trials");
    }
    match shapiro_wilk(&values) {
        Some(found) => FitTest {
            statistic: Some(found.statistic),
            p_value: Some(found.p_value),
            effect: Some(found.statistic),
            unit: "1".to_owned(),
            reading: judged(
                expected,
                format!("W = {:.3}", found.statistic),
                found.p_value,
                "look at the trials that stand out in the residual plot; one wrong number is the usual cause",
            ),
            warns: found.p_value < WARNS_BELOW,
            trials: Vec::new(),
            reason: None,
        },
        None => FitTest::not_made("1", expected, "8 to 5000 residuals that differ are needed", "weld more trials"),
    }
}

/// Spread among repeats against the spread about the law. Repeats are trials whose mean current and
/// other predictors agree within 1.5 %. `typical_error` is the stated error of a typical trial in `unit`.
pub(super) fn lack_of_fit(
    selection: &Selection,
    fit: &EivFit,
    names: &[String],
    typical_error: f64,
    unit: &str,
) -> FitTest {
    let expected = "trials at the same setting scatter as much as trials at different ones";
    let groups = repeats(selection);
    let (mut pure, mut pure_degrees) = (0.0, 0usize);
    for members in groups.iter().filter(|g| g.len() > 1) {
        let values: Vec<f64> = members.iter().map(|&i| fit.weighted[i]).collect();
        let m = mean(&values);
        pure += values.iter().map(|v| (v - m) * (v - m)).sum::<f64>();
        pure_degrees += members.len() - 1;
    }
    let degrees = fit.degrees_of_freedom();
    if pure_degrees == 0 || degrees <= pure_degrees {
        return FitTest::not_made(
            unit,
            expected,
            "no two trials used were welded at the same setting",
            "repeat two settings: that is enough to test it",
        );
    }
    let rest = (degrees - pure_degrees) as f64;
    let (about, among) = ((fit.sum_of_squares() - pure).max(0.0) / rest, pure / pure_degrees as f64);
    let f = about / among;
    let p = f_above(f, rest, pure_degrees as f64);
    let effect = (about - among).max(0.0).sqrt() * typical_error;
    let trials: Vec<String> =
        groups.iter().filter(|g| g.len() > 1).flat_map(|g| g.iter().map(|&i| names[i].clone())).collect();
    FitTest {
        statistic: Some(f),
        p_value: Some(p),
        effect: Some(effect),
        unit: unit.to_owned(),
        reading: judged(
            expected,
            format!(
                "{effect:.2} {unit} of scatter about the law that the repeats ({}) do not show; {pure_degrees} degree(s) from repeats",
                name_list(&trials)
            ),
            p,
            "the law does not follow the trials everywhere: look at the residuals over current and extension, and compare the other forms",
        ),
        warns: p < WARNS_BELOW,
        trials,
        reason: None,
    }
}

/// Trials grouped by setting.
fn repeats(selection: &Selection) -> Vec<Vec<usize>> {
    let alike = |a: usize, b: usize| {
        selection.observations[a]
            .row
            .iter()
            .zip(&selection.observations[b].row)
            .all(|(x, y)| (x - y).abs() <= 0.015 * x.abs().max(y.abs()))
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    // First members by their first predictor: only those near it need a closer look.
    let mut firsts: Vec<(f64, usize)> = Vec::new();
    for i in 0..selection.used.len() {
        let first = selection.observations[i].row[0];
        // Somewhat wider than `alike`, whose tolerance is of the larger of the two.
        let reach = 0.0155 * first.abs();
        let from = firsts.partition_point(|(f, _)| *f < first - reach);
        let near = firsts[from..].iter().take_while(|(f, _)| *f <= first + reach);
        match near.filter(|(_, g)| alike(groups[*g][0], i)).map(|(_, g)| *g).min() {
            Some(found) => groups[found].push(i),
            None => {
                firsts.insert(firsts.partition_point(|(f, _)| *f < first), (first, groups.len()));
                groups.push(vec![i]);
            }
        }
    }
    groups
}

/// χ² of the stated errors: too large, and something is missing; too small, and they were overstated.
pub(super) fn stated_errors(fit: &EivFit, typical_error: f64, unit: &str) -> FitTest {
    let degrees = fit.degrees_of_freedom() as f64;
    let chi = fit.sum_of_squares();
    let above = chi_squared_above(chi, degrees);
    let p = (2.0 * above.min(1.0 - above)).min(1.0);
    let ratio = (chi / degrees).sqrt();
    FitTest {
        statistic: Some(chi),
        p_value: Some(p),
        effect: Some(ratio),
        unit: "1".to_owned(),
        reading: judged(
            "residuals as large as the stated errors",
            format!(
                "residuals {ratio:.2} times the stated errors: {:.2} {unit} where {typical_error:.2} {unit} is stated for a typical trial",
                ratio * typical_error
            ),
            p,
            if ratio > 1.0 {
                "trials scatter more than stated: look for trials that stand out and for errors not stated; intervals from residuals allow for it, those from stated errors are too narrow"
            } else {
                "trials scatter less than stated: the stated errors are cautious, and intervals from stated errors too wide"
            },
        ),
        // A handful of trials fitted with errors in variables takes up more than its degrees say.
        warns: p < WARNS_BELOW && degrees >= 8.0,
        trials: Vec::new(),
        reason: None,
    }
}

/// Condition up to which collinearity is told but is no warning: the intervals are wide and honest.
const INTERVALS_SAY_IT_ALREADY: f64 = 100.0;

/// How well the coefficients can be told apart.
pub(super) fn collinearity(fit: &EivFit, cure: &str) -> FitTest {
    let condition = fit.condition;
    let hard = condition > STRONGLY_COLLINEAR;
    FitTest {
        statistic: Some(condition),
        p_value: None,
        effect: Some(condition),
        unit: "1".to_owned(),
        reading: Reading::new(
            "the trials vary so that each coefficient has its own effect: condition below 30",
            format!("condition {condition:.0} of the derivatives, columns of length 1"),
            if hard {
                format!("the coefficients can hardly be told apart and their errors go together: {cure}")
            } else {
                "nothing".to_owned()
            },
        ),
        warns: condition > INTERVALS_SAY_IT_ALREADY,
        trials: Vec::new(),
        reason: Some("a condition has no probability; it is held against a fixed limit".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::{DrawStream, Purpose};
    use nalgebra::{DMatrix, DVector};

    /// Internally studentised residuals of normal errors about a fit of so many coefficients.
    fn studentised(stream: &mut DrawStream, trials: usize, coefficients: usize) -> Vec<Option<f64>> {
        let design = DMatrix::from_fn(trials, coefficients, |i, j| match j {
            0 => 1.0,
            1 => i as f64,
            _ => stream.normal(),
        });
        let errors = DVector::from_fn(trials, |_, _| stream.normal());
        let q = design.qr().q();
        let residual = &errors - &q * (q.transpose() * &errors);
        let variance = residual.norm_squared() / (trials - coefficients) as f64;
        (0..trials).map(|i| Some(residual[i] / (variance * (1.0 - q.row(i).norm_squared())).sqrt())).collect()
    }

    #[test]
    fn normal_residuals_of_few_trials_warn_at_most_as_often_as_stated() {
        const FITS: usize = 4000;
        let mut stream = DrawStream::new(20_261_201, Purpose::Simulation, 0);
        for coefficients in [2, 4] {
            let p_values: Vec<f64> = (0..FITS)
                .filter_map(|_| normality(&studentised(&mut stream, FEWEST_RESIDUALS, coefficients)).p_value)
                .collect();
            assert_eq!(p_values.len(), FITS);
            for level in [0.05, WARNS_BELOW] {
                let rate = p_values.iter().filter(|p| **p < level).count() as f64 / FITS as f64;
                // Three standard errors of a rate as high as the level.
                let most = level + 3.0 * (level * (1.0 - level) / FITS as f64).sqrt();
                assert!(rate <= most, "{coefficients} coefficients: {rate} below {level}");
            }
        }
    }

    #[test]
    fn three_trials_have_no_test_of_normality_and_the_reason_says_how_many_are_needed() {
        // One degree of freedom: every studentised residual is 1 or −1, whatever the errors.
        let test = normality(&[Some(1.0), Some(-1.0), Some(1.0)]);
        assert!(!test.warns && !test.was_made());
        assert!(test.reason.is_some_and(|reason| reason.starts_with("3 residuals were found, 8 are needed")));
    }
}
