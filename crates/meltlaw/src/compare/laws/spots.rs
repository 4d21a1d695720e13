//! Where two laws are held against each other: places at which both wires were welded, with the weights of the
//! coefficients of either law there.

use super::PlaceOfLaw;
use super::known::{Known, MOST, Weights};
use crate::laws::{FittedLaw, JointRegion};
use crate::study::{CalibrationTerm, Margins};

/// What is held against a margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    WireFeed,
    OneDrop,
    MoreDrops,
    Voltage,
}

impl Quantity {
    /// Those of a law.
    pub(super) const fn of_law(law: &str) -> &'static [Self] {
        match law.as_bytes() {
            b"burn_off" => &[Self::WireFeed],
            b"detachment" => &[Self::OneDrop, Self::MoreDrops],
            _ => &[Self::Voltage],
        }
    }

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::WireFeed => "wire_feed_m_min",
            Self::OneDrop => "one_drop_from_ms",
            Self::MoreDrops => "more_drops_from_ms",
            Self::Voltage => "voltage_mean_v",
        }
    }

    pub(super) const fn unit(self) -> &'static str {
        match self {
            Self::WireFeed => "m/min",
            Self::OneDrop | Self::MoreDrops => "ms",
            Self::Voltage => "V",
        }
    }

    const fn is_time(self) -> bool {
        matches!(self, Self::OneDrop | Self::MoreDrops)
    }

    /// The value that people read from the sum of a law's coefficients: m/min from mm/s, ms from ln ms, V.
    pub(super) fn value(self, sum: f64) -> f64 {
        match self {
            Self::WireFeed => sum * 0.06,
            Self::OneDrop | Self::MoreDrops => sum.exp(),
            Self::Voltage => sum,
        }
    }

    /// A difference of sums as a difference of values, seen from the first wire's value.
    pub(super) fn difference(self, first_sum: f64, difference: f64) -> f64 {
        match self {
            Self::OneDrop | Self::MoreDrops => first_sum.exp() * difference.exp_m1(),
            _ => self.value(difference),
        }
    }

    /// Margin in the unit that people read.
    pub(super) fn margin(self, margins: &Margins, first_sum: f64) -> f64 {
        match self {
            Self::WireFeed => margins.wire_feed_relative * self.value(first_sum).abs(),
            Self::OneDrop | Self::MoreDrops => margins.detachment_relative * self.value(first_sum),
            Self::Voltage => margins.voltage_v,
        }
    }

    /// Differences of sums between which two laws count as alike.
    pub(super) fn limits(self, margins: &Margins, first_sum: f64) -> [f64; 2] {
        if self.is_time() {
            // The margin is of the pulse time, the difference of its logarithm.
            let m = margins.detachment_relative;
            return [if m < 1.0 { (-m).ln_1p() } else { f64::NEG_INFINITY }, m.ln_1p()];
        }
        let width = match self {
            Self::WireFeed => margins.wire_feed_relative * first_sum.abs(),
            _ => margins.voltage_v,
        };
        [-width, width]
    }
}

/// A quantity of two wires at one place.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    /// Place among the wires of the one that is held against the first.
    pub(super) wire: usize,
    pub(super) quantity: Quantity,
    pub(super) at: PlaceOfLaw,
    /// Weights of the first wire's coefficients and of the other's.
    pub(super) weights: [Weights; 2],
    /// Sums of both laws.
    pub(super) sums: [f64; 2],
    /// Differences of sums between which the wires count as alike.
    pub(super) limits: [f64; 2],
    /// Variances of both sums by the trials.
    pub(super) variances: [f64; 2],
    /// Variance of the difference by what instruments do not share.
    pub(super) calibration_variance: f64,
    /// Whether it lies along the middle, to be drawn as a curve.
    pub(super) along: bool,
}

impl Spot {
    /// Second minus first, as sums.
    pub(super) fn difference(&self) -> f64 {
        self.sums[1] - self.sums[0]
    }

    /// Standard error of that difference.
    pub(super) fn standard_error(&self) -> f64 {
        (self.variances[0] + self.variances[1] + self.calibration_variance).sqrt()
    }

    fn new(
        wire: usize,
        quantity: Quantity,
        at: PlaceOfLaw,
        weights: [Weights; 2],
        known: [&Known; 2],
        terms: (&Margins, &[CalibrationTerm]),
        along: bool,
        err: bool,
    ) -> Self {
        let sums = [0, 1].map(|i| known[i].at(&weights[i]));
        Self {
            wire,
            quantity,
            at,
            sums,
            limits: quantity.limits(terms.0, sums[0]),
            variances: if err { [0, 1].map(|i| known[i].variance(&weights[i]).max(0.0)) } else { [0.0; 2] },
            calibration_variance: if err { calibration_variance(known, &weights, terms.1) } else { 0.0 },
            weights,
            along,
        }
    }
}

/// ```text
/// shared instrument: (g₂ᵀe₂ − g₁ᵀe₁)²·u²;   instruments of their own: (g₂ᵀe₂)²·u₂² + (g₁ᵀe₁)²·u₁²
/// ```
/// Where both files state the same instrument with other uncertainties, the larger holds.
fn calibration_variance(known: [&Known; 2], weights: &[Weights; 2], same: &[CalibrationTerm]) -> f64 {
    CalibrationTerm::ALL
        .iter()
        .map(|&term| {
            let moved = [0, 1].map(|i| known[i].moved_by(term, &weights[i]));
            match moved {
                [Some((a, ua)), Some((b, ub))] if same.contains(&term) => ((b - a) * ua.max(ub)).powi(2),
                _ => moved.into_iter().flatten().map(|(m, u)| (m * u).powi(2)).sum(),
            }
        })
        .sum()
}

/// Two wires in one law.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair<'a> {
    /// Place of the second among the wires.
    pub(super) wire: usize,
    pub(super) known: [&'a Known; 2],
    /// The records, every batch of either.
    pub(super) laws: [&'a [&'a FittedLaw]; 2],
    pub(super) margins: &'a Margins,
    pub(super) same: &'a [CalibrationTerm],
    /// Whether both are the same laws: then nothing errs.
    pub(super) identical: bool,
}

/// The places of a law, or why there are none; remarks on what was converted.
pub(super) fn spots(law: &str, pair: &Pair<'_>, notes: &mut Vec<String>) -> Result<Vec<Spot>, String> {
    match law {
        "burn_off" => burn_off(pair),
        "detachment" => detachment(pair),
        _ => arc_voltage(pair, notes),
    }
}

/// Places along each axis.
const GRID: usize = 15;
/// Places along the middle.
const ALONG: usize = 31;

impl Pair<'_> {
    fn spot(&self, quantity: Quantity, at: PlaceOfLaw, weights: [Weights; 2], along: bool) -> Spot {
        Spot::new(self.wire, quantity, at, weights, self.known, (self.margins, self.same), along, !self.identical)
    }

    /// Range of a variable in which both wires were welded: over the batches of each the widest.
    fn common(&self, name: &str) -> Option<[f64; 2]> {
        let of = |laws: &[&FittedLaw]| {
            laws.iter().filter_map(|l| l.range.get(name)).copied().reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
        };
        let [a, b] = [of(self.laws[0])?, of(self.laws[1])?];
        let both = [a[0].max(b[0]), a[1].min(b[1])];
        (both[0] <= both[1]).then_some(both)
    }

    /// Whether both wires' trials lie together about a place; a record without a cloud has ranges only.
    fn together(&self, regions: &[Vec<(JointRegion, Vec<String>)>; 2], at: &PlaceOfLaw) -> bool {
        regions.iter().zip(self.laws).all(|(regions, laws)| {
            regions.len() < laws.len()
                || regions.iter().any(|(region, variables)| {
                    let place: Option<Vec<f64>> = variables.iter().map(|v| coordinate(at, v)).collect();
                    place.is_none_or(|place| region.holds(&place))
                })
        })
    }

    fn regions(&self) -> [Vec<(JointRegion, Vec<String>)>; 2] {
        self.laws.map(|laws| {
            laws.iter()
                .filter_map(|l| l.cloud.as_ref())
                .filter_map(|cloud| Some((JointRegion::new(cloud)?, cloud.variables.clone())))
                .collect()
        })
    }

    /// What a second variable is expected to be where the first has a value, over all trials of both wires.
    fn expected(&self, first: &str, second: &str, at: f64) -> Option<f64> {
        let lines: Vec<f64> = self
            .laws
            .iter()
            .flat_map(|laws| laws.iter())
            .filter_map(|l| {
                let cloud = l.cloud.as_ref()?;
                let place = |name: &str| cloud.variables.iter().position(|v| v == name);
                let (i, j) = (place(first)?, place(second)?);
                Some(cloud.mean[j] + cloud.covariance[j][i] / cloud.covariance[i][i] * (at - cloud.mean[i]))
            })
            .collect();
        (!lines.is_empty()).then(|| crate::statistics::mean(&lines))
    }
}

fn coordinate(at: &PlaceOfLaw, name: &str) -> Option<f64> {
    match name {
        "current_mean_a" => at.current_mean_a,
        "extension_rms_squared_mm_a2" => at.extension_rms_squared_mm_a2,
        "arc_length_mm" => at.arc_length_mm,
        "extension_mm" => at.extension_mm,
        _ => None,
    }
}

/// Evenly from one end to the other; one value where there is no room between.
fn steps([low, high]: [f64; 2], count: usize) -> impl Iterator<Item = f64> {
    let count = if high > low { count } else { 1 };
    (0..count).map(move |i| if count == 1 { low } else { low + (high - low) * i as f64 / (count - 1) as f64 })
}

fn nowhere(what: &str) -> String {
    format!("the two were nowhere welded alike: {what}; weld the second where the first was welded")
}

fn burn_off(pair: &Pair<'_>) -> Result<Vec<Spot>, String> {
    const HEATED: &str = "extension_rms_squared_mm_a2";
    let current = pair.common("current_mean_a").ok_or_else(|| nowhere("their mean currents do not meet"))?;
    let heated = pair.common(HEATED).ok_or_else(|| nowhere("their heat in the extension, L*I_rms^2, does not meet"))?;
    let regions = pair.regions();
    let middle = |i: f64| {
        pair.expected("current_mean_a", HEATED, i)
            .unwrap_or(f64::midpoint(heated[0], heated[1]))
            .clamp(heated[0], heated[1])
    };
    let grid = steps(current, GRID).flat_map(|i| steps(heated, GRID).map(move |h| (i, h, false)));
    let along = steps(current, ALONG).map(|i| (i, middle(i), true));
    let found: Vec<Spot> = grid
        .chain(along)
        .filter_map(|(i, h, along)| {
            let at =
                PlaceOfLaw { current_mean_a: Some(i), extension_rms_squared_mm_a2: Some(h), ..PlaceOfLaw::default() };
            let weights = [i, h, 1.0, 0.0, 0.0];
            pair.together(&regions, &at).then(|| pair.spot(Quantity::WireFeed, at, [weights; 2], along))
        })
        .collect();
    if found.is_empty() {
        return Err(nowhere("current and heat in the extension never go together in both"));
    }
    Ok(found)
}

fn detachment(pair: &Pair<'_>) -> Result<Vec<Spot>, String> {
    let mut currents: [Option<[f64; 2]>; 2] = [None; 2];
    for (range, laws) in currents.iter_mut().zip(pair.laws) {
        for law in laws {
            let reference = law.reference_current_a.ok_or("the record does not state the reference current")?;
            let of = law.range.get("log_pulse_current").ok_or("the record does not state its pulse currents")?;
            let of = of.map(|x| reference * x.exp());
            *range = Some(range.map_or(of, |r| [r[0].min(of[0]), r[1].max(of[1])]));
        }
    }
    let [Some(a), Some(b)] = currents else { return Err("no pulse current is known".to_owned()) };
    let both = [a[0].max(b[0]), a[1].min(b[1])];
    if !(both[0] <= both[1]) {
        return Err(nowhere(&format!(
            "pulse currents of {:.0} to {:.0} A and of {:.0} to {:.0} A do not meet",
            a[0], a[1], b[0], b[1]
        )));
    }
    let references = pair.laws.map(|laws| laws.first().and_then(|l| l.reference_current_a).unwrap_or(f64::NAN));
    let along = steps(both.map(f64::ln), ALONG).map(f64::exp);
    Ok(along
        .flat_map(|current| Quantity::of_law("detachment").iter().map(move |&quantity| (current, quantity)))
        .map(|(current, quantity)| {
            let at = PlaceOfLaw { pulse_current_a: Some(current), ..PlaceOfLaw::default() };
            // ln t_p = s − n·ln(I_p/I₀): either law by its own reference current.
            let weights = references.map(|reference| threshold(quantity, (current / reference).ln()));
            pair.spot(quantity, at, weights, true)
        })
        .collect())
}

/// Weights of (n, ln k, s1, s2, ln τ) in ln t_p at a threshold.
fn threshold(quantity: Quantity, log_current: f64) -> Weights {
    let mut weights = [0.0; MOST];
    weights[0] = -log_current;
    weights[if quantity == Quantity::MoreDrops { 3 } else { 2 }] = 1.0;
    weights
}

fn arc_voltage(pair: &Pair<'_>, notes: &mut Vec<String>) -> Result<Vec<Spot>, String> {
    let current = pair.common("current_mean_a").ok_or_else(|| nowhere("their mean currents do not meet"))?;
    let knows = |i: usize, place: usize| pair.known[i].b.len() > place;
    let arc = match [knows(0, 2), knows(1, 2)] {
        [true, true] => pair.common("arc_length_mm").ok_or_else(|| nowhere("their arc lengths do not meet"))?,
        [false, false] => [f64::NAN; 2],
        one => {
            // A law without E holds at the arc lengths of its own trials.
            let without = usize::from(one[0]);
            let [low, high] = widest(pair.laws[without], "arc_length_mm").unwrap_or([f64::NAN; 2]);
            notes.push(format!(
                "arc voltage: the trials of one wire cannot tell the arc length; the two are compared at {:.1} mm, the middle of its trials",
                f64::midpoint(low, high)
            ));
            [f64::midpoint(low, high); 2]
        }
    };
    let extension = extension(pair, [knows(0, 3), knows(1, 3)], notes)?;
    let regions = pair.regions();
    let given = |v: f64| (!v.is_nan()).then_some(v);
    let of = |i: f64, a: f64, l: f64| PlaceOfLaw {
        current_mean_a: Some(i),
        arc_length_mm: given(a),
        extension_mm: given(l),
        ..PlaceOfLaw::default()
    };
    let middle = [arc, extension].map(|[low, high]| f64::midpoint(low, high));
    let grid = steps(current, GRID)
        .flat_map(|i| steps(arc, 3).map(move |a| (i, a)))
        .flat_map(|(i, a)| steps(extension, 3).map(move |l| (i, a, l, false)));
    let along = steps(current, ALONG).map(|i| (i, middle[0], middle[1], true));
    let found: Vec<Spot> = grid
        .chain(along)
        .filter_map(|(i, a, l, along)| {
            let at = of(i, a, l);
            let known = |v: f64| if v.is_nan() { 0.0 } else { v };
            let weights = [1.0, i, known(a), known(l) * i, 0.0];
            pair.together(&regions, &at).then(|| pair.spot(Quantity::Voltage, at, [weights; 2], along))
        })
        .collect();
    if found.is_empty() {
        return Err(nowhere("current, arc length and extension never go together in both"));
    }
    Ok(found)
}

/// Over all batches.
fn widest(laws: &[&FittedLaw], name: &str) -> Option<[f64; 2]> {
    laws.iter().filter_map(|l| l.range.get(name)).copied().reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

/// Extensions at which two voltage laws can be compared. A law without r holds at the mean extension of its trials.
fn extension(pair: &Pair<'_>, knows: [bool; 2], notes: &mut Vec<String>) -> Result<[f64; 2], String> {
    let mean = |i: usize| pair.laws[i].first().and_then(|l| l.mean_extension_mm).unwrap_or(f64::NAN);
    match knows {
        [true, true] => pair.common("extension_mm").ok_or_else(|| nowhere("their extensions do not meet")),
        [false, false] => {
            let apart = (mean(0) - mean(1)).abs();
            if apart > 0.5 {
                notes.push(format!(
                    "arc voltage: neither law knows the extension, and their trials had {:.1} and {:.1} mm in the mean; the difference holds what the extension makes of it",
                    mean(0),
                    mean(1)
                ));
            }
            Ok([f64::NAN; 2])
        }
        one => {
            let without = usize::from(one[0]);
            let at = mean(without);
            let [low, high] = widest(pair.laws[1 - without], "extension_mm").unwrap_or([f64::NAN; 2]);
            notes.push(format!(
                "arc voltage: one law has no term for the extension; the other was converted to {at:.1} mm, the mean of its trials{}",
                if (low..=high).contains(&at) { "" } else { ", outside the other's range" }
            ));
            Ok([at; 2])
        }
    }
}
