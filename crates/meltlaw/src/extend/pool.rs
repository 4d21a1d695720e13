//! Traits of several studies pooled into those of one that nobody welded.
//!
//! A study's traits yᵢ are estimates with a covariance Cᵢ; the true ones scatter about a mean that may move along the
//! diameter or the carbon dioxide:
//!
//! ```text
//! yᵢ = Xᵢ·m + uᵢ + eᵢ,  uᵢ ~ N(0, Ω(h²)),  eᵢ ~ N(0, Cᵢ)
//! ```
//!
//! How far studies scatter is judged by one level a time, a weighted sum of traits that is known well: its Q(h²)
//! (`statistics::Groups`) follows χ² at the true h², so a draw of χ² gives a draw of h². With it the mean is drawn from its
//! normal, then the new study about the mean. Where a study's own errors vanish this is exactly Student's interval with as
//! many degrees as there are studies less the mean's coefficients; few studies make wide intervals, and no study is
//! trusted to tell what it cannot.
//!
//! # Source
//! K. Nagashima, H. Noma, T. A. Furukawa, Stat. Methods Med. Res. 28 (2019) 1689–1702: prediction intervals
//! for random effects by a confidence distribution.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use crate::compose::draws::root;
use crate::statistics::{DrawStream, Groups, Purpose, chi_squared_above, chi_squared_quantile};

/// A study's traits.
#[derive(Debug, Clone)]
pub(super) struct Traits {
    pub(super) y: DVector<f64>,
    pub(super) covariance: DMatrix<f64>,
    /// Degrees of freedom of the covariance.
    pub(super) degrees: f64,
    /// X: rows are traits, columns coefficients of the mean.
    pub(super) design: DMatrix<f64>,
}

impl Traits {
    /// The value and variance of a level.
    pub(super) fn level(&self, weights: &DVector<f64>) -> (f64, f64) {
        (weights.dot(&self.y), weights.dot(&(&self.covariance * weights)).max(0.0))
    }
}

/// How the scatter between studies is had.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Between {
    /// From the studies.
    Estimated,
    /// As stated: a standard deviation in the level's unit.
    Stated(f64),
}

/// A sum of traits by which scatter between studies is judged.
#[derive(Debug, Clone)]
pub(super) struct Level {
    pub(super) weights: DVector<f64>,
    pub(super) between: Between,
    /// Standard deviation between studies that is taken where they cannot tell it, in the level's unit.
    pub(super) stated: f64,
    /// What the mean moves along, by study; empty where it does not.
    pub(super) along: Vec<f64>,
    /// Ω = h²·this.
    pub(super) unit_scatter: DMatrix<f64>,
}

/// Values, variances and what they lie along.
pub(super) struct LevelData {
    pub(super) values: Vec<f64>,
    pub(super) variances: Vec<f64>,
    pub(super) along: Vec<f64>,
}

impl LevelData {
    pub(super) fn groups(&self) -> Groups<'_> {
        Groups { values: &self.values, variances: &self.variances, along: &self.along }
    }

    /// Probability of so much scatter where a standard deviation between studies is right.
    pub(super) fn probability(&self, between: f64) -> f64 {
        let groups = self.groups();
        if groups.degrees() < 1.0 {
            return f64::NAN;
        }
        chi_squared_above(groups.scatter(between * between), groups.degrees())
    }
}

impl Level {
    pub(super) fn data(&self, traits: &[Traits]) -> LevelData {
        let (values, variances) = traits.iter().map(|t| t.level(&self.weights)).unzip();
        LevelData { values, variances, along: self.along.clone() }
    }
}

/// What is pooled, and where to.
#[derive(Debug, Clone)]
pub(super) struct Pool {
    pub(super) traits: Vec<Traits>,
    pub(super) levels: Vec<Level>,
    /// X at the target.
    pub(super) target: DMatrix<f64>,
    /// Correlation of what scatters with the levels: rows and columns of Ω are scaled, then correlated so.
    pub(super) shared: f64,
}

/// Draws of the target's traits.
#[derive(Debug, Clone)]
pub(super) struct Pooled {
    /// The pooled law carried to the target, at the estimated scatter.
    pub(super) middle: DVector<f64>,
    /// Coefficients of the mean at the estimated scatter, and their covariance.
    pub(super) mean: DVector<f64>,
    pub(super) mean_covariance: DMatrix<f64>,
    /// One row a draw.
    pub(super) draws: Vec<DVector<f64>>,
    /// Standard deviation between studies and its 95 % interval, by level; none where it is stated or none.
    pub(super) between: Vec<Option<(f64, [f64; 2])>>,
    /// Degrees of freedom that the smallest level leaves; infinite where every scatter is stated.
    pub(super) degrees: f64,
}

impl Pool {
    /// A study taken out, and the pool of the others.
    pub(super) fn without(&self, study: usize) -> (Traits, Self) {
        let mut others = self.clone();
        let own = others.traits.remove(study);
        for level in &mut others.levels {
            if !level.along.is_empty() {
                level.along.remove(study);
            }
            if level.between == Between::Estimated && !tells_scatter(others.traits.len(), level.along.is_empty()) {
                level.between = Between::Stated(level.stated);
            }
        }
        (own, others)
    }

    /// Ω for a variance of each level.
    fn scatter(&self, variances: &[f64]) -> DMatrix<f64> {
        let p = self.target.nrows();
        let mut sum = DMatrix::zeros(p, p);
        for (level, v) in self.levels.iter().zip(variances) {
            sum += &level.unit_scatter * *v;
        }
        if self.shared != 0.0 {
            for (i, a) in self.levels.iter().enumerate() {
                for (j, b) in self.levels.iter().enumerate().filter(|(j, _)| *j != i) {
                    let shared = self.shared * (variances[i] * variances[j]).sqrt();
                    // One trait a level here: the diagonal entries that stand for them.
                    let of = |l: &Level| l.unit_scatter.diagonal().map(f64::sqrt);
                    sum += of(a) * of(b).transpose() * shared;
                }
            }
        }
        sum
    }

    /// Mean coefficients and their covariance by generalised least squares; `None` where the studies leave one open.
    pub(super) fn mean(&self, scatter: &DMatrix<f64>, factors: &[f64]) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let m = self.target.ncols();
        let mut information = DMatrix::zeros(m, m);
        let mut pull = DVector::zeros(m);
        for (t, f) in self.traits.iter().zip(factors) {
            let inverse = positive_inverse(&t.covariance * *f + scatter)?;
            let weighted = t.design.transpose() * inverse;
            information += &weighted * &t.design;
            pull += weighted * &t.y;
        }
        let covariance = positive_inverse(information)?;
        Some((&covariance * pull, covariance))
    }

    /// The estimates of the levels' variances.
    fn estimates(&self) -> Vec<f64> {
        self.levels
            .iter()
            .map(|level| match level.between {
                Between::Estimated => level.data(&self.traits).groups().between(),
                Between::Stated(sd) => sd * sd,
            })
            .collect()
    }

    /// Minus twice the log of the likelihood of what the studies leave after the mean, at the estimated scatter.
    ///
    /// ```text
    /// Σ ln det Vᵢ + ln det Σ XᵢᵀVᵢ⁻¹Xᵢ + Σ (yᵢ − Xᵢm)ᵀVᵢ⁻¹(yᵢ − Xᵢm),  Vᵢ = Cᵢ + Ω
    /// ```
    pub(super) fn misfit(&self) -> f64 {
        let scatter = self.scatter(&self.estimates());
        let ones = vec![1.0; self.traits.len()];
        let Some((mean, covariance)) = self.mean(&scatter, &ones) else { return f64::INFINITY };
        let of_studies: f64 = self
            .traits
            .iter()
            .map(|t| {
                let v = &t.covariance + &scatter;
                let off = &t.y - &t.design * &mean;
                let determinant = log_determinant(&v);
                positive_inverse(v).map_or(f64::INFINITY, |i| off.dot(&(i * &off))) + determinant
            })
            .sum();
        of_studies - log_determinant(&covariance)
    }

    /// Draws the target; `None` where the studies leave a coefficient of the mean open.
    ///
    /// `new_study` draws the scatter of the new one too; without it the mean alone is drawn.
    pub(super) fn pooled(&self, seed: u64, first_stream: u64, count: usize, new_study: bool) -> Option<Pooled> {
        let estimates = self.estimates();
        let at_best = self.scatter(&estimates);
        let ones = vec![1.0; self.traits.len()];
        let (mean, mean_covariance) = self.mean(&at_best, &ones)?;
        let draws = (0..count)
            .into_par_iter()
            .with_min_len(32)
            .map(|index| {
                let mut stream = DrawStream::new(seed, Purpose::Extending, first_stream + index as u64);
                self.draw(&mut stream, new_study).unwrap_or_else(|| &self.target * &mean)
            })
            .collect();
        let between = self
            .levels
            .iter()
            .map(|level| {
                matches!(level.between, Between::Estimated).then(|| {
                    let data = level.data(&self.traits);
                    let groups = data.groups();
                    (groups.between().sqrt(), groups.interval(0.95).map(f64::sqrt))
                })
            })
            .collect();
        let degrees = self
            .levels
            .iter()
            .filter(|l| l.between == Between::Estimated)
            .map(|l| l.data(&self.traits).groups().degrees())
            .fold(f64::INFINITY, f64::min);
        Some(Pooled { middle: &self.target * &mean, mean, mean_covariance, draws, between, degrees })
    }

    fn draw(&self, stream: &mut DrawStream, new_study: bool) -> Option<DVector<f64>> {
        let p = self.target.nrows();
        let factors: Vec<f64> = self.traits.iter().map(|t| stream.student_factor(t.degrees).powi(2)).collect();
        // One chance for all levels: what scatters much in one may do so in the others.
        let chance = stream.uniform().clamp(1e-9, 1.0 - 1e-9);
        let variances: Vec<f64> = self
            .levels
            .iter()
            .map(|level| match level.between {
                Between::Estimated => {
                    let mut data = level.data(&self.traits);
                    data.variances.iter_mut().zip(&factors).for_each(|(v, f)| *v *= f);
                    let groups = data.groups();
                    groups.between_at(chi_squared_quantile(chance, groups.degrees()))
                }
                Between::Stated(sd) => sd * sd,
            })
            .collect();
        let scatter = self.scatter(&variances);
        let (mean, covariance) = self.mean(&scatter, &factors)?;
        let normal = |stream: &mut DrawStream, n: usize| DVector::from_fn(n, |_, _| stream.normal());
        let drawn = &mean + root(&covariance) * normal(stream, mean.len());
        let about = root(&scatter) * normal(stream, p);
        let at = &self.target * drawn;
        Some(if new_study { at + about } else { at })
    }
}

/// Whether so many studies can tell how far they scatter: two cannot, and a mean that moves takes one more.
pub(super) const fn tells_scatter(studies: usize, same_mean: bool) -> bool {
    studies > 2 && studies > if same_mean { 1 } else { 2 }
}

/// ln det of a covariance, in standard errors.
fn log_determinant(m: &DMatrix<f64>) -> f64 {
    let scale = m.diagonal().map(f64::sqrt);
    let correlation = DMatrix::from_fn(m.nrows(), m.ncols(), |i, j| m[(i, j)] / (scale[i] * scale[j]));
    let root = correlation.cholesky().map(|c| c.l_dirty().diagonal().iter().map(|v| v.ln()).sum::<f64>());
    2.0 * (root.unwrap_or(f64::INFINITY) + scale.iter().map(|v| v.ln()).sum::<f64>())
}

/// The inverse of a covariance, worked out in standard errors: traits differ by powers of ten.
fn positive_inverse(m: DMatrix<f64>) -> Option<DMatrix<f64>> {
    let scale = m.diagonal().map(f64::sqrt);
    if scale.iter().any(|s| !(*s > 0.0)) {
        return None;
    }
    let correlation = DMatrix::from_fn(m.nrows(), m.ncols(), |i, j| m[(i, j)] / (scale[i] * scale[j]));
    let inverse = correlation.cholesky()?.inverse();
    Some(DMatrix::from_fn(m.nrows(), m.ncols(), |i, j| inverse[(i, j)] / (scale[i] * scale[j])))
}
