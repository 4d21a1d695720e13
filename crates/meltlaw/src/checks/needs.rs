//! What a row must have for each law, in the contract's words.

use crate::study::Study;
use crate::trials::{Column, Mode, Trial, Trials};

/// The three laws by what they need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Law {
    /// Wire feed, currents, extension.
    BurnOff,
    /// Pulse waveform and counts.
    Detachment,
    /// Voltage, current, arc length.
    ArcVoltage,
}

impl Law {
    /// In the order of the files.
    pub(super) const ALL: [Self; 3] = [Self::BurnOff, Self::Detachment, Self::ArcVoltage];

    /// In words.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::BurnOff => "burn-off",
            Self::Detachment => "detachment",
            Self::ArcVoltage => "arc voltage",
        }
    }
}

/// The first thing that a used row lacks for a law; `None` where it has all.
pub(super) fn lacks(study: &Study, trials: &Trials, trial: &Trial, law: Law) -> Option<&'static str> {
    let blank = |column: Column| trial.get(column).is_none();
    match law {
        Law::BurnOff if blank(Column::WireFeed) => Some("no wire feed"),
        Law::BurnOff | Law::ArcVoltage if blank(Column::CurrentMean) => Some("no mean current"),
        Law::BurnOff if blank(Column::CurrentRms) && trial.mode != Mode::ConstantCurrent => Some("no RMS current"),
        Law::BurnOff => trials.geometry(trial, &study.bench).is_none().then_some("no extension, no CTWD"),
        Law::Detachment if trial.mode != Mode::Pulsed => Some("not pulsed"),
        Law::Detachment if blank(Column::PulseCurrent) => Some("no pulse current"),
        Law::Detachment if blank(Column::PulseTime) => Some("no pulse time"),
        Law::Detachment => (classes(trial).is_none() && totals(trial).is_none()).then_some("drops not counted"),
        Law::ArcVoltage if blank(Column::VoltageMean) => Some("no voltage"),
        Law::ArcVoltage => {
            let arc = trials.geometry(trial, &study.bench).and_then(|g| g.arc_length_mm);
            arc.is_none().then_some("no arc length")
        }
    }
}

/// Rows that a law can use.
pub(super) fn usable<'a>(study: &'a Study, trials: &'a Trials, law: Law) -> impl Iterator<Item = &'a Trial> {
    trials.used().filter(move |t| lacks(study, trials, t, law).is_none())
}

/// Counted pulses without, with one and with more drops; `None` where any is blank or all are zero.
pub(super) fn classes(trial: &Trial) -> Option<[f64; 3]> {
    let counts = [trial.get(Column::WithoutDrop)?, trial.get(Column::OneDrop)?, trial.get(Column::MoreDrops)?];
    (counts.iter().sum::<f64>() > 0.0).then_some(counts)
}

/// Drops and pulses in total; `None` where either is blank or there are no pulses.
pub(super) fn totals(trial: &Trial) -> Option<[f64; 2]> {
    let pair = [trial.get(Column::Drops)?, trial.get(Column::Pulses)?];
    (pair[1] > 0.0).then_some(pair)
}
