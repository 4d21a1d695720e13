//! Newton's method for functions with exact first and second derivatives, as an argmin `Solver`: steps
//! along the eigenvectors of the Hessian, shortened until the function falls.

use argmin::core::{
    ArgminError, Error, Executor, IterState, KV, Problem, Solver, TerminationReason, TerminationStatus,
};
use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// A function with its first two derivatives.
pub trait Curved {
    /// Value at `x`; writes gradient and Hessian.
    fn evaluate(&self, x: &[f64], gradient: &mut [f64], hessian: &mut DMatrix<f64>) -> f64;
}

/// A minimum of a function.
#[derive(Debug, Clone)]
pub struct CurvedMinimum {
    /// Where.
    pub x: Vec<f64>,
    /// Value there.
    pub value: f64,
    /// Gradient there.
    pub gradient: DVector<f64>,
    /// Hessian there.
    pub hessian: DMatrix<f64>,
    /// Whether the Newton step there is below rounding and the Hessian positive definite.
    pub converged: bool,
}

impl CurvedMinimum {
    /// Inverse of the Hessian by Cholesky; `None` where it is not positive definite.
    pub fn inverse_hessian(&self) -> Option<DMatrix<f64>> {
        self.hessian.clone().cholesky().map(|c| c.inverse())
    }
}

/// Minimises from `start`; no step is longer than `longest` in any coordinate.
pub fn minimise(function: &impl Curved, start: &[f64], longest: f64) -> CurvedMinimum {
    let solver = DampedNewton { longest, converged: None, known: None };
    let outcome = Executor::new(Borrowed(function), solver)
        .configure(|state| state.param(start.to_vec()).max_iters(200))
        .timer(false)
        .run();
    let (x, converged) = match outcome {
        Ok(result) => (result.state.param.unwrap_or_else(|| start.to_vec()), result.solver.converged == Some(true)),
        Err(_) => (start.to_vec(), false),
    };
    let (value, gradient, hessian) = evaluate(function, &x);
    let definite = hessian.clone().cholesky().is_some();
    CurvedMinimum { x, value, gradient, hessian, converged: converged && definite }
}

fn evaluate(function: &impl Curved, x: &[f64]) -> (f64, DVector<f64>, DMatrix<f64>) {
    let mut gradient = DVector::zeros(x.len());
    let mut hessian = DMatrix::zeros(x.len(), x.len());
    let value = function.evaluate(x, gradient.as_mut_slice(), &mut hessian);
    (value, gradient, hessian)
}

struct Borrowed<'a, F>(&'a F);

struct DampedNewton {
    longest: f64,
    converged: Option<bool>,
    /// Value and derivatives at the point that the last step accepted.
    known: Option<(f64, DVector<f64>, DMatrix<f64>)>,
}

type NewtonState = IterState<Vec<f64>, (), (), (), (), f64>;

impl<F: Curved> Solver<Borrowed<'_, F>, NewtonState> for DampedNewton {
    fn name(&self) -> &'static str {
        "damped Newton"
    }

    fn next_iter(
        &mut self,
        problem: &mut Problem<Borrowed<'_, F>>,
        mut state: NewtonState,
    ) -> Result<(NewtonState, Option<KV>), Error> {
        let x = state.take_param().ok_or(ArgminError::NotInitialized { text: "no start".to_owned() })?;
        let (value, gradient, hessian) = match self.known.take() {
            Some(known) => known,
            None => problem.problem("evaluate", |p| Ok(evaluate(p.0, &x)))?,
        };
        if !value.is_finite() || gradient.iter().chain(hessian.iter()).any(|v| !v.is_finite()) {
            self.converged = Some(false);
            return Ok((state.param(x).cost(f64::INFINITY), None));
        }
        let step = self.step(&gradient, hessian);
        let gain = -gradient.dot(&step);
        let size = x.iter().fold(1.0_f64, |a, v| a.max(v.abs()));
        let longest = step.amax();
        let moved = |scale: f64| -> Vec<f64> { x.iter().zip(step.iter()).map(|(v, s)| v + scale * s).collect() };
        // Where the promised gain is below the rounding of the value, the step alone decides.
        if gain.abs() <= 1e-13 * value.abs().max(1.0) {
            let next = moved(1.0);
            if longest <= 1e-11 * size {
                self.converged = Some(true);
            }
            return Ok((state.param(next).cost(value), None));
        }
        let mut scale = 1.0;
        for _ in 0..50 {
            let candidate = moved(scale);
            let found = problem.problem("evaluate", |p| Ok(evaluate(p.0, &candidate)))?;
            let trial = found.0;
            if trial.is_finite() && trial <= value - 1e-4 * scale * gain {
                self.known = Some(found);
                return Ok((state.param(candidate).cost(trial), None));
            }
            scale *= 0.5;
        }
        self.converged = Some(longest <= 1e-7 * size);
        Ok((state.param(x).cost(value), None))
    }

    fn terminate(&mut self, _state: &NewtonState) -> TerminationStatus {
        match self.converged {
            Some(true) => TerminationStatus::Terminated(TerminationReason::SolverConverged),
            Some(false) => TerminationStatus::Terminated(TerminationReason::SolverExit("no descent".to_owned())),
            None => TerminationStatus::NotTerminated,
        }
    }
}

impl DampedNewton {
    /// −H⁻¹g with every eigenvalue taken by its size, so that the step descends also where the function
    /// curves downwards, and no longer than allowed.
    fn step(&self, gradient: &DVector<f64>, hessian: DMatrix<f64>) -> DVector<f64> {
        let eigen = SymmetricEigen::new(hessian);
        let largest = eigen.eigenvalues.amax().max(1e-300);
        let mut along = eigen.eigenvectors.tr_mul(gradient);
        for (a, l) in along.iter_mut().zip(eigen.eigenvalues.iter()) {
            *a /= l.abs().max(1e-12 * largest);
        }
        let mut step = -(&eigen.eigenvectors * along);
        let longest = step.amax();
        if longest > self.longest {
            step *= self.longest / longest;
        }
        step
    }
}
