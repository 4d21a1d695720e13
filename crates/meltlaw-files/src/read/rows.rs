//! From cells to trials: numbers in the contract's units, words checked, every bad cell of the table
//! reported.

use meltlaw::trials::{Column, Mode, Origin, Trial};

use super::fault::Fault;
use super::grid::{Cell, Grid, GridRow};
use super::header::Headed;
use super::limits::MOST_FAULTS;
use super::meaning::Meaning;
use super::number::{Decided, Evidence, parse, ungrouped};
use super::request::{DecimalMark, TableRequest, ThousandsMark};
use super::use_words::says_yes;
use super::wording::{A_NAME, name_fault, nearest, quoted};
use crate::units::UnitConversion;

/// The decimal mark of the texts in number columns, stated or decided from all of them, and whether there
/// is any text that it decides about.
pub(crate) fn decimal_mark(
    grid: &Grid,
    headed: &[Headed],
    request: &TableRequest,
) -> Result<(DecimalMark, bool), Box<Fault>> {
    let mut evidence = Evidence::default();
    let mut example = None;
    for row in &grid.rows {
        for (cell, column) in row.cells.iter().zip(headed) {
            if let (Cell::Text(text), Some(true)) = (cell, column.meaning.map(|m| m.is_number())) {
                let before = evidence;
                let marks = |c: &char| request.thousands.is_some_and(|mark| mark.is(*c));
                evidence.add(&text.chars().filter(|c| !marks(c)).collect::<String>());
                if example.is_none() && before != evidence {
                    example = Some((grid.place(row.number, column.place), column.label.clone(), text.clone()));
                }
            }
        }
    }
    match (request.decimal, evidence.decide(), example) {
        (Some(mark), _, example) => Ok((mark, example.is_some())),
        (None, Decided::Mark(mark), example) => Ok((mark, example.is_some())),
        (None, Decided::Either, None) => Ok((DecimalMark::Point, false)),
        (None, Decided::Either, Some((place, label, text))) => {
            let found =
                format!("{}, which may be a fraction or a thousand, and no number that settles it", quoted(&text));
            let action = "state decimal = \".\" or decimal = \",\" for this table in the study";
            Err(Fault::at(&request.file, place, found, "the decimal mark of the file", action).in_column(label).into())
        }
    }
}

/// Turns rows into trials.
#[derive(Debug)]
pub(crate) struct RowReader<'a> {
    pub(crate) grid: &'a Grid,
    pub(crate) headed: &'a [Headed],
    pub(crate) mark: DecimalMark,
    pub(crate) thousands: Option<ThousandsMark>,
    /// Whether rows to use are ticked, so that a blank cell is a no.
    pub(crate) ticked: bool,
    pub(crate) file: &'a str,
    pub(crate) faults: Vec<Fault>,
    /// Bad cells beyond [`MOST_FAULTS`].
    pub(crate) more: usize,
}

impl RowReader<'_> {
    /// One row as a trial; its bad cells stay blank and are reported.
    pub(crate) fn read(&mut self, row: &GridRow) -> Trial {
        let mut trial = Trial::new(String::new(), 0, row.number);
        for (index, (cell, column)) in row.cells.iter().zip(self.headed).enumerate() {
            match column.meaning {
                Some(Meaning::Trial) => trial.name = self.identifier(row, index, cell),
                Some(Meaning::Mode) => trial.mode = self.mode(row, index, cell),
                Some(Meaning::Level(factor)) => trial.set_level(factor, self.level(row, index, cell)),
                Some(Meaning::Origin) => trial.origin = self.origin(row, index, cell),
                Some(Meaning::Use) => trial.use_it = self.use_it(row, index, cell),
                Some(Meaning::Note) => trial.note = cell.text(),
                Some(Meaning::Value(known, conversion)) => {
                    let value = self.number(row, index, cell, known, known == Column::CurrentGainSe, conversion);
                    trial.set(known, value);
                }
                Some(Meaning::Error(known, conversion)) => {
                    let value = self.number(row, index, cell, known, true, conversion);
                    trial.set_se(known, value);
                }
                Some(Meaning::Asked(known, conversion)) => {
                    let value = self.number(row, index, cell, known, false, conversion);
                    trial.set_asked(known, value);
                }
                None => trial.other.push(cell.text()),
            }
        }
        trial
    }

    fn bad(&mut self, row: &GridRow, index: usize, found: String, needed: &str, action: &str) {
        let place = self.grid.place(row.number, self.headed[index].place);
        let fault = Fault::at(self.file, place, found, needed, action).in_column(self.headed[index].label.clone());
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(fault);
        } else {
            self.more += 1;
        }
    }

    fn identifier(&mut self, row: &GridRow, index: usize, cell: &Cell) -> String {
        let name = cell.text();
        if cell.is_blank() {
            self.bad(row, index, "a blank cell".to_owned(), "an identifier", "name the trial, or clear the whole row");
        } else if let Some(wrong) = name_fault(&name) {
            self.bad(row, index, wrong, A_NAME, "shorten or correct the identifier");
        }
        name
    }

    fn level(&mut self, row: &GridRow, index: usize, cell: &Cell) -> Option<String> {
        let level = Some(cell.text()).filter(|text| !text.is_empty())?;
        if let Some(wrong) = name_fault(&level) {
            self.bad(row, index, wrong, A_NAME, "shorten or correct it");
        }
        Some(level)
    }

    fn origin(&mut self, row: &GridRow, index: usize, cell: &Cell) -> Origin {
        if cell.is_blank() {
            return Origin::default();
        }
        let text = cell.text();
        Origin::from_word(&text.to_lowercase()).unwrap_or_else(|| {
            let action = "write one of the two, or leave it blank for measured";
            self.bad(row, index, quoted(&text), "measured or simulated", action);
            Origin::default()
        })
    }

    fn mode(&mut self, row: &GridRow, index: usize, cell: &Cell) -> Mode {
        if cell.is_blank() {
            return Mode::default();
        }
        let text = cell.text();
        Mode::from_word(&text.to_lowercase()).unwrap_or_else(|| {
            let words = ["pulsed", "constant_current", "constant_voltage"];
            let near = nearest(&text, words).unwrap_or("pulsed");
            let action = format!("write one of them, the nearest is {near}");
            self.bad(row, index, quoted(&text), "pulsed, constant_current or constant_voltage", &action);
            Mode::default()
        })
    }

    fn use_it(&mut self, row: &GridRow, index: usize, cell: &Cell) -> bool {
        if cell.is_blank() {
            return !self.ticked;
        }
        says_yes(&cell.text()).unwrap_or_else(|| {
            self.bad(row, index, quoted(&cell.text()), "yes or no", "write yes or no, or leave it blank for yes");
            true
        })
    }

    /// A number's text without the stated marks between thousands; `None` where they stand elsewhere.
    fn plain(&self, text: &str) -> Option<String> {
        self.thousands.map_or_else(|| Some(text.to_owned()), |mark| ungrouped(text, mark, self.mark))
    }

    /// A number in the contract's unit.
    fn number(
        &mut self,
        row: &GridRow,
        index: usize,
        cell: &Cell,
        known: Column,
        is_error: bool,
        conversion: Option<&UnitConversion>,
    ) -> Option<f64> {
        let is_count = !is_error && is_count(known);
        let unit = self.headed[index].meaning.and_then(|m| m.unit()).unwrap_or("1");
        let needed = match (is_count, is_error, unit) {
            (true, ..) => "a whole number of 0 or more".to_owned(),
            (false, true, "1") => "a standard error of 0 or more".to_owned(),
            (false, true, unit) => format!("a standard error of 0 or more in {unit}"),
            (false, false, "1") => "a number".to_owned(),
            (false, false, unit) => format!("a number in {unit}"),
        };
        const CORRECT: &str = "correct the cell, or leave it blank if the value is missing";
        let (value, shown) = match cell {
            Cell::Blank => return None,
            Cell::Text(text) => match self.plain(text).map(|plain| parse(&plain, self.mark)) {
                Some(Ok(value)) => (value, quoted(text)),
                Some(Err(why)) => {
                    self.bad(row, index, quoted(text), &needed, why.advice(self.mark));
                    return None;
                }
                None => {
                    const GROUP: &str = "group its thousands by three digits, or correct thousands in the study";
                    self.bad(row, index, quoted(text), &needed, GROUP);
                    return None;
                }
            },
            Cell::Number(value) if value.is_finite() => (*value, value.to_string()),
            Cell::Number(value) => {
                self.bad(row, index, value.to_string(), &needed, CORRECT);
                return None;
            }
            Cell::Odd(text) => {
                self.bad(row, index, text.clone(), &needed, CORRECT);
                return None;
            }
        };
        let value = self.headed[index].scale.map_or(value, |factor| factor * value);
        let allowed = match (is_count, is_error) {
            (true, _) => value >= 0.0 && value.fract() == 0.0,
            (false, true) => value >= 0.0,
            (false, false) => true,
        };
        if !allowed {
            self.bad(row, index, shown, &needed, CORRECT);
            return None;
        }
        // A minus zero in a table is a zero.
        let value = conversion.map_or(value, |c| c.convert(value)) + 0.0;
        let conceivable = if is_error { known.can_have_se(value) } else { known.can_be(value) };
        if !conceivable {
            let [least, most] = known.sizes();
            let unit = if known.unit() == "1" { String::new() } else { format!(" {}", known.unit()) };
            let sizes = match (is_count, is_error) {
                (true, _) => format!("a count of at most {most}"),
                (false, true) => format!("a standard error of 0, or from {} to {most}{unit}", 1e-3 * least),
                (false, false) => format!("0, or a size from {least} to {most}{unit}"),
            };
            self.bad(row, index, shown, &sizes, CORRECT);
        }
        conceivable.then_some(value)
    }
}

const fn is_count(column: Column) -> bool {
    matches!(column, Column::WithoutDrop | Column::OneDrop | Column::MoreDrops | Column::Drops | Column::Pulses)
}
