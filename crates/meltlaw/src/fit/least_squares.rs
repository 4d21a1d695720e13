//! Nonlinear least squares: a Levenberg–Marquardt step on nalgebra's QR as an argmin `Solver`, with a
//! last phase of undamped steps that stops on step length, not on the sum of squares.

use argmin::core::{ArgminError, Error, Executor, IterState, KV, Problem, Solver, State, TerminationReason, TerminationStatus};
use nalgebra::{DMatrix, DVector};

/// Residuals and their derivatives by the coefficients.
pub trait LeastSquares {
    /// Number of residuals.
    fn residual_count(&self) -> usize;
    /// Writes the residuals at `b`.
    fn residuals(&self, b: &[f64], out: &mut [f64]);
    /// Writes the derivatives of the residuals by the coefficients (rows: residuals).
    fn jacobian(&self, b: &[f64], out: &mut DMatrix<f64>);
}

/// How a minimisation ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The last undamped step was below the rounding of the coefficients.
    StepBelowRounding,
    /// Undamped steps stopped shrinking: the rounding of the residuals is reached.
    StepsStoppedShrinking,
    /// The residuals are zero.
    NoResidual,
    /// No step lowers the sum of squares although the residual is not orthogonal.
    NoDescent,
    /// The derivatives are linearly dependent: some coefficient cannot be told from others.
    Dependent,
    /// More steps than allowed.
    TooManySteps,
    /// Something was not a finite number.
    NotFinite,
}

impl Ending {
    /// Whether the coefficients are a minimum to rounding.
    pub const fn converged(self) -> bool {
        matches!(self, Self::StepBelowRounding | Self::StepsStoppedShrinking | Self::NoResidual)
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::StepBelowRounding | Self::StepsStoppedShrinking | Self::NoResidual => "converged",
            Self::NoDescent => "not converged: no step lowers the sum of squares",
            Self::Dependent => "not converged: coefficients cannot be told apart",
            Self::TooManySteps => "not converged: too many steps",
            Self::NotFinite => "not converged: a number left the finite range",
        }
    }
}

/// A minimum of a sum of squares.
#[derive(Debug, Clone)]
pub struct Minimum {
    /// Coefficients.
    pub b: Vec<f64>,
    /// Residuals there.
    pub residuals: DVector<f64>,
    /// Their derivatives there.
    pub jacobian: DMatrix<f64>,
    /// How it ended.
    pub ending: Ending,
    /// Steps taken.
    pub steps: u64,
}

impl Minimum {
    /// Sum of squares.
    pub fn sum_of_squares(&self) -> f64 {
        self.residuals.norm_squared()
    }
}

/// Relative size below which a diagonal of R counts as zero: columns are scaled to length 1 first, and
/// half the digits of a double must remain for a standard error to mean anything.
const RANK_TOLERANCE: f64 = 1e-13;

/// Minimises Σ residual² from `start`.
pub fn minimise(problem: &impl LeastSquares, start: &[f64]) -> Minimum {
    let solver = LevenbergMarquardt::default();
    let outcome = Executor::new(Borrowed(problem), solver)
        .configure(|state| state.param(start.to_vec()).max_iters(2000))
        .timer(false)
        .run();
    let (b, ending, steps) = match outcome {
        Ok(result) => {
            let steps = result.state.get_iter();
            (result.state.param.unwrap_or_else(|| start.to_vec()), result.solver.ending.unwrap_or(Ending::TooManySteps), steps)
        }
        Err(_) => (start.to_vec(), Ending::NotFinite, 0),
    };
    let (residuals, jacobian) = evaluate(problem, &b);
    Minimum { b, residuals, jacobian, ending, steps }
}

/// C = (JᵀJ)⁻¹ from the QR factor of the column-scaled derivatives, and the leverage of each residual;
/// `None` where the columns are dependent.
pub fn covariance_and_leverage(jacobian: &DMatrix<f64>) -> Option<(DMatrix<f64>, Vec<f64>)> {
    let (scaled, scales) = scale_columns(jacobian)?;
    let qr = scaled.qr();
    let r = qr.r();
    if !full_rank(&r) {
        return None;
    }
    let p = r.ncols();
    let inverse = r.solve_upper_triangular(&DMatrix::identity(p, p))?;
    let mut covariance = &inverse * inverse.transpose();
    for i in 0..p {
        for j in 0..p {
            covariance[(i, j)] /= scales[i] * scales[j];
        }
    }
    let leverage = qr.q().row_iter().map(|row| row.norm_squared()).collect();
    Some((covariance, leverage))
}

fn full_rank(r: &DMatrix<f64>) -> bool {
    let diagonal = r.diagonal().abs();
    diagonal.min() > RANK_TOLERANCE * diagonal.max()
}

fn scale_columns(jacobian: &DMatrix<f64>) -> Option<(DMatrix<f64>, Vec<f64>)> {
    let scales: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
    if scales.iter().any(|s| !(*s > 0.0 && s.is_finite())) || jacobian.nrows() < jacobian.ncols() {
        return None;
    }
    let mut scaled = jacobian.clone();
    for (j, scale) in scales.iter().enumerate() {
        scaled.column_mut(j).scale_mut(1.0 / scale);
    }
    Some((scaled, scales))
}

fn evaluate(problem: &impl LeastSquares, b: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
    let mut residuals = DVector::zeros(problem.residual_count());
    let mut jacobian = DMatrix::zeros(problem.residual_count(), b.len());
    problem.residuals(b, residuals.as_mut_slice());
    problem.jacobian(b, &mut jacobian);
    (residuals, jacobian)
}

/// argmin owns its problem; this lends it one.
struct Borrowed<'a, P>(&'a P);

#[derive(Default)]
struct LevenbergMarquardt {
    damping: f64,
    growth: f64,
    last_undamped_step: Option<f64>,
    undamped_steps: u32,
    ending: Option<Ending>,
}

type LmState = IterState<Vec<f64>, (), (), (), (), f64>;

/// Undamped steps at most in the last phase; each at least halves the step or the phase ends.
const LAST_PHASE_STEPS: u32 = 60;

impl<P: LeastSquares> Solver<Borrowed<'_, P>, LmState> for LevenbergMarquardt {
    fn name(&self) -> &'static str {
        "Levenberg-Marquardt on QR"
    }

    fn next_iter(&mut self, problem: &mut Problem<Borrowed<'_, P>>, mut state: LmState) -> Result<(LmState, Option<KV>), Error> {
        let b = state.take_param().ok_or(ArgminError::NotInitialized { text: "no start".to_owned() })?;
        let (e, jacobian) = problem.problem("residuals_and_jacobian", |p| Ok(evaluate(p.0, &b)))?;
        let cost = e.norm_squared();
        let finish = |solver: &mut Self, ending: Ending, b: Vec<f64>| {
            solver.ending = Some(ending);
            Ok((state.clone().param(b).cost(cost), None))
        };
        if !cost.is_finite() {
            return finish(self, Ending::NotFinite, b);
        }
        if cost == 0.0 {
            return finish(self, Ending::NoResidual, b);
        }
        let Some((scaled, scales)) = scale_columns(&jacobian) else {
            return finish(self, Ending::Dependent, b);
        };
        let size = b.iter().zip(&scales).map(|(v, s)| (v * s).powi(2)).sum::<f64>().sqrt();
        let mut tries = 0;
        loop {
            let Some((step, predicted)) = damped_step(&scaled, &e, self.damping) else {
                if self.damping == 0.0 {
                    // Dependent columns: a damped step may still lead away from here.
                    self.damping = 1e-3;
                    self.growth = 2.0;
                    continue;
                }
                return finish(self, Ending::Dependent, b);
            };
            let length = step.norm();
            let candidate: Vec<f64> = b.iter().zip(&scales).zip(step.iter()).map(|((v, s), d)| v + d / s).collect();
            // Where the promised gain drowns in rounding the sum of squares cannot judge any more:
            // undamped steps go on while they shrink.
            if predicted <= 1e-9 * cost {
                let Some((step, _)) = damped_step(&scaled, &e, 0.0) else {
                    return finish(self, Ending::Dependent, b);
                };
                let length = step.norm();
                if self.last_undamped_step.is_some_and(|last| length > 0.5 * last) {
                    return finish(self, Ending::StepsStoppedShrinking, b);
                }
                let candidate: Vec<f64> = b.iter().zip(&scales).zip(step.iter()).map(|((v, s), d)| v + d / s).collect();
                self.last_undamped_step = Some(length);
                self.undamped_steps += 1;
                if length <= 2e-16 * size || self.undamped_steps > LAST_PHASE_STEPS {
                    return finish(self, Ending::StepBelowRounding, candidate);
                }
                return Ok((state.param(candidate).cost(cost), None));
            }
            let mut trial = DVector::zeros(e.len());
            problem.problem("residuals", |p| {
                p.0.residuals(&candidate, trial.as_mut_slice());
                Ok(())
            })?;
            let trial_cost = trial.norm_squared();
            let ratio = (cost - trial_cost) / predicted;
            if trial_cost.is_finite() && ratio > 1e-4 {
                // Nielsen's rule for the damping.
                self.damping *= (1.0 - (2.0 * ratio - 1.0).powi(3)).clamp(1.0 / 3.0, 1.0);
                self.growth = 2.0;
                if self.damping < 1e-14 || ratio > 0.99 {
                    self.damping = if ratio > 0.9 { 0.0 } else { self.damping };
                }
                self.last_undamped_step = None;
                return Ok((state.param(candidate).cost(trial_cost), None));
            }
            tries += 1;
            if tries > 60 || length <= 1e-16 * size {
                return finish(self, Ending::NoDescent, b);
            }
            if self.damping == 0.0 {
                self.damping = 1e-4;
                self.growth = 2.0;
            } else {
                self.damping *= self.growth;
                self.growth *= 2.0;
            }
        }
    }

    fn terminate(&mut self, _state: &LmState) -> TerminationStatus {
        match self.ending {
            Some(ending) => TerminationStatus::Terminated(TerminationReason::SolverExit(ending.words().to_owned())),
            None => TerminationStatus::NotTerminated,
        }
    }
}

/// The step of min |J·p + e|² + damping·|p|² on columns of length 1, and the predicted decrease of the
/// sum of squares.
fn damped_step(scaled: &DMatrix<f64>, e: &DVector<f64>, damping: f64) -> Option<(DVector<f64>, f64)> {
    let (m, p) = scaled.shape();
    let extra = if damping > 0.0 { p } else { 0 };
    let mut matrix = DMatrix::zeros(m + extra, p);
    matrix.view_mut((0, 0), (m, p)).copy_from(scaled);
    for j in 0..extra {
        matrix[(m + j, j)] = damping.sqrt();
    }
    let mut right = DVector::zeros(m + extra);
    right.rows_mut(0, m).copy_from(&(-e));
    let qr = matrix.qr();
    let r = qr.r();
    if !full_rank(&r) {
        return None;
    }
    qr.q_tr_mul(&mut right);
    let step = r.solve_upper_triangular(&right.rows(0, p).into_owned())?;
    let along = scaled * &step;
    let predicted = along.norm_squared() + 2.0 * damping * step.norm_squared();
    step.iter().all(|v| v.is_finite()).then_some((step, predicted))
}
