//! *Finds* mean powers that no arc can have with the row's voltage and currents, and power in kilowatts.
//!
//! *Why it matters*: power sets arc energy and heat input; it must come from u·i sample by sample.
//!
//! *What to do*: compute the mean of u·i from the same channels and window, or blank the cell.
//!
//! *Example*: 3.587 in `power_mean_w` at 24.66 V and 132 A (3265 W): kilowatts.
//!
//! Constant current has P = Ū·Ī. A pulsed arc whose voltage rises with current has more, and a pure
//! resistance, the most that voltage can follow the current, Ū·I_rms²/Ī. Power and currents share the
//! probe's gain, which cancels.

use super::magnitude::in_another_unit;
use super::rows::{CONTRADICTION_ERRORS, cell_saying, finding, finding_if_any, in_rows, median, number};
use super::{Check, Finding, RowReference, Severity};
use crate::fit::power::is_impossible;
use crate::laws::Reading;
use crate::study::Study;
use crate::trials::{Column, Mode, Trial, Trials};

/// The check.
pub const CHECK: Check = Check {
    name: "power_against_product",
    about: "A mean power that no arc can have with the row's voltage and currents, or power in kilowatts.",
    look,
};

/// What channels of different filters may differ by, relative (common practice), besides 4 errors.
const FILTERS_RELATIVE: f64 = 0.05;

/// Power over voltage times mean current, its upper bound and its relative error.
struct Share {
    ratio: f64,
    upper: f64,
    error: f64,
}

fn share(study: &Study, trial: &Trial) -> Option<Share> {
    let positive = |column| trial.get(column).filter(|&v| v > 0.0);
    let (power, voltage) = (positive(Column::PowerMean)?, positive(Column::VoltageMean)?);
    let mean = positive(Column::CurrentMean)?;
    let upper = match positive(Column::CurrentRms) {
        Some(rms) => (rms / mean).powi(2).max(1.0),
        None if trial.mode == Mode::ConstantCurrent => 1.0,
        None => f64::INFINITY,
    };
    let voltage_se = trial.stated_se(Column::VoltageMean).unwrap_or(study.bench.voltage_se_v);
    let own = |column, value: f64| trial.stated_se(column).unwrap_or(0.0) / value;
    let error = (voltage_se / voltage).hypot(own(Column::PowerMean, power)).hypot(own(Column::CurrentMean, mean));
    Some(Share { ratio: power / (voltage * mean), upper, error })
}

fn look(study: &Study, trials: &Trials) -> Vec<Finding> {
    if in_another_unit(study, trials, &[Column::VoltageMean, Column::CurrentMean, Column::CurrentRms]) {
        return Vec::new();
    }
    let judged: Vec<(&Trial, Share)> = trials.used().filter_map(|t| share(study, t).map(|s| (t, s))).collect();
    let reference = |trial: &Trial| -> RowReference {
        let value = |column| trial.get(column).map_or_else(String::new, number);
        let found = format!(
            "{} W at {} V and {} A",
            value(Column::PowerMean),
            value(Column::VoltageMean),
            value(Column::CurrentMean)
        );
        cell_saying(trials, trial, Column::PowerMean, found)
    };
    let middle = median(&judged.iter().map(|(_, s)| s.ratio).collect::<Vec<_>>());
    for (factor, unit, mend) in
        [(1e3, "kW", "rename the column power_mean_kw"), (1e-3, "mW", "divide the column by 1000")]
    {
        if (0.7..=3.0).contains(&(middle * factor)) {
            let rows: Vec<RowReference> = judged.iter().map(|(t, _)| reference(t)).collect();
            let seen = format!("{} times the product {}: looks like {unit}", number(middle), in_rows(&rows));
            let reading = Reading::new("power near voltage times current", seen, mend);
            return vec![finding(CHECK.name, Severity::Stop, rows, reading)];
        }
    }
    let contradicts = |s: &Share| {
        let tolerance = CONTRADICTION_ERRORS * s.error + FILTERS_RELATIVE;
        s.ratio < 1.0 - tolerance || s.ratio > s.upper * (1.0 + tolerance)
    };
    let impossible = |s: &Share| is_impossible(s.ratio, 1.0, Some(s.upper.sqrt()).filter(|u| u.is_finite()));
    let named = |which: &dyn Fn(&Share) -> bool| {
        judged.iter().filter(|(_, s)| which(s)).map(|(t, _)| reference(t)).collect::<Vec<RowReference>>()
    };
    let mut findings = finding_if_any(CHECK.name, Severity::Warning, named(&|s| impossible(s)), |concerned| {
        Reading::new(
            "power that an arc can have",
            format!(
                "a power that no arc has at that voltage and current {concerned}; the arc voltage law is not fitted"
            ),
            "name the unit of the column (power_mean_kw, or scale in [[trials]]), or correct or blank the cells",
        )
    });
    findings.extend(finding_if_any(
        CHECK.name,
        Severity::Warning,
        named(&|s| contradicts(s) && !impossible(s)),
        |concerned| {
            Reading::new(
                "power between voltage times mean current and that times (RMS/mean)²",
                format!("outside {concerned}"),
                "compute power as the mean of u·i over the same samples as voltage and current, or blank the cell",
            )
        },
    ));
    findings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{changed, found, mapped, severities, steel_study, steel_trials};

    fn with_power(power_w: f64) -> Trials {
        // 25 V · 160 A = 4000 W; (200/160)² = 1.5625: at most 6250 W. Tolerance 4·0.15/25 + 5 % = 7.4 %.
        let trials = changed(changed(steel_trials(), 0, Column::VoltageMean, 25.0), 0, Column::CurrentMean, 160.0);
        changed(changed(trials, 0, Column::CurrentRms, 200.0), 0, Column::PowerMean, power_w)
    }

    #[test]
    fn power_off_its_bounds_is_flagged() {
        for power_w in [3600.0, 6800.0] {
            assert_eq!(severities(&CHECK, &steel_study(), &with_power(power_w)), [Severity::Warning]);
        }
    }

    #[test]
    fn power_within_them_is_not() {
        for power_w in [3750.0, 6600.0] {
            assert!(severities(&CHECK, &steel_study(), &with_power(power_w)).is_empty());
        }
    }

    #[test]
    fn a_power_that_no_arc_has_is_told_from_one_that_is_off() {
        for power_w in [4.0, 1900.0, 9000.0] {
            let findings = found(&CHECK, &steel_study(), &with_power(power_w));
            assert_eq!(findings.len(), 1);
            assert!(findings[0].reading.seen.contains("the arc voltage law is not fitted"), "{power_w}");
        }
    }

    #[test]
    fn kilowatts_stop() {
        let trials = mapped(steel_trials(), Column::PowerMean, |v| v / 1000.0);
        let findings = found(&CHECK, &steel_study(), &trials);
        assert_eq!(findings[0].severity, Severity::Stop);
        assert_eq!(findings[0].reading.action, "rename the column power_mean_kw");
    }
}
