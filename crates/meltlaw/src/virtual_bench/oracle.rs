//! What somebody would state who knows the true errors of every reading and has no fault in the data: the
//! shortest honest intervals, against which those of the program are held.
//!
//! ```text
//! least squares: C = (Σ g·gᵀ/v)⁻¹ at the true welds, v = σ_y² + Σ σ_j²·(∂f/∂x_j)²
//! detachment:    C = (Σ E[−∂²ln L/∂q²])⁻¹ at the true q and the true settings, the errors of the settings
//!                known in size; the expectation is an average over invented counts
//! ```
//!
//! Where blocks differ, their offsets are further unknowns of known spread, integrated out: the Schur
//! complement of their part of the information.

use nalgebra::{DMatrix, DVector};

use super::kinds::{Lab, ORACLE};
use super::new_weld::{ErrorsOfOneWeld, new_weld};
use super::weld::count;
use crate::fit::detachment::QUADRATURE_POINTS;
use crate::fit::detachment_law::natural_by_q;
use crate::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use crate::line::Node;
use crate::statistics::{DrawStream, GaussHermite, Purpose};
use crate::trials::Column;

/// Invented counts per trial over which the information is averaged.
const REPLICATES: usize = 10;

/// 95 % of a normal lie within so many standard errors.
const NORMAL_95: f64 = 1.959_963_984_540_054;

/// Covariances of somebody who knows the true errors.
#[derive(Debug, Clone)]
pub struct Oracle {
    burn_off: Option<DMatrix<f64>>,
    arc_voltage: Option<DMatrix<f64>>,
    /// Of (n, ln k, s1, ln(s2 − s1), ln τ).
    detachment: Option<DMatrix<f64>>,
    q: [f64; 5],
}

/// One trial in a least-squares law: gradient by the coefficients, variance, effect of a block's offsets per
/// standard deviation.
struct Row {
    gradient: Vec<f64>,
    variance: f64,
    block: usize,
    shared: [f64; 2],
}

impl Oracle {
    /// For a laboratory.
    pub fn new(lab: &Lab) -> Self {
        let truth = &lab.truth;
        let q = [
            truth.exponent,
            truth.steepness.ln(),
            truth.one_drop_from_ms.ln(),
            (truth.more_drops_from_ms / truth.one_drop_from_ms).ln().ln(),
            truth.trial_scatter.ln(),
        ];
        let detachment = q[4].is_finite().then(|| detachment_covariance(lab, &q)).flatten();
        Self {
            burn_off: least_squares(&burn_off_rows(lab), lab),
            arc_voltage: least_squares(&arc_voltage_rows(lab), lab),
            detachment,
            q,
        }
    }

    /// Width of the 95 % interval of a coefficient, by law and place in its order; NaN where nobody could say.
    pub fn coefficient_width(&self, law: &str, place: usize) -> f64 {
        let covariance = match law {
            "burn_off" => &self.burn_off,
            "arc_voltage" => &self.arc_voltage,
            _ => &self.detachment,
        };
        let Some(c) = covariance else { return f64::NAN };
        if law != "detachment" {
            return 2.0 * NORMAL_95 * c[(place, place)].sqrt();
        }
        let by_q = natural_by_q(&self.q);
        let natural = &by_q * c * by_q.transpose();
        let se = natural[(place, place)].sqrt();
        if place == 0 {
            return 2.0 * NORMAL_95 * se;
        }
        // On the logarithm, as the contract has it.
        let value =
            [0.0, self.q[1].exp(), self.q[2].exp(), (self.q[2] + self.q[3].exp()).exp(), self.q[4].exp()][place];
        2.0 * value * (NORMAL_95 * se / value).sinh()
    }

    /// Widths at a node: melting rate (mm/s), one-drop probability, mean voltage (V), and current, voltage
    /// and power of the next weld, all to first order.
    pub fn node_widths(&self, lab: &Lab, node: &Node) -> [f64; 6] {
        let mut widths = [f64::NAN; 6];
        let bench = &lab.true_bench;
        let extension = bench.ctwd_mm - bench.arc_length_mm;
        let (mean, square) = (node.current_mean_a, node.current_rms_a.powi(2));
        if let Some(c) = &self.burn_off {
            widths[0] = width(&DVector::from_vec(vec![mean, extension * square]), c);
        }
        if let Some(c) = &self.detachment {
            let x = (node.pulse_current_a / lab.study.reference_current_a()).ln();
            let rule = GaussHermite::new(QUADRATURE_POINTS);
            let g = lab.truth.detachment().one_drop_gradient(x, node.pulse_time_ms.ln(), &rule);
            widths[1] = width(&DVector::from_row_slice(&g), c);
        }
        if let Some(c) = &self.arc_voltage {
            let g = DVector::from_vec(vec![1.0, mean, bench.arc_length_mm, extension * mean]);
            widths[2] = width(&g, c);
        }
        if let (Some(burn), Some(volt)) = (&self.burn_off, &self.arc_voltage) {
            let variances = next_weld_variances(lab, node, burn, volt);
            for (w, v) in widths[3..].iter_mut().zip(variances) {
                *w = 2.0 * NORMAL_95 * v.sqrt();
            }
        }
        widths
    }
}

fn width(gradient: &DVector<f64>, covariance: &DMatrix<f64>) -> f64 {
    2.0 * NORMAL_95 * (gradient.transpose() * covariance * gradient)[(0, 0)].sqrt()
}

/// Variances of the readings of the next weld by central differences over coefficients and errors.
fn next_weld_variances(lab: &Lab, node: &Node, burn: &DMatrix<f64>, volt: &DMatrix<f64>) -> [f64; 3] {
    let (b, u) = (lab.truth.burn_off(), lab.truth.arc_voltage());
    // Two coefficients of burn-off, four of voltage, four errors of standard deviation 1.
    let at = |which: usize, step: f64| {
        let (mut b, mut u, mut z) = (b, u, [0.0; 4]);
        match which {
            0..2 => b[which] += step,
            2..6 => u[which - 2] += step,
            _ => z[which - 6] += step,
        }
        let z = ErrorsOfOneWeld { wire_feed: z[0], arc_length: z[1], gain: z[2], voltage: z[3] };
        new_weld(&b, &u, &lab.true_bench, node, &z)
    };
    let mut by = [[0.0; 3]; 10];
    for (which, by) in by.iter_mut().enumerate() {
        let step = match which {
            0..2 => 1e-4 * b[which],
            2..6 => 1e-4 * u[which - 2],
            _ => 1e-3,
        };
        let (up, down) = (at(which, step), at(which, -step));
        for i in 0..3 {
            by[i] = (up[i] - down[i]) / (2.0 * step);
        }
    }
    std::array::from_fn(|i| {
        let mut sum: f64 = by[6..].iter().map(|g| g[i] * g[i]).sum();
        for (a, first) in by[..2].iter().enumerate() {
            sum += by[..2].iter().enumerate().map(|(c, second)| first[i] * burn[(a, c)] * second[i]).sum::<f64>();
        }
        for (a, first) in by[2..6].iter().enumerate() {
            sum += by[2..6].iter().enumerate().map(|(c, second)| first[i] * volt[(a, c)] * second[i]).sum::<f64>();
        }
        sum
    })
}

fn block_of(lab: &Lab, row: usize) -> usize {
    lab.blocks.as_ref().map_or(0, |(of, _)| of[row])
}

/// Rows of the table with a reading in a column and nothing spoilt.
fn sound(lab: &Lab, column: Column) -> impl Iterator<Item = usize> + '_ {
    (0..lab.welds.len()).filter(move |row| lab.trials.rows[*row].get(column).is_some() && !lab.spoilt.contains(row))
}

fn burn_off_rows(lab: &Lab) -> Vec<Row> {
    let [alpha, beta] = lab.truth.burn_off();
    let bench = &lab.true_bench;
    let spread = lab.blocks.as_ref().map(|b| b.1);
    sound(lab, Column::WireFeed)
        .map(|row| {
            let weld = &lab.welds[row];
            let w = weld.setting.wire_feed_mm_s;
            let by_gain = alpha * weld.current_mean_a + 2.0 * beta * weld.extension_mm * weld.mean_square_a2;
            let by_length = beta * weld.mean_square_a2;
            let length_se = bench.ctwd_se_mm.hypot(bench.arc_length_se_mm);
            Row {
                gradient: vec![weld.current_mean_a, weld.extension_mm * weld.mean_square_a2],
                variance: (bench.wire_feed_relative_se * w).powi(2)
                    + (bench.current_relative_se * by_gain).powi(2)
                    + (length_se * by_length).powi(2),
                block: block_of(lab, row),
                shared: spread.map_or([0.0; 2], |s| [s.wire_feed_relative * w, s.gain_relative * by_gain]),
            }
        })
        .collect()
}

fn arc_voltage_rows(lab: &Lab) -> Vec<Row> {
    let [_, slope, gradient, by_extension] = lab.truth.arc_voltage();
    let bench = &lab.true_bench;
    let spread = lab.blocks.as_ref().map(|b| b.1);
    sound(lab, Column::VoltageMean)
        .map(|row| {
            let weld = &lab.welds[row];
            let mean = weld.current_mean_a;
            let by_gain = (slope + by_extension * weld.extension_mm) * mean;
            let by_arc = gradient - by_extension * mean;
            Row {
                gradient: vec![1.0, mean, weld.setting.arc_length_mm, weld.extension_mm * mean],
                variance: bench.voltage_se_v.powi(2)
                    + (bench.current_relative_se * by_gain).powi(2)
                    + (bench.arc_length_se_mm * by_arc).powi(2),
                block: block_of(lab, row),
                shared: [0.0, spread.map_or(0.0, |s| s.gain_relative * by_gain)],
            }
        })
        .collect()
}

/// Covariance of the coefficients, the offsets of blocks integrated out.
fn least_squares(rows: &[Row], lab: &Lab) -> Option<DMatrix<f64>> {
    let p = rows.first()?.gradient.len();
    let blocks = lab.blocks.as_ref().map_or(0, |(of, _)| of.iter().max().map_or(0, |last| last + 1));
    let size = p + 2 * blocks;
    let mut information = DMatrix::zeros(size, size);
    for i in p..size {
        information[(i, i)] = 1.0;
    }
    for row in rows {
        let mut g = DVector::zeros(size);
        g.rows_mut(0, p).copy_from_slice(&row.gradient);
        if blocks > 0 {
            g[p + 2 * row.block] = row.shared[0];
            g[p + 2 * row.block + 1] = row.shared[1];
        }
        information += &g * g.transpose() / row.variance;
    }
    invert(&information, p)
}

/// The corner of the inverse, by Cholesky on the scaled matrix.
fn invert(information: &DMatrix<f64>, corner: usize) -> Option<DMatrix<f64>> {
    let n = information.nrows();
    let scale = DVector::from_fn(n, |i, _| information[(i, i)].sqrt());
    let scaled = DMatrix::from_fn(n, n, |i, j| information[(i, j)] / (scale[i] * scale[j]));
    let inverse = scaled.cholesky()?.inverse();
    Some(DMatrix::from_fn(corner, corner, |i, j| inverse[(i, j)] / (scale[i] * scale[j])))
}

fn detachment_covariance(lab: &Lab, q: &[f64; 5]) -> Option<DMatrix<f64>> {
    let rule = GaussHermite::new(QUADRATURE_POINTS);
    let likelihood = Likelihood {
        trials: &[],
        rule: &rule,
        thresholds: Thresholds::Both,
        with_unknown: true,
        free: Vec::new(),
        fixed: [0.0; 5],
    };
    let bench = &lab.true_bench;
    let (gain, time) = (bench.current_relative_se.powi(2), bench.pulse_time_relative_se.powi(2));
    let sd = (lab.truth.trial_scatter.powi(2) + q[0] * q[0] * gain + time).sqrt();
    let blocks = lab.blocks.as_ref().map_or(0, |(of, _)| of.iter().max().map_or(0, |last| last + 1));
    let mut information: DMatrix<f64> = DMatrix::zeros(5 + blocks, 5 + blocks);
    if let Some((_, spread)) = &lab.blocks {
        for i in 5..5 + blocks {
            // The probe's offset shifts the position of every reading of the block by n times itself.
            let variance = spread.detachment_s.powi(2) + (q[0] * spread.gain_relative).powi(2);
            information[(i, i)] = 1.0 / variance;
        }
    }
    let mut stream = DrawStream::new(lab.seed, Purpose::Simulation, lab.number | ORACLE);
    for row in sound(lab, Column::OneDrop) {
        let weld = &lab.welds[row];
        let (Some(log_current), Some(pulse)) = (weld.log_pulse_current, weld.setting.pulse) else { continue };
        let log_time = pulse.time_ms.ln();
        let trial = &lab.trials.rows[row];
        let pulses: f64 =
            [Column::WithoutDrop, Column::OneDrop, Column::MoreDrops].iter().filter_map(|c| trial.get(*c)).sum();
        for _ in 0..REPLICATES {
            let s = q[0] * log_current + log_time + sd * stream.normal();
            let [none, one, more] = count(&lab.truth, s, pulses as usize, &mut stream);
            let counted = CountedTrial {
                log_current,
                log_time,
                unknown: [gain, 0.0, time],
                count: Count::Classes { none, one, more },
            };
            let d = likelihood.trial(q, &counted);
            let mut add = |i: usize, j: usize, v: f64| information[(i, j)] -= v / REPLICATES as f64;
            for i in 0..5 {
                for j in 0..5 {
                    add(i, j, d.hessian[i][j]);
                }
            }
            if blocks > 0 {
                // Moving a block is moving both thresholds the other way.
                let block = 5 + block_of(lab, row);
                for i in 0..5 {
                    add(i, block, -d.hessian[i][2]);
                    add(block, i, -d.hessian[2][i]);
                }
                add(block, block, d.hessian[2][2]);
            }
        }
    }
    invert(&information, 5)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::virtual_bench::Kind;

    #[test]
    fn blocks_that_differ_cost_width() {
        let (even, uneven) = (Oracle::new(&Kind::Steel.lab(1, 0)), Oracle::new(&Kind::Blocks.lab(1, 0)));
        for (law, place) in [("burn_off", 0), ("arc_voltage", 1), ("detachment", 2)] {
            assert!(uneven.coefficient_width(law, place) > even.coefficient_width(law, place), "{law}");
        }
    }
}
