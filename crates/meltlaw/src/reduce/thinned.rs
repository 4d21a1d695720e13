//! A fixed number of readings of a long row, evenly spread: every second is dropped when there are too many.

/// Most that are kept.
const MOST: usize = 4096;

/// Readings kept.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Thinned<T> {
    kept: Vec<T>,
    stride: u64,
    seen: u64,
}

impl<T> Default for Thinned<T> {
    fn default() -> Self {
        Self { kept: Vec::new(), stride: 1, seen: 0 }
    }
}

impl<T: Copy> Thinned<T> {
    pub(super) fn push(&mut self, value: T) {
        if self.seen.is_multiple_of(self.stride) {
            self.kept.push(value);
            if self.kept.len() == MOST {
                self.kept = self.kept.iter().step_by(2).copied().collect();
                self.stride *= 2;
            }
        }
        self.seen += 1;
    }

    pub(super) fn kept(&self) -> &[T] {
        &self.kept
    }
}
