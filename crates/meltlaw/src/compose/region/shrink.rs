//! The room that fences leave in the background: more background at a kept melt balance means fewer or shorter
//! pulses, a lower duty and, but for long ramps, a lower mean square, so that a fence is crossed once.

use meltlaw_line::Limit;

use super::Range;
use super::fences::FENCES;
use super::runs::highest;

/// Frequency and pulse time first: beyond them the other fences turn back.
const ORDER: [usize; FENCES] = [0, 1, 6, 7, 9, 8, 2, 3, 4, 5];

/// Fences that long ramps bend into humps, a little inside between two backgrounds a little outside: the lower end
/// of the mean square, ramps in the pulse.
const HUMPED: [usize; 2] = [4, 8];

/// How far outside the ends of a hump may be.
const HUMP: f64 = 0.1;

/// What is left of a range of backgrounds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Room {
    pub(super) low: f64,
    pub(super) high: f64,
    /// What ends it.
    pub(super) limits: [Limit; 2],
    /// Relative to the pulse current; negative where nothing is left.
    pub(super) width: f64,
}

/// What a range of backgrounds leaves between fences.
pub(super) fn shrink(
    range: &Range,
    pulse_a: f64,
    limit: impl Fn(usize) -> Limit,
    margins: impl Fn(f64) -> [f64; FENCES],
) -> Room {
    let [(mut low, mut low_limit), (mut high, mut high_limit)] = *range;
    let none = |limits: [Limit; 2], width: f64| Room { low: f64::NAN, high: f64::NAN, limits, width };
    if !(low <= high) {
        return none([low_limit, high_limit], ((high - low) / pulse_a).min(-1e-12));
    }
    let (mut at_low, mut at_high) = (margins(low), margins(high));
    for j in ORDER {
        let fence = |background: f64| margins(background)[j];
        let (a, b) = (at_low[j], at_high[j]);
        // Not a number is no setting.
        let (outside_low, outside_high) = (!(a >= 0.0), !(b >= 0.0));
        if !outside_low && !outside_high {
            continue;
        }
        let mut inside = if outside_low { high } else { low };
        if outside_low && outside_high {
            let most = a.max(b);
            let hump = HUMPED.contains(&j) && most > -HUMP;
            inside = if hump { highest([low, high], 1e-3 * pulse_a, fence, true) } else { f64::NAN };
            if !(hump && fence(inside) >= 0.0) {
                return none([limit(j); 2], most.clamp(-1e9, -1e-12));
            }
        }
        if outside_low {
            (low, low_limit) = (root([low, inside], [a, fence(inside)], fence), limit(j));
            at_low = margins(low);
        }
        if outside_high {
            (high, high_limit) = (root([inside, high], [fence(inside), b], fence), limit(j));
            at_high = margins(high);
        }
    }
    Room { low, high, limits: [low_limit, high_limit], width: (high - low) / pulse_a }
}

/// Where a function changes its sign, on the side where it is not negative: secants, the kept end's value halved
/// (Illinois), every fourth step half the range, since beside a pole secants hardly move.
fn root([mut a, mut b]: [f64; 2], [mut fa, mut fb]: [f64; 2], f: impl Fn(f64) -> f64) -> f64 {
    for step in 1..=160 {
        let secant = b - fb * (b - a) / (fb - fa);
        // Where one end is infinite a secant goes nowhere.
        let inside = secant.is_finite() && (secant - a) * (secant - b) < 0.0;
        let c = if inside && step % 4 != 0 { secant } else { f64::midpoint(a, b) };
        let fc = f(c);
        if (fc >= 0.0) == (fb >= 0.0) {
            fa *= 0.5;
        } else {
            (a, fa) = (b, fb);
        }
        (b, fb) = (c, fc);
        if (b - a).abs() <= 1e-10 * (1.0 + b.abs()) || fc.abs() < 1e-12 {
            break;
        }
    }
    if fb >= -1e-12 { b } else { a }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pole_at_one_end_does_not_hold_the_root_up() {
        let pole = |x: f64| 1.0 - 1e-3 / (x - 1.0).max(1e-15);
        assert!((root([1.0, 400.0], [pole(1.0), pole(400.0)], pole) - 1.001).abs() < 1e-7);
    }

    #[test]
    fn roots_are_found_to_rounding_also_beside_infinity() {
        let line = |x: f64| 3.0 - x;
        assert!((root([0.0, 10.0], [3.0, -7.0], line) - 3.0).abs() < 1e-9);
        let steep = |x: f64| if x < 2.0 { f64::NEG_INFINITY } else { x - 2.5 };
        assert!((root([0.0, 10.0], [f64::NEG_INFINITY, 7.5], steep) - 2.5).abs() < 1e-9);
    }
}
