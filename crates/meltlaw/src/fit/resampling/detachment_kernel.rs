//! Refits of the detachment law where nothing scatters but the counts.
//!
//! ```text
//! a₁ = β₁·x + β₂·y − c₁,  a₂ = a₁ − κ,  κ = c₂ − c₁
//! ln L = Σ −none·ln(1+e^{a₁}) + one·[ln σ(a₁) + ln σ(−a₂) + ln(1 − e^{−κ})] + more·ln σ(a₂)
//! ```
//!
//! with x = ln(I_p/I₀), y = ln(t_p/1 ms), n = β₁/β₂, k = β₂, s = c/β₂. The logarithm is concave in
//! (β₁, β₂, c₁, c₂), so a point without slope is the maximum, and Newton's method on it takes one exponential
//! and one division for each trial: e^{−a₂} is e^{−a₁}·e^κ. The first step uses the information expected at
//! the fit, the same in every replicate, and costs no exponential at all.

use super::Replicate;
use super::abreast::{LANES, Lanes, ZERO, blocks, exponentials};
use super::counts::{Chances, Redrawn, Table};
use super::small_systems::{factor, inverse, solve};
use crate::fit::ordered_logit::{Count, CountedTrial};
use crate::statistics::DrawStream;

/// Largest number of steps before the general fit takes over.
const MOST_STEPS: usize = 20;

/// What may be left of the way to the maximum, in standard errors.
const LEFT_OVER: f64 = 1e-10;

/// Settings and what holds at the fit, four trials to a block.
#[derive(Debug, Clone, Copy)]
struct Block {
    x: Lanes,
    y: Lanes,
    /// Chance of a drop and of more at the fit.
    up: [Lanes; 2],
}

/// Counts of four trials: with one drop or none, with one or more, with more.
#[derive(Debug, Clone, Copy)]
struct Row {
    none_or_one: Lanes,
    one_or_more: Lanes,
    one: Lanes,
    more: Lanes,
}

/// Room for one replicate, reused by the next.
#[derive(Debug, Clone)]
pub(super) struct Scratch {
    rows: Vec<Row>,
    /// e^{−a₁} of each trial.
    exponentials: Vec<f64>,
}

/// The refit.
#[derive(Debug, Clone)]
pub(super) struct Kernel {
    blocks: Vec<Block>,
    tables: Vec<Table>,
    /// Settings once more, trial after trial, empty lanes included.
    x: Vec<f64>,
    y: Vec<f64>,
    /// (β₁, β₂, c₁, c₂) of the fit.
    start: [f64; 4],
    /// Factor of the information expected there.
    expected: [[f64; 4]; 4],
}

/// Sums over the trials that a step needs.
#[derive(Default)]
struct Sums {
    score: [f64; 4],
    information: [[f64; 4]; 4],
}

impl Kernel {
    /// `None` where trials scatter, readings are uncertain, totals were counted, or the information at the fit
    /// is none.
    pub(super) fn new(trials: &[CountedTrial], q: &[f64; 5]) -> Option<Self> {
        let usual = |t: &CountedTrial| t.unknown == [0.0; 3] && matches!(t.count, Count::Classes { .. });
        if q[4] != f64::NEG_INFINITY || !trials.iter().all(usual) {
            return None;
        }
        let (k, kappa) = (q[1].exp(), (q[1] + q[3]).exp());
        let start = [q[0] * k, k, q[2] * k, q[2] * k + kappa];
        let mut all = vec![Block { x: ZERO, y: ZERO, up: [ZERO; 2] }; blocks(trials.len())];
        let mut tables = Vec::with_capacity(trials.len());
        let mut expected = vec![Row { none_or_one: ZERO, one_or_more: ZERO, one: ZERO, more: ZERO }; all.len()];
        for (i, t) in trials.iter().enumerate() {
            let (block, row, lane) = (&mut all[i / LANES], &mut expected[i / LANES], i % LANES);
            block.x[lane] = t.log_current;
            block.y[lane] = t.log_time;
            let a1 = k * (q[0] * t.log_current + t.log_time - q[2]);
            let chances = Chances::at(a1, kappa);
            block.up[0][lane] = 1.0 - chances.none;
            block.up[1][lane] = chances.more;
            let redrawn = Redrawn::new(t);
            if let Count::Classes { none, one, more } = t.count {
                let pulses = (none + one + more).round();
                row.none_or_one[lane] = pulses * (chances.none + chances.one);
                row.one_or_more[lane] = pulses * (chances.one + chances.more);
                row.one[lane] = pulses * chances.one;
                row.more[lane] = pulses * chances.more;
            }
            tables.push(Table::new(redrawn, chances));
        }
        let x = all.iter().flat_map(|b| b.x.0).collect();
        let y = all.iter().flat_map(|b| b.y.0).collect();
        let mut kernel = Self { blocks: all, tables, x, y, start, expected: [[0.0; 4]; 4] };
        let mut scratch = kernel.scratch();
        scratch.rows = expected;
        kernel.expected = factor(&kernel.sums(&mut scratch, start)?.information)?;
        Some(kernel)
    }

    pub(super) fn scratch(&self) -> Scratch {
        let rows = vec![Row { none_or_one: ZERO, one_or_more: ZERO, one: ZERO, more: ZERO }; self.blocks.len()];
        Scratch { rows, exponentials: vec![0.0; self.x.len()] }
    }

    /// The next counts.
    pub(super) fn draw(&self, scratch: &mut Scratch, stream: &mut DrawStream) {
        for (tables, row) in self.tables.chunks(LANES).zip(&mut scratch.rows) {
            for (k, table) in tables.iter().enumerate() {
                let [none, one, more] = table.draw(stream);
                row.none_or_one[k] = none + one;
                row.one_or_more[k] = one + more;
                row.one[k] = one;
                row.more[k] = more;
            }
        }
    }

    /// The counts in the scratch, for the general fit.
    pub(super) fn counts(&self, scratch: &Scratch) -> Vec<Count> {
        let of = |i: usize| {
            let (row, k) = (&scratch.rows[i / LANES], i % LANES);
            Count::Classes { none: row.none_or_one[k] - row.one[k], one: row.one[k], more: row.more[k] }
        };
        (0..self.tables.len()).map(of).collect()
    }

    /// Refits from the fit's own coefficients; `None` where it does not arrive.
    pub(super) fn refit(&self, scratch: &mut Scratch) -> Option<Replicate<5>> {
        let mut b = self.start;
        let mut before = self.advance(&mut b, &self.expected, self.first_score(&scratch.rows));
        for _ in 0..MOST_STEPS {
            let sums = self.sums(scratch, b)?;
            let lower = factor(&sums.information)?;
            let length = self.advance(&mut b, &lower, sums.score);
            // Newton's steps shrink faster and faster: what is left is less than the last step times its
            // shrinking.
            if length * (length / before).min(1.0) <= LEFT_OVER {
                return finished(b, &inverse(&lower));
            }
            if !(length < 2.0 * before.max(1.0)) {
                return None;
            }
            before = length;
        }
        None
    }

    /// Takes the step and gives its length in standard errors.
    #[inline(always)]
    fn advance(&self, b: &mut [f64; 4], lower: &[[f64; 4]; 4], score: [f64; 4]) -> f64 {
        let step = solve(lower, score);
        let mut squared = 0.0;
        for i in 0..4 {
            b[i] += step[i];
            squared += step[i] * score[i];
        }
        squared.max(0.0).sqrt()
    }

    /// Score at the fit from its own chances.
    fn first_score(&self, rows: &[Row]) -> [f64; 4] {
        let mut sums = [ZERO; 5];
        for (block, row) in self.blocks.iter().zip(rows) {
            let g1 = row.one - row.none_or_one * block.up[0];
            let g2 = row.more - row.one_or_more * block.up[1];
            let g = g1 + g2;
            sums[0] += g * block.x;
            sums[1] += g * block.y;
            sums[2] += g1;
            sums[3] += g2;
            sums[4] += row.one;
        }
        let [by_x, by_y, g1, g2, one] = sums.map(Lanes::total);
        let apart = one / (self.start[3] - self.start[2]).exp_m1();
        [by_x, by_y, -g1 - apart, -g2 + apart]
    }

    /// Score and observed information at b; `None` where the thresholds have met or gone out of range.
    #[inline(always)]
    fn sums(&self, scratch: &mut Scratch, b: [f64; 4]) -> Option<Sums> {
        let kappa = b[3] - b[2];
        if !(kappa > 0.0 && kappa < 300.0) {
            return None;
        }
        let spread = kappa.exp();
        exponentials(&self.x, &self.y, [-b[0], -b[1], b[2]], &mut scratch.exponentials);
        let mut sums = [ZERO; 14];
        let (firsts, _) = scratch.exponentials.as_chunks::<LANES>();
        for ((block, row), first) in self.blocks.iter().zip(&scratch.rows).zip(firsts) {
            let (x, y, first) = (block.x, block.y, Lanes(*first));
            let second = first * spread;
            let (first_1, second_1) = (first + 1.0, second + 1.0);
            let share = Lanes::all(1.0) / (first_1 * second_1);
            let (up1, up2) = (second_1 * share, first_1 * share);
            let (m1, m2) = (row.none_or_one * up1, row.one_or_more * up2);
            let (g1, g2) = (row.one - m1, row.more - m2);
            let (w1, w2) = (m1 * (first * up1), m2 * (second * up2));
            let (g, w) = (g1 + g2, w1 + w2);
            let (wx, wy) = (w * x, w * y);
            let w1x = w1 * x;
            let w1y = w1 * y;
            sums[0] += g * x;
            sums[1] += g * y;
            sums[2] += g1;
            sums[3] += g2;
            sums[4] += wx * x;
            sums[5] += wx * y;
            sums[6] += wy * y;
            sums[7] += w1x;
            sums[8] += w1y;
            sums[9] += wx - w1x;
            sums[10] += wy - w1y;
            sums[11] += w1;
            sums[12] += w2;
            sums[13] += row.one;
        }
        let s = sums.map(Lanes::total);
        let grow = 1.0 / kappa.exp_m1();
        let apart = s[13] * grow;
        let bend = apart * (1.0 + grow);
        Some(Sums {
            score: [s[0], s[1], -s[2] - apart, -s[3] + apart],
            information: [
                [s[4], s[5], -s[7], -s[9]],
                [s[5], s[6], -s[8], -s[10]],
                [-s[7], -s[8], s[11] + bend, -bend],
                [-s[9], -s[10], -bend, s[12] + bend],
            ],
        })
    }
}

/// The refit in the fit's own coefficients (n, ln k, s1, ln(s2 − s1), ln τ = −∞).
fn finished(b: [f64; 4], inverse: &[[f64; 4]; 4]) -> Option<Replicate<5>> {
    let [b1, k, c1, c2] = b;
    if !(k > 0.0 && c2 > c1) {
        return None;
    }
    let gap = c2 - c1;
    let coefficients = [b1 / k, k.ln(), c1 / k, (gap / k).ln(), f64::NEG_INFINITY];
    let by = [
        [1.0 / k, -b1 / (k * k), 0.0, 0.0],
        [0.0, 1.0 / k, 0.0, 0.0],
        [0.0, -c1 / (k * k), 1.0 / k, 0.0],
        [0.0, -1.0 / k, -1.0 / gap, 1.0 / gap],
    ];
    let mut covariance = [[0.0; 5]; 5];
    for i in 0..4 {
        let mut half = [0.0; 4];
        for (j, h) in half.iter_mut().enumerate() {
            *h = (0..4).map(|m| by[i][m] * inverse[m][j]).sum();
        }
        for j in 0..4 {
            covariance[i][j] = (0..4).map(|m| half[m] * by[j][m]).sum();
        }
    }
    Some(Replicate { index: 0, coefficients, covariance, sum_of_squares: None })
}
