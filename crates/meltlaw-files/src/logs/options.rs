//! What belongs to one log and not to a whole run: which channel is turned round, its scale, offset and delay. A table beside
//! the logs states them, the table of rows records how each log was read.

use std::collections::BTreeMap;

use meltlaw::trials::Trials;
use serde::{Deserialize, Serialize};

use super::LogRequest;
use crate::document::number_text;
use crate::read::{Fault, Place, quoted};

/// Their columns, by the order in [`LogOptions::values`]; `invert` comes first.
pub(crate) const OPTION_COLUMNS: [&str; 7] = [
    "invert",
    "scale_current",
    "scale_voltage",
    "offset_current_a",
    "offset_voltage_v",
    "delay_current_us",
    "delay_voltage_us",
];
/// Words for the channels that are turned round, by current and voltage.
pub(crate) const INVERT_WORDS: [(&str, [bool; 2]); 4] =
    [("none", [false, false]), ("current", [true, false]), ("voltage", [false, true]), ("both", [true, true])];

/// What is stated for one log; the rest is as for all logs of the run.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct LogOptions {
    invert: Option<[bool; 2]>,
    /// In the order of [`OPTION_COLUMNS`] without the first.
    numbers: [Option<f64>; 6],
}

impl LogOptions {
    /// How a request reads, with everything stated.
    pub fn of(request: &LogRequest) -> Self {
        let [[a, b], [c, d], [e, f]] = [request.scale, request.offset, request.delay_us];
        Self { invert: Some(request.invert), numbers: [a, b, c, d, e, f].map(Some) }
    }

    /// The request for this log.
    pub fn on(&self, request: &LogRequest) -> LogRequest {
        let mut own = request.clone();
        own.invert = self.invert.unwrap_or(own.invert);
        let places = own.scale.iter_mut().chain(&mut own.offset).chain(&mut own.delay_us);
        places.zip(self.numbers).for_each(|(place, stated)| *place = stated.unwrap_or(*place));
        own
    }

    /// Whether everything stated here is so there too.
    pub(super) fn agrees_with(&self, there: &Self) -> bool {
        let agree = self.numbers.iter().zip(there.numbers).all(|(here, there)| here.is_none() || *here == there);
        agree && (self.invert.is_none() || self.invert == there.invert)
    }

    /// From the cells of a table's row; a blank cell states nothing. The error is the column, what was found, what was needed.
    pub(super) fn of_cells<'a>(
        cells: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<Self, Vec<(String, String, &'static str)>> {
        let (mut options, mut wrong) = (Self::default(), Vec::new());
        for (name, cell) in cells {
            let (Some(place), cell) = (option_place(name), cell.trim()) else { continue };
            if cell.is_empty() {
                continue;
            }
            if place == 0 {
                let word = INVERT_WORDS.iter().find(|(word, _)| cell.eq_ignore_ascii_case(word));
                options.invert = word.map(|(_, channels)| *channels);
                if word.is_none() {
                    wrong.push((name.to_owned(), quoted(cell), "current, voltage, both or none"));
                }
                continue;
            }
            let number = cell.replace(',', ".").parse().ok().filter(|n: &f64| n.is_finite());
            // A channel that is multiplied by 0 is lost.
            let number = number.filter(|n| place > 2 || *n != 0.0);
            options.numbers[place - 1] = number;
            if number.is_none() {
                let needed = if place > 2 { "a number" } else { "a number other than 0" };
                wrong.push((name.to_owned(), quoted(cell), needed));
            }
        }
        if wrong.is_empty() { Ok(options) } else { Err(wrong) }
    }

    /// Cells by [`OPTION_COLUMNS`].
    pub(super) fn cells(&self) -> [String; 7] {
        let invert = self.invert.unwrap_or_default();
        let word = INVERT_WORDS.iter().find(|(_, channels)| *channels == invert).map_or("none", |(word, _)| word);
        let numbers = self.numbers.iter().zip(Self::of(&LogRequest::default()).numbers);
        let texts = numbers.map(|(number, usual)| number.or(usual).map(number_text).unwrap_or_default());
        let mut cells: [String; 7] = Default::default();
        cells.iter_mut().zip(std::iter::once(word.to_owned()).chain(texts)).for_each(|(cell, text)| *cell = text);
        cells
    }
}

/// Which of the options a column of a table states, if any.
pub(crate) fn option_place(column: &str) -> Option<usize> {
    let folded = column.trim().to_lowercase().replace([' ', '-'], "_");
    OPTION_COLUMNS.iter().position(|option| *option == folded)
}

/// What a table beside the logs states for single logs, by trial.
///
/// # Errors
/// A [`Fault`] for each cell that states nothing that can be done.
pub fn log_options(beside: &Trials) -> Result<BTreeMap<String, LogOptions>, Vec<Fault>> {
    let (mut all, mut faults) = (BTreeMap::new(), Vec::new());
    for trial in &beside.rows {
        let cells = beside.other_columns.iter().zip(&trial.other);
        match LogOptions::of_cells(cells.map(|(name, cell)| (name.as_str(), cell.as_str()))) {
            Ok(options) => {
                all.insert(trial.name.clone(), options);
            }
            Err(wrong) => {
                let file = beside.sources.get(trial.source).map_or("", |source| source.file.as_str());
                faults.extend(wrong.into_iter().map(|(column, found, needed)| {
                    Fault::at(file, Place::Row(trial.row), found, needed, "correct the cell, or leave it blank")
                        .in_column(column)
                }));
            }
        }
    }
    if faults.is_empty() { Ok(all) } else { Err(faults) }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    #[test]
    fn what_is_stated_for_a_log_goes_before_what_is_stated_for_the_run() {
        let run = LogRequest { scale: [100.0, 1.0], invert: [true, false], ..LogRequest::default() };
        let own = LogOptions::of_cells([("Invert", " voltage"), ("scale voltage", "10,5"), ("welder", "x")]).unwrap();
        let read = own.on(&run);
        assert_eq!((read.scale, read.invert), ([100.0, 10.5], [false, true]));
        assert!(own.agrees_with(&LogOptions::of(&read)) && !own.agrees_with(&LogOptions::of(&run)));
        assert_eq!(LogOptions::of(&read).cells(), ["voltage", "100", "10.5", "0", "0", "0", "0"]);
        // Recorded cells read back; `none` states that nothing is turned round, a blank cell states nothing.
        let recorded = LogOptions::of(&read).cells();
        let cells = OPTION_COLUMNS.iter().copied().zip(recorded.iter().map(String::as_str));
        assert_eq!(LogOptions::of_cells(cells).unwrap(), LogOptions::of(&read));
        assert!(!LogOptions::of_cells([("invert", "none")]).unwrap().on(&run).invert[0]);
        assert!(LogOptions::of_cells([("invert", "")]).unwrap().on(&run).invert[0]);
    }

    #[test]
    fn a_cell_that_states_nothing_that_can_be_done_is_named() {
        let wrong = LogOptions::of_cells([("invert", "yes"), ("scale_current", "0"), ("delay_voltage_us", "late")]);
        let wrong = wrong.unwrap_err();
        assert_eq!(wrong[0], ("invert".to_owned(), "\"yes\"".to_owned(), "current, voltage, both or none"));
        assert_eq!(wrong.len(), 3);
    }
}
