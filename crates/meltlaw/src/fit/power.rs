//! Power by the voltage law read at each instant, held against the measured power.

use super::errors_in_variables::EivFit;
use super::selection::Selection;
use crate::in_words::probability;
use crate::laws::{FitTest, PowerRule, Reading};
use crate::statistics::{mean, student_t_two_sided};
use crate::study::Study;
use crate::trials::{Column, Trials};

/// I_rms²/Ī² − 1 below which a trial says nothing about the instant resistance.
const LEAST_RIPPLE: f64 = 0.02;

/// Lowest power that an arc can have, over the product of mean voltage and mean current. A pulsed arc has more than
/// the product; filters and errors take off a little, never half.
const LEAST_SHARE: f64 = 0.5;
/// Highest one where current and voltage hardly vary together.
const MOST_SHARE: f64 = 2.0;

/// Whether no arc can have a power at this mean voltage and these currents: a slip of unit or of a digit.
///
/// A pure resistance, the most that voltage can follow the current, has I_rms²/Ī² times the product; a tenth more
/// is left to errors.
pub(crate) fn is_impossible(power_w: f64, product_w: f64, rms_over_mean: Option<f64>) -> bool {
    let most = rms_over_mean.map_or(MOST_SHARE, |ratio| MOST_SHARE.max(1.1 * ratio * ratio));
    !(LEAST_SHARE..=most).contains(&(power_w / product_w))
}

/// What is wrong with the powers of the trials used, in words; `None` where every one is possible.
pub fn impossible_powers(study: &Study, trials: &Trials, selection: &Selection) -> Option<String> {
    let mut wrong = Vec::new();
    for (&row, o) in selection.used.iter().zip(&selection.observations) {
        let trial = &trials.rows[row];
        let Some(power) = trial.get(Column::PowerMean) else { continue };
        let power = Trials::contact_tip_power_w(trial, &study.bench).unwrap_or(power);
        let product = o.y * o.row[0];
        if is_impossible(power, product, trial.get(Column::CurrentRms).map(|rms| rms / o.row[0])) {
            wrong.push((trial.name.as_str(), power, product));
        }
    }
    let &(name, power, product) = wrong.first()?;
    Some(format!(
        "power_mean_w of {} cannot be: {name} has {power:.4} W, mean voltage times mean current is {product:.0} W; name \
         the unit of the column (power_mean_kw, or scale in [[trials]]), or correct or blank the cells",
        if wrong.len() == 1 { "1 trial".to_owned() } else { format!("{} trials", wrong.len()) }
    ))
}

/// Tests the power rule and says which resistance the line's power uses.
///
/// ```text
/// P = (U0 + E·a)·Ī + (R + r·L)·I_rms² = Ū·Ī + (R + r·L)·(I_rms² − Ī²)
/// mean of (P − Ū·Ī)/(I_rms² − Ī²) − (R + r·L) = 0 ?
/// ```
/// # Source
/// Derived: the mean of u·i when the instant voltage follows the law with the instant current.
pub fn judge(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    fit: &EivFit,
    covariance: &[Vec<f64>],
) -> (FitTest, PowerRule) {
    let expected = "(P − U·I)/(I_rms² − I²) equals R + r·L";
    let slope = fit.b[1];
    let by_extension = fit.b.get(3).copied().unwrap_or(0.0);
    let mut resistances = Vec::new();
    let mut apart = Vec::new();
    let mut extensions = Vec::new();
    for (&row, o) in selection.used.iter().zip(&selection.observations) {
        let trial = &trials.rows[row];
        let (Some(power), Some(rms)) =
            (Trials::contact_tip_power_w(trial, &study.bench), trial.get(Column::CurrentRms))
        else {
            continue;
        };
        let mean_current = o.row[0];
        let ripple = rms * rms - mean_current * mean_current;
        if ripple < LEAST_RIPPLE * mean_current * mean_current {
            continue;
        }
        let resistance = (power - o.y * mean_current) / ripple;
        resistances.push(resistance);
        apart.push(resistance - slope - by_extension * o.row[2]);
        extensions.push(o.row[2]);
    }
    let n = apart.len() as f64;
    if apart.len() < 3 {
        let reason = format!("power_mean_w is given for {} pulsed trials, three are needed", apart.len());
        return (
            FitTest::not_made("ohm", expected, reason.clone(), "log power as the mean of u·i"),
            PowerRule {
                rule: "law".to_owned(),
                instant_resistance_ohm: None,
                instant_resistance_ohm_se: None,
                reason: Some(reason),
            },
        );
    }
    let variance = |values: &[f64]| {
        let m = mean(values);
        values.iter().map(|v| (v - m) * (v - m)).sum::<f64>() / (n - 1.0)
    };
    let mean_extension = mean(&selection.observations.iter().map(|o| o.row[2]).collect::<Vec<_>>());
    let h = [0.0, 1.0, 0.0, mean_extension];
    let mut of_law = 0.0;
    for (i, row) in covariance.iter().enumerate() {
        for (j, c) in row.iter().enumerate() {
            of_law += h[i] * c * h[j];
        }
    }
    let effect = mean(&apart);
    let t = effect / (variance(&apart) / n + of_law).sqrt();
    let p = student_t_two_sided(t, fit.degrees_of_freedom() as f64);
    let misfit = p < 1.0 - study.numerics.confidence;
    let test = FitTest {
        statistic: Some(t),
        p_value: Some(p),
        effect: Some(effect),
        unit: "ohm".to_owned(),
        reading: Reading::new(
            expected,
            format!("{effect:+.5} ohm apart ({})", probability(p)),
            if misfit { "the line's power uses the measured instant resistance instead; check that power is the mean of u·i and not a product of means" } else { "nothing" },
        ),
        warns: p < super::diagnosis::WARNS_BELOW,
        trials: Vec::new(),
        reason: None,
    }
    .finite_or_missing();
    let rule = PowerRule {
        rule: if misfit { "instant_resistance" } else { "law" }.to_owned(),
        instant_resistance_ohm: Some(mean(&resistances)),
        instant_resistance_ohm_se: Some((variance(&resistances) / n).sqrt()),
        reason: None,
    };
    (test, rule)
}
