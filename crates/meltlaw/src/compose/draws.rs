//! Draws of coefficients, common errors and the next weld: one random stream per draw, one value per
//! common error for all laws.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::laws_at_work::LawsAtWork;
use crate::fit::detachment_law::law_of;
use crate::laws::Detachment;
use crate::statistics::{DrawStream, Purpose};

/// One draw of everything.
#[derive(Debug, Clone, Copy)]
pub struct Draw {
    /// α, β, offset (0 where the form has none).
    pub burn_off: [f64; 3],
    /// U0, R, E, r (0 where dropped).
    pub arc_voltage: [f64; 4],
    /// The detachment law.
    pub detachment: Detachment,
    /// Instant resistance, where power follows it.
    pub instant_resistance_ohm: f64,
    /// Standard normal errors of the next weld: feed, arc length, gain, voltage.
    pub next_weld: [f64; 4],
}

/// All draws.
///
/// # Source
/// Propagation of distributions: JCGM 101:2008. Multivariate t for coefficients from few trials.
pub fn draw_all(laws: &LawsAtWork, seed: u64, count: usize) -> Vec<Draw> {
    let burn = root(&laws.burn_off.covariance);
    let volt = root(&laws.arc_voltage.covariance);
    let scatter_apart = laws.detachment.folded_scatter;
    let det = {
        let c = &laws.detachment.covariance_q;
        let size = if scatter_apart.is_some() { 4 } else { 5 };
        root(&c.view((0, 0), (size, size)).into_owned())
    };
    (0..count)
        .into_par_iter()
        .with_min_len(64)
        .map(|index| {
            let mut stream = DrawStream::new(seed, Purpose::Composing, index as u64);
            let mut common = [0.0; 8];
            for (value, error) in common.iter_mut().zip(&laws.common) {
                *value = stream.normal() * error.standard_uncertainty;
            }
            let mut burn_off = [0.0; 3];
            coefficients(
                &mut stream,
                &mut burn_off,
                &laws.burn_off.b,
                &burn,
                laws.burn_off.degrees_of_freedom,
                &laws.burn_off.effects,
                &common,
            );
            let mut q = laws.detachment.q;
            let best = laws.detachment.q;
            let size = det.nrows();
            coefficients(
                &mut stream,
                &mut q[..size],
                &best[..size],
                &det,
                laws.detachment.degrees_of_freedom,
                &laws.detachment.effects_q,
                &common,
            );
            // With one or two degrees of freedom a draw may leave the range of exp: what lies beyond these
            // ends is a step or a flat line either way.
            for i in [1, 3, 4] {
                if q[i].is_finite() {
                    q[i] = q[i].clamp(-20.0, 20.0);
                }
            }
            let mut detachment = law_of(&q);
            if let Some(spread) = scatter_apart {
                detachment.trial_scatter = (laws.detachment.law.trial_scatter + spread * stream.normal()).abs();
            }
            let mut arc_voltage = [0.0; 4];
            coefficients(
                &mut stream,
                &mut arc_voltage,
                &laws.arc_voltage.b,
                &volt,
                laws.arc_voltage.degrees_of_freedom,
                &laws.arc_voltage.effects,
                &common,
            );
            let instant = stream.normal();
            Draw {
                burn_off,
                arc_voltage,
                detachment,
                instant_resistance_ohm: laws.instant_resistance.map_or(0.0, |(value, se)| value + se * instant),
                next_weld: [stream.normal(), stream.normal(), stream.normal(), stream.normal()],
            }
        })
        .collect()
}

fn coefficients(
    stream: &mut DrawStream,
    out: &mut [f64],
    b: &[f64],
    root: &DMatrix<f64>,
    degrees: f64,
    effects: &[Vec<f64>],
    common: &[f64],
) {
    let size = root.nrows();
    let mut normal = [0.0; 5];
    normal[..size].iter_mut().for_each(|v| *v = stream.normal());
    let factor = stream.student_factor(degrees);
    for i in 0..size {
        let mut value = b[i];
        for (j, z) in normal[..size].iter().enumerate() {
            value += root[(i, j)] * z * factor;
        }
        for (e, c) in effects.iter().zip(common) {
            value += e[i] * c;
        }
        out[i] = value;
    }
}

/// A matrix R with R·Rᵀ = C, by Cholesky of the correlations; variances of zero stay zero.
pub(crate) fn root(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let n = covariance.nrows();
    let sd = DVector::from_fn(n, |i, _| covariance[(i, i)].max(0.0).sqrt());
    let correlation = DMatrix::from_fn(n, n, |i, j| {
        if i == j {
            1.0
        } else if sd[i] > 0.0 && sd[j] > 0.0 {
            covariance[(i, j)] / (sd[i] * sd[j])
        } else {
            0.0
        }
    });
    let lower = match correlation.clone().cholesky() {
        Some(c) => c.l(),
        None => {
            // Rounding can leave a correlation matrix barely indefinite: the nearest root serves.
            let eigen = correlation.symmetric_eigen();
            let values = eigen.eigenvalues.map(|v| v.max(0.0).sqrt());
            &eigen.eigenvectors * DMatrix::from_diagonal(&values)
        }
    };
    DMatrix::from_diagonal(&sd) * lower
}
