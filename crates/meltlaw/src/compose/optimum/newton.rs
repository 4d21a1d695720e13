//! Newton's method inside fences, as an argmin `Solver`: the fences are walls that grow steeper from stage to
//! stage, the Hessian is banded.

use argmin::core::{
    ArgminError, Error, Executor, IterState, KV, Problem, Solver, TerminationReason, TerminationStatus,
};

use super::band::Band;

/// How steep the walls are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stage {
    /// Weight of a wall, −ln of the distance to its fence.
    pub(super) wall: f64,
    /// Distance below which a wall goes on as a parabola, so that it has a value beyond its fence too.
    pub(super) parabola: f64,
}

/// A function with walls.
pub(super) trait Fenced {
    /// Value at `u`, infinite where there is none; writes gradient and Hessian.
    fn evaluate(&self, stage: Stage, u: &[f64], gradient: &mut [f64], hessian: &mut Band) -> f64;
}

/// ln(1 + 1/c), below `parabola` its parabola: value, first and second derivative. Far inside it fades, so that no
/// fence pulls from afar.
///
/// # Source
/// Relaxed logarithmic barrier: Hauser and Saccon (2006), Proc. 45th IEEE CDC (form from memory); the fading is ours.
pub(super) fn wall(stage: Stage, c: f64) -> [f64; 3] {
    let p = c.max(stage.parabola);
    let inside = p * (1.0 + p);
    let first = -1.0 / inside;
    let second = (1.0 + 2.0 * p) / (inside * inside);
    let below = (c - p).min(0.0);
    [(1.0 + 1.0 / p).ln() + below * (first + 0.5 * second * below), first + second * below, second]
        .map(|v| stage.wall * v)
}

/// Longest step in a free setting: a third in its logarithm.
const LONGEST: f64 = 0.3;

/// Most steps of one stage.
const STEPS_OF_A_STAGE: usize = 60;

/// Minimises through the stages from `start`.
pub(super) fn minimise(function: &impl Fenced, start: Vec<f64>, stages: &[Stage]) -> Vec<f64> {
    let size = start.len();
    let unmoved = start.clone();
    let solver = StagedNewton {
        stages,
        stage: 0,
        steps: 0,
        value: f64::NAN,
        gradient: vec![0.0; size],
        hessian: Band::zeros(size),
        next_gradient: vec![0.0; size],
        next_hessian: Band::zeros(size),
        done: stages.is_empty(),
    };
    let most = (STEPS_OF_A_STAGE * stages.len().max(1)) as u64;
    Executor::new(Borrowed(function), solver)
        .configure(|state| state.param(start).max_iters(most))
        .timer(false)
        .run()
        .ok()
        .and_then(|found| found.state.param)
        .unwrap_or(unmoved)
}

struct Borrowed<'a, F>(&'a F);

struct StagedNewton<'a> {
    stages: &'a [Stage],
    stage: usize,
    steps: usize,
    /// At the present point and stage; not a number where a new stage begins.
    value: f64,
    gradient: Vec<f64>,
    hessian: Band,
    next_gradient: Vec<f64>,
    next_hessian: Band,
    done: bool,
}

type NewtonState = IterState<Vec<f64>, (), (), (), (), f64>;

impl<F: Fenced> Solver<Borrowed<'_, F>, NewtonState> for StagedNewton<'_> {
    fn name(&self) -> &'static str {
        "Newton inside fences"
    }

    fn next_iter(
        &mut self,
        problem: &mut Problem<Borrowed<'_, F>>,
        mut state: NewtonState,
    ) -> Result<(NewtonState, Option<KV>), Error> {
        let u = state.take_param().ok_or(ArgminError::NotInitialized { text: "no start".to_owned() })?;
        let stage = self.stages[self.stage];
        if self.value.is_nan() {
            let (gradient, hessian) = (&mut self.gradient, &mut self.hessian);
            self.value = problem.problem("evaluate", |p| Ok(p.0.evaluate(stage, &u, gradient, hessian)))?;
            if !self.value.is_finite() {
                self.done = true;
                return Ok((state.param(u).cost(f64::INFINITY), None));
            }
        }
        let step = self.step();
        let gain = -self.gradient.iter().zip(&step).map(|(g, s)| g * s).sum::<f64>();
        self.steps += 1;
        // The promised gain against what a stage is worth: its walls' weight.
        if !(gain > (1e-7 * stage.wall).max(1e-13 * self.value.abs())) || self.steps >= STEPS_OF_A_STAGE {
            self.next_stage();
            return Ok((state.param(u).cost(self.value), None));
        }
        let longest = step.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
        let mut scale = (LONGEST / longest).min(1.0);
        for _ in 0..40 {
            let candidate: Vec<f64> = u.iter().zip(&step).map(|(u, s)| u + scale * s).collect();
            let (gradient, hessian) = (&mut self.next_gradient, &mut self.next_hessian);
            let value = problem.problem("evaluate", |p| Ok(p.0.evaluate(stage, &candidate, gradient, hessian)))?;
            if value.is_finite() && value <= self.value - 1e-4 * scale * gain {
                self.value = value;
                std::mem::swap(&mut self.gradient, &mut self.next_gradient);
                std::mem::swap(&mut self.hessian, &mut self.next_hessian);
                return Ok((state.param(candidate).cost(value), None));
            }
            scale *= 0.5;
        }
        self.next_stage();
        Ok((state.param(u).cost(self.value), None))
    }

    fn terminate(&mut self, _state: &NewtonState) -> TerminationStatus {
        if self.done {
            TerminationStatus::Terminated(TerminationReason::SolverConverged)
        } else {
            TerminationStatus::NotTerminated
        }
    }
}

impl StagedNewton<'_> {
    fn next_stage(&mut self) {
        self.stage += 1;
        self.steps = 0;
        self.done = self.stage == self.stages.len();
        self.stage = self.stage.min(self.stages.len() - 1);
        self.value = f64::NAN;
    }

    /// −(H + λ)⁻¹·g with the smallest λ tried that makes it descend.
    fn step(&self) -> Vec<f64> {
        let scale = self.hessian.largest_on_diagonal().max(1e-300);
        let mut damping = 0.0;
        for _ in 0..24 {
            let mut step: Vec<f64> = self.gradient.iter().map(|g| -g).collect();
            if self.hessian.solve(damping, &mut step) && step.iter().all(|s| s.is_finite()) {
                return step;
            }
            damping = if damping == 0.0 { 1e-10 * scale } else { damping * 10.0 };
        }
        self.gradient.iter().map(|g| -g / scale).collect()
    }
}
