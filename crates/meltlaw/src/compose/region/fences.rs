//! The fences at one feed as plain numbers, for searches that ask many thousand times.

use meltlaw_line::Limit;

use super::super::optimum::{Ground, SMALLEST_PULSE};
use super::Range;

/// A composed setting leans against fences to a millionth; so does the region.
const SLACK: f64 = 2e-6;

/// Fences of a setting with its pulse current and its background apart: frequency, duty, mean square, pulse time
/// from both sides, ramps in the pulse and in the period.
pub(super) const FENCES: usize = 10;

/// A setting in melt balance.
#[derive(Debug, Clone, Copy)]
pub(super) struct Setting {
    pub(super) pulse_a: f64,
    pub(super) time_ms: f64,
    /// Pulses per ms.
    pub(super) per_ms: f64,
    pub(super) background_a: f64,
}

/// What bounds settings at one feed.
#[derive(Debug, Clone)]
pub(super) struct Fences {
    alpha: f64,
    /// β·L.
    beta: f64,
    /// w − offset.
    fed: f64,
    /// 1/rise + 1/fall.
    ramp: f64,
    /// Source and drop size.
    pub(super) per_ms: Range,
    duty: Range,
    /// Of I_rms²: data, mean current and error of the melting rate, all by the melt balance.
    square: Range,
    background: Range,
    /// Source and drop size as stated, without slack: of pulses per ms and of the background.
    pub(super) stated: [Range; 2],
}

impl Fences {
    /// `None` where the law cannot melt: nothing is admissible then.
    pub(super) fn new(ground: &Ground<'_>, w: f64) -> Option<Self> {
        let burn = ground.burn_off();
        let extension = ground.extension_mm();
        let (alpha, fed) = (burn[0], w - burn.get(2).copied().unwrap_or(0.0));
        if !(alpha > 0.0 && fed > 0.0 && extension > 0.0) {
            return None;
        }
        let source = &ground.study.source;
        let [smallest, largest] = ground.study.line.drop_to_wire_limits;
        let hz = |ratio: f64| ground.drop_log_frequency(w, ratio).exp();
        let mut per_ms = [(hz(largest), Limit::DropLarge), (hz(smallest), Limit::DropSmall)];
        tighten(&mut per_ms, source.pulse_frequency_hz, [Limit::FrequencyLow, Limit::FrequencyHigh]);
        let per_ms = per_ms.map(|(v, limit)| (1e-3 * v, limit));
        let mut duty = [(0.0, Limit::PulseDutyLow), (f64::INFINITY, Limit::PulseDutyHigh)];
        tighten(&mut duty, source.pulse_duty, [Limit::PulseDutyLow, Limit::PulseDutyHigh]);
        let mut background = [(0.0, Limit::BackgroundLow), (f64::INFINITY, Limit::BackgroundHigh)];
        tighten(&mut background, source.background_current_a, [Limit::BackgroundLow, Limit::BackgroundHigh]);
        let square = squares(ground, w, fed)?.map(|(q, limit)| (q / extension, limit));
        Some(Self {
            alpha,
            beta: burn[1] * extension,
            fed,
            ramp: 1.0 / source.rise_a_per_ms + 1.0 / source.fall_a_per_ms,
            per_ms: slackened(per_ms),
            duty: slackened(duty),
            square: slackened(square),
            background: slackened(background),
            stated: [per_ms, background],
        })
    }

    /// The setting of a pulse with a background: its frequency from the melt balance, which is linear in it.
    pub(super) fn with_background(&self, pulse_a: f64, time_ms: f64, background_a: f64) -> Setting {
        let height = pulse_a - background_a;
        let rest = self.fed - self.alpha * background_a - self.beta * background_a * background_a;
        let each = height
            * (time_ms * (self.alpha + self.beta * (pulse_a + background_a))
                - self.beta * height * height * self.ramp / 6.0);
        // Pulses that are all ramp melt less than the background that they replace: no number of them will do.
        let per_ms = if each > 0.0 { rest / each } else { f64::INFINITY };
        Setting { pulse_a, time_ms, per_ms, background_a }
    }

    /// The setting of a frequency with a background: its pulse time from the melt balance.
    pub(super) fn with_frequency(&self, pulse_a: f64, per_ms: f64, background_a: f64) -> Setting {
        let height = pulse_a - background_a;
        let cube = height * height * height * per_ms * self.ramp / 6.0;
        let rest = self.fed - self.alpha * background_a - self.beta * (background_a * background_a - cube);
        let time_ms = rest / (per_ms * height * (self.alpha + self.beta * (pulse_a + background_a)));
        Setting { pulse_a, time_ms, per_ms, background_a }
    }

    /// Backgrounds between which a pulse current may be searched.
    pub(super) fn backgrounds(&self, pulse_a: f64) -> Range {
        let [low, mut high] = self.background;
        let top = (1.0 - SMALLEST_PULSE) * pulse_a;
        if top < high.0 {
            high = (top, Limit::BackgroundHigh);
        }
        [low, high]
    }

    /// Distances from all fences, negative beyond, against pulse times of that range.
    pub(super) fn margins(&self, at: &Setting, time: &Range) -> [f64; FENCES] {
        let height = at.pulse_a - at.background_a;
        let duty = at.time_ms * at.per_ms;
        let square = at.background_a * at.background_a + (at.pulse_a + at.background_a) * height * duty
            - height * height * height * at.per_ms * self.ramp / 6.0;
        let half_ramps = height * self.ramp / 2.0;
        let [a, b] = sides(at.per_ms, &self.per_ms);
        let [c, d] = sides(duty, &self.duty);
        let [e, f] = sides(square, &self.square);
        // At the ends of its own range a pulse time may miss it by rounding.
        let [g, h] = sides(at.time_ms, time).map(|m| m + 1e-9);
        let into_period = 1.0 - at.per_ms * (at.time_ms + half_ramps) + SLACK;
        [a, b, c, d, e, f, g, h, 1.0 - half_ramps / at.time_ms.max(1e-9) + SLACK, into_period]
    }

    /// What a fence of [`Self::margins`] is called.
    pub(super) fn limit(&self, fence: usize, time: &Range) -> Limit {
        let ends = [&self.per_ms, &self.duty, &self.square, time];
        ends.get(fence / 2).map_or(Limit::Slopes, |range| range[fence % 2].1)
    }

    /// Fences within `near` of the setting.
    pub(super) fn binding(&self, at: &Setting, time: &Range, near: f64) -> Vec<Limit> {
        let margins = self.margins(at, time);
        let mut limits: Vec<Limit> = (0..FENCES).filter(|&j| margins[j] < near).map(|j| self.limit(j, time)).collect();
        let [low, high] = self.backgrounds(at.pulse_a);
        limits.extend(
            [(at.background_a - low.0, low.1), (high.0 - at.background_a, high.1)]
                .iter()
                .filter_map(|&(distance, limit)| (distance < near * at.pulse_a).then_some(limit)),
        );
        limits
    }
}

/// How far a value lies inside either end, relative to the end.
fn sides(value: f64, [low, high]: &Range) -> [f64; 2] {
    let above = if low.0 > 0.0 { value / low.0 - 1.0 } else { 1.0 };
    let below = if high.0 < f64::INFINITY { 1.0 - value / high.0.max(1e-300) } else { 1.0 };
    [above, below]
}

fn slackened([low, high]: Range) -> Range {
    [(low.0 * (1.0 - SLACK), low.1), (high.0 * (1.0 + SLACK), high.1)]
}

/// Takes the narrower of two ranges, end by end.
pub(super) fn tighten(range: &mut Range, by: Option<[f64; 2]>, limits: [Limit; 2]) {
    if let Some([low, high]) = by {
        if low > range[0].0 {
            range[0] = (low, limits[0]);
        }
        if high < range[1].0 {
            range[1] = (high, limits[1]);
        }
    }
}

/// The range of q = L·I_rms². In melt balance Ī = (w − offset − β·q)/α, so that limits of the mean current and the
/// error of the melting rate, a quadratic form of (Ī, q, 1), are limits of q. `None` where nothing is left whatever
/// q is.
fn squares(ground: &Ground<'_>, w: f64, fed: f64) -> Option<Range> {
    let (alpha, beta) = (ground.burn_off()[0], ground.burn_off()[1]);
    let mut range: Range = [(0.0, Limit::DataLow), (f64::INFINITY, Limit::DataHigh)];
    tighten(&mut range, ground.reach[1], [Limit::DataLow, Limit::DataHigh]);
    for (means, limits) in [
        (ground.study.source.current_a, [Limit::CurrentLow, Limit::CurrentHigh]),
        (ground.reach[0], [Limit::DataLow, Limit::DataHigh]),
    ] {
        let Some(means) = means else { continue };
        // β·q at either end of the mean current: it falls as the mean rises.
        let [most, least] = means.map(|mean| fed - alpha * mean);
        if beta > 0.0 {
            tighten(&mut range, Some([least / beta, most / beta]), [limits[1], limits[0]]);
        } else if beta < 0.0 {
            tighten(&mut range, Some([most / beta, least / beta]), limits);
        } else if !(least <= 0.0 && most >= 0.0) {
            return None;
        }
    }
    let c = &ground.burn_off_covariance;
    let (mean, slope) = (fed / alpha, -beta / alpha);
    let bend = slope * slope * c[(0, 0)] + 2.0 * slope * c[(0, 1)] + c[(1, 1)];
    let half = mean * slope * c[(0, 0)] + mean * c[(0, 1)] + slope * c[(0, 2)] + c[(1, 2)];
    let most = w * ground.study.line.extended_melting_rate_relative_se;
    let over = mean * mean * c[(0, 0)] + 2.0 * mean * c[(0, 2)] + c[(2, 2)] - most * most;
    if bend > 0.0 {
        let root = (half * half - bend * over).sqrt();
        if root.is_nan() {
            return None;
        }
        let uncertain = [Limit::MeltingRateUncertain; 2];
        tighten(&mut range, Some([(-half - root) / bend, (-half + root) / bend]), uncertain);
    } else if over > 0.0 {
        return None;
    }
    (range[0].0 <= range[1].0 && range[1].0 > 0.0).then_some(range)
}
