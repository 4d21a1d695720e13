//! A reader that fails where one piece of what is read (a row of a text, an element of a workbook) grows beyond a limit. The
//! parsers behind it hold a piece whole, so this is what bounds their memory.

use std::cell::Cell;
use std::io::{Error, ErrorKind, Read, Result};
use std::rc::Rc;

/// Bytes handed on since the last piece ended, and in all.
#[derive(Debug, Default)]
pub(crate) struct Counts {
    piece: Cell<usize>,
    all: Cell<u64>,
    tripped: Cell<bool>,
}

impl Counts {
    /// Tells that a piece has ended.
    pub(crate) fn end_piece(&self) {
        self.piece.set(0);
    }

    /// Whether a limit ended the reading.
    pub(crate) const fn tripped(&self) -> bool {
        self.tripped.get()
    }

    /// Bytes handed on in all.
    pub(crate) const fn all(&self) -> u64 {
        self.all.get()
    }
}

/// A reader that counts.
#[derive(Debug)]
pub(crate) struct Gauge<R> {
    inner: R,
    counts: Rc<Counts>,
    /// Longest piece; it may be longer by what the parser reads at once.
    longest: usize,
    /// Most bytes in all.
    most: u64,
}

impl<R: Read> Gauge<R> {
    pub(crate) const fn new(inner: R, counts: Rc<Counts>, longest: usize, most: u64) -> Self {
        Self { inner, counts, longest, most }
    }
}

impl<R: Read> Read for Gauge<R> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        if self.counts.piece.get() > self.longest || self.counts.all.get() > self.most {
            self.counts.tripped.set(true);
            return Err(Error::new(ErrorKind::FileTooLarge, "too much to read"));
        }
        let read = self.inner.read(buffer)?;
        self.counts.piece.set(self.counts.piece.get() + read);
        self.counts.all.set(self.counts.all.get() + read as u64);
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_is_measured_from_the_end_of_the_one_before() {
        let counts = Rc::new(Counts::default());
        let mut gauge = Gauge::new(&[0_u8; 100][..], Rc::clone(&counts), 10, 1000);
        let mut eight = [0; 8];
        assert_eq!(gauge.read(&mut eight).ok(), Some(8));
        assert_eq!(gauge.read(&mut eight).ok(), Some(8));
        assert!(gauge.read(&mut eight).is_err() && counts.tripped());
        counts.end_piece();
        assert_eq!(gauge.read(&mut eight).ok(), Some(8));
        assert_eq!(counts.all(), 24);
    }
}
