//! *Finds* studies whose extension hardly varies.
//!
//! *Why it matters*: with one extension only the RMS tells α from β, and no other CTWD is measured. The
//! line is then at best `extended` at other distances.
//!
//! *What to do*: weld a third of the trials some millimetres shorter and a third longer.
//!
//! *Example*: 40 trials, all at 18 mm.
//!
//! Always a note; a warning where the columns Ī/w and L·I_rms²/w are nearly one column: above a condition
//! of 30 relative errors of the trials enter β thirty times as large as a well-planned study has them
//! (30 is where collinearity is commonly called harmful: Belsley, Kuh and Welsch, *Regression
//! Diagnostics*, from memory).

use super::needs::{Law, usable};
use super::rows::{finding, number};
use super::{Check, Finding, Severity};
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "one_ctwd",
    about: "An extension that hardly varies: only the RMS current tells α from β, and no other CTWD is measured.",
    look,
};

/// Arc length alone lets the extension scatter by about 6 % at one CTWD; three distances make 15 to 20 %.
const HARDLY_VARIES_RELATIVE: f64 = 0.08;
const HARMFUL_CONDITION: f64 = 30.0;
/// Fewer rows have a check of their own.
const LEAST_ROWS: usize = 3;

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    let (mut extensions, mut columns) = (Vec::new(), [0.0; 3]);
    for trial in usable(study, trials, Law::BurnOff) {
        let Some(geometry) = trials.geometry(trial, &study.bench) else { continue };
        let (Some(feed), Some(mean)) = (trial.get(Column::WireFeed), trial.get(Column::CurrentMean)) else { continue };
        let rms = trial.get(Column::CurrentRms).unwrap_or(mean);
        if feed <= 0.0 {
            continue;
        }
        let (by_mean, by_rms) = (mean / feed, geometry.extension_mm * rms * rms / feed);
        columns[0] += by_mean * by_mean;
        columns[1] += by_mean * by_rms;
        columns[2] += by_rms * by_rms;
        extensions.push(geometry.extension_mm);
    }
    let count = extensions.len();
    if count < LEAST_ROWS {
        return Vec::new();
    }
    #[allow(clippy::cast_precision_loss, reason = "counts of rows")]
    let n = count as f64;
    let mean = extensions.iter().sum::<f64>() / n;
    let sd = (extensions.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / n).sqrt();
    let varies = sd / mean.abs();
    if varies > HARDLY_VARIES_RELATIVE || varies.is_nan() {
        return Vec::new();
    }
    let cosine = (columns[1] / (columns[0] * columns[2]).sqrt()).clamp(-1.0, 1.0);
    let condition = ((1.0 + cosine) / (1.0 - cosine)).sqrt();
    let severity = if condition > HARMFUL_CONDITION { Severity::Warning } else { Severity::Note };
    let seen = format!(
        "extension {} mm, spread {} %; condition of mean current against extension·RMS² {}",
        number(mean),
        number(100.0 * varies),
        if condition.is_finite() { number(condition) } else { "infinite".to_owned() },
    );
    let reading = Reading::new(
        "trials at several contact-tip-to-work distances",
        seen,
        "weld a third of the trials 3 mm shorter and a third 4 mm longer; until then other CTWDs are at best extended",
    );
    vec![finding(CHECK.name, severity, Vec::new(), reading)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{mapped, severities, steel_study, steel_trials, without};
    use crate::trials::Mode;

    #[test]
    fn one_distance_is_a_note_while_the_rms_tells_alpha_from_beta() {
        let trials = mapped(steel_trials(), Column::Ctwd, |_| 18.0);
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Note]);
    }

    #[test]
    fn one_extension_and_one_current_are_a_warning() {
        let mut trials = mapped(without(steel_trials(), Column::CurrentRms), Column::CurrentMean, |_| 200.0);
        trials = mapped(mapped(trials, Column::Ctwd, |_| 18.0), Column::ArcLength, |_| 4.0);
        for trial in &mut trials.rows {
            trial.mode = Mode::ConstantCurrent;
        }
        assert_eq!(severities(&CHECK, &steel_study(), &trials), [Severity::Warning]);
    }

    #[test]
    fn three_distances_are_silent() {
        assert!(severities(&CHECK, &steel_study(), &steel_trials()).is_empty());
    }
}
