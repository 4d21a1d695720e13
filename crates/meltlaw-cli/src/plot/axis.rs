//! An axis: from where to where, its ticks at round numbers, where a value lies among so many places.

use meltlaw_report::numbers::fixed;

/// Share of the range left free beyond the outermost values.
const ROOM: f64 = 0.05;

/// One axis.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    /// What it shows, with its unit.
    pub(super) name: String,
    low: f64,
    high: f64,
    step: f64,
}

impl Axis {
    /// From `low` to `high` with about so many ticks; nothing where that is no range.
    pub(crate) fn between(name: &str, low: f64, high: f64, ticks: usize) -> Option<Self> {
        let span = high - low;
        if !(span.is_finite() && span > 0.0) {
            return None;
        }
        let rough = span / ticks.max(1) as f64;
        let power = 10f64.powf(rough.log10().floor());
        // The round number nearest to it, rather smaller: one tick tells little.
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= 0.7 * rough)?;
        // Values so close that they differ by rounding only have no axis.
        (step.is_finite() && low + step > low).then(|| Self { name: name.to_owned(), low, high, step })
    }

    /// Around all values that are numbers, with some room; equal ones stand in its middle.
    pub(crate) fn around(name: &str, values: impl IntoIterator<Item = f64>, ticks: usize) -> Option<Self> {
        let (low, high) = values
            .into_iter()
            .filter(|v| v.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        let room = if high > low { ROOM * (high - low) } else { (0.1 * high.abs()).max(1e-3) };
        Self::between(name, low - room, high + room, ticks)
    }

    pub(super) fn ends(&self) -> [f64; 2] {
        [self.low, self.high]
    }

    /// The value in the middle of a place.
    pub(super) fn at(&self, place: usize, places: usize) -> f64 {
        self.low + (self.high - self.low) * (place as f64 + 0.5) / places as f64
    }

    /// Among so many places from low to high; nothing outside.
    pub(super) fn place(&self, value: f64, places: usize) -> Option<usize> {
        let share = (value - self.low) / (self.high - self.low);
        // NaN fails too. An end itself belongs to the outermost place.
        ((-1e-9..=1.0 + 1e-9).contains(&share)).then(|| ((share * places as f64) as usize).min(places - 1))
    }

    fn ticks(&self) -> Vec<f64> {
        let first = (self.low / self.step - 1e-9).ceil();
        let count = ((self.high / self.step + 1e-9).floor() - first).clamp(-1.0, 50.0);
        (0..=count as isize).map(|k| (first + k as f64) * self.step).collect()
    }

    fn label(&self, value: f64) -> String {
        // Digits of the step: 0.05 has two.
        fixed(value, (-(self.step.log10() + 1e-9).floor()).clamp(0.0, 9.0) as i32)
    }

    /// Where the ticks lie and how they are written; the first of two in one place.
    pub(super) fn tick_places(&self, places: usize) -> Vec<(usize, String)> {
        let mut found: Vec<(usize, String)> = Vec::new();
        for tick in self.ticks() {
            if let Some(place) = self.place(tick, places).filter(|p| found.iter().all(|(other, _)| other != p)) {
                found.push((place, self.label(tick)));
            }
        }
        found
    }

    /// Letters of the longest label.
    pub(super) fn label_letters(&self) -> usize {
        self.ticks().iter().map(|t| self.label(*t).chars().count()).max().unwrap_or(0)
    }

    /// The axis across and the labels below it: of every tick, or of every second, fifth … where they are crowded.
    pub(super) fn drawn_across(&self, columns: usize) -> (String, String) {
        let ticks = self.tick_places(columns);
        let mut edge = vec!['─'; columns];
        ticks.iter().for_each(|(place, _)| edge[*place] = '┬');
        let first = (self.low / self.step - 1e-9).ceil() as i64;
        // Where each label begins: in the middle below its tick, but on the axis.
        let of_every = |n: i64| -> Vec<(usize, &str)> {
            let counted = ticks.iter().enumerate().filter(|(i, _)| (first + *i as i64).rem_euclid(n) == 0);
            let begins = |place: usize, long: usize| place.saturating_sub(long / 2).min(columns.saturating_sub(long));
            counted.map(|(_, (place, label))| (begins(*place, label.chars().count()), label.as_str())).collect()
        };
        let roomy = |shown: &[(usize, &str)]| shown.windows(2).all(|w| w[0].0 + w[0].1.chars().count() < w[1].0);
        let shown = [1, 2, 5, 10].into_iter().map(of_every).find(|shown| roomy(shown)).unwrap_or_default();
        let mut words = vec![' '; columns];
        for (from, label) in shown {
            words.iter_mut().skip(from).zip(label.chars()).for_each(|(word, letter)| *word = letter);
        }
        let words: String = words.into_iter().collect();
        (edge.into_iter().collect(), words.trim_end().to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_stand_at_round_numbers() {
        let axis = Axis::between("m/min", 2.5, 10.5, 4).unwrap();
        let labels: Vec<String> = axis.tick_places(80).into_iter().map(|t| t.1).collect();
        assert_eq!(labels, ["4", "6", "8", "10"]);
        let axis = Axis::between("V", -0.06, 0.06, 3).unwrap();
        let labels: Vec<String> = axis.tick_places(12).into_iter().map(|t| t.1).collect();
        assert_eq!(labels, ["−0.05", "0.00", "0.05"]);
    }

    #[test]
    fn odd_values_make_no_axis_or_one_around_them() {
        assert!(Axis::around("A", [], 4).is_none());
        assert!(Axis::around("A", [f64::NAN, f64::INFINITY], 4).is_none());
        assert!(Axis::between("A", 1.0, 1.0, 4).is_none());
        assert!(Axis::between("A", f64::MIN, f64::MAX, 4).is_none());
        let one = Axis::around("A", [200.0, f64::NAN, 200.0], 4).unwrap();
        assert_eq!(one.place(200.0, 11), Some(5));
        assert!(Axis::around("A", [0.0, 0.0], 4).is_some());
        // 1e16 and the next number have no round number between them.
        assert!(Axis::between("A", 1e16, 1e16 + 2.0, 4).is_none());
    }

    #[test]
    fn both_ends_lie_on_the_axis_and_nothing_beyond() {
        let axis = Axis::between("A", 0.0, 10.0, 5).unwrap();
        assert_eq!((axis.place(0.0, 10), axis.place(10.0, 10)), (Some(0), Some(9)));
        assert_eq!((axis.place(-0.1, 10), axis.place(10.1, 10), axis.place(f64::NAN, 10)), (None, None, None));
    }
}
