//! How far the trials carry a setting: ranges of the laws' own variables, and leverage.

use std::collections::BTreeMap;

use meltlaw_line::{Limit, Support};

use super::laws_at_work::LawsAtWork;
use crate::laws::Laws;
use crate::line::Validity;
use crate::study::Study;

/// A variable at which the data end, and on which side.
pub(super) type Beyond = (&'static str, Limit);

/// A setting in the variables that support is judged by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// Wire feed, mm/s.
    pub(super) wire_feed_mm_s: f64,
    /// Ī.
    pub(super) current_mean_a: f64,
    /// I_rms².
    pub(super) mean_square_a2: f64,
    /// s.
    pub(super) detachment_s: f64,
    /// ln(I_p/I₀).
    pub(super) log_pulse_current: f64,
}

/// Ranges and conditions that support rests on.
#[derive(Debug, Clone)]
pub(super) struct Knowledge<'a> {
    study: &'a Study,
    laws: &'a LawsAtWork,
    ranges: BTreeMap<&'static str, [f64; 2]>,
    /// Nothing better than `extended`, and why.
    pub(super) at_best_extended: Option<String>,
}

impl<'a> Knowledge<'a> {
    /// From the record of the laws.
    pub(super) fn new(study: &'a Study, record: &Laws, laws: &'a LawsAtWork) -> Self {
        let mut ranges = BTreeMap::new();
        for (law, name) in [
            (&record.burn_off, "current_mean_a"),
            (&record.burn_off, "extension_rms_squared_mm_a2"),
            (&record.detachment, "detachment_s"),
            (&record.detachment, "log_pulse_current"),
            (&record.arc_voltage, "arc_length_mm"),
        ] {
            if let Some(range) = law.range.get(name) {
                ranges.insert(name, *range);
            }
        }
        let at_best_extended = at_best_extended(study, record, laws);
        Self { study, laws, ranges, at_best_extended }
    }

    /// Ranges as kept in the line, measured and extended.
    pub(super) fn validity(&self) -> BTreeMap<String, Validity> {
        let by = self.study.line.extended_by;
        self.ranges
            .iter()
            .map(|(name, &[low, high])| {
                let wider = by * (high - low);
                let validity = Validity {
                    measured: [low, high],
                    extended: [low - wider, high + wider],
                    reason: "range of the trials used".to_owned(),
                };
                ((*name).to_owned(), validity)
            })
            .collect()
    }

    /// The support of a place, or the variables at which the data end.
    ///
    /// # Errors
    /// `data_low` or `data_high` for each variable that lies too far out.
    pub(super) fn judge(&self, place: &Place) -> Result<Support, Vec<Beyond>> {
        let extension = self.extension_mm();
        let arc_length_mm = self.study.bench.arc_length_mm;
        let mut beyond = Vec::new();
        let mut inside = true;
        for (&name, &[low, high]) in &self.ranges {
            let value = match name {
                "current_mean_a" => place.current_mean_a,
                "extension_rms_squared_mm_a2" => extension * place.mean_square_a2,
                "detachment_s" => place.detachment_s,
                "log_pulse_current" => place.log_pulse_current,
                _ => arc_length_mm,
            };
            let wider = self.study.line.extended_by * (high - low);
            inside &= (low..=high).contains(&value);
            if !(value >= low - wider) {
                beyond.push((name, Limit::DataLow));
            } else if !(value <= high + wider) {
                beyond.push((name, Limit::DataHigh));
            }
        }
        if !beyond.is_empty() {
            return Err(beyond);
        }
        let known = inside && self.leverage_ratio(place) <= 1.0 && self.at_best_extended.is_none();
        Ok(if known { Support::Measured } else { Support::Extended })
    }

    fn extension_mm(&self) -> f64 {
        self.study.bench.ctwd_mm - self.study.bench.arc_length_mm
    }

    /// Leverage of the place over the largest among the trials, the larger of both laws.
    ///
    /// ```text
    /// gᵀ·C·g/v: g gradient by the coefficients, C covariance before scaling, v variance that a trial
    /// with the study's errors would have there
    /// ```
    fn leverage_ratio(&self, place: &Place) -> f64 {
        let bench = &self.study.bench;
        let extension = self.extension_mm();
        let Place { current_mean_a: mean, mean_square_a2: square, wire_feed_mm_s: w, .. } = *place;
        let burn = &self.laws.burn_off;
        let g = [mean, extension * square, 1.0];
        let length_se = bench.ctwd_se_mm.hypot(bench.arc_length_se_mm);
        let gain = bench.current_relative_se;
        let v = (bench.wire_feed_relative_se * w).powi(2)
            + (gain * (burn.b[0] * mean + 2.0 * burn.b[1] * extension * square)).powi(2)
            + (length_se * burn.b[1] * square).powi(2);
        let volt = &self.laws.arc_voltage;
        let at = |i: usize| volt.b.get(i).copied().unwrap_or(0.0);
        let h = [1.0, mean, bench.arc_length_mm, extension * mean];
        let u = bench.voltage_se_v.powi(2)
            + (gain * (at(1) + at(3) * extension) * mean).powi(2)
            + (bench.arc_length_se_mm * (at(2) - at(3) * mean)).powi(2);
        let form = |g: &[f64], law: &super::laws_at_work::LeastSquaresAtWork, v: f64| {
            if !(v > 0.0 && law.largest_leverage > 0.0) {
                // A study whose own errors are zero has no trial to compare with; the ranges judge.
                return 0.0;
            }
            let p = law.b.len();
            let mut sum = 0.0;
            for i in 0..p {
                for j in 0..p {
                    sum += g[i] * law.stated_covariance[(i, j)] * g[j];
                }
            }
            sum / v / law.largest_leverage
        };
        form(&g, burn, v).max(form(&h, volt, u))
    }
}

/// What keeps every node of a line from being `measured`.
fn at_best_extended(study: &Study, record: &Laws, laws: &LawsAtWork) -> Option<String> {
    if laws.detachment.totals_only {
        return Some("only totals of drops were counted, which cannot tell the middle of the window from missed and double drops cancelling".to_owned());
    }
    let ctwd = record.arc_voltage.range.get("ctwd_mm")?;
    let one = (ctwd[1] - ctwd[0]).abs() < 1e-9;
    let outside = study.bench.ctwd_mm < ctwd[0] - 1e-9 || study.bench.ctwd_mm > ctwd[1] + 1e-9;
    if outside && one {
        return Some(format!(
            "all trials were welded at a contact-tip-to-work distance of {} mm, the line is for {} mm",
            ctwd[0], study.bench.ctwd_mm
        ));
    }
    if outside && record.arc_voltage.form != "current_arc_extension" {
        return Some("the voltage law has no term for the extension, so it holds only at the trials' contact-tip-to-work distances".to_owned());
    }
    None
}
