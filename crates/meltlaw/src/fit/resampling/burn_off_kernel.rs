//! Refits of the burn-off law where every trial has two errors: the probe's gain, shared by both currents, and
//! the extension.
//!
//! ```text
//! minimise Σᵢ [ ρ²/σ² + x²/v_x + d²/v_l ],   ρ = w − f,   f = α·I(1+x) + β·(L+d)·R²(1+x)² + offset
//! ```
//!
//! with v_x and v_l the variances of gain and extension. Newton's method on coefficients and readings together,
//! in multiplier form: λ = ρ/σ² and (x, d) = V·s with V = diag(v_x, v_l), so that exact readings (v = 0) and an
//! exact feed (σ = 0) need no special case. At the minimum s = λ·∇f. A step solves, row by row, the linearised
//!
//! ```text
//! s' = λ'·g + λ·(C·Δb + H·Δz),   ρ − g·Δz − f_b·Δb = σ²·λ',   Σ λ'·f_b + λ·Cᵀ·Δz = 0
//! ```
//!
//! (g, H: first and second derivatives of f by (x, d); f_b: by the coefficients; C: of g by the coefficients),
//! where (V⁻¹ − λH)⁻¹ is taken as V + λVHV. That changes the way, not where it ends: at a fixed point the
//! equations above hold exactly. A first step by the influence that each trial's residual has at the fit, the same in
//! every replicate, costs next to nothing; three of Newton's then reach 1e-11 at the usual errors.

use super::Replicate;
use super::abreast::{LANES, Lanes, ZERO, blocks};
use super::readings::Behind;
use super::small_systems::{factor, inverse, solve};
use crate::statistics::DrawStream;
use crate::study::BurnOffForm;

/// Largest number of steps before the general fit takes over.
const MOST_STEPS: usize = 25;

/// What may be left of the way to the minimum, in standard errors.
const LEFT_OVER: f64 = 1e-8;

/// Length of a step, in standard errors, below which the normal matrix no longer changes by what matters.
const NEAR: f64 = 0.02;

/// What stays the same in all replicates, four trials to a block.
#[derive(Debug, Clone, Copy)]
struct Block {
    w: Lanes,
    w_se: Lanes,
    mean: Lanes,
    rms: Lanes,
    extension: Lanes,
    gain_se: Lanes,
    extension_se: Lanes,
    gain_variance: Lanes,
    extension_variance: Lanes,
    /// σ of the refit is this plus the next times the reading: one of them is zero.
    fixed_se: Lanes,
    relative_se: Lanes,
    /// Step of each coefficient by this trial's residual, from the fit.
    influence: [Lanes; 3],
    /// Trials in this block.
    trials: usize,
}

/// One replicate's readings and where its refit stands.
#[derive(Debug, Clone, Copy)]
struct Row {
    w: Lanes,
    variance: Lanes,
    mean: Lanes,
    rms_squared: Lanes,
    extension: Lanes,
    /// s: by gain and by extension.
    dual: [Lanes; 2],
    multiplier: Lanes,
    /// λ' is the first less the others times the coefficients' step.
    next: [Lanes; 4],
}

/// Room for one replicate, reused by the next.
#[derive(Debug, Clone)]
pub(super) struct Scratch(Vec<Row>);

/// The refit.
#[derive(Debug, Clone)]
pub(super) struct Kernel {
    blocks: Vec<Block>,
    start: [f64; 3],
    offset: bool,
}

/// Sums over the trials in one step.
struct Sums {
    normal: [[f64; 3]; 3],
    right: [f64; 3],
    minimum: f64,
}

impl Kernel {
    /// `None` where some trial's errors are of another form.
    pub(super) fn new(form: BurnOffForm, behind: &[Behind], start: [f64; 3]) -> Option<Self> {
        let usual = |b: &Behind| {
            b.errors.len() == 2
                && b.in_proportion[0]
                && b.errors[0].direction == [b.row[0], b.row[1], 0.0, 0.0]
                && b.errors[1].direction == [0.0, 0.0, 1.0, 0.0]
        };
        // Fewer trials than coefficients and one for the spread are the general fit's to refuse.
        if !behind.iter().all(usual) || behind.len() <= 3 {
            return None;
        }
        // Empty lanes have no weight.
        let empty = Block {
            w: ZERO,
            w_se: ZERO,
            mean: ZERO,
            rms: ZERO,
            extension: ZERO,
            gain_se: ZERO,
            extension_se: ZERO,
            gain_variance: ZERO,
            extension_variance: ZERO,
            fixed_se: Lanes::all(1e100),
            relative_se: ZERO,
            influence: [ZERO; 3],
            trials: LANES,
        };
        let mut all = vec![empty; blocks(behind.len())];
        for (i, b) in behind.iter().enumerate() {
            let (block, k) = (&mut all[i / LANES], i % LANES);
            block.w[k] = b.y;
            block.w_se[k] = b.y_se;
            [block.mean[k], block.rms[k], block.extension[k]] = [b.row[0], b.row[1], b.row[2]];
            block.gain_se[k] = b.errors[0].standard_deviation;
            block.extension_se[k] = b.errors[1].standard_deviation;
            block.gain_variance[k] = block.gain_se[k] * block.gain_se[k];
            block.extension_variance[k] = block.extension_se[k] * block.extension_se[k];
            (block.fixed_se[k], block.relative_se[k]) =
                if b.y_in_proportion { (0.0, (b.y_se / b.y).abs()) } else { (b.y_se, 0.0) };
            block.trials = k + 1;
        }
        let mut kernel = Self { blocks: all, start, offset: form == BurnOffForm::Offset };
        kernel.find_influence(behind)?;
        Some(kernel)
    }

    /// (Σ f_b·f_bᵀ/v)⁻¹·f_b/v of each trial at the fit.
    fn find_influence(&mut self, behind: &[Behind]) -> Option<()> {
        let [alpha, beta, _] = self.start;
        let mut normal = [[0.0; 3]; 3];
        let weighted: Vec<[f64; 3]> = behind
            .iter()
            .map(|b| {
                let [current, rms, length, _] = b.row;
                let square = rms * rms;
                let by = [current, length * square, if self.offset { 1.0 } else { 0.0 }];
                let by_gain = alpha * current + 2.0 * beta * length * square;
                let spread = |i: usize, slope: f64| (b.errors[i].standard_deviation * slope).powi(2);
                let variance = b.y_se * b.y_se + spread(0, by_gain) + spread(1, beta * square);
                for i in 0..3 {
                    for j in 0..3 {
                        normal[i][j] += by[i] * by[j] / variance;
                    }
                }
                by.map(|v| v / variance)
            })
            .collect();
        if !self.offset {
            // A form without offset keeps it where it is.
            normal[2][2] = 1.0;
        }
        let lower = factor(&normal)?;
        for (i, w) in weighted.into_iter().enumerate() {
            let influence = solve(&lower, w);
            for j in 0..3 {
                self.blocks[i / LANES].influence[j][i % LANES] = influence[j];
            }
        }
        Some(())
    }

    pub(super) fn scratch(&self) -> Scratch {
        let row = Row {
            w: ZERO,
            variance: ZERO,
            mean: ZERO,
            rms_squared: ZERO,
            extension: ZERO,
            dual: [ZERO; 2],
            multiplier: ZERO,
            next: [ZERO; 4],
        };
        Scratch(vec![row; self.blocks.len()])
    }

    /// The next readings: the numbers and their order are those of [`Behind::redraw`].
    pub(super) fn draw(&self, scratch: &mut Scratch, stream: &mut DrawStream) {
        for (block, row) in self.blocks.iter().zip(&mut scratch.0) {
            let mut normal = [ZERO; 3];
            for k in 0..block.trials {
                for numbers in &mut normal {
                    numbers[k] = stream.normal();
                }
            }
            row.w = block.w + block.w_se * normal[0];
            let se = block.fixed_se + block.relative_se * row.w;
            row.variance = se * se;
            let scale = Lanes::all(1.0) / (block.gain_se * normal[1] + 1.0);
            row.mean = block.mean * scale;
            let rms = block.rms * scale;
            row.rms_squared = rms * rms;
            row.extension = block.extension - block.extension_se * normal[2];
        }
    }

    /// Refits from the fit's own coefficients; `None` where it does not arrive.
    #[inline(always)]
    pub(super) fn refit(&self, scratch: &mut Scratch) -> Option<Replicate<3>> {
        if self.offset { self.newton::<3>(scratch) } else { self.newton::<2>(scratch) }
    }

    #[inline(always)]
    fn newton<const P: usize>(&self, scratch: &mut Scratch) -> Option<Replicate<3>> {
        let mut b = self.first_step(&scratch.0);
        let mut step = [0.0; 3];
        let mut before = f64::INFINITY;
        let mut lower = [[0.0; P]; P];
        // Near the end the last step's normal matrix serves: only the right side is summed up.
        let mut near = false;
        for round in 0..MOST_STEPS {
            let sums = match (round, near) {
                (0, _) => self.step::<P, true, true>(&mut scratch.0, b, step),
                (_, false) => self.step::<P, false, true>(&mut scratch.0, b, step),
                (_, true) => self.step::<P, false, false>(&mut scratch.0, b, step),
            };
            if !near {
                let mut normal = [[0.0; P]; P];
                for i in 0..P {
                    normal[i].copy_from_slice(&sums.normal[i][..P]);
                }
                lower = factor(&normal)?;
            }
            let mut right = [0.0; P];
            right.copy_from_slice(&sums.right[..P]);
            let found = solve(&lower, right);
            let length = found.iter().zip(&right).map(|(s, r)| s * r).sum::<f64>().max(0.0).sqrt();
            step[..P].copy_from_slice(&found);
            for (b, s) in b.iter_mut().zip(&step) {
                *b += s;
            }
            // Steps shrink at least geometrically: what is left is about the last step times its shrinking.
            if near && length * (length / before).min(1.0) <= LEFT_OVER {
                let mut covariance = [[0.0; 3]; 3];
                for (to, from) in covariance.iter_mut().zip(inverse(&lower)) {
                    to[..P].copy_from_slice(&from);
                }
                return Some(Replicate { index: 0, coefficients: b, covariance, sum_of_squares: Some(sums.minimum) });
            }
            if !(length < 2.0 * before) {
                return None;
            }
            near = length < NEAR && length < 0.1 * before && round > 0;
            before = length;
        }
        None
    }

    /// The coefficients moved by each residual's influence.
    #[inline(always)]
    fn first_step(&self, rows: &[Row]) -> [f64; 3] {
        let [alpha, beta, offset] = self.start;
        let mut moved = [ZERO; 3];
        for (block, row) in self.blocks.iter().zip(rows) {
            let residual = row.w - row.mean * alpha - row.extension * row.rms_squared * beta - offset;
            for (moved, influence) in moved.iter_mut().zip(&block.influence) {
                *moved += residual * *influence;
            }
        }
        [alpha + moved[0].total(), beta + moved[1].total(), offset + moved[2].total()]
    }

    /// Completes the last step in every row (or makes the first guess) and sums up the next one at `b`;
    /// `moved` is the step that led there.
    #[inline(always)]
    fn step<const P: usize, const FIRST: bool, const NORMAL: bool>(
        &self,
        rows: &mut [Row],
        b: [f64; 3],
        moved: [f64; 3],
    ) -> Sums {
        let mut normal = [ZERO; 6];
        let mut right = [ZERO; 3];
        let mut minimum = ZERO;
        let [alpha, beta, offset] = b;
        let old_alpha = alpha - moved[0];
        let old_beta = beta - moved[1];
        for (block, row) in self.blocks.iter().zip(rows) {
            let (current, square, length) = (row.mean, row.rms_squared, row.extension);
            let (vx, vl) = (block.gain_variance, block.extension_variance);
            if FIRST {
                // One round of the inner fixed point at the readings.
                let resistive = length * square;
                let gx = current * alpha + resistive * (2.0 * beta);
                let gl = square * beta;
                let rho = row.w - current * alpha - resistive * beta - offset;
                let lambda = rho / (row.variance + vx * gx * gx + vl * gl * gl);
                row.multiplier = lambda;
                row.dual = [lambda * gx, lambda * gl];
            } else {
                let lambda = row.multiplier;
                let [sx, sl] = row.dual;
                let (gain, long) = (vx * sx + 1.0, length + vl * sl);
                let scaled = square * gain;
                let (cx, cl) = (long * scaled * 2.0, scaled * gain);
                let (gx, gl) = (current * old_alpha + cx * old_beta, cl * old_beta);
                let mut next = row.next[0] - row.next[1] * moved[0] - row.next[2] * moved[1];
                if P == 3 {
                    next = next - row.next[3] * moved[2];
                }
                let rx = next * gx + lambda * (current * moved[0] + cx * moved[1]) - sx;
                let rl = next * gl + lambda * (cl * moved[1]) - sl;
                let hxx = long * square * (2.0 * old_beta);
                let hxl = scaled * (2.0 * old_beta);
                let vrx = vx * rx;
                row.dual[0] = sx + rx + lambda * (hxx * vrx + hxl * (vl * rl));
                row.dual[1] = sl + rl + lambda * (hxl * vrx);
                row.multiplier = next;
            }
            let lambda = row.multiplier;
            let (x, d) = (vx * row.dual[0], vl * row.dual[1]);
            let (gain, long) = (x + 1.0, length + d);
            let scaled = square * gain;
            let (cx, cl) = (long * scaled * 2.0, scaled * gain);
            let (by_alpha, by_beta) = (current * gain, long * cl);
            let (gx, gl) = (current * alpha + cx * beta, cl * beta);
            let (mx, ml) = (vx * gx, vl * gl);
            let hxx = long * square * (2.0 * beta);
            let hxl = scaled * (2.0 * beta);
            let kx = gx + lambda * (hxx * mx + hxl * ml);
            let kl = gl + lambda * (hxl * mx);
            let rho = row.w - by_alpha * alpha - by_beta * beta - offset;
            let weight = Lanes::all(1.0) / (row.variance + mx * kx + ml * kl);
            let e = (rho + kx * x + kl * d) * weight;
            let ha = by_alpha + lambda * (current * mx);
            let hb = by_beta + lambda * (cx * mx + cl * ml);
            let (wa, wb) = (ha * weight, hb * weight);
            row.next[0] = e;
            row.next[1] = wa;
            row.next[2] = wb;
            if NORMAL {
                let squared = lambda * lambda;
                let (la, lb) = (squared * (vx * current), squared * (vx * cx));
                normal[0] += ha * wa - la * current;
                normal[1] += ha * wb - la * cx;
                normal[2] += hb * wb - lb * cx - squared * (vl * cl * cl);
            } else {
                // λ(2ρ − λσ²) + s·V·s is the sum of squares at the minimum and, unlike it, has no slope there.
                minimum += lambda * (rho * 2.0 - lambda * row.variance) + x * row.dual[0] + d * row.dual[1];
            }
            right[0] += ha * e - lambda * (current * x);
            right[1] += hb * e - lambda * (cx * x + cl * d);
            if P == 3 {
                row.next[3] = weight;
                normal[3] += wa;
                normal[4] += wb;
                normal[5] += weight;
                right[2] += e;
            }
        }
        let n = normal.map(Lanes::total);
        Sums {
            normal: [[n[0], n[1], n[3]], [n[1], n[2], n[4]], [n[3], n[4], n[5]]],
            right: right.map(Lanes::total),
            minimum: minimum.total(),
        }
    }
}
