//! Random streams: one per draw, so that results depend neither on the number of threads nor on the
//! order of work.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Binomial, ChiSquared, Distribution, StandardNormal};

/// What a stream is for: streams of different purposes never share numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Coefficients, calibration and the next weld.
    Composing = 1,
    /// Invented labs.
    Simulation = 2,
    /// Readings and counts redrawn around a fitted law.
    Resampling = 3,
    /// How wide a simultaneous interval of differences is.
    Comparing = 4,
    /// Laws for what nobody welded.
    Extending = 5,
}

/// The random numbers of one draw.
#[derive(Debug)]
pub struct DrawStream(ChaCha8Rng);

impl DrawStream {
    /// The stream of draw `index` under `seed`.
    pub fn new(seed: u64, purpose: Purpose, index: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed ^ ((purpose as u64) << 56));
        generator.set_stream(index);
        Self(generator)
    }

    /// A standard normal number.
    #[inline]
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// √(ν/χ²_ν), the factor that turns a normal vector into a Student's t vector; 1 for infinite ν.
    pub fn student_factor(&mut self, degrees_of_freedom: f64) -> f64 {
        if !degrees_of_freedom.is_finite() {
            return 1.0;
        }
        ChiSquared::new(degrees_of_freedom).map_or(1.0, |d| (degrees_of_freedom / d.sample(&mut self.0)).sqrt())
    }

    /// Successes in `trials` of one chance each; a chance outside 0 to 1 counts as the nearer end.
    pub fn binomial(&mut self, trials: u64, chance: f64) -> u64 {
        // The clamp leaves nothing that the constructor refuses but NaN, whose count is none.
        Binomial::new(trials, chance.clamp(0.0, 1.0)).map_or(0, |b| b.sample(&mut self.0))
    }

    /// A number uniform in 0 to 1.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        use rand_distr::uniform::{UniformFloat, UniformSampler};
        UniformFloat::<f64>::sample_single(0.0, 1.0, &mut self.0).unwrap_or(0.5)
    }
}
