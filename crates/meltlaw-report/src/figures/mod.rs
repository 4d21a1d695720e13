//! One figure is one file; each takes results and gives a [`Drawn`], or nothing where there is nothing to
//! draw.

mod admissible;
mod budget;
pub(crate) mod candidate_forms;
mod detachment_map;
mod diagnosed;
mod drop_shares;
pub(crate) mod feed_view;
mod law_readings;
mod leverage;
mod line_effects;
mod line_readings;
mod line_settings;
mod measured_fitted;
mod outcomes;
mod profile_curves;
mod range;
mod residual_course;
pub(crate) mod trial_influence;
pub(crate) mod waveform;

use std::collections::BTreeMap;

use diagnosed::Diagnosed;
use meltlaw::laws::{FittedLaw, Reading};

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
    /// What a good result looks like, what this one shows, what to do.
    pub(crate) reading: Reading,
    /// The drawing with fixed colours.
    pub(crate) svg: String,
    /// Its data.
    pub(crate) csv: String,
}

/// All figures of a report, by the section they belong to.
#[derive(Debug, Default)]
pub(crate) struct Figures {
    pub(crate) verdict: Vec<Drawn>,
    pub(crate) line: Vec<Drawn>,
    /// What else would do at a few feeds.
    pub(crate) admissible: Vec<Drawn>,
    pub(crate) budget: Vec<Drawn>,
    pub(crate) burn_off: Vec<Drawn>,
    pub(crate) arc_voltage: Vec<Drawn>,
    pub(crate) detachment: Vec<Drawn>,
    /// Diagnosis of each law, in the order of the files.
    pub(crate) diagnosis: [Vec<Drawn>; 3],
}

impl Figures {
    /// Draws what the results allow.
    pub(crate) fn draw(input: &ReportInput<'_>) -> Self {
        let laws = &input.laws.laws;
        Self {
            verdict: range::draw(input.line).into_iter().collect(),
            line: line_settings::draw(input.line),
            admissible: admissible::draw(&input.line.line),
            budget: budget::draw(input.line),
            burn_off: measured_fitted::burn_off(&laws.burn_off),
            arc_voltage: measured_fitted::arc_voltage(&laws.arc_voltage),
            detachment: [
                detachment_map::draw(&laws.detachment, input.trials, &input.line.line.nodes),
                drop_shares::draw(&laws.detachment, input.trials, input.laws.confidence),
            ]
            .into_iter()
            .flatten()
            .collect(),
            diagnosis: laws.by_name().map(|(name, law)| diagnosis(name, law, input)),
        }
    }

    /// The stand-alone files by name.
    pub(crate) fn files(&self) -> BTreeMap<String, String> {
        self.all().map(|drawn| (format!("{}.svg", drawn.name), drawn.svg.clone())).collect()
    }

    /// What they show, by file name: numbers as CSV, words as one JSON document.
    pub(crate) fn data(&self) -> BTreeMap<String, String> {
        let words: BTreeMap<&str, serde_json::Value> = self
            .all()
            .map(|d| (d.name, serde_json::json!({ "title": d.title, "caption": d.caption, "reading": d.reading })))
            .collect();
        let words = serde_json::to_string_pretty(&words).expect("our records are plain data");
        let mut files: BTreeMap<String, String> =
            self.all().map(|drawn| (format!("{}.csv", drawn.name), drawn.csv.clone())).collect();
        files.insert("readings.json".to_owned(), words + "\n");
        files
    }

    fn all(&self) -> impl Iterator<Item = &Drawn> {
        [&self.verdict, &self.line, &self.admissible, &self.budget, &self.burn_off, &self.arc_voltage, &self.detachment]
            .into_iter()
            .chain(&self.diagnosis)
            .flatten()
    }
}

/// How a law stands against its trials, picture by picture.
fn diagnosis(name: &'static str, law: &FittedLaw, input: &ReportInput<'_>) -> Vec<Drawn> {
    let seen = Diagnosed::of(name, law, input.trials);
    let by_trial =
        seen.iter().flat_map(|s| [residual_course::by_order(s), residual_course::by_tip(s), leverage::draw(s)]);
    let of_law = [
        trial_influence::draw(name, law),
        profile_curves::draw(name, law, input.laws.confidence),
        candidate_forms::draw(name, law),
    ];
    by_trial.chain(of_law).flatten().collect()
}
