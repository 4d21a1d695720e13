//! How surprising counts are, given the window: counting and the scatter from trial to trial together.

use crate::window::Window;

/// Probabilities of a count of pulses of one class at most, and at least, as large as the one found.
///
/// The scatter of trials moves all pulses of one trial together, so counts scatter more than by counting alone: each
/// place within the scatter has its binomial, and their mean is what a trial brings.
pub(crate) fn tails(window: &Window, position: f64, class: usize, count: u64, pulses: u64) -> [f64; 2] {
    window.averaged(position, |probabilities| binomial_tails(count, pulses, probabilities[class]))
}

/// P(X ≤ count) and P(X ≥ count) of a binomial, summed over the tail in which terms fall.
pub(crate) fn binomial_tails(count: u64, trials: u64, probability: f64) -> [f64; 2] {
    let (k, n) = (count.min(trials) as f64, trials as f64);
    // Neither nothing nor everything, of which there is no logarithm.
    let p = probability.clamp(1e-300, 1.0 - f64::EPSILON);
    let log_choose: f64 = (0..count.min(trials)).map(|i| ((n - i as f64) / (i as f64 + 1.0)).ln()).sum();
    let here = (log_choose + k * p.ln() + (n - k) * (1.0 - p).ln()).exp();
    let odds = p / (1.0 - p);
    let falls = k <= n * p;
    let (mut term, mut sum, mut j) = (here, here, k);
    while term > 1e-15 * sum && if falls { j > 0.0 } else { j < n } {
        if falls {
            term *= j / (n - j + 1.0) / odds;
            j -= 1.0;
        } else {
            term *= (n - j) / (j + 1.0) * odds;
            j += 1.0;
        }
        sum += term;
    }
    let other = (1.0 - sum + here).clamp(0.0, 1.0);
    if falls { [sum.min(1.0), other] } else { [other, sum.min(1.0)] }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: [f64; 2], expected: [f64; 2]) {
        for (f, e) in found.iter().zip(expected) {
            // Sums of at most some hundred terms in double precision.
            assert!((f - e).abs() < 1e-12, "{found:?}, not {expected:?}");
        }
    }

    #[test]
    fn tails_of_a_binomial_are_those_of_the_triangle() {
        // Rows of Pascal's triangle over 2⁴: 1, 4, 6, 4, 1.
        close(binomial_tails(1, 4, 0.5), [5.0 / 16.0, 15.0 / 16.0]);
        close(binomial_tails(3, 4, 0.5), [15.0 / 16.0, 5.0 / 16.0]);
        close(binomial_tails(4, 4, 0.5), [1.0, 1.0 / 16.0]);
        // Nothing of so many is likely where it is nearly impossible, and everything is not.
        close(binomial_tails(0, 50, 0.0), [1.0, 1.0]);
        assert!(binomial_tails(50, 50, 0.0)[1] < 1e-100);
        // 600 of 1000 at one half lies 6.3 standard errors off; the first term alone does not underflow the sum.
        assert!((0.0..1e-9).contains(&binomial_tails(600, 1000, 0.5)[1]));
    }

    #[test]
    fn the_scatter_of_trials_makes_odd_counts_less_odd() {
        let still = Window {
            exponent: 2.0,
            steepness: 8.0,
            one_drop_from: 0.56,
            more_drops_from: 1.39,
            trial_scatter: 0.0,
            reference_current_a: 400.0,
        };
        let scattered = Window { trial_scatter: 0.1, ..still };
        // At the first threshold half of 50 pulses should detach; 38 did not.
        let [alone, with] = [still, scattered].map(|w| tails(&w, 0.56, 0, 38, 50)[1]);
        close(tails(&still, 0.56, 0, 38, 50), binomial_tails(38, 50, still.probabilities(0.56)[0]));
        assert!(alone < 1e-3 && with > 0.01, "{alone} and {with}");
    }
}
