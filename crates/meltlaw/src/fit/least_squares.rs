//! Nonlinear least squares: Levenberg–Marquardt steps inside a trust region, on nalgebra's QR, as an
//! argmin `Solver`, with a last phase of undamped steps that stops on step length, not on the sum of
//! squares.

use argmin::core::{
    ArgminError, Error, Executor, IterState, KV, Problem, Solver, State, TerminationReason, TerminationStatus,
};
use nalgebra::{DMatrix, DVector, SVD};

use super::careful::dot;
use super::information::{Information, condition, full_rank, power_of_two};

/// Residuals and their derivatives by the coefficients.
pub trait LeastSquares {
    /// Number of residuals.
    fn residual_count(&self) -> usize;
    /// Writes the residuals at `b`.
    fn residuals(&self, b: &[f64], out: &mut [f64]);
    /// Writes the derivatives of the residuals by the coefficients (rows: residuals).
    fn jacobian(&self, b: &[f64], out: &mut DMatrix<f64>);
    /// Writes what rounding took from each residual and answers `true`, where the problem knows it: large
    /// residuals then cost the coefficients no digits.
    fn residual_rests(&self, _b: &[f64], _out: &mut [f64]) -> bool {
        false
    }
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
    /// Sum of squares, rounded once however many there are.
    pub fn sum_of_squares(&self) -> f64 {
        dot(0.0, self.residuals.iter().copied(), self.residuals.iter().copied()).value
    }

    /// Condition of the derivatives with columns of length 1: digits that the data's errors gain on their way
    /// to the worst coefficient. Infinite where coefficients cannot be told apart.
    pub fn condition(&self) -> f64 {
        condition(&self.jacobian)
    }
}

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
            (
                result.state.param.unwrap_or_else(|| start.to_vec()),
                result.solver.ending.unwrap_or(Ending::TooManySteps),
                steps,
            )
        }
        Err(_) => (start.to_vec(), Ending::NotFinite, 0),
    };
    let (residuals, jacobian) = evaluate(problem, &b);
    Minimum { b, residuals, jacobian, ending, steps }
}

/// C = (JᵀJ)⁻¹ and the leverage of each residual; `None` where the columns are dependent.
pub fn covariance_and_leverage(jacobian: &DMatrix<f64>) -> Option<(DMatrix<f64>, Vec<f64>)> {
    Information::of(jacobian).map(|i| (i.covariance, i.leverage))
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
    /// Largest norm that each column of derivatives has had: the unit in which steps are measured.
    units: Vec<f64>,
    /// Longest step trusted, in these units.
    trusted: Option<f64>,
    last_phase: Option<LastPhase>,
    ending: Option<Ending>,
}

/// State of the undamped steps at the end.
#[derive(Default, Clone, Copy)]
struct LastPhase {
    steps: u32,
    last_length: Option<f64>,
    /// Damping where undamped steps do not contract: the curvature that Gauss and Newton neglect.
    hold: f64,
    /// The residuals themselves are rounding, so their sum of squares tells nothing.
    on_rounding: bool,
}

type LmState = IterState<Vec<f64>, (), (), (), (), f64>;

/// First trusted step over the size of the start. 1 arrives from both starts of all 27 nonlinear sets of
/// NIST; 0.1 and 0.5 end elsewhere from the far start of MGH17.
const FIRST_STEP: f64 = 1.0;

/// cos² of the angle between residual and tangent space below which the sum of squares cannot judge a
/// step any more.
const ORTHOGONAL: f64 = 1e-9;

/// Steps of the last phase at most: a contraction of 0.95 a step gains ten digits in them.
const LAST_PHASE_STEPS: u32 = 500;

/// Step over size below which a step that does not shrink can be rounding and not a lack of contraction: it is
/// where the condition explains it, by [`ROUNDINGS`] roundings.
const ROUNDING: f64 = 1e-8;

/// Roundings of a residual and of the factors, each multiplied by the condition.
const ROUNDINGS: f64 = 64.0;

/// The linear problem at one point: columns scaled to length 1 or thereabouts, then factored.
struct Factored {
    /// Norm of each column.
    lengths: Vec<f64>,
    /// What each column was divided by.
    norms: Vec<f64>,
    r: DMatrix<f64>,
    /// Qᵀ(−e), its first entries.
    q: DVector<f64>,
    full_rank: bool,
}

impl Factored {
    fn new(e: &DVector<f64>, rests: Option<&DVector<f64>>, jacobian: &DMatrix<f64>) -> Self {
        let (m, p) = jacobian.shape();
        let lengths: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
        // Powers of two scale without rounding.
        let norms: Vec<f64> = lengths.iter().map(|l| power_of_two(*l)).collect();
        // Rows of zeros make room where there are fewer residuals than coefficients.
        let mut scaled = jacobian.clone().resize_vertically(m.max(p), 0.0);
        for (j, norm) in norms.iter().enumerate().filter(|(_, n)| **n > 0.0) {
            scaled.column_mut(j).scale_mut(1.0 / norm);
        }
        let mut right = (-e).resize_vertically(m.max(p), 0.0);
        let gradient = DVector::from_iterator(
            p,
            scaled.column_iter().map(|c| {
                let most = dot(0.0, c.iter().copied(), right.iter().copied());
                let little = rests.map_or(0.0, |rests| c.rows(0, m).dot(rests));
                most.value + (most.rest - little)
            }),
        );
        let qr = scaled.qr();
        let r = qr.r();
        qr.q_tr_mul(&mut right);
        let full_rank = m >= p && norms.iter().all(|n| *n > 0.0) && full_rank(&r);
        let q = right.rows(0, p).into_owned();
        let q = if full_rank { corrected(&r, &q, &gradient) } else { q };
        Self { lengths, norms, r, q, full_rank }
    }

    /// The undamped step, in the coefficients' own units; `None` where columns are dependent.
    fn undamped(&self) -> Option<DVector<f64>> {
        if !self.full_rank {
            return None;
        }
        let z = self.r.solve_upper_triangular(&self.q)?;
        let step = z.component_div(&DVector::from_row_slice(&self.norms));
        step.iter().all(|v| v.is_finite()).then_some(step)
    }

    /// Decrease of the sum of squares that the linear problem promises for a step.
    fn promised(&self, step: &DVector<f64>) -> f64 {
        let along = &self.r * step.component_mul(&DVector::from_row_slice(&self.norms));
        2.0 * along.dot(&self.q) - along.norm_squared()
    }

    /// Relative length of a step that is all rounding.
    fn rounding(&self, units: &[f64]) -> f64 {
        let singular = self.in_units(units).singular_values;
        (ROUNDINGS * f64::EPSILON * singular.max() / singular.min()).min(ROUNDING)
    }

    fn in_units(&self, units: &[f64]) -> SVD<f64, nalgebra::Dyn, nalgebra::Dyn> {
        let mut r = self.r.clone();
        for (j, unit) in units.iter().enumerate() {
            r.column_mut(j).scale_mut(self.norms[j] / unit);
        }
        r.svd(true, true)
    }
}

/// min |R·z − q|² + damping·|z|² by the singular values of R, z in the units of the trust region.
fn damped(svd: &SVD<f64, nalgebra::Dyn, nalgebra::Dyn>, q: &DVector<f64>, damping: f64) -> DVector<f64> {
    let (Some(u), Some(v_t)) = (&svd.u, &svd.v_t) else { return DVector::zeros(q.len()) };
    let mut along = u.tr_mul(q);
    for (a, s) in along.iter_mut().zip(svd.singular_values.iter()) {
        *a *= if *s > 0.0 { s / (s * s + damping) } else { 0.0 };
    }
    v_t.tr_mul(&along)
}

/// The damped step that is as long as trusted, to a tenth.
///
/// # Source
/// Moré (1978), The Levenberg–Marquardt algorithm: implementation and theory, Springer, Lecture Notes in
/// Mathematics 630, 105–116.
fn step_of_length(svd: &SVD<f64, nalgebra::Dyn, nalgebra::Dyn>, q: &DVector<f64>, trusted: f64) -> DVector<f64> {
    // The length falls with the damping; |Rᵀq|/trusted is too much of it.
    let (mut low, mut high) = (-700.0_f64, ((svd.singular_values.max() * q.norm() / trusted).max(1e-300)).ln());
    low = low.min(high);
    let mut step = damped(svd, q, high.exp());
    for _ in 0..60 {
        if (step.norm() / trusted - 1.0).abs() < 0.1 || high - low < 1e-3 {
            break;
        }
        let middle = f64::midpoint(low, high);
        step = damped(svd, q, middle.exp());
        if step.norm() > trusted { low = middle } else { high = middle }
    }
    step
}

/// Qᵀ(−e) such that RᵀQᵀ(−e) is the gradient: rounding of the factors then no longer moves the point at
/// which steps end, by the condition squared times a large residual.
///
/// # Source
/// Corrected seminormal equations: Björck (1987), Linear Algebra Appl. 88/89, 31–48.
fn corrected(r: &DMatrix<f64>, q: &DVector<f64>, gradient: &DVector<f64>) -> DVector<f64> {
    let diagonal = r.diagonal().abs();
    // Beyond this condition the correction itself would be rounding.
    if diagonal.min() < 1e-6 * diagonal.max() {
        return q.clone();
    }
    match r.tr_solve_upper_triangular(&(gradient - r.tr_mul(q))) {
        Some(correction) => q + correction,
        None => q.clone(),
    }
}

fn moved(b: &[f64], step: &DVector<f64>) -> Vec<f64> {
    b.iter().zip(step.iter()).map(|(v, d)| v + d).collect()
}

fn length_in(units: &[f64], values: impl IntoIterator<Item = f64>) -> f64 {
    units.iter().zip(values).map(|(u, v)| (u * v).powi(2)).sum::<f64>().sqrt()
}

impl<P: LeastSquares> Solver<Borrowed<'_, P>, LmState> for LevenbergMarquardt {
    fn name(&self) -> &'static str {
        "Levenberg-Marquardt on QR"
    }

    fn next_iter(
        &mut self,
        problem: &mut Problem<Borrowed<'_, P>>,
        mut state: LmState,
    ) -> Result<(LmState, Option<KV>), Error> {
        let b = state.take_param().ok_or(ArgminError::NotInitialized { text: "no start".to_owned() })?;
        let (e, jacobian) = problem.problem("residuals_and_jacobian", |p| Ok(evaluate(p.0, &b)))?;
        let mut rests = DVector::zeros(e.len());
        let known = problem.problem("residual_rests", |p| Ok(p.0.residual_rests(&b, rests.as_mut_slice())))?;
        let rests = known.then_some(rests);
        let cost = e.norm_squared();
        let mut cost_at = |candidate: &[f64]| -> Result<f64, Error> {
            let mut trial = DVector::zeros(e.len());
            problem.problem("residuals", |p| {
                p.0.residuals(candidate, trial.as_mut_slice());
                Ok(())
            })?;
            let cost = trial.norm_squared();
            Ok(if cost.is_finite() { cost } else { f64::INFINITY })
        };
        let (b, cost) = if !cost.is_finite() || jacobian.iter().any(|v| !v.is_finite()) {
            self.ending = Some(Ending::NotFinite);
            (b, cost)
        } else if cost == 0.0 {
            self.ending = Some(Ending::NoResidual);
            (b, cost)
        } else {
            let factored = Factored::new(&e, rests.as_ref(), &jacobian);
            self.grow_units(&factored.lengths);
            match self.last_phase_step(&b, cost, &factored, &mut cost_at)? {
                Some(moved) => moved,
                None => self.trusted_step(b, cost, &factored, &mut cost_at)?,
            }
        };
        Ok((state.param(b).cost(cost), None))
    }

    fn terminate(&mut self, _state: &LmState) -> TerminationStatus {
        match self.ending {
            Some(ending) => TerminationStatus::Terminated(TerminationReason::SolverExit(ending.words().to_owned())),
            None => TerminationStatus::NotTerminated,
        }
    }
}

impl LevenbergMarquardt {
    fn grow_units(&mut self, norms: &[f64]) {
        self.units.resize(norms.len(), 0.0);
        for (unit, norm) in self.units.iter_mut().zip(norms) {
            *unit = unit.max(*norm);
        }
    }

    /// Units for steps; a column that never moved a residual counts as 1.
    fn units(&self) -> Vec<f64> {
        self.units.iter().map(|u| if *u > 0.0 { *u } else { 1.0 }).collect()
    }

    /// An undamped step where the residual is orthogonal to what the coefficients can do, to rounding of
    /// the sum of squares; `None` where that is not so.
    fn last_phase_step(
        &mut self,
        b: &[f64],
        cost: f64,
        factored: &Factored,
        cost_at: &mut impl FnMut(&[f64]) -> Result<f64, Error>,
    ) -> Result<Option<(Vec<f64>, f64)>, Error> {
        let Some(undamped) = factored.undamped() else { return Ok(None) };
        let on_rounding = self.last_phase.is_some_and(|l| l.on_rounding);
        if !(factored.q.norm_squared() <= ORTHOGONAL * cost || on_rounding) {
            self.last_phase = None;
            return Ok(None);
        }
        let units = self.units();
        let size = length_in(&units, b.iter().copied());
        let mut phase = self.last_phase.unwrap_or_default();
        let step_with = |hold: f64| {
            if hold == 0.0 {
                undamped.clone()
            } else {
                damped(&factored.in_units(&units), &factored.q, hold).component_div(&DVector::from_row_slice(&units))
            }
        };
        // A held step is short because it is held: only the undamped one tells how near the minimum is.
        let whole = length_in(&units, undamped.iter().copied());
        let all_rounding = || whole <= factored.rounding(&units) * size;
        let mut step = step_with(phase.hold);
        let mut length = length_in(&units, step.iter().copied());
        let shrinks_below = if length <= 1e-14 * size { 0.5 } else { 0.95 };
        if phase.last_length.is_some_and(|last| length > shrinks_below * last) {
            if all_rounding() {
                self.ending = Some(Ending::StepsStoppedShrinking);
                return Ok(Some((b.to_vec(), cost)));
            }
            phase.hold = (4.0 * phase.hold).max(0.01);
            step = step_with(phase.hold);
            length = length_in(&units, step.iter().copied());
        }
        phase.steps += 1;
        phase.last_length = Some(length);
        let candidate = moved(b, &step);
        if whole <= 2e-16 * size {
            self.ending = Some(Ending::StepBelowRounding);
            return Ok(Some((candidate, cost)));
        }
        if phase.steps > LAST_PHASE_STEPS || phase.hold > 1e6 {
            self.ending = Some(if all_rounding() { Ending::StepsStoppedShrinking } else { Ending::TooManySteps });
            return Ok(Some((b.to_vec(), cost)));
        }
        let new_cost = cost_at(&candidate)?;
        if new_cost > cost * if on_rounding { 4.0 } else { 1.0 + 1e-7 } {
            if all_rounding() {
                self.ending = Some(Ending::StepsStoppedShrinking);
                return Ok(Some((b.to_vec(), cost)));
            }
            self.last_phase = None;
            self.trusted = Some(length / 4.0);
            return Ok(None);
        }
        self.last_phase = Some(phase);
        Ok(Some((candidate, new_cost)))
    }

    /// A step no longer than trusted that lowers the sum of squares.
    fn trusted_step(
        &mut self,
        b: Vec<f64>,
        cost: f64,
        factored: &Factored,
        cost_at: &mut impl FnMut(&[f64]) -> Result<f64, Error>,
    ) -> Result<(Vec<f64>, f64), Error> {
        let units = self.units();
        let size = length_in(&units, b.iter().copied());
        let svd = factored.in_units(&units);
        let undamped = factored.undamped();
        let undamped_length = undamped.as_ref().map(|s| length_in(&units, s.iter().copied()));
        let mut trusted = self.trusted.unwrap_or(if size > 0.0 { FIRST_STEP * size } else { f64::INFINITY });
        let ending = loop {
            let step = match (&undamped, undamped_length) {
                (Some(step), Some(length)) if length <= 1.1 * trusted => step.clone(),
                _ if trusted.is_finite() => {
                    step_of_length(&svd, &factored.q, trusted).component_div(&DVector::from_row_slice(&units))
                }
                _ => damped(&svd, &factored.q, 1e-6).component_div(&DVector::from_row_slice(&units)),
            };
            let length = length_in(&units, step.iter().copied());
            let promised = factored.promised(&step);
            if !(promised > 0.0) || !length.is_finite() {
                break if undamped.is_none() { Ending::Dependent } else { Ending::NoDescent };
            }
            let candidate = moved(&b, &step);
            let new_cost = cost_at(&candidate)?;
            let ratio = (cost - new_cost) / promised;
            if ratio > 0.999 && ratio < 1.001 {
                // As good as linear here.
                trusted = trusted.max(100.0 * length);
            } else if ratio >= 0.75 {
                trusted = trusted.max(2.0 * length);
            } else if !(ratio > 0.25) {
                trusted = length * if ratio > 0.0 { 0.5 } else { 0.25 };
            }
            self.trusted = Some(trusted);
            if ratio > 1e-4 {
                return Ok((candidate, new_cost));
            }
            if undamped_length.is_some_and(|l| l <= ROUNDING * size) {
                // The steps are near rounding and the sum of squares does not fall any more: its
                // residuals are rounding themselves.
                self.last_phase = Some(LastPhase { on_rounding: true, ..LastPhase::default() });
                return Ok((b, cost));
            }
            if length <= 1e-16 * size || length == 0.0 {
                break if undamped.is_none() { Ending::Dependent } else { Ending::NoDescent };
            }
        };
        self.ending = Some(ending);
        Ok((b, cost))
    }
}
