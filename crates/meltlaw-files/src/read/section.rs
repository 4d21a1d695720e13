//! One table of the study file, read key by key. It remembers which keys were asked for, so that
//! what is left over is an unknown key, and it collects faults instead of stopping at the first.

use std::cell::RefCell;

use meltlaw::ranges::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::{Fault, Place};
use super::limits::MOST_UNKNOWN_KEYS;
use super::study_text::StudyText;
use super::wording::{A_NAME, name_fault, nearest, quoted};

/// Where a default comes from, in lists of what was assumed.
const DEFAULT: &str = "default of the study file";

/// A value with the line it stands in.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found<'a> {
    pub(crate) value: &'a DeValue<'a>,
    pub(crate) line: usize,
}

/// One table of the study file; one that the file lacks reads as empty.
#[derive(Debug)]
pub(crate) struct Section<'a> {
    pub(crate) study: &'a StudyText<'a>,
    path: String,
    line: usize,
    pub(super) table: Option<&'a DeTable<'a>>,
    known: RefCell<Vec<&'static str>>,
}

impl<'a> Section<'a> {
    /// The whole file.
    pub(crate) fn root(study: &'a StudyText<'a>, table: &'a DeTable<'a>) -> Self {
        Self::new(study, String::new(), 1, Some(table))
    }

    fn new(study: &'a StudyText<'a>, path: String, line: usize, table: Option<&'a DeTable<'a>>) -> Self {
        Self { study, path, line, table, known: RefCell::default() }
    }

    /// Whether the file has this table.
    pub(crate) fn is_stated(&self) -> bool {
        self.table.is_some()
    }

    /// The line it starts in.
    pub(crate) const fn line(&self) -> usize {
        self.line
    }

    /// Full path of a key.
    pub(crate) fn key(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// Notes a fault at a key.
    pub(crate) fn fault(
        &self,
        key: &str,
        line: usize,
        found: impl Into<String>,
        needed: impl Into<String>,
        action: &str,
    ) {
        let place = Place::Line { line, key: self.key(key) };
        self.study.push(Fault::at(self.study.file, place, found, needed, action));
    }

    pub(super) fn missing(&self, key: &str, needed: &str) {
        self.fault(key, self.line, "no such key", needed, "state it");
    }

    /// Whether the file has a key.
    pub(crate) fn states(&self, key: &str) -> bool {
        self.table.is_some_and(|t| t.iter().any(|(name, _)| name.get_ref().as_ref() == key))
    }

    /// The value of a key, which is known from now on.
    pub(crate) fn find(&self, key: &'static str) -> Option<Found<'a>> {
        self.known.borrow_mut().push(key);
        let (_, value) = self.table?.iter().find(|(name, _)| name.get_ref().as_ref() == key)?;
        Some(self.found(value))
    }

    pub(super) fn found(&self, value: &'a Spanned<DeValue<'a>>) -> Found<'a> {
        Found { value: value.get_ref(), line: self.study.line_at(value.span().start) }
    }

    /// A number within a range, where stated.
    pub(crate) fn number(&self, key: &'static str, range: &Range) -> Option<f64> {
        let found = self.find(key)?;
        self.number_in(key, found, range)
    }

    fn number_in(&self, key: &str, found: Found<'a>, range: &Range) -> Option<f64> {
        let value = as_number(found.value).filter(|&v| range.holds(v));
        if value.is_none() {
            self.fault(key, found.line, describe(found.value), range.to_string(), number_advice(found.value));
        }
        value
    }

    /// A number that must be stated.
    pub(crate) fn required_number(&self, key: &'static str, range: &Range) -> Option<f64> {
        let found = self.find(key);
        if found.is_none() {
            self.missing(key, &range.to_string());
        }
        self.number_in(key, found?, range)
    }

    /// A number with a default that is listed as assumed.
    pub(crate) fn number_or(&self, key: &'static str, range: &Range, default: f64) -> f64 {
        if let Some(found) = self.find(key) {
            return self.number_in(key, found, range).unwrap_or(default);
        }
        self.study.assume(self.key(key), default.to_string(), DEFAULT);
        default
    }

    /// A whole number with a default that is listed as assumed.
    pub(crate) fn whole_or(&self, key: &'static str, low: u64, high: u64, default: u64) -> u64 {
        let Some(found) = self.find(key) else {
            self.study.assume(self.key(key), default.to_string(), DEFAULT);
            return default;
        };
        let value = match found.value {
            DeValue::Integer(i) => u64::from_str_radix(i.as_str(), i.radix()).ok().filter(|v| (low..=high).contains(v)),
            _ => None,
        };
        if value.is_none() {
            self.fault(
                key,
                found.line,
                describe(found.value),
                format!("a whole number from {low} to {high}"),
                "correct it",
            );
        }
        value.unwrap_or(default)
    }

    /// A low and a high end within a range, where stated.
    pub(crate) fn range(&self, key: &'static str, range: &Range) -> Option<[f64; 2]> {
        let found = self.find(key)?;
        let needed = || format!("[low, high] with low below high, each {range}");
        let ends = match found.value {
            DeValue::Array(list) => list.iter().map(|v| as_number(v.get_ref())).collect::<Option<Vec<f64>>>(),
            _ => None,
        };
        match ends.as_deref() {
            Some(&[low, high]) if low < high && range.holds(low) && range.holds(high) => Some([low, high]),
            _ => {
                self.fault(key, found.line, describe(found.value), needed(), "correct it");
                None
            }
        }
    }

    /// A range with a default that is listed as assumed.
    pub(crate) fn range_or(&self, key: &'static str, range: &Range, default: [f64; 2]) -> [f64; 2] {
        if !self.states(key) {
            self.study.assume(self.key(key), format!("[{}, {}]", default[0], default[1]), DEFAULT);
        }
        self.range(key, range).unwrap_or(default)
    }

    /// A range that must be stated.
    pub(crate) fn required_range(&self, key: &'static str, range: &Range) -> Option<[f64; 2]> {
        if !self.states(key) {
            self.missing(key, &format!("[low, high], each {range}"));
        }
        self.range(key, range)
    }

    /// A text, where stated.
    pub(crate) fn text(&self, key: &'static str) -> Option<String> {
        let found = self.find(key)?;
        let DeValue::String(text) = found.value else {
            self.fault(key, found.line, describe(found.value), "a text in quotation marks", "correct it");
            return None;
        };
        if let Some(wrong) = name_fault(text) {
            self.fault(key, found.line, wrong, A_NAME, "shorten or correct it");
            return None;
        }
        Some(text.trim().to_owned())
    }

    /// A text that must be stated.
    pub(crate) fn required_text(&self, key: &'static str, needed: &str) -> Option<String> {
        if !self.states(key) {
            self.missing(key, needed);
        }
        self.text(key)
    }

    /// One of some words, where stated.
    pub(crate) fn word(&self, key: &'static str, words: &[&'static str]) -> Option<&'static str> {
        let found = self.find(key)?;
        let text = if let DeValue::String(text) = found.value { Some(text.as_ref()) } else { None };
        let known = words.iter().copied().find(|w| Some(*w) == text);
        if known.is_none() {
            // One mark is as far from another as from any.
            let hint = text.filter(|t| t.len() > 1).and_then(|t| nearest(t, words.iter().copied()));
            let action =
                hint.map_or_else(|| "choose one".to_owned(), |word| format!("the nearest is {}", quoted(word)));
            let all = words.iter().map(|w| quoted(w)).collect::<Vec<_>>().join(", ");
            let needed = if words.len() == 1 { all } else { format!("one of {all}") };
            self.fault(key, found.line, describe(found.value), needed, &action);
        }
        known
    }

    /// One of some words that must be stated.
    pub(crate) fn required_word(&self, key: &'static str, words: &[&'static str]) -> Option<&'static str> {
        if !self.states(key) {
            let all = words.iter().map(|w| quoted(w)).collect::<Vec<_>>().join(", ");
            self.missing(key, &format!("one of {all}"));
        }
        self.word(key, words)
    }

    /// One of some words with a default, the first, that is listed as assumed.
    pub(crate) fn word_or_first(&self, key: &'static str, words: &[&'static str]) -> &'static str {
        if !self.states(key) {
            self.study.assume(self.key(key), words[0], DEFAULT);
        }
        self.word(key, words).unwrap_or(words[0])
    }

    /// A table below this one.
    pub(crate) fn section(&self, key: &'static str) -> Section<'a> {
        let path = self.key(key);
        match self.find(key) {
            Some(Found { value: DeValue::Table(table), line }) => Self::new(self.study, path, line, Some(table)),
            Some(found) => {
                self.fault(key, found.line, describe(found.value), "a table", &format!("write it as [{path}]"));
                Self::new(self.study, path, found.line, None)
            }
            None => Self::new(self.study, path, self.line, None),
        }
    }

    /// A list of tables below this one.
    pub(crate) fn sections(&self, key: &'static str) -> Vec<Section<'a>> {
        let path = self.key(key);
        let Some(found) = self.find(key) else { return Vec::new() };
        let mut sections = Vec::new();
        let mut all_tables = false;
        if let DeValue::Array(list) = found.value {
            all_tables = !list.is_empty();
            for (index, item) in list.iter().enumerate() {
                let Found { value, line } = self.found(item);
                match value {
                    DeValue::Table(table) => {
                        let path = if list.len() == 1 { path.clone() } else { format!("{path}[{}]", index + 1) };
                        sections.push(Self::new(self.study, path, line, Some(table)));
                    }
                    _ => all_tables = false,
                }
            }
        }
        if !all_tables {
            self.fault(
                key,
                found.line,
                describe(found.value),
                "a list of tables",
                &format!("write each as [[{path}]]"),
            );
        }
        sections
    }

    /// Every key with its text, for tables whose keys are the user's; they count as known.
    pub(crate) fn texts(&self) -> Vec<(String, String, usize)> {
        let mut texts = Vec::new();
        for (name, value) in self.table.into_iter().flatten() {
            let Found { value, line } = self.found(value);
            match value {
                DeValue::String(text) => texts.push((name.get_ref().to_string(), text.to_string(), line)),
                other => self.fault(name.get_ref(), line, describe(other), "a text in quotation marks", "correct it"),
            }
        }
        texts.sort_by_key(|(_, _, line)| *line);
        texts
    }

    /// Reports every key that nothing asked for.
    pub(crate) fn finish(self) {
        let known = self.known.borrow().clone();
        let names = self.table.into_iter().flatten().map(|(name, _)| name);
        let unknown: Vec<_> = names.filter(|name| !known.contains(&name.get_ref().as_ref())).collect();
        for name in unknown.iter().take(MOST_UNKNOWN_KEYS) {
            let key = name.get_ref().as_ref();
            let line = self.study.line_at(name.span().start);
            let needed = match nearest(key, known.iter().copied()) {
                Some(near) => format!("a known key, the nearest is {near}"),
                None => "no key here".to_owned(),
            };
            let key: String = key.chars().take(60).flat_map(char::escape_debug).collect();
            self.fault(&key, line, "an unknown key", needed, "correct or remove it");
        }
        if let Some(next) = unknown.get(MOST_UNKNOWN_KEYS) {
            let place = Place::Line { line: self.study.line_at(next.span().start), key: self.path.clone() };
            let found = format!("{} more unknown keys", unknown.len() - MOST_UNKNOWN_KEYS);
            let fault = Fault::at(self.study.file, place, found, "known keys", "correct those named above first");
            self.study.push(fault);
        }
    }
}

pub(super) fn as_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse().ok(),
        DeValue::Float(f) => f.as_str().parse().ok(),
        _ => None,
    }
}

fn number_advice(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "write it without quotation marks, with a decimal point",
        _ => "correct it",
    }
}

/// A value in words, for messages.
pub(super) fn describe(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => quoted(text),
        DeValue::Integer(i) => i.to_string(),
        DeValue::Float(f) => f.to_string(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(d) => format!("the date {d}"),
        DeValue::Array(list) if list.len() <= 4 && list.iter().all(|v| as_number(v.get_ref()).is_some()) => {
            format!("[{}]", list.iter().map(|v| describe(v.get_ref())).collect::<Vec<_>>().join(", "))
        }
        DeValue::Array(list) => format!("a list of {}", list.len()),
        DeValue::Table(_) => "a table".to_owned(),
    }
}
