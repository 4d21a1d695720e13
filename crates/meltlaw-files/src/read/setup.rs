//! Parts of the study file that go along with a line: `[setup]`, `[confirm]`, `[factors]`, and the trials that the study
//! leaves out.

use std::collections::{BTreeMap, BTreeSet};

use meltlaw::factors::{Factor, StatedScatter};
use meltlaw::ranges::{INSIDE_ONE, MARGIN_V, RELATIVE_MARGIN, RELATIVE_SE, VOLTAGE_SE_V};
use meltlaw::setup::{ConfirmRule, Polarity, Setup};

use super::section::Section;
use super::wording::quoted;

pub(crate) fn read_setup(section: Section<'_>) -> Setup {
    let word = section.word("polarity", &Polarity::ALL.map(Polarity::word));
    let polarity = Polarity::ALL.into_iter().find(|p| Some(p.word()) == word).unwrap_or_default();
    let setup = Setup::read(polarity, |name| section.text_or_number(name));
    if section.is_stated() {
        section.study.note("[setup] is kept in line.json and printed in the report; no command compares it yet");
    }
    section.finish();
    setup
}

pub(crate) fn read_confirm(section: Section<'_>) -> ConfirmRule {
    let usual = ConfirmRule::default();
    let rule = ConfirmRule {
        wire_feed_relative: section.number_or("wire_feed_relative", &RELATIVE_MARGIN, usual.wire_feed_relative),
        voltage_v: section.number_or("voltage_v", &MARGIN_V, usual.voltage_v),
        drops_per_pulse: section.number_or("drops_per_pulse", &RELATIVE_MARGIN, usual.drops_per_pulse),
        false_accept: section.number_or("false_accept", &INSIDE_ONE, usual.false_accept),
    };
    if section.is_stated() {
        section.study.note("[confirm] is kept in line.json; no command holds welds against it yet");
    }
    section.finish();
    rule
}

/// Scatter between levels that the study states. A block is no factor that two studies share, so none is stated for it.
pub(crate) fn read_factors(section: Section<'_>) -> BTreeMap<Factor, StatedScatter> {
    let mut factors = BTreeMap::new();
    for factor in [Factor::Day, Factor::Spool, Factor::Station] {
        let of = section.section(factor.name());
        if of.is_stated() {
            let scatter = StatedScatter {
                melting_relative: of.number("melting_relative", &RELATIVE_SE),
                voltage_v: of.number("voltage_v", &VOLTAGE_SE_V),
                detachment_relative: of.number("detachment_relative", &RELATIVE_SE),
            };
            of.study.note(format!("[factors.{}] is kept but does not enter any interval yet", factor.name()));
            factors.insert(factor, scatter);
        }
        of.finish();
    }
    section.finish();
    factors
}

/// Trials that the study leaves out, with the line that says so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct LeaveOut {
    pub(crate) trials: Vec<String>,
    pub(crate) reason: String,
    pub(crate) line: usize,
}

pub(crate) fn read_leave_out(root: &Section<'_>) -> Vec<LeaveOut> {
    let mut all: Vec<LeaveOut> = Vec::new();
    let mut named = BTreeSet::new();
    for section in root.sections("leave_out") {
        let line = section.find("trials").map_or(section.line(), |f| f.line);
        let trials = section.required_names("trials", "a list of trials, such as [\"B13\"]");
        let reason = section.required_text("reason", "why these trials take no part, in one line");
        for name in &trials {
            if !named.insert(name.clone()) {
                let found = format!("{} a second time", quoted(name));
                section.fault("trials", line, found, "each trial once", "remove one");
            }
        }
        section.finish();
        all.push(LeaveOut { trials, reason: reason.unwrap_or_default(), line });
    }
    all
}
