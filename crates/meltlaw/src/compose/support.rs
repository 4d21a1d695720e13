//! How far the trials carry a setting: the ranges of the laws' own variables, where the trials of each law lie
//! together, and leverage.

use std::collections::BTreeMap;

use meltlaw_line::{Limit, Support};

use super::laws_at_work::LawsAtWork;
use crate::laws::{CarriedTo, CloudEnd, FittedLaw, JointRegion, Laws, TrialCloud, distance_ranges, is_one_distance};
use crate::line::{Validity, ValidityEnd};
use crate::study::Study;

/// What the data end at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    /// The range of a variable.
    Range(&'static str),
    /// Where the trials of a law lie together; the variable is the one that lies farthest from what the
    /// others lead one to expect.
    Together(&'static str, &'static str),
}

/// Where the data end, and on which side.
pub(super) type Beyond = (Edge, Limit);

/// Variables with a range that support is judged by, and the law whose trials set it.
const RANGES: [(&str, &str); 5] = [
    ("burn_off", "current_mean_a"),
    ("burn_off", "extension_rms_squared_mm_a2"),
    ("detachment", "detachment_s"),
    ("detachment", "log_pulse_current"),
    ("arc_voltage", "arc_length_mm"),
];

/// All variables that the laws' trials can be held against together.
const VARIABLES: [&str; 6] = [
    "current_mean_a",
    "extension_rms_squared_mm_a2",
    "detachment_s",
    "log_pulse_current",
    "arc_length_mm",
    "extension_mm",
];

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

/// Ranges, joint regions and conditions that support rests on.
#[derive(Debug, Clone)]
pub(super) struct Knowledge<'a> {
    study: &'a Study,
    laws: &'a LawsAtWork,
    ranges: BTreeMap<&'static str, Known>,
    /// The same of the distance from the work, which one line has for all its feeds.
    distances: Vec<(&'static str, Known)>,
    together: Vec<KnownTogether>,
    /// To what nobody welded the laws were carried.
    pub(super) carried: Option<&'a CarriedTo>,
    /// Nothing better than `extended`, and why.
    pub(super) at_best_extended: Option<String>,
}

/// A range and, where the record names them, the trials at its ends.
#[derive(Debug, Clone)]
struct Known {
    range: [f64; 2],
    /// How far the law was extended on request.
    reach: Option<[f64; 2]>,
    /// So far beyond either end is as good as inside.
    near: f64,
    ends: Option<[CloudEnd; 2]>,
    /// Where the range comes from, in words.
    reason: String,
}

impl Known {
    /// Up to where a setting is `extended`: a share of the range beyond it, or what was asked for where that is farther.
    fn extended(&self, by: f64) -> [f64; 2] {
        let [low, high] = self.range;
        let wider = (by * (high - low)).max(self.near);
        let [least, most] = self.reach.unwrap_or(self.range);
        [(low - wider).min(least), (high + wider).max(most)]
    }

    fn holds(&self, value: f64) -> bool {
        (self.range[0] - self.near..=self.range[1] + self.near).contains(&value)
    }

    /// On which side a value lies too far out.
    fn beyond(&self, value: f64, by: f64) -> Option<Limit> {
        let [least, most] = self.extended(by);
        if !(value >= least) {
            Some(Limit::DataLow)
        } else if !(value <= most) {
            Some(Limit::DataHigh)
        } else {
            None
        }
    }
}

/// The trials of one law together, study by study where several stand behind it.
#[derive(Debug, Clone)]
struct KnownTogether {
    law: &'static str,
    groups: Vec<Group>,
    /// How far beyond the trials the law reaches on request, as the largest share of a range.
    reach: f64,
}

/// Trials of one study.
#[derive(Debug, Clone)]
struct Group {
    variables: Vec<&'static str>,
    cloud: TrialCloud,
    region: JointRegion,
    /// Ranges of the variables, high − low.
    widths: Vec<f64>,
}

impl Group {
    /// `None` where the trials leave nothing to be joint.
    fn new(cloud: &TrialCloud, law: &FittedLaw) -> Option<Self> {
        let word = |v: &String| VARIABLES.into_iter().find(|k| k == v);
        let width = |v: &String| {
            let own = cloud.ends.get(v).map(|[low, high]| high.value - low.value);
            own.or_else(|| law.range.get(v).map(|[low, high]| high - low))
        };
        Some(Self {
            variables: cloud.variables.iter().map(word).collect::<Option<_>>()?,
            region: JointRegion::new(cloud)?,
            widths: cloud.variables.iter().map(width).collect::<Option<_>>()?,
            cloud: cloud.clone(),
        })
    }

    /// With another cloud of the same variables.
    fn become_one(&mut self, cloud: TrialCloud) {
        if let Some(region) = JointRegion::new(&cloud) {
            (self.cloud, self.region) = (cloud, region);
        }
    }
}

impl KnownTogether {
    /// `None` where the record has no cloud or no trials leave anything to be joint.
    fn new(name: &'static str, law: &FittedLaw) -> Option<Self> {
        let groups: Vec<Group> = clouds(law).filter_map(|cloud| Group::new(cloud, law)).collect();
        let beyond = |(name, [least, most]): (&String, &[f64; 2])| {
            let [low, high] = law.range.get(name)?;
            Some((low - least).max(most - high) / (high - low))
        };
        let reach = law.reach.iter().filter_map(beyond).filter(|share| share.is_finite()).fold(0.0, f64::max);
        (!groups.is_empty()).then_some(Self { law: name, groups, reach })
    }
}

/// The trials of a law, or of the studies that it was extended from.
fn clouds(law: &FittedLaw) -> impl Iterator<Item = &TrialCloud> {
    law.cloud.iter().chain(&law.clouds)
}

/// The trials at both ends of a range, over all studies, each with where the range would end without it.
fn ends(law: &FittedLaw, name: &str) -> Option<[CloudEnd; 2]> {
    let all: Vec<&[CloudEnd; 2]> = clouds(law).filter_map(|cloud| cloud.ends.get(name)).collect();
    let end = |side: usize| {
        let outer = |a: &f64, b: &f64| if side == 1 { a.total_cmp(b) } else { b.total_cmp(a) };
        let which = (0..all.len()).max_by(|&i, &j| outer(&all[i][side].value, &all[j][side].value))?;
        let others = (0..all.len()).filter(|&i| i != which).map(|i| all[i][side].value);
        let CloudEnd { trial, value, next } = all[which][side].clone();
        Some(CloudEnd { trial, value, next: next.into_iter().chain(others).max_by(outer) })
    };
    Some([end(0)?, end(1)?])
}

impl<'a> Knowledge<'a> {
    /// From the record of the laws.
    pub(super) fn new(study: &'a Study, record: &'a Laws, laws: &'a LawsAtWork) -> Self {
        let by_name: BTreeMap<&str, &FittedLaw> = record.by_name().into_iter().collect();
        let known = |law: &str, name: &'static str, range: [f64; 2], near: f64| {
            let law = by_name[law];
            let reach = law.reach.get(name).copied();
            (name, Known { range, reach, near, ends: ends(law, name), reason: reason(record, name) })
        };
        let of_laws = RANGES.into_iter().filter_map(|(law, name)| {
            let range = *by_name[law].range.get(name)?;
            Some(known(law, name, range, 0.0))
        });
        let distances = distance_ranges(record);
        let of_distance = distances.iter().map(|d| known("arc_voltage", d.name, d.range_mm, d.near_mm));
        let together = record.by_name().into_iter().filter_map(|(name, law)| KnownTogether::new(name, law));
        Self {
            study,
            laws,
            ranges: of_laws.collect(),
            distances: of_distance.collect(),
            together: together.collect(),
            carried: record.carried.as_ref(),
            at_best_extended: at_best_extended(study, record, laws),
        }
    }

    /// Ranges as kept in the line, measured and extended, with the trials that set them.
    pub(super) fn validity(&self) -> BTreeMap<String, Validity> {
        let by = self.study.line.extended_by;
        let distances = self.distances.iter().map(|(name, known)| (name, known));
        self.ranges
            .iter()
            .chain(distances)
            .map(|(&name, known)| {
                let Known { range, ends, reason, .. } = known;
                let end = |e: CloudEnd| ValidityEnd { trial: e.trial, value: e.value, next: e.next };
                let validity = Validity {
                    measured: *range,
                    extended: known.extended(by),
                    reason: reason.clone(),
                    ends: ends.clone().map(|ends| ends.map(end)),
                };
                (name.to_owned(), validity)
            })
            .collect()
    }

    /// The trial that sets an edge on a side: the one at the end of the range, the farthest of those together.
    pub(super) fn trial_at(&self, (edge, side): Beyond) -> Option<&str> {
        let end = match edge {
            Edge::Range(name) => &self.ranges.get(name)?.ends.as_ref()?[usize::from(side == Limit::DataHigh)],
            Edge::Together(law, _) => match &self.together.iter().find(|t| t.law == law)?.groups[..] {
                [one] => one.cloud.farthest.as_ref()?,
                // Which of several studies goes farthest depends on the place.
                _ => return None,
            },
        };
        Some(&end.trial)
    }

    /// What is known with one more trial at a place, the laws kept: ranges that hold it, clouds that count it in.
    pub(super) fn with_trial_at(&self, place: &Place) -> Self {
        let mut more = self.clone();
        for (name, known) in &mut more.ranges {
            let (v, [low, high]) = (self.value(name, place), known.range);
            known.range = [low.min(v), high.max(v)];
        }
        for group in more.together.iter_mut().flat_map(|t| &mut t.groups) {
            let cloud = group.cloud.with(&self.values(group, place));
            group.become_one(cloud);
        }
        more
    }

    /// What is known without a trial, the laws kept: each range that it ends is drawn in to the next trial, and
    /// where it lies farthest out the next one does.
    pub(super) fn without_trial(&self, trial: &str) -> Self {
        let mut less = self.clone();
        for known in less.ranges.values_mut() {
            for (bound, end) in known.range.iter_mut().zip(known.ends.iter().flatten()) {
                if end.trial == trial {
                    *bound = end.next.unwrap_or(*bound);
                }
            }
        }
        for group in less.together.iter_mut().flat_map(|t| &mut t.groups) {
            let cloud = group.cloud.without(trial);
            group.become_one(cloud);
        }
        less
    }

    /// The support of a place, or where the data end.
    ///
    /// `covered` lies in each range, no farther out than the farthest trial of each law, and has no more leverage
    /// than the largest. `extended` lies no more than `extended_by` of a range beyond it, and in the region of the
    /// trials grown as the ranges grow, by 1 + 2·`extended_by` about its mean, or no more than `extended_by` of each
    /// range away from that: trials of a single recipe form a thin cloud, and a place a little off it is no
    /// farther out for that. What such trials leave unknown of the coefficients `melting_rate_relative_se` tells.
    /// Both are `carried` where the laws were carried to what nobody welded; ranges and clouds are then those of the
    /// trials as mapped there. Where several studies stand behind a law a place lies with the trials of one of them.
    ///
    /// # Errors
    /// `data_low` or `data_high` for each variable that lies too far out of its range; where all ranges hold,
    /// for the variable of each law that lies farthest from what the others lead one to expect.
    pub(super) fn judge(&self, place: &Place) -> Result<Support, Vec<Beyond>> {
        if let Some(beyond) = self.too_far() {
            return Err(vec![beyond]);
        }
        let by = self.study.line.extended_by;
        let mut beyond = Vec::new();
        let mut inside = self.distances.iter().all(|(name, known)| known.holds(self.distance(name)));
        for (&name, known) in &self.ranges {
            let value = self.value(name, place);
            inside &= known.holds(value);
            beyond.extend(known.beyond(value, by).map(|side| (Edge::Range(name), side)));
        }
        if !beyond.is_empty() {
            return Err(beyond);
        }
        for t in &self.together {
            if t.groups.iter().any(|group| group.region.holds(&self.values(group, place))) {
                continue;
            }
            inside = false;
            beyond.extend(self.beyond_all(t, place));
        }
        if !beyond.is_empty() {
            return Err(beyond);
        }
        let known = inside && self.leverage_ratio(place) <= 1.0 && self.at_best_extended.is_none();
        Ok(match self.carried {
            Some(_) => Support::Carried,
            None if known => Support::Covered,
            None => Support::Extended,
        })
    }

    /// The distance from the work that lies beyond what the laws reach: then no feed has a setting.
    pub(super) fn too_far(&self) -> Option<Beyond> {
        let by = self.study.line.extended_by;
        self.distances.iter().find_map(|(name, known)| {
            let side = known.beyond(self.distance(name), by)?;
            Some((Edge::Range(name), side))
        })
    }

    /// What a place lies beyond where the trials of no study lead near to it, by the study that comes nearest.
    fn beyond_all(&self, t: &KnownTogether, place: &Place) -> Option<Beyond> {
        let by = self.study.line.extended_by;
        let grown = 1.0 + 2.0 * by.max(t.reach);
        let near = |group: &Group| {
            let slack: Vec<f64> = group.widths.iter().map(|width| by * width).collect();
            group.region.holds_within(&self.values(group, place), grown, &slack)
        };
        if t.groups.iter().any(near) {
            return None;
        }
        let distance = |group: &&Group| group.region.distance(&self.values(group, place));
        let nearest = t.groups.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))?;
        let (which, off) = nearest.region.least_expected(&self.values(nearest, place));
        let side = if off > 0.0 { Limit::DataHigh } else { Limit::DataLow };
        Some((Edge::Together(t.law, nearest.variables[which]), side))
    }

    fn values(&self, group: &Group, place: &Place) -> Vec<f64> {
        group.variables.iter().map(|name| self.value(name, place)).collect()
    }

    /// A variable of the laws at a place.
    pub(super) fn value(&self, name: &str, place: &Place) -> f64 {
        match name {
            "current_mean_a" => place.current_mean_a,
            "extension_rms_squared_mm_a2" => self.extension_mm() * place.mean_square_a2,
            "detachment_s" => place.detachment_s,
            "log_pulse_current" => place.log_pulse_current,
            "extension_mm" => self.extension_mm(),
            _ => self.study.bench.arc_length_mm,
        }
    }

    /// The line's own distance from the work.
    pub(super) fn distance(&self, name: &str) -> f64 {
        if name == "ctwd_mm" { self.study.bench.ctwd_mm } else { self.extension_mm() }
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

/// Where the range of a variable comes from.
fn reason(record: &Laws, name: &str) -> String {
    let of_studies = record.by_name().iter().any(|(_, law)| law.is_extended());
    let mapped = record.carried.as_ref().and_then(|c| c.mapped.get(name).cloned());
    let plain = if of_studies { "ranges of the trials of all studies" } else { "range of the trials used" };
    mapped.unwrap_or_else(|| plain.to_owned())
}

/// What keeps every node of a line from being `covered`.
fn at_best_extended(study: &Study, record: &Laws, laws: &LawsAtWork) -> Option<String> {
    if laws.detachment.totals_only {
        return Some("only totals of drops were counted, which cannot tell the middle of the window from missed and double drops cancelling".to_owned());
    }
    let ctwd = record.arc_voltage.range.get("ctwd_mm")?;
    let outside = study.bench.ctwd_mm < ctwd[0] - 1e-9 || study.bench.ctwd_mm > ctwd[1] + 1e-9;
    if outside && is_one_distance(*ctwd) {
        let [low, high] = ctwd;
        let all = if low == high { low.to_string() } else { format!("{low} to {high}") };
        return Some(format!(
            "all trials were welded at a contact-tip-to-work distance of {all} mm, the line is for {} mm",
            study.bench.ctwd_mm
        ));
    }
    if outside && record.arc_voltage.form != "current_arc_extension" {
        return Some("the voltage law has no term for the extension, so it holds only at the trials' contact-tip-to-work distances".to_owned());
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::fit_laws;
    use crate::virtual_bench::Kind;

    /// A place within every range at shares of them.
    fn at(laws: &Laws, current: f64, heated: f64) -> Place {
        let between = |law: &FittedLaw, name: &str, share: f64| {
            let [low, high] = law.range[name];
            low + share * (high - low)
        };
        Place {
            wire_feed_mm_s: 100.0,
            current_mean_a: between(&laws.burn_off, "current_mean_a", current),
            mean_square_a2: between(&laws.burn_off, "extension_rms_squared_mm_a2", heated) / 14.0,
            detachment_s: between(&laws.detachment, "detachment_s", 0.5),
            log_pulse_current: between(&laws.detachment, "log_pulse_current", 0.5),
        }
    }

    fn judged(laws: &Laws, place: &Place) -> Result<Support, Vec<Beyond>> {
        let mut study = Kind::Steel.lab(1, 0).study;
        study.line.extended_by = 0.15;
        let at_work = LawsAtWork::new(laws, &[], 0.95).expect("usable laws");
        Knowledge::new(&study, laws, &at_work).judge(place)
    }

    #[test]
    fn a_corner_of_the_ranges_that_nobody_welded_is_not_supported() {
        let lab = Kind::Steel.lab(1, 0);
        let laws = fit_laws(&lab.study, &lab.trials).laws;
        assert_eq!(judged(&laws, &at(&laws, 0.5, 0.5)), Ok(Support::Covered));
        // Little mean current at much heat in the extension: in range each.
        let corner = at(&laws, 0.02, 0.98);
        let beyond = judged(&laws, &corner).expect_err("a corner");
        assert_eq!(beyond.len(), 1);
        match beyond[0] {
            (Edge::Together("burn_off", "current_mean_a"), side) => assert_eq!(side, Limit::DataLow),
            (Edge::Together("burn_off", _), side) => assert_eq!(side, Limit::DataHigh),
            other => panic!("{other:?}"),
        }
        // The ranges alone let it pass, as a record without the cloud still does.
        let mut boxed = laws.clone();
        for law in [&mut boxed.burn_off, &mut boxed.detachment, &mut boxed.arc_voltage] {
            law.cloud = None;
        }
        assert!(judged(&boxed, &corner).is_ok());
    }

    #[test]
    fn a_usual_cloud_costs_a_line_nothing_along_its_own_length() {
        let lab = Kind::Steel.lab(1, 0);
        let laws = fit_laws(&lab.study, &lab.trials).laws;
        // Both ends of the trials' own course, and as far beyond as the ranges allow.
        for share in [0.0, 0.2, 0.8, 1.0] {
            assert!(judged(&laws, &at(&laws, share, share)).is_ok(), "{share}");
        }
        assert_eq!(judged(&laws, &at(&laws, -0.14, -0.14)), Ok(Support::Extended));
        assert_eq!(judged(&laws, &at(&laws, 1.14, 1.14)), Ok(Support::Extended));
        assert!(judged(&laws, &at(&laws, 1.16, 1.0)).is_err());
    }
}
