//! Averages over a trial's scatter z, weighted by how likely each z makes its counts.

use super::chances::{Chance, Chances};
use crate::statistics::GaussHermite;

/// Most points of a quadrature.
const MOST: usize = 64;

/// Log of the averaged chance, and averages over z of its derivatives by a₁ and κ times powers of z. Second
/// derivatives include the products of first ones (Louis's identity).
pub(super) struct Averages {
    pub(super) log: f64,
    pub(super) position: [f64; 2],
    pub(super) kappa: f64,
    pub(super) position_twice: [f64; 3],
    pub(super) mixed: [f64; 2],
    pub(super) kappa_twice: f64,
}

impl Averages {
    const ZERO: Self =
        Self { log: 0.0, position: [0.0; 2], kappa: 0.0, position_twice: [0.0; 3], mixed: [0.0; 2], kappa_twice: 0.0 };

    /// Without scatter: z is 0.
    pub(super) fn at_one_point(chance: &Chance) -> Self {
        let mut sum = Self::ZERO;
        sum.add(1.0, 0.0, chance);
        sum.log = chance.log;
        sum
    }

    /// Adaptive Gauss–Hermite quadrature about the most likely z; a₁ = mean + step·z.
    pub(super) fn over_scatter(chances: &Chances, mean: f64, step: f64, rule: &GaussHermite) -> Self {
        let at = |z: f64| chances.at(mean + step * z);
        let (mode, width) = most_likely(step, &at);
        let count = rule.points.len().min(MOST);
        let mut log_weights = [0.0; MOST];
        let mut top = f64::NEG_INFINITY;
        let mut nodes: [Option<Chance>; MOST] = [const { None }; MOST];
        for i in 0..count {
            let x = rule.points[i];
            let z = mode + width * x;
            let chance = at(z);
            log_weights[i] = rule.log_weights[i] + (x * x - z * z) / 2.0 + chance.log;
            top = top.max(log_weights[i]);
            nodes[i] = Some(chance);
        }
        let mut total = 0.0;
        for weight in &mut log_weights[..count] {
            *weight = (*weight - top).exp();
            total += *weight;
        }
        let mut sum = Self::ZERO;
        for (i, node) in nodes[..count].iter().enumerate() {
            let share = log_weights[i] / total;
            if let (true, Some(chance)) = (share > 1e-18, node) {
                sum.add(share, mode + width * rule.points[i], chance);
            }
        }
        sum.log = top + (total * width).ln();
        sum
    }

    fn add(&mut self, share: f64, z: f64, c: &Chance) {
        let position = share * c.position;
        self.position[0] += position;
        self.position[1] += position * z;
        self.kappa += share * c.kappa;
        let twice = share * (c.position_twice + c.position * c.position);
        self.position_twice[0] += twice;
        self.position_twice[1] += twice * z;
        self.position_twice[2] += twice * z * z;
        let mixed = share * (c.mixed + c.position * c.kappa);
        self.mixed[0] += mixed;
        self.mixed[1] += mixed * z;
        self.kappa_twice += share * (c.kappa_twice + c.kappa * c.kappa);
    }
}

/// The most likely z of a trial and the width of the integrand there.
fn most_likely(step: f64, at: &impl Fn(f64) -> Chance) -> (f64, f64) {
    let mut z = 0.0;
    let mut curvature = 1.0;
    // Between two steep flanks a Newton step jumps from one to the other and back: once both have been seen,
    // a step that leaves the space between them halves it instead.
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for _ in 0..100 {
        let chance = at(z);
        let slope = step * chance.position - z;
        curvature = (1.0 - step * step * chance.position_twice).max(0.25);
        let newton = (slope / curvature).clamp(-2.0, 2.0);
        // The quadrature only needs to sit on the peak: a thousandth of its width does.
        if newton.abs() < 1e-3 {
            z += newton;
            break;
        }
        if slope > 0.0 {
            low = z
        } else {
            high = z
        }
        let next = z + newton;
        z = if next > low && next < high { next } else { f64::midpoint(low, high) };
    }
    (z, 1.0 / curvature.sqrt())
}
