//! A whole stretch of feeds as one function: each knot's fences and costs, frequency and background that do not
//! fall, settings that bend little.

use std::cell::RefCell;

use meltlaw_line::Limit;
use nalgebra::Matrix3;

use super::band::Band;
use super::ground::{Ground, Process};
use super::jet::{Jet, PAIRS};
use super::newton::{Fenced, Stage, wall};
use crate::study::Pin;

/// Bend of a setting's logarithm per (m/min)² that costs the weight of smoothness over 1 m/min.
const BEND: f64 = 0.6;

/// Distance from its limit at which a setting lies on it for any bench: a tenth of a per cent.
pub(super) const BINDS: f64 = 1e-3;

/// Knots within this of a feed tell together what a limit costs there.
const SPREAD_M_MIN: f64 = 0.26;

/// A feed at which settings are free.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knot {
    pub(super) feed_m_min: f64,
    /// Knots of other stretches are parted from it by feeds without a setting.
    pub(super) stretch: usize,
    pub(super) pin: Option<Pin>,
}

impl Knot {
    pub(super) fn w(&self) -> f64 {
        self.feed_m_min / 0.06
    }
}

/// Knots in ascending feed with what couples them.
pub(super) struct Chain<'a> {
    pub(super) ground: &'a Ground<'a>,
    pub(super) knots: &'a [Knot],
    /// Feed that each knot stands for, m/min.
    shares: Vec<f64>,
    /// Whether costs count, or fences alone.
    pub(super) with_cost: bool,
    at: RefCell<Vec<Process>>,
}

impl<'a> Chain<'a> {
    pub(super) fn new(ground: &'a Ground<'a>, knots: &'a [Knot], with_cost: bool) -> Self {
        let joined = |i: usize, j: usize| knots.get(j).filter(|k| k.stretch == knots[i].stretch).map(|k| k.feed_m_min);
        let shares = (0..knots.len())
            .map(|i| {
                let here = knots[i].feed_m_min;
                let below = i.checked_sub(1).and_then(|j| joined(i, j)).unwrap_or(here);
                let above = joined(i, i + 1).unwrap_or(here);
                // A single feed stands for itself.
                if above > below { (above - below) / 2.0 } else { 0.01 }
            })
            .collect();
        Self { ground, knots, shares, with_cost, at: RefCell::new(Vec::with_capacity(knots.len())) }
    }

    /// What each limit that a knot lies on saves if it moved by 1 %, per m/min of feed.
    ///
    /// The walls tell the force on every knot, but bends spread a force over neighbours as it suits them: what counts
    /// is the force on the knots about this one over the feed that they stand for.
    pub(super) fn prices(&self, stage: Stage, solved: &[Option<Process>]) -> Vec<Vec<(Limit, f64)>> {
        let forces: Vec<Vec<(Limit, f64, f64)>> = self
            .knots
            .iter()
            .zip(solved)
            .map(|(knot, process)| {
                let mut forces = Vec::new();
                if let Some(process) = process {
                    self.ground.fences(knot.w(), process, |limit, c| {
                        forces.push((limit, c.value, -0.01 * wall(stage, c.value)[1]));
                    });
                }
                forces
            })
            .collect();
        let near = |i: usize, j: usize| {
            let [a, b] = [&self.knots[i], &self.knots[j]];
            a.stretch == b.stretch && (a.feed_m_min - b.feed_m_min).abs() <= SPREAD_M_MIN
        };
        (0..self.knots.len())
            .map(|i| {
                let from = (0..=i).rev().take_while(|&j| near(i, j)).last().unwrap_or(i);
                let to = (i..self.knots.len()).take_while(|&j| near(i, j)).last().unwrap_or(i);
                let feed: f64 = self.shares[from..=to].iter().sum();
                let mut binding: Vec<Limit> = forces[i].iter().filter(|f| f.1 < BINDS).map(|f| f.0).collect();
                binding.sort();
                binding.dedup();
                let force = |limit: Limit| -> f64 {
                    forces[from..=to].iter().flatten().filter(|f| f.0 == limit).map(|f| f.2).sum()
                };
                binding.into_iter().map(|limit| (limit, force(limit) / feed)).collect()
            })
            .collect()
    }
}

/// Value, gradient and Hessian as they are added up; what depends on one knot alone is kept apart, to be bent
/// upwards before it enters the Hessian.
struct Sums<'a> {
    value: f64,
    gradient: &'a mut [f64],
    hessian: &'a mut Band,
    blocks: Vec<[f64; 6]>,
}

impl Sums<'_> {
    /// Adds weight·f of one knot.
    fn add_one(&mut self, knot: usize, weight: f64, f: &Jet) {
        self.value += weight * f.value;
        self.add_slopes(knot, weight, f);
    }

    fn add_slopes(&mut self, knot: usize, weight: f64, f: &Jet) {
        for (g, by) in self.gradient[3 * knot..].iter_mut().zip(f.gradient) {
            *g += weight * by;
        }
        for (h, by) in self.blocks[knot].iter_mut().zip(f.hessian) {
            *h += weight * by;
        }
    }

    /// Adds φ(q) of a sum q = Σ a·f over neighbouring knots, from φ's value and derivatives.
    fn add_sum(&mut self, terms: &[(usize, f64, Jet)], [value, first, second]: [f64; 3]) {
        self.value += value;
        for &(knot, a, f) in terms {
            self.add_slopes(knot, first * a, &f);
        }
        for &(knot, a, f) in terms {
            for &(other, b, g) in terms {
                for i in 0..3 {
                    for j in 0..3 {
                        let (row, column) = (3 * knot + i, 3 * other + j);
                        if column <= row {
                            self.hessian.add(row, column, second * a * b * f.gradient[i] * g.gradient[j]);
                        }
                    }
                }
            }
        }
    }

    /// The value, with each knot's own curvature taken upwards into the Hessian: where a function curves
    /// downwards a step by its Hessian would climb.
    fn finished(self) -> f64 {
        let hessian = self.hessian;
        for (knot, block) in self.blocks.iter().enumerate() {
            let bent = upwards(block);
            for (h, (i, j)) in bent.iter().zip(PAIRS) {
                hessian.add(3 * knot + j, 3 * knot + i, *h);
            }
        }
        if self.value.is_finite() { self.value } else { f64::INFINITY }
    }
}

/// A symmetric matrix with the downward curvatures taken out.
fn upwards(block: &[f64; 6]) -> [f64; 6] {
    let [a, b, c, d, e, f] = *block;
    let minor = a * d - b * b;
    let determinant = a * (d * f - e * e) - b * (b * f - c * e) + c * (b * e - c * d);
    if a > 0.0 && minor > 0.0 && determinant > 0.0 {
        return *block;
    }
    let eigen = Matrix3::new(a, b, c, b, d, e, c, e, f).symmetric_eigen();
    let bent = eigen.eigenvectors
        * Matrix3::from_diagonal(&eigen.eigenvalues.map(|v| v.max(0.0)))
        * eigen.eigenvectors.transpose();
    PAIRS.map(|(i, j)| bent[(i, j)])
}

impl Fenced for Chain<'_> {
    fn evaluate(&self, stage: Stage, u: &[f64], gradient: &mut [f64], hessian: &mut Band) -> f64 {
        gradient.fill(0.0);
        hessian.clear();
        let mut sums = Sums { value: 0.0, gradient, hessian, blocks: vec![[0.0; 6]; self.knots.len()] };
        let mut at = self.at.borrow_mut();
        at.clear();
        for (i, (knot, u)) in self.knots.iter().zip(u.chunks_exact(3)).enumerate() {
            let Some(process) = self.ground.process(knot.w(), [u[0], u[1], u[2]]) else { return f64::INFINITY };
            at.push(process);
            self.ground.fences(knot.w(), &process, |_, c| {
                let [value, first, second] = wall(stage, c.value);
                sums.add_one(i, 1.0, &c.chain(value, first, second));
            });
            if self.with_cost {
                sums.add_one(i, self.shares[i], &self.ground.cost(knot.w(), &process));
            }
            if let Some(pin) = &knot.pin {
                // Held by a spring that stiffens as the walls do; what is left of it is taken out at the end.
                self.ground.off_pins(pin, &process, |off| {
                    sums.add_one(i, 1.0 / stage.parabola, &off.square());
                });
            }
        }
        self.keep_rising(stage, &at, &mut sums);
        if self.with_cost {
            self.bend_little(&at, &mut sums);
        }
        sums.finished()
    }
}

impl Chain<'_> {
    /// Walls against a frequency or background that falls from one knot to the next; a pinned knot is the expert's
    /// own.
    fn keep_rising(&self, stage: Stage, at: &[Process], sums: &mut Sums<'_>) {
        let mut last: Option<usize> = None;
        for (i, knot) in self.knots.iter().enumerate() {
            if knot.pin.is_some() {
                continue;
            }
            if let Some(j) = last.filter(|j| i - j <= 2) {
                for setting in [1, 2] {
                    let (before, after) = (at[j].free[setting], at[i].free[setting]);
                    let shape = wall(stage, after.value - before.value);
                    sums.add_sum(&[(j, -1.0, before), (i, 1.0, after)], shape);
                }
            }
            last = Some(i);
        }
    }

    /// ∫ (bend/BEND)² over feed of the logarithms of pulse current, pulse time and drop diameter.
    fn bend_little(&self, at: &[Process], sums: &mut Sums<'_>) {
        let weight = self.ground.study.line.weights.smoothness / (BEND * BEND);
        for i in 1..self.knots.len().saturating_sub(1) {
            if self.knots[i - 1].stretch != self.knots[i + 1].stretch {
                continue;
            }
            let [a, b, c] = [i - 1, i, i + 1].map(|k| self.knots[k].feed_m_min);
            // Second divided difference, twice: the second derivative of the parabola through three knots.
            let part = [2.0 / ((b - a) * (c - a)), -2.0 / ((b - a) * (c - b)), 2.0 / ((c - b) * (c - a))];
            for setting in 0..3 {
                let terms: [(usize, f64, Jet); 3] = std::array::from_fn(|k| {
                    let knot = i - 1 + k;
                    let value = match setting {
                        0 => at[knot].free[0],
                        1 => at[knot].log_time,
                        _ => self.ground.log_drop(self.knots[knot].w(), &at[knot]),
                    };
                    (knot, part[k], value)
                });
                let bend: f64 = terms.iter().map(|(_, a, f)| a * f.value).sum();
                let scaled = weight * self.shares[i];
                sums.add_sum(&terms, [scaled * bend * bend, 2.0 * scaled * bend, 2.0 * scaled]);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::with_composer;
    use crate::fit::fit_laws;
    use crate::materials::Material;
    use crate::virtual_bench::{self, Size, Truth};

    /// Every limit stated, so that every fence takes part.
    fn on_a_chain(ask: impl Fn(&Chain<'_>, &[f64])) {
        let mut study = virtual_bench::study(virtual_bench::wire(Material::CarbonSteel, 1.2, None));
        study.source.current_a = Some([20.0, 500.0]);
        study.source.background_current_a = Some([25.0, 180.0]);
        study.source.pulse_time_ms = Some([0.8, 5.0]);
        study.source.pulse_frequency_hz = Some([30.0, 300.0]);
        study.source.pulse_duty = Some([0.02, 0.75]);
        let truth = Truth::of_wire(&study.wire);
        let size = Size { burn_off: 24, detachment: 20, pulses: 100 };
        let fitted = fit_laws(&study, &virtual_bench::trials(&study, &truth, size, 2, 1));
        with_composer(&study, &fitted.laws, &fitted.calibration, |composer| {
            let pin = Pin {
                wire_feed_m_min: 5.5,
                pulse_current_a: Some(410.0),
                pulse_time_ms: Some(2.4),
                pulse_frequency_hz: None,
            };
            let knots = [(4.5, 0, None), (5.0, 0, None), (5.5, 0, Some(pin)), (6.1, 0, None), (7.0, 1, None)]
                .map(|(feed_m_min, stretch, pin)| Knot { feed_m_min, stretch, pin });
            let u =
                [[0.01, 4.25, 0.24], [-0.02, 4.33, 0.28], [0.03, 4.45, 0.29], [0.02, 4.50, 0.33], [0.05, 4.63, 0.41]];
            ask(&Chain::new(&composer.ground, &knots, true), &u.concat());
        })
        .expect("the laws are usable");
    }

    #[test]
    fn slopes_of_a_chain_agree_with_differences() {
        on_a_chain(|chain, u| {
            let stage = Stage { wall: 0.1, parabola: 1e-3 };
            let value = |u: &[f64]| chain.evaluate(stage, u, &mut [0.0; 15], &mut Band::zeros(15));
            let (mut gradient, mut hessian) = (vec![0.0; 15], Band::zeros(15));
            assert!(chain.evaluate(stage, u, &mut gradient, &mut hessian).is_finite());
            for (i, slope) in gradient.iter().enumerate() {
                let moved = |by: f64| {
                    let mut u = u.to_vec();
                    u[i] += by;
                    value(&u)
                };
                let h = 1e-6;
                let difference = (moved(h) - moved(-h)) / (2.0 * h);
                // Pins are springs of 1000, whose third derivatives times h² stay below this.
                assert!((difference - slope).abs() < 1e-5 * slope.abs().max(10.0), "{i}: {difference} {slope}");
            }
            // The step that the Hessian gives descends.
            let mut step: Vec<f64> = gradient.iter().map(|g| -g).collect();
            assert!(hessian.solve(1e-9, &mut step));
            assert!(step.iter().zip(&gradient).map(|(s, g)| s * g).sum::<f64>() < 0.0);
        });
    }
}
