#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use super::*;
use crate::virtual_bench::{Log, LogTruth};

fn reduced_in_pieces(log: &Log, rate_hz: f64, piece: usize) -> Reduced {
    let mut reducer = Reducer::new(ReduceSettings::usual(rate_hz));
    for (i, u) in log.current.chunks(piece).zip(log.voltage.chunks(piece)) {
        reducer.push(i, u);
    }
    reducer.finish().unwrap()
}

#[test]
fn the_answer_does_not_depend_on_how_the_samples_were_cut() {
    let log = LogTruth { arc_s: 2.5, ..LogTruth::default() }.log(1, 0);
    let whole = reduced_in_pieces(&log, 100_000.0, log.current.len());
    for piece in [1, 7, 999, 1000, 1001, 65_536] {
        let cut = reduced_in_pieces(&log, 100_000.0, piece);
        assert_eq!(format!("{whole:?}"), format!("{cut:?}"), "pieces of {piece}");
    }
}
