//! Values of the study file that few keys hold: truth values, whole numbers, lists, numbers by name.

use meltlaw::ranges::Range;
use toml::de::DeValue;

use super::section::{Found, Section, as_number, describe};
use super::wording::{A_NAME, name_fault};

impl Section<'_> {
    /// `true` or `false`; `false` where not stated.
    pub(crate) fn flag(&self, key: &'static str) -> bool {
        match self.find(key) {
            None => false,
            Some(Found { value: DeValue::Boolean(flag), .. }) => *flag,
            Some(found) => {
                self.fault(key, found.line, describe(found.value), "true or false", "correct it");
                false
            }
        }
    }

    /// A whole number, where stated.
    pub(crate) fn whole(&self, key: &'static str, low: usize, high: usize) -> Option<usize> {
        let found = self.find(key)?;
        let value = as_whole(found.value).filter(|v| (low..=high).contains(v));
        if value.is_none() {
            let needed = format!("a whole number from {low} to {high}");
            self.fault(key, found.line, describe(found.value), needed, "correct it");
        }
        value
    }

    /// The first and the last of a row of whole numbers, where stated.
    pub(crate) fn first_and_last(&self, key: &'static str, high: usize) -> Option<[usize; 2]> {
        let found = self.find(key)?;
        let ends = match found.value {
            DeValue::Array(list) => list.iter().map(|v| as_whole(v.get_ref())).collect::<Option<Vec<usize>>>(),
            _ => None,
        };
        match ends.as_deref() {
            Some(&[first, last]) if 0 < first && first <= last && last <= high => Some([first, last]),
            _ => {
                let needed = format!("[first, last], whole numbers from 1 to {high}, the last not before the first");
                self.fault(key, found.line, describe(found.value), needed, "correct it");
                None
            }
        }
    }

    /// A list of names that must be stated.
    pub(crate) fn required_names(&self, key: &'static str, needed: &str) -> Vec<String> {
        let Some(found) = self.find(key) else {
            self.missing(key, needed);
            return Vec::new();
        };
        let DeValue::Array(list) = found.value else {
            self.fault(key, found.line, describe(found.value), needed, "write it in square brackets");
            return Vec::new();
        };
        if list.is_empty() {
            self.fault(key, found.line, "an empty list", needed, "name one or remove the entry");
        }
        let mut names = Vec::new();
        for item in list.iter() {
            let Found { value, line } = self.found(item);
            match value {
                DeValue::String(text) => match name_fault(text) {
                    None => names.push(text.trim().to_owned()),
                    Some(wrong) => self.fault(key, line, wrong, A_NAME, "shorten or correct it"),
                },
                // A trial of a sheet may be called 7.
                DeValue::Integer(number) => names.push(number.to_string()),
                other => self.fault(key, line, describe(other), "a text in quotation marks", "correct it"),
            }
        }
        names
    }

    /// A text, or a number taken as the text that stands there.
    pub(crate) fn text_or_number(&self, key: &'static str) -> Option<String> {
        match self.find(key)?.value {
            DeValue::Integer(number) => Some(number.to_string()),
            DeValue::Float(number) => Some(number.to_string()),
            _ => self.text(key),
        }
    }

    /// Every key with its number, for tables whose keys are the user's; they count as known.
    pub(crate) fn numbers(&self, range: &Range) -> Vec<(String, f64, usize)> {
        let mut numbers = Vec::new();
        for (name, value) in self.table.into_iter().flatten() {
            let Found { value, line } = self.found(value);
            match as_number(value).filter(|&v| range.holds(v)) {
                Some(number) => numbers.push((name.get_ref().to_string(), number, line)),
                None => self.fault(name.get_ref(), line, describe(value), range.to_string(), "correct it"),
            }
        }
        numbers.sort_by_key(|(_, _, line)| *line);
        numbers
    }
}

fn as_whole(value: &DeValue<'_>) -> Option<usize> {
    match value {
        DeValue::Integer(i) => usize::from_str_radix(i.as_str(), i.radix()).ok(),
        _ => None,
    }
}
