//! A channel that comes late by whole samples.

/// Holds back the early channel until the late one has come.
#[derive(Debug)]
pub(super) struct Align {
    /// Samples by which the voltage comes after the current; negative where the current does.
    late: i64,
    /// Samples of the late channel still to be skipped.
    skip: usize,
    early: Vec<f32>,
}

impl Align {
    pub(super) const fn new(late: i64) -> Self {
        Self { late, skip: late.unsigned_abs() as usize, early: Vec::new() }
    }

    /// After a hole both channels begin anew.
    pub(super) fn forget(&mut self) {
        self.skip = self.late.unsigned_abs() as usize;
        self.early.clear();
    }

    pub(super) fn push(&mut self, current: &[f32], voltage: &[f32], mut on: impl FnMut(&[f32], &[f32])) {
        let (early, late) = if self.late > 0 { (current, voltage) } else { (voltage, current) };
        self.early.extend_from_slice(early);
        let skipped = self.skip.min(late.len());
        self.skip -= skipped;
        let late = &late[skipped..];
        let early = &self.early[..late.len()];
        if self.late > 0 {
            on(early, late)
        } else {
            on(late, early)
        }
        self.early.drain(..late.len());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_late_channel_is_laid_on_the_other() {
        for (late, current, voltage) in [
            (2, [1., 2., 3., 4., 5., 6.], [0., 0., 1., 2., 3., 4.]),
            (-1, [9., 1., 2., 3., 4., 5.], [1., 2., 3., 4., 5., 6.]),
        ] {
            for piece in 1..=6 {
                let mut align = Align::new(late);
                let (mut i, mut u) = (Vec::new(), Vec::new());
                for (a, b) in current.chunks(piece).zip(voltage.chunks(piece)) {
                    align.push(a, b, |x, y| {
                        i.extend_from_slice(x);
                        u.extend_from_slice(y);
                    });
                }
                assert_eq!(i, u, "late {late}, pieces of {piece}");
                assert_eq!(i.len(), 6 - late.unsigned_abs() as usize);
            }
        }
    }
}
