//! Whether samples come evenly, by the times that stand beside them.

/// Steps may differ from the usual one by this share of it, or by what rounding the times leaves.
const UNEVEN: f64 = 0.5;

/// A time beside a row.
pub(super) type Stamp = (usize, f64);

/// What the times say of a stretch of rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Tick {
    /// Rows up to this one come evenly.
    Rows(usize),
    /// So many samples are missing here.
    Missing(u64),
}

/// What is wrong with a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum WrongTime {
    /// Time runs backwards at a row.
    Back { row: usize, from: f64, to: f64 },
    /// Steps differ too much for one sample rate.
    Uneven { row: usize, step: f64, usual: f64 },
    /// No two different times.
    Still,
}

/// Follows the times of a log.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Clock {
    step: f64,
    /// How far a time may be off by rounding.
    rounding: f64,
    /// Whether times are singles, which carry 100 kHz no further than a minute.
    pub(super) single: bool,
    /// The last time looked at, and how many rows of its piece stand from it on.
    last: Option<(f64, usize)>,
}

impl Clock {
    /// Samples per second from the times of the first rows.
    pub(super) fn learn(&mut self, times: &[f64]) -> Result<f64, WrongTime> {
        let n = times.len();
        if let Some(k) = (1..n).find(|k| times[*k] < times[k - 1]) {
            return Err(WrongTime::Back { row: k, from: times[k - 1], to: times[k] });
        }
        let mut steps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
        if !(times.last() > times.first()) {
            return Err(WrongTime::Still);
        }
        steps.sort_by(f64::total_cmp);
        // Half of the stretch apart: what rounding leaves then weighs little, and a few holes do not count.
        let lag = (n / 2).max(1);
        let mut apart: Vec<f64> = (0..n - lag).map(|k| (times[k + lag] - times[k]) / lag as f64).collect();
        apart.sort_by(f64::total_cmp);
        let step = apart[apart.len() / 2];
        // Times that are rounded coarsely step by 0, once or twice their last decimal.
        let resolution = decimals(times).max(self.rounding_of(times[n - 1]));
        self.rounding = if resolution > 0.1 * step { resolution } else { 0.0 };
        let middle = steps[steps.len() / 2];
        if (middle - step).abs() > 0.4 * step + self.rounding {
            let row = times.windows(2).position(|w| w[1] - w[0] >= middle).unwrap_or(0) + 1;
            return Err(WrongTime::Uneven { row, step: middle, usual: step });
        }
        let uncertain = (2.0 * resolution / (lag as f64 * step)).max(1e-7);
        let rate = roundest(1.0 / step, uncertain);
        self.step = 1.0 / rate;
        Ok(rate)
    }

    /// By how much a single may be off for being rounded, both of a step together.
    fn rounding_of(&self, time: f64) -> f64 {
        if self.single { f64::from(f32::EPSILON) * time.abs() } else { 0.0 }
    }

    /// What a stretch of so many rows holds, by the times of some of them, in order. `None` where some time between must be
    /// looked at.
    pub(super) fn check(
        &mut self,
        stamps: &[Stamp],
        of_rows: usize,
        all: bool,
    ) -> Result<Option<Vec<Tick>>, WrongTime> {
        let mut found = Vec::new();
        let mut last = self.last.map(|(time, _)| time);
        // Rows are counted from this stretch's first; the last known one lies before it.
        let mut row_before = self.last.map_or(0, |(_, after)| -(after as i64));
        for &(row, time) in stamps {
            let Some(before) = last else {
                (last, row_before) = (Some(time), row as i64);
                continue;
            };
            let rows = (row as i64 - row_before) as f64;
            let off = time - before - rows * self.step;
            let within = UNEVEN * self.step + 2.0 * self.rounding + self.rounding_of(time);
            if !time.is_finite() || off.abs() <= within {
                if time.is_finite() {
                    (last, row_before) = (Some(time), row as i64);
                }
                continue;
            }
            if !all {
                return Ok(None);
            }
            if time < before {
                return Err(WrongTime::Back { row, from: before, to: time });
            }
            let missing = (off / self.step).round();
            if missing < 1.0 {
                return Err(WrongTime::Uneven { row, step: (time - before) / rows, usual: self.step });
            }
            found.extend([Tick::Rows(row), Tick::Missing(missing as u64)]);
            (last, row_before) = (Some(time), row as i64);
        }
        self.last = last.map(|time| (time, (of_rows as i64 - row_before) as usize));
        found.push(Tick::Rows(usize::MAX));
        Ok(Some(found))
    }
}

/// The last decimal that some times use.
fn decimals(times: &[f64]) -> f64 {
    let some = times.iter().take(64);
    (0..12)
        .map(|k| 10_f64.powi(-k))
        .find(|unit| some.clone().all(|t| ((t / unit).round() * unit - t).abs() <= 1e-6 * unit + 1e-12 * t.abs()))
        .unwrap_or(1e-12)
}

/// The number with the fewest digits within a relative uncertainty: recorders' clocks have round rates.
fn roundest(value: f64, uncertain: f64) -> f64 {
    (1..=12)
        .map(|digits| {
            let unit = 10_f64.powi(value.log10().floor() as i32 + 1 - digits);
            // Through the text, so that the digits are the nearest double.
            format!("{:e}", (value / unit).round() * unit).parse::<f64>().map_or(value, |v| (v / unit).round() * unit)
        })
        .find(|v| (v / value - 1.0).abs() <= uncertain)
        .unwrap_or(value)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]
mod tests {
    use super::*;

    #[test]
    fn rates_are_told_through_rounding_of_the_times() {
        for (rate, decimals) in
            [(100_000.0, 5), (200_000.0, 5), (44_100.0, 6), (12_500.0, 4), (51_200.0, 6), (20_000.0, 9)]
        {
            let unit = 10_f64.powi(decimals);
            let times: Vec<f64> =
                (0..40_000).map(|k| (1.7 + f64::from(k) / rate) * unit).map(|t| t.round() / unit).collect();
            let mut clock = Clock::default();
            let found = clock.learn(&times).unwrap();
            assert!((found / rate - 1.0).abs() < 1e-9, "{found} instead of {rate}");
            let stamps: Vec<Stamp> = times.iter().copied().enumerate().collect();
            assert_eq!(clock.check(&stamps, stamps.len(), true).unwrap(), Some(vec![Tick::Rows(usize::MAX)]), "{rate}");
        }
    }

    #[test]
    fn rows_of_which_few_times_are_looked_at_join_piece_to_piece() {
        let times: Vec<f64> = (0..10_000).map(|k| f64::from(k) * 1e-5).collect();
        let mut clock = Clock::default();
        clock.learn(&times).unwrap();
        for piece in times.chunks(777) {
            let some: Vec<Stamp> = piece.iter().copied().enumerate().step_by(64).collect();
            assert_eq!(clock.check(&some, piece.len(), false).unwrap(), Some(vec![Tick::Rows(usize::MAX)]));
        }
    }

    #[test]
    fn singles_that_cannot_tell_the_steps_apart_are_no_holes() {
        // At 200 s a single steps by 15 µs, the samples by 10.
        let of = |k: i32| f64::from((f64::from(k) * 1e-5) as f32);
        let times: Vec<f64> = (0..80_000).map(of).collect();
        let mut clock = Clock { single: true, ..Clock::default() };
        assert!((clock.learn(&times).unwrap() / 1e5 - 1.0).abs() < 1e-9);
        let late: Vec<Stamp> = (20_000_000..20_050_000).map(of).enumerate().collect();
        assert_eq!(clock.check(&late, late.len(), true).unwrap(), Some(vec![Tick::Rows(usize::MAX)]));
    }

    #[test]
    fn holes_and_backward_steps_are_found_where_they_are() {
        let mut times: Vec<f64> = (0..5000).map(|k| f64::from(k) * 1e-4).collect();
        let mut clock = Clock::default();
        clock.learn(&times).unwrap();
        times[3000..].iter_mut().for_each(|t| *t += 7e-4);
        let some: Vec<Stamp> = times.iter().copied().enumerate().step_by(64).collect();
        assert_eq!(clock.check(&some, times.len(), false).unwrap(), None, "a hole between two looks is seen");
        let all: Vec<Stamp> = times.iter().copied().enumerate().collect();
        assert_eq!(
            clock.check(&all, all.len(), true).unwrap(),
            Some(vec![Tick::Rows(3000), Tick::Missing(7), Tick::Rows(usize::MAX)])
        );
        let mut back = Clock { last: None, ..clock };
        let wrong = [(0, 0.0), (1, 1e-4), (2, -0.5)];
        assert!(matches!(back.check(&wrong, 3, true), Err(WrongTime::Back { row: 2, .. })));
        assert!(matches!(Clock::default().learn(&[1.0; 50]), Err(WrongTime::Still)));
    }
}
