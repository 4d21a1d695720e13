//! Drift over the campaign, wear of the contact tip, and scatter that grows with the value.

use nalgebra::DVector;

use super::working::Working;
use super::{WARNS_BELOW, correlation, judged};
use crate::laws::FitTest;
use crate::statistics::{range, student_t_two_sided};

/// A shift that grows along a column, from its lowest to its highest value.
///
/// The effect is that of the column added to the law, which allows for what the coefficients took up of it where
/// settings were welded in order. The trend is looked for in two ways: the correlation of the studentised residuals
/// with the column, and its partial correlation beside the law. `statistic` is the one of the two that chance brings
/// less often, `p_value` its probability, and the test is judged by it.
pub(super) fn along(
    working: &Working,
    studentised: &[Option<f64>],
    order: &[Option<f64>],
    what: &str,
    column: &str,
    look_at: &str,
) -> FitTest {
    let expected = format!("no trend of the residuals in {what}");
    let unit = working.shift.unit;
    let refused = |reason: String, action: &str| FitTest::not_made(unit, &expected, reason, action);
    let not = |reason: String| refused(reason, &format!("note {column} for every trial"));
    let given: Vec<f64> = order.iter().filter_map(|o| *o).collect();
    if given.len() < 5 {
        return not(format!("{column} is given for {} of the trials used, five are needed", given.len()));
    }
    let [low, high] = range(given.iter().copied());
    if !(high > low) {
        return not(format!("{column} is the same for all trials"));
    }
    let middle = given.iter().sum::<f64>() / given.len() as f64;
    let column = DVector::from_fn(order.len(), |i, _| {
        order[i].map_or(0.0, |o| working.sensitivity[i] * (o - middle) / (high - low))
    });
    let Some(added) = working.added(&column) else {
        return refused(
            "the trend cannot be told from the law's own coefficients".to_owned(),
            "weld in shuffled order, so that no setting rises or falls with it",
        );
    };
    let effect = added.estimate * working.shift.per_unit;
    let pairs: Vec<(f64, f64)> = studentised.iter().zip(order).filter_map(|(r, o)| Some(((*r)?, (*o)?))).collect();
    let alone = correlation(&pairs);
    let partial = added.t / (added.t * added.t + added.degrees).sqrt();
    let p_alone = probability_of_correlation(alone, pairs.len());
    // Guarded so that a correlation that is no number gives way.
    let only_partial = !p_alone.is_finite() || (added.p < WARNS_BELOW && !(p_alone < WARNS_BELOW));
    let (r, p) = if only_partial { (partial, added.p) } else { (alone, p_alone) };
    FitTest {
        statistic: Some(r),
        p_value: Some(p),
        effect: Some(effect),
        unit: unit.to_owned(),
        reading: judged(
            expected,
            format!("{effect:+.2} {unit} of {} from first to last by {what}", working.shift.what),
            p,
            look_at,
        ),
        warns: p < WARNS_BELOW,
        trials: Vec::new(),
        reason: None,
    }
}

/// Scatter that grows or falls with the fitted value: correlation of |residual| with its rank.
pub(super) fn heteroscedasticity(fitted: &[f64], internal: &[f64], unit: &str) -> FitTest {
    let expected = "residuals scatter alike at low and high values, after allowing for the stated errors";
    let pairs: Vec<(f64, f64)> =
        fitted.iter().zip(internal).filter(|(_, z)| z.is_finite()).map(|(f, z)| (*f, z.abs())).collect();
    if pairs.len() < 8 {
        return FitTest::not_made("1", expected, "eight trials are needed", "weld more trials");
    }
    // Cube roots make the size of a normal number nearly normal itself, so that the level of the test holds.
    let r = correlation(&pairs.iter().map(|(f, z)| (*f, z.powf(1.0 / 3.0))).collect::<Vec<_>>());
    let mut sorted = pairs.clone();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = sorted.len() / 2;
    let rms = |part: &[(f64, f64)]| (part.iter().map(|p| p.1 * p.1).sum::<f64>() / part.len() as f64).sqrt();
    let ratio = rms(&sorted[sorted.len() - half..]) / rms(&sorted[..half]);
    let p = probability_of_correlation(r, pairs.len());
    FitTest {
        statistic: Some(r),
        p_value: Some(p),
        effect: Some(ratio),
        unit: "1".to_owned(),
        reading: judged(
            expected,
            format!(
                "the upper half (above {:.1} {unit}) scatters {ratio:.2} times as much as the lower, in standard errors as stated",
                sorted[sorted.len() - half].0
            ),
            p,
            "the stated errors do not grow with the value as the true ones do: state a standard error per trial in the _se columns, or look at the feeder and the probe at the noisy end",
        ),
        warns: p < WARNS_BELOW,
        trials: Vec::new(),
        reason: None,
    }
}

/// Two-sided probability of a correlation of `n` pairs where there is none.
fn probability_of_correlation(r: f64, n: usize) -> f64 {
    let degrees = n as f64 - 2.0;
    student_t_two_sided(r * (degrees / (1.0 - r * r).max(1e-300)).sqrt(), degrees)
}
