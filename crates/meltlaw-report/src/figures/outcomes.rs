//! Counted trials as the detachment figures show them.

use std::collections::BTreeSet;

use meltlaw::laws::FittedLaw;
use meltlaw::trials::{Column, Trial, Trials};

use crate::colours::Colour;
use crate::marks::{Marker, Shape};

/// What most pulses of a trial did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// No drop.
    None,
    /// One drop.
    One,
    /// More than one drop.
    More,
}

impl Outcome {
    pub(crate) const ALL: [(Self, &'static str); 3] =
        [(Self::None, "mostly no drop"), (Self::One, "mostly one drop"), (Self::More, "mostly more drops")];

    /// Shape and colour; filled where at least four pulses in five agree.
    pub(crate) fn marker(self, radius: f64, filled: bool) -> Marker {
        let (shape, colour) = match self {
            Self::None => (Shape::TriangleDown, Colour::Sea),
            Self::One => (Shape::Circle, Colour::Deep),
            Self::More => (Shape::Triangle, Colour::Rust),
        };
        Marker { shape, radius, colour, filled }
    }
}

/// A counted trial.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Counted<'a> {
    pub(crate) trial: &'a str,
    pub(crate) pulse_current_a: f64,
    pub(crate) pulse_time_ms: f64,
    pub(crate) pulses: f64,
    /// Shares of pulses with no, one and more drops; `None` where totals only are known.
    pub(crate) shares: Option<[f64; 3]>,
    pub(crate) drops_per_pulse: f64,
}

impl<'a> Counted<'a> {
    /// The trials that the law used, or all counted ones where it used none.
    pub(crate) fn of(law: &FittedLaw, trials: &'a Trials) -> Vec<Self> {
        let used: BTreeSet<&str> = law.trials_used.iter().map(String::as_str).collect();
        trials.used().filter(|t| used.is_empty() || used.contains(t.name.as_str())).filter_map(Self::read).collect()
    }

    fn read(trial: &'a Trial) -> Option<Self> {
        let (shares, pulses, drops_per_pulse) =
            match [Column::WithoutDrop, Column::OneDrop, Column::MoreDrops].map(|c| trial.get(c)) {
                [Some(none), Some(one), Some(more)] => {
                    let pulses = none + one + more;
                    (Some([none, one, more].map(|n| n / pulses)), pulses, (one + 2.0 * more) / pulses)
                }
                _ => {
                    let pulses = trial.get(Column::Pulses)?;
                    (None, pulses, trial.get(Column::Drops)? / pulses)
                }
            };
        let (current, time) = (trial.get(Column::PulseCurrent)?, trial.get(Column::PulseTime)?);
        (pulses > 0.0 && current > 0.0 && time > 0.0).then_some(Self {
            trial: &trial.name,
            pulse_current_a: current,
            pulse_time_ms: time,
            pulses,
            shares,
            drops_per_pulse,
        })
    }

    /// What most pulses did, and whether at least four in five agree.
    pub(crate) fn outcome(&self) -> (Outcome, bool) {
        let places = [Outcome::None, Outcome::One, Outcome::More];
        match self.shares {
            Some(shares) => {
                let most = (0..3).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap_or(1);
                (places[most], shares[most] >= 0.8)
            }
            None if self.drops_per_pulse < 0.5 => (Outcome::None, self.drops_per_pulse < 0.2),
            None if self.drops_per_pulse <= 1.5 => (Outcome::One, (self.drops_per_pulse - 1.0).abs() < 0.2),
            None => (Outcome::More, self.drops_per_pulse > 1.8),
        }
    }

    /// Radius by count: the area grows with the pulses, within what can be seen and told apart.
    pub(crate) fn radius(&self, most_pulses: f64) -> f64 {
        2.8 + 3.4 * (self.pulses / most_pulses.max(1.0)).sqrt().min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trial() -> Trial {
        Trial::new("D01", 0, 2).with(Column::PulseCurrent, 400.0).with(Column::PulseTime, 2.6)
    }

    #[test]
    fn counts_by_class_say_what_most_pulses_did() {
        let trial = trial().with(Column::WithoutDrop, 10.0).with(Column::OneDrop, 35.0).with(Column::MoreDrops, 5.0);
        let counted = Counted::read(&trial).unwrap();
        // 35 of 50 is less than four in five; (35 + 2·5)/50 = 0.9.
        assert_eq!(counted.outcome(), (Outcome::One, false));
        assert!((counted.drops_per_pulse - 0.9).abs() < 1e-12);
    }

    #[test]
    fn totals_alone_are_placed_by_drops_per_pulse() {
        for (drops, outcome) in [(2.0, Outcome::None), (50.0, Outcome::One), (95.0, Outcome::More)] {
            let trial = trial().with(Column::Drops, drops).with(Column::Pulses, 50.0);
            let counted = Counted::read(&trial).unwrap();
            assert_eq!((counted.outcome(), counted.shares), ((outcome, true), None));
        }
    }

    #[test]
    fn a_trial_without_counts_or_without_pulses_is_not_drawn() {
        assert_eq!(Counted::read(&trial()), None);
        let none = trial().with(Column::WithoutDrop, 0.0).with(Column::OneDrop, 0.0).with(Column::MoreDrops, 0.0);
        assert_eq!(Counted::read(&none), None);
    }
}
