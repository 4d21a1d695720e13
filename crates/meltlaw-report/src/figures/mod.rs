//! One figure is one file; each takes results and gives a [`Drawn`], or nothing where there is nothing to
//! draw.

mod budget;
mod detachment_map;
mod drop_shares;
mod feed_view;
mod line_effects;
mod line_settings;
mod measured_fitted;
mod outcomes;

use std::collections::BTreeMap;

use crate::ReportInput;

/// A figure with everything that stands around it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drawn {
    /// File name without ending; unique in the report.
    pub(crate) name: &'static str,
    /// A few words: what is shown.
    pub(crate) title: String,
    /// What to see in it.
    pub(crate) caption: String,
    /// The drawing with fixed colours.
    pub(crate) svg: String,
    /// Its data.
    pub(crate) csv: String,
}

/// All figures of a report, by the section they belong to.
#[derive(Debug, Default)]
pub(crate) struct Figures {
    pub(crate) line: Vec<Drawn>,
    pub(crate) budget: Vec<Drawn>,
    pub(crate) burn_off: Vec<Drawn>,
    pub(crate) arc_voltage: Vec<Drawn>,
    pub(crate) detachment: Vec<Drawn>,
}

impl Figures {
    /// Draws what the results allow.
    pub(crate) fn draw(input: &ReportInput<'_>) -> Self {
        let laws = &input.laws.laws;
        Self {
            line: line_settings::draw(input.line),
            budget: budget::draw(input.line),
            burn_off: measured_fitted::burn_off(&laws.burn_off),
            arc_voltage: measured_fitted::arc_voltage(&laws.arc_voltage),
            detachment: [
                detachment_map::draw(&laws.detachment, input.trials, &input.line.line.nodes),
                drop_shares::draw(&laws.detachment, input.trials),
            ]
            .into_iter()
            .flatten()
            .collect(),
        }
    }

    /// The stand-alone files by name.
    pub(crate) fn files(&self) -> BTreeMap<String, String> {
        [&self.line, &self.budget, &self.burn_off, &self.arc_voltage, &self.detachment]
            .into_iter()
            .flatten()
            .map(|drawn| (format!("{}.svg", drawn.name), drawn.svg.clone()))
            .collect()
    }
}
