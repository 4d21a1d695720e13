//! What can be wrong with a laboratory: a drifting probe, blocks with their own offsets, readings written
//! down wrongly.

use crate::statistics::DrawStream;
use crate::study::Bench;
use crate::trials::{Column, Trial};

/// What disturbs one trial beyond the errors that the study states.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Disturbance {
    /// Added to the probe's gain error.
    pub gain_relative: f64,
    /// Added to the relative error of the feed reading.
    pub wire_feed_relative: f64,
    /// Added to the true s of the trial.
    pub detachment_s: f64,
}

/// Standard deviations of what a block (a day, a coil) adds to all its trials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// Of the probe's gain.
    pub gain_relative: f64,
    /// Of the feed reading.
    pub wire_feed_relative: f64,
    /// Of s.
    pub detachment_s: f64,
}

/// A probe whose gain leaves 1 with the first weld and has moved by `total` with the last, evenly by run
/// order.
pub fn drifting_gain(run_order: &[usize], total: f64) -> Vec<Disturbance> {
    let last = run_order.len().saturating_sub(1).max(1) as f64;
    run_order
        .iter()
        .map(|&place| Disturbance { gain_relative: total * place as f64 / last, ..Disturbance::default() })
        .collect()
}

/// Offsets of blocks: three independent normal numbers for each block, shared by its trials.
pub fn between_blocks(block_of: &[usize], spread: &Block, stream: &mut DrawStream) -> Vec<Disturbance> {
    let count = block_of.iter().max().map_or(0, |last| last + 1);
    let offsets: Vec<Disturbance> = (0..count)
        .map(|_| Disturbance {
            gain_relative: spread.gain_relative * stream.normal(),
            wire_feed_relative: spread.wire_feed_relative * stream.normal(),
            detachment_s: spread.detachment_s * stream.normal(),
        })
        .collect();
    block_of.iter().map(|&block| offsets[block]).collect()
}

/// Spoils one reading of a trial: half the time by 8 to 15 of its standard errors, either way; else its
/// second digit is read as another, three to five away, as happens with a worn display or a hasty hand.
///
/// The reading is the feed, the current (both columns, as when the probe was bumped; a misread digit
/// spoils the mean alone) or the voltage.
pub fn spoil(trial: &mut Trial, bench: &Bench, stream: &mut DrawStream) {
    let which = ((stream.uniform() * 3.0) as usize).min(2);
    let column = [Column::WireFeed, Column::CurrentMean, Column::VoltageMean][which];
    let Some(value) = trial.get(column) else { return };
    let misread = stream.uniform() < 0.5;
    let size = stream.uniform();
    let up = stream.uniform() < 0.5;
    if misread {
        trial.set(column, Some(second_digit_misread(value, 3 + ((size * 3.0) as i32).min(2), up)));
        return;
    }
    let error = match column {
        Column::WireFeed => bench.wire_feed_relative_se * value,
        Column::CurrentMean => bench.current_relative_se * value,
        _ => bench.voltage_se_v,
    };
    let shift = (8.0 + 7.0 * size) * error * if up { 1.0 } else { -1.0 };
    trial.set(column, Some(value + shift));
    if let (Column::CurrentMean, Some(rms)) = (column, trial.get(Column::CurrentRms)) {
        trial.set(Column::CurrentRms, Some(rms * (1.0 + shift / value)));
    }
}

/// A positive value whose second significant digit is read `by` higher or lower, whichever stays a digit.
fn second_digit_misread(value: f64, by: i32, up: bool) -> f64 {
    let unit = 10_f64.powf(value.log10().floor() - 1.0);
    let digit = ((value / unit) as i32) % 10;
    let up = if up { digit + by <= 9 } else { digit - by < 0 };
    value + f64::from(if up { by } else { -by }) * unit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misread_digit_stays_a_digit() {
        assert!((second_digit_misread(187.0, 4, true) - 147.0).abs() < 1e-9);
        assert!((second_digit_misread(5.21, 3, false) - 5.51).abs() < 1e-9);
        assert!((second_digit_misread(24.3, 5, true) - 29.3).abs() < 1e-9);
    }

    #[test]
    fn a_drift_is_even_and_ends_where_it_was_told() {
        let drift = drifting_gain(&[2, 0, 1], 0.06);
        let gains: Vec<f64> = drift.iter().map(|d| d.gain_relative).collect();
        assert_eq!(gains, [0.06, 0.0, 0.03]);
    }
}
