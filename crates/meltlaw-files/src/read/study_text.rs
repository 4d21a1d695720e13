//! What reading a study file gathers on the way: faults by line, and the defaults that were filled in.

use std::cell::RefCell;

use meltlaw::study::Assumed;

use super::fault::Fault;

/// The lines of the study file, with what was found wrong and what was filled in.
#[derive(Debug)]
pub(crate) struct StudyText<'a> {
    pub(crate) file: &'a str,
    /// Byte of every line end.
    line_ends: Vec<usize>,
    faults: RefCell<Vec<Fault>>,
    assumed: RefCell<Vec<Assumed>>,
    notes: RefCell<Vec<String>>,
}

impl<'a> StudyText<'a> {
    pub(crate) fn new(file: &'a str, text: &str) -> Self {
        let line_ends = text.bytes().enumerate().filter(|&(_, byte)| byte == b'\n').map(|(at, _)| at).collect();
        Self { file, line_ends, faults: RefCell::default(), assumed: RefCell::default(), notes: RefCell::default() }
    }

    /// Line of a byte, counting from 1.
    pub(crate) fn line_at(&self, byte: usize) -> usize {
        1 + self.line_ends.partition_point(|&end| end < byte)
    }

    pub(crate) fn push(&self, fault: Fault) {
        self.faults.borrow_mut().push(fault);
    }

    /// Whether nothing was found wrong so far.
    pub(crate) fn is_sound(&self) -> bool {
        self.faults.borrow().is_empty()
    }

    /// Notes a value that the study leaves open.
    pub(crate) fn assume(&self, key: impl Into<String>, value: impl Into<String>, source: &str) {
        self.assumed.borrow_mut().push(Assumed { key: key.into(), value: value.into(), source: source.to_owned() });
    }

    /// Notes a key that is kept although nothing acts on it.
    pub(crate) fn note(&self, note: impl Into<String>) {
        self.notes.borrow_mut().push(note.into());
    }

    /// Faults in the order of the file, what was assumed, and what was noted.
    pub(crate) fn into_parts(self) -> (Vec<Fault>, Vec<Assumed>, Vec<String>) {
        let mut faults = self.faults.into_inner();
        faults.sort_by(|a, b| a.place.cmp(&b.place));
        (faults, self.assumed.into_inner(), self.notes.into_inner())
    }
}
