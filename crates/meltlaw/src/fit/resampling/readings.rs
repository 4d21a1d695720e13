//! What lies behind a trial's readings while they are redrawn.
//!
//! ```text
//! reading yᵢ* = f(b, xᵢ) + σᵢ·ε,   reading xᵢ* with xᵢ* + M*δ = xᵢ,   δ ~ N(0, σⱼ²)
//! ```
//!
//! xᵢ is taken as true, f is the law as fitted. An error whose direction is the readings themselves (a probe's
//! gain) moves the redrawn readings in their own proportion: x* = x/(1 + δ), and points along them again in
//! the refit.

use crate::fit::errors_in_variables::{EivFit, MOST, Observation, ReadingError};
use crate::laws::Law;
use crate::statistics::DrawStream;

/// One trial as if its true state were known.
#[derive(Debug, Clone, PartialEq)]
pub struct Behind {
    /// The true value of what is predicted, on the law.
    pub y: f64,
    /// Standard error of its reading.
    pub y_se: f64,
    /// Whether that error is a share of the reading, so that the refit sees it change with the reading.
    pub y_in_proportion: bool,
    /// The true quantities.
    pub row: [f64; MOST],
    /// Errors of their readings, with directions at the true quantities.
    pub errors: Vec<ReadingError>,
    /// Which of them are in proportion to the readings.
    pub in_proportion: [bool; MOST],
}

impl Behind {
    /// The trial as read, its readings taken as true.
    pub fn at_readings(law: &impl Law, b: &[f64], observation: &Observation, y_in_proportion: bool) -> Self {
        Self::with_truth(law, b, observation, observation.row, y_in_proportion)
    }

    /// The trial with its readings adjusted by the fit: the most likely true quantities.
    ///
    /// The adjustment is the minimum's own: δⱼ = σⱼ²·sⱼ·e/v at the adjusted row, found as in the fit.
    pub fn at_adjusted(law: &impl Law, fit: &EivFit, observation: &Observation, y_in_proportion: bool) -> Self {
        let row = crate::fit::errors_in_variables::adjusted_row(law, &fit.b, observation);
        Self::with_truth(law, &fit.b, observation, row, y_in_proportion)
    }

    fn with_truth(
        law: &impl Law,
        b: &[f64],
        observation: &Observation,
        row: [f64; MOST],
        y_in_proportion: bool,
    ) -> Self {
        let y = law.predict(b, &row[..law.quantities()]);
        let mut errors = observation.errors.clone();
        let mut in_proportion = [false; MOST];
        for (error, proportional) in errors.iter_mut().zip(&mut in_proportion) {
            let moved = || (0..MOST).filter(|&k| error.direction[k] != 0.0);
            *proportional = moved().count() > 1 && moved().all(|k| error.direction[k] == observation.row[k]);
            if *proportional {
                for (direction, value) in error.direction.iter_mut().zip(&row) {
                    if *direction != 0.0 {
                        *direction = *value;
                    }
                }
            }
        }
        let share = if y_in_proportion && observation.y != 0.0 { (y / observation.y).abs() } else { 1.0 };
        Self { y, y_se: observation.y_se * share, y_in_proportion, row, errors, in_proportion }
    }

    /// The next readings from a stream: one normal number for y, then one for each error in order.
    pub fn redraw(&self, stream: &mut DrawStream) -> Observation {
        let y = self.y + self.y_se * stream.normal();
        let mut row = self.row;
        let mut scale = [1.0; MOST];
        for (error, proportional) in self.errors.iter().zip(&self.in_proportion) {
            let delta = error.standard_deviation * stream.normal();
            for k in 0..MOST {
                if !proportional {
                    row[k] -= error.direction[k] * delta;
                } else if error.direction[k] != 0.0 {
                    scale[k] += delta;
                }
            }
        }
        for (value, scale) in row.iter_mut().zip(&scale) {
            *value /= scale;
        }
        let mut errors = self.errors.clone();
        for (error, _) in errors.iter_mut().zip(&self.in_proportion).filter(|(_, p)| **p) {
            for (direction, value) in error.direction.iter_mut().zip(&row) {
                if *direction != 0.0 {
                    *direction = *value;
                }
            }
        }
        let y_se = if self.y_in_proportion { self.y_se * (y / self.y).abs() } else { self.y_se };
        Observation { y, y_se, row, errors }
    }
}
