//! The one-drop window as figures need it: probabilities over the position s, averaged over the scatter
//! of trials.

use meltlaw::laws::FittedLaw;

/// The detachment law with all its coefficients known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Window {
    /// n.
    pub(crate) exponent: f64,
    /// k.
    pub(crate) steepness: f64,
    /// s1: half the pulses detach.
    pub(crate) one_drop_from: f64,
    /// s2: half the pulses detach more than one.
    pub(crate) more_drops_from: f64,
    /// τ.
    pub(crate) trial_scatter: f64,
    /// I₀.
    pub(crate) reference_current_a: f64,
}

impl Window {
    /// From a fitted law; `None` where a coefficient is only bounded or missing.
    pub(crate) fn of(law: &FittedLaw) -> Option<Self> {
        let value = |name: &str| law.coefficients.get(name).and_then(|c| c.value).filter(|v| v.is_finite());
        let window = Self {
            exponent: value("exponent")?,
            steepness: value("steepness")?,
            one_drop_from: value("one_drop_from_ms").filter(|v| *v > 0.0)?.ln(),
            more_drops_from: value("more_drops_from_ms").filter(|v| *v > 0.0)?.ln(),
            trial_scatter: value("trial_scatter").unwrap_or(0.0).max(0.0),
            reference_current_a: law.reference_current_a.filter(|i| *i > 0.0)?,
        };
        (window.steepness > 0.0 && window.more_drops_from > window.one_drop_from).then_some(window)
    }

    /// s = n·ln(Ip/I₀) + ln(tp/1 ms).
    pub(crate) fn position(&self, pulse_current_a: f64, pulse_time_ms: f64) -> f64 {
        self.exponent * (pulse_current_a / self.reference_current_a).ln() + pulse_time_ms.ln()
    }

    /// The pulse time that has a position at a pulse current.
    pub(crate) fn pulse_time_ms(&self, position: f64, pulse_current_a: f64) -> f64 {
        (position - self.exponent * (pulse_current_a / self.reference_current_a).ln()).exp()
    }

    /// Probabilities of no, one and more drops at a position.
    pub(crate) fn probabilities(&self, position: f64) -> [f64; 3] {
        self.averaged(position, |probabilities| probabilities)
    }

    /// The mean over the scatter of trials of what follows from the probabilities of no, one and more drops.
    ///
    /// The normal average over τ is the trapezoid rule over ±5τ, which converges beyond any need for
    /// smooth functions: 41 points agree with 401 to 1e-9.
    pub(crate) fn averaged<const N: usize>(&self, position: f64, of: impl Fn([f64; 3]) -> [f64; N]) -> [f64; N] {
        const HALF: i32 = 20;
        let sigmoid = |x: f64| 1.0 / (1.0 + (-x).exp());
        let (mut means, mut sum) = ([0.0; N], 0.0);
        for step in -HALF..=HALF {
            let z = f64::from(step) * 5.0 / f64::from(HALF);
            let weight = (-z * z / 2.0).exp();
            let s = position + self.trial_scatter * z;
            let any = sigmoid(self.steepness * (s - self.one_drop_from));
            let more = sigmoid(self.steepness * (s - self.more_drops_from));
            for (mean, value) in means.iter_mut().zip(of([1.0 - any, any - more, more])) {
                *mean += weight * value;
            }
            sum += weight;
        }
        means.map(|mean| mean / sum)
    }

    /// Where the probability of one drop is at least `level`; `None` where it never is.
    ///
    /// It rises up to the middle of the window and falls beyond, so each end is found by halving.
    pub(crate) fn at_least(&self, level: f64) -> Option<[f64; 2]> {
        let middle = f64::midpoint(self.one_drop_from, self.more_drops_from);
        let enough = |s: f64| self.probabilities(s)[1] >= level;
        if !enough(middle) {
            return None;
        }
        let far = 12.0 / self.steepness + 6.0 * self.trial_scatter + self.more_drops_from - self.one_drop_from;
        let end = |direction: f64| {
            let (mut inside, mut outside) = (middle, middle + direction * far);
            for _ in 0..60 {
                let half = f64::midpoint(inside, outside);
                if enough(half) { inside = half } else { outside = half }
            }
            inside
        };
        Some([end(-1.0), end(1.0)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXAMPLE: Window = Window {
        exponent: 1.970_01,
        steepness: 7.972_417_893,
        one_drop_from: 0.559_097_525,   // ln 1.7490934147
        more_drops_from: 1.395_087_391, // ln 4.0353276348
        trial_scatter: 0.028_238_157,
        reference_current_a: 400.0,
    };

    #[test]
    fn the_middle_of_the_worked_example_has_its_probability() {
        // line.json of the worked example: 0.92946696 at the middle of the window.
        let middle = f64::midpoint(EXAMPLE.one_drop_from, EXAMPLE.more_drops_from);
        assert!((EXAMPLE.probabilities(middle)[1] - 0.929_466_96).abs() < 1e-6);
    }

    #[test]
    fn the_ends_of_a_level_have_that_level() {
        let [low, high] = EXAMPLE.at_least(0.8).expect("the middle reaches 0.93");
        for s in [low, high] {
            assert!((EXAMPLE.probabilities(s)[1] - 0.8).abs() < 1e-9);
        }
        assert_eq!(EXAMPLE.at_least(0.95), None);
    }

    #[test]
    fn position_and_pulse_time_are_each_others_inverse() {
        let time = EXAMPLE.pulse_time_ms(EXAMPLE.position(430.0, 2.3), 430.0);
        assert!((time - 2.3).abs() < 1e-12);
    }
}
