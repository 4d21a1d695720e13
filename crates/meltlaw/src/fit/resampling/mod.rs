//! Parametric replicates of the fits: what the trials' errors could as well have given is redrawn around the
//! fitted law and every replicate is fitted again with the same minimum as the fit itself.
//!
//! `burn_off` redraws readings (`readings`), `detachment` redraws counted drops (`counts`). Where the errors have
//! their usual form a kernel of its own refits (`burn_off_kernel`, `detachment_kernel`: trials four abreast,
//! nothing allocated between replicates); any other form takes the general fit. Replicate i uses random
//! stream i and nothing else, so results depend neither on the number of threads nor on the order of work.

mod abreast;
mod burn_off;
mod burn_off_kernel;
mod counts;
mod detachment;
mod detachment_kernel;
mod readings;
mod small_systems;

pub use burn_off::{BurnOffRequest, Truth, burn_off};
pub use detachment::{DetachmentRequest, Scatter, detachment};
pub use readings::Behind;

/// One refit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Replicate<const N: usize> {
    /// Number of the replicate, which is that of its random stream.
    pub index: usize,
    /// Coefficients, in the order of the fit.
    pub coefficients: [f64; N],
    /// Their covariance from this replicate's own information, not scaled; zero for coefficients that were
    /// held. With it a replicate's distance from the fit can be studentised.
    pub covariance: [[f64; N]; N],
    /// The minimum of the weighted sum of squares, where the fit is one of least squares.
    pub sum_of_squares: Option<f64>,
}

/// Why a replicate has no coefficients.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Failure {
    /// Its classes do not overlap, or one of them is missing.
    Separated,
    /// No minimum was found.
    NotConverged,
}

/// All replicates, in the order of their numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Replicates<const N: usize> {
    /// Those that could be fitted.
    pub fitted: Vec<Replicate<N>>,
    /// Numbers of the others and why: part of the answer, since an interval from the rest alone is too short.
    pub failed: Vec<(usize, Failure)>,
}

impl<const N: usize> Replicates<N> {
    fn sort(outcomes: Vec<Result<Replicate<N>, Failure>>) -> Self {
        let mut all = Self { fitted: Vec::with_capacity(outcomes.len()), failed: Vec::new() };
        for (index, outcome) in outcomes.into_iter().enumerate() {
            match outcome {
                Ok(replicate) => all.fitted.push(Replicate { index, ..replicate }),
                Err(why) => all.failed.push((index, why)),
            }
        }
        all
    }
}
