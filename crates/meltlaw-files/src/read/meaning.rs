//! What a column of a table can mean: the contract's names, other units by suffix.

use meltlaw::factors::Factor;
use meltlaw::trials::Column;

use super::unit_words::{UnitWord, unit_word};
use crate::units::{UnitConversion, spellings};

/// What a column of a table holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Meaning {
    /// Identifier.
    Trial,
    /// How it was welded.
    Mode,
    /// Day, spool, station or block.
    Level(Factor),
    /// Measured or simulated.
    Origin,
    /// Whether to use it.
    Use,
    /// Remark.
    Note,
    /// A number, in the contract's unit where there is no conversion.
    Value(Column, Option<&'static UnitConversion>),
    /// The standard error of a number.
    Error(Column, Option<&'static UnitConversion>),
    /// What a sheet asked for.
    Asked(Column, Option<&'static UnitConversion>),
}

const TEXT_COLUMNS: [(&str, Meaning); 9] = [
    ("trial", Meaning::Trial),
    ("mode", Meaning::Mode),
    ("day", Meaning::Level(Factor::Day)),
    ("spool", Meaning::Level(Factor::Spool)),
    ("station", Meaning::Level(Factor::Station)),
    ("block", Meaning::Level(Factor::Block)),
    ("origin", Meaning::Origin),
    ("use", Meaning::Use),
    ("note", Meaning::Note),
];

impl Meaning {
    /// Every name that has a meaning, with it.
    fn table() -> Vec<(String, Self)> {
        let mut names: Vec<(String, Self)> = TEXT_COLUMNS.iter().map(|(name, m)| ((*name).to_owned(), *m)).collect();
        for &column in Column::ALL {
            for (name, conversion) in spellings(column) {
                if column.may_have_se() {
                    names.push((format!("{name}_se"), Self::Error(column, conversion)));
                }
                if column.may_be_asked() {
                    names.push((format!("asked_{name}"), Self::Asked(column, conversion)));
                }
                names.push((name, Self::Value(column, conversion)));
            }
        }
        names
    }

    /// Every name that has a meaning.
    pub(crate) fn all_names() -> Vec<String> {
        Self::table().into_iter().map(|(name, _)| name).collect()
    }

    /// From a folded name.
    pub(crate) fn from_name(name: &str) -> Option<Self> {
        Self::table().into_iter().find(|(known, _)| known == name).map(|(_, meaning)| meaning)
    }

    /// Its name.
    pub(crate) fn name(&self) -> String {
        Self::table().into_iter().find(|(_, meaning)| meaning == self).map(|(name, _)| name).unwrap_or_default()
    }

    /// The name of the same quantity in another unit, where tables may have it in that.
    pub(super) fn name_in(&self, unit: &UnitWord) -> Option<String> {
        let same_unit = |m: &Self| m.unit().and_then(unit_word).is_some_and(|u| unit.conflict(u).is_none());
        Self::table().into_iter().find(|(_, m)| m.is_same_quantity(self) && same_unit(m)).map(|(name, _)| name)
    }

    /// Whether two columns would fill the same place, be it in different units.
    pub(crate) fn is_same_quantity(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Value(a, _), Self::Value(b, _))
            | (Self::Error(a, _), Self::Error(b, _))
            | (Self::Asked(a, _), Self::Asked(b, _)) => a == b,
            _ => self == other,
        }
    }

    /// Whether numbers are expected.
    pub(crate) const fn is_number(&self) -> bool {
        matches!(self, Self::Value(..) | Self::Error(..) | Self::Asked(..))
    }

    /// The unit in which the file gives it, for numbers.
    pub(crate) fn unit(&self) -> Option<&'static str> {
        match *self {
            Self::Value(column, conversion) | Self::Error(column, conversion) | Self::Asked(column, conversion) => {
                Some(conversion.map_or(column.unit(), |c| c.unit))
            }
            _ => None,
        }
    }
}

/// A name for comparison: blanks around it dropped, blanks within it one underscore, lower case.
pub(crate) fn fold(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join("_").to_lowercase()
}
