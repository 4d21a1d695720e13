//! Fits in which both sides carry errors: least squares over the coefficients and over what each trial's
//! true readings may have been.
//!
//! ```text
//! minimise Σᵢ [ (yᵢ − f(b, xᵢ + Mᵢδᵢ))²/σ²ᵢ + Σⱼ δ²ᵢⱼ/σ²ᵢⱼ ]
//! ```
//!
//! Given b each trial's δ is found by a fixed point, so the coefficients alone remain: at the adjusted
//! readings the minimum over δ is e²/v with v = σ² + Σ σⱼ²·(∂f/∂δⱼ)², and its gradient by b is exactly
//! −e/√v · ∂f/∂b/√v. An error of zero is legal: that reading is then exact.

use std::cell::RefCell;

use nalgebra::DMatrix;

use super::information::Information;
use super::least_squares::{Ending, LeastSquares, minimise};
use super::prior_rows::{PriorRows, as_settings};
use crate::laws::Law;

/// Most quantities a law predicts from and most independent errors a trial's readings have.
pub const MOST: usize = 4;

/// One independent error of a trial's readings: its standard deviation and the direction in which it
/// moves the row of quantities (the probe's gain moves mean and RMS current together, for example).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingError {
    /// Standard deviation.
    pub standard_deviation: f64,
    /// Change of each quantity per unit of the error.
    pub direction: [f64; MOST],
}

/// One trial: what is predicted, what it is predicted from, and the errors of both.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// The value predicted.
    pub y: f64,
    /// Its standard error.
    pub y_se: f64,
    /// The measured quantities, in the law's order.
    pub row: [f64; MOST],
    /// Their independent errors.
    pub errors: Vec<ReadingError>,
}

/// A fit with errors in variables.
#[derive(Debug, Clone)]
pub struct EivFit {
    /// Coefficients.
    pub b: Vec<f64>,
    /// Gauss–Newton covariance at the adjusted readings, from the stated errors (not scaled). With prior
    /// knowledge it is that of trials and statement together, over the scale in `prior`.
    pub stated_covariance: DMatrix<f64>,
    /// Weighted residuals e/√v.
    pub weighted: Vec<f64>,
    /// Leverage of each trial.
    pub leverage: Vec<f64>,
    /// Condition of the weighted derivatives with columns of length 1; see
    /// [`super::information::STRONGLY_COLLINEAR`].
    pub condition: f64,
    /// The law at the readings.
    pub fitted: Vec<f64>,
    /// How it ended.
    pub ending: Ending,
    /// Prior knowledge that took part, with the scale that it was weighed on.
    pub prior: PriorRows,
    /// Share of each row of prior knowledge in the coefficient that it speaks of.
    pub prior_share: Vec<f64>,
    /// Derivatives at the minimum: trials, then prior knowledge.
    pub(super) jacobian: DMatrix<f64>,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoFit {
    /// Fewer trials than coefficients and one for the spread.
    TooFew,
    /// Coefficients cannot be told apart.
    Dependent,
    /// The minimisation ended elsewhere.
    Ended(Ending),
}

impl EivFit {
    /// Minimum of the weighted sum of squares.
    pub fn sum_of_squares(&self) -> f64 {
        self.weighted.iter().map(|e| e * e).sum()
    }

    /// Trials less coefficients; with prior knowledge the whole degrees in [`Self::effective_degrees`].
    pub fn degrees_of_freedom(&self) -> usize {
        match self.prior.rows.len() {
            0 => self.weighted.len() - self.b.len(),
            // 1e-6: what rounding may leave below a whole number.
            _ => (self.effective_degrees() + 1e-6).floor().max(1.0) as usize,
        }
    }

    /// χ² per degree of freedom.
    pub fn chi_squared_per_degree(&self) -> f64 {
        self.sum_of_squares() / self.effective_degrees().max(super::prior_rows::FEWEST_DEGREES)
    }

    /// Internally studentised residual e/√(s²(1 − h)).
    pub fn internal(&self, trial: usize) -> f64 {
        self.weighted[trial] / (self.chi_squared_per_degree() * (1.0 - self.leverage[trial])).sqrt()
    }

    /// Externally studentised residual; `None` where the trial alone fixes a coefficient or one degree
    /// of freedom is all there is.
    pub fn external(&self, trial: usize) -> Option<f64> {
        let (z, nu) = (self.internal(trial), self.effective_degrees());
        let under = nu - z * z;
        (nu > 1.0 && under > 0.0 && z.is_finite()).then(|| z * ((nu - 1.0) / under).sqrt())
    }

    /// Cook's distance.
    pub fn cooks_distance(&self, trial: usize) -> Option<f64> {
        let (z, h) = (self.internal(trial), self.leverage[trial]);
        (h < 1.0 && z.is_finite()).then(|| z * z * h / (1.0 - h) / self.b.len() as f64)
    }
}

/// The least-squares problem over the coefficients alone.
#[derive(Debug)]
struct Profiled<'a, L> {
    law: &'a L,
    observations: &'a [Observation],
    prior: &'a PriorRows,
    /// What the last coefficients asked about came to: residuals, derivatives and the next round ask about
    /// the same ones in turn.
    last: RefCell<Last>,
}

/// Coefficients and every trial's adjustment under them.
#[derive(Debug, Default)]
struct Last {
    b: Vec<f64>,
    adjusted: Vec<Adjusted>,
}

/// What the inner minimisation over one trial's errors leaves.
#[derive(Debug)]
struct Adjusted {
    row: [f64; MOST],
    /// y − f + Σ ∂f/∂δ·δ
    residual: f64,
    /// v
    variance: f64,
    /// δ
    delta: [f64; MOST],
}

impl<'a, L: Law> Profiled<'a, L> {
    fn new(law: &'a L, observations: &'a [Observation], prior: &'a PriorRows) -> Self {
        Self { law, observations, prior, last: RefCell::default() }
    }

    /// Calls `each` with every trial's adjustment under `b`.
    fn with_adjusted(&self, b: &[f64], mut each: impl FnMut(usize, &Adjusted)) {
        let mut last = self.last.borrow_mut();
        if last.b != b || last.adjusted.is_empty() {
            let Last { b: known, adjusted } = &mut *last;
            known.clear();
            known.extend_from_slice(b);
            // Where the last coefficients left each trial's errors is near where these will.
            if adjusted.is_empty() {
                adjusted.extend(self.observations.iter().map(|o| self.adjust(b, o)));
            } else {
                for (a, o) in adjusted.iter_mut().zip(self.observations) {
                    *a = self.adjust_from(b, o, a.delta);
                }
            }
        }
        for (i, adjusted) in last.adjusted.iter().enumerate() {
            each(i, adjusted);
        }
    }

    fn adjust(&self, b: &[f64], observation: &Observation) -> Adjusted {
        self.adjust_from(b, observation, [0.0; MOST])
    }

    fn adjust_from(&self, b: &[f64], observation: &Observation, mut delta: [f64; MOST]) -> Adjusted {
        let n = self.law.quantities();
        let mut by_row = [0.0; MOST];
        let mut step_before = f64::INFINITY;
        // Nearly linear laws settle in a handful of rounds; the limit is for strongly curved ones.
        for round in 0.. {
            let mut row = observation.row;
            for (error, d) in observation.errors.iter().zip(&delta) {
                for (r, direction) in row.iter_mut().zip(&error.direction) {
                    *r += direction * d;
                }
            }
            self.law.gradient_by_row(b, &row[..n], &mut by_row[..n]);
            let mut variance = observation.y_se * observation.y_se;
            let mut residual = observation.y - self.law.predict(b, &row[..n]);
            let mut slopes = [0.0; MOST];
            for (j, error) in observation.errors.iter().enumerate() {
                slopes[j] = error.direction[..n].iter().zip(&by_row[..n]).map(|(d, g)| d * g).sum();
                variance += (error.standard_deviation * slopes[j]).powi(2);
                residual += slopes[j] * delta[j];
            }
            let mut step: f64 = 0.0;
            for (j, error) in observation.errors.iter().enumerate() {
                let s = error.standard_deviation;
                if s > 0.0 {
                    let next = s * s * slopes[j] * residual / variance;
                    step = step.max((next - delta[j]).abs() / s);
                    delta[j] = next;
                }
            }
            if step <= 1e-15 || (step >= step_before && step < 1e-12) || round >= 200 {
                return Adjusted { row, residual, variance, delta };
            }
            step_before = step;
        }
        unreachable!("the loop above returns")
    }
}

impl<L: Law> LeastSquares for Profiled<'_, L> {
    fn residual_count(&self) -> usize {
        self.observations.len() + self.prior.rows.len()
    }

    fn residuals(&self, b: &[f64], out: &mut [f64]) {
        let (of_trials, of_prior) = out.split_at_mut(self.observations.len());
        self.with_adjusted(b, |i, adjusted| of_trials[i] = adjusted.residual / adjusted.variance.sqrt());
        for (row, out) in self.prior.rows.iter().zip(of_prior) {
            *out = self.prior.weight(row) * (b[row.place] - row.mean);
        }
    }

    fn jacobian(&self, b: &[f64], out: &mut DMatrix<f64>) {
        let mut gradient = [0.0; MOST];
        self.with_adjusted(b, |i, adjusted| {
            self.law.gradient(b, &adjusted.row[..self.law.quantities()], &mut gradient[..b.len()]);
            for (j, g) in gradient[..b.len()].iter().enumerate() {
                out[(i, j)] = -g / adjusted.variance.sqrt();
            }
        });
        for (i, row) in self.prior.rows.iter().enumerate() {
            let mut of_prior = out.row_mut(self.observations.len() + i);
            of_prior.fill(0.0);
            of_prior[row.place] = self.prior.weight(row);
        }
    }
}

/// Fits a law with errors in variables from `start`.
///
/// # Errors
/// [`NoFit`] where there are too few trials, coefficients cannot be told apart or no minimum is found.
/// # Source
/// The minimum is that of weighted orthogonal distance regression (Boggs, Byrd and Schnabel 1987, SIAM J.
/// Sci. Stat. Comput. 8, 1052–1078); for a straight line it is that of York et al. (2004), Am. J. Phys. 72, 367–375.
pub fn fit(law: &impl Law, observations: &[Observation], start: &[f64]) -> Result<EivFit, NoFit> {
    fit_with(law, observations, start, &PriorRows::default())
}

/// The same with prior knowledge at a given scale: one more residual s·(b − mean)/sd for each statement.
///
/// # Errors
/// [`NoFit`] as for [`fit`].
pub fn fit_with(
    law: &impl Law,
    observations: &[Observation],
    start: &[f64],
    prior: &PriorRows,
) -> Result<EivFit, NoFit> {
    let n = law.quantities();
    if observations.is_empty() || observations.len() + prior.rows.len() <= start.len() {
        return Err(NoFit::TooFew);
    }
    let settings = prior.nominal.then(|| as_settings(law, observations, start));
    let observations = settings.as_deref().unwrap_or(observations);
    let minimum = minimise(&Profiled::new(law, observations, prior), start);
    if minimum.ending == Ending::Dependent {
        return Err(NoFit::Dependent);
    }
    if !minimum.ending.converged() {
        return Err(NoFit::Ended(minimum.ending));
    }
    let Information { covariance: stated_covariance, mut leverage, condition } =
        Information::of(&minimum.jacobian).ok_or(NoFit::Dependent)?;
    let prior_share = leverage.split_off(observations.len());
    Ok(EivFit {
        fitted: observations.iter().map(|o| law.predict(&minimum.b, &o.row[..n])).collect(),
        weighted: minimum.residuals.iter().take(observations.len()).copied().collect(),
        b: minimum.b,
        stated_covariance,
        leverage,
        condition,
        ending: minimum.ending,
        prior: prior.clone(),
        prior_share,
        jacobian: minimum.jacobian,
    })
}

/// Weighted residuals e/√v and their derivatives by the coefficients, anywhere.
pub fn weighted_residuals(
    law: &impl Law,
    observations: &[Observation],
    b: &[f64],
) -> (nalgebra::DVector<f64>, DMatrix<f64>) {
    let none = PriorRows::default();
    let problem = Profiled::new(law, observations, &none);
    let mut residuals = nalgebra::DVector::zeros(observations.len());
    let mut jacobian = DMatrix::zeros(observations.len(), b.len());
    let mut gradient = [0.0; MOST];
    for (i, observation) in observations.iter().enumerate() {
        let adjusted = problem.adjust(b, observation);
        let error = adjusted.variance.sqrt();
        law.gradient(b, &adjusted.row[..law.quantities()], &mut gradient[..b.len()]);
        residuals[i] = adjusted.residual / error;
        for (j, g) in gradient[..b.len()].iter().enumerate() {
            jacobian[(i, j)] = -g / error;
        }
    }
    (residuals, jacobian)
}

/// The most likely true quantities of a trial, given the coefficients.
pub fn adjusted_row(law: &impl Law, b: &[f64], observation: &Observation) -> [f64; MOST] {
    Profiled::new(law, &[], &PriorRows::default()).adjust(b, observation).row
}

/// Weighted linear start: exact for a law linear in its coefficients with exact readings.
pub fn linear_start(law: &impl Law, observations: &[Observation]) -> Option<Vec<f64>> {
    linear_start_with(law, observations, &PriorRows::default())
}

/// The same with rows of prior knowledge below those of the trials.
pub fn linear_start_with(law: &impl Law, observations: &[Observation], prior: &PriorRows) -> Option<Vec<f64>> {
    let (n, p) = (law.quantities(), law.coefficients().len());
    let zero = vec![0.0; p];
    let scale = |o: &Observation| if o.y_se > 0.0 { o.y_se } else { o.y.abs().max(1e-9) };
    let trials = observations.len();
    let design = DMatrix::from_fn(trials + prior.rows.len(), p, |i, j| {
        if let Some(row) = i.checked_sub(trials).map(|i| &prior.rows[i]) {
            return if row.place == j { prior.weight(row) } else { 0.0 };
        }
        let mut gradient = [0.0; MOST];
        law.gradient(&zero, &observations[i].row[..n], &mut gradient[..p]);
        gradient[j] / scale(&observations[i])
    });
    let of_prior = prior.rows.iter().map(|row| prior.weight(row) * row.mean);
    let right = nalgebra::DVector::from_iterator(
        trials + prior.rows.len(),
        observations.iter().map(|o| o.y / scale(o)).chain(of_prior),
    );
    let scales: Vec<f64> = design.column_iter().map(|c| c.norm()).collect();
    if scales.iter().any(|s| !(*s > 0.0 && s.is_finite())) {
        return None;
    }
    let mut scaled = design;
    for (j, s) in scales.iter().enumerate() {
        scaled.column_mut(j).scale_mut(1.0 / s);
    }
    let solution = scaled.svd(true, true).solve(&right, 1e-13).ok()?;
    Some(solution.iter().zip(&scales).map(|(v, s)| v / s).collect())
}
