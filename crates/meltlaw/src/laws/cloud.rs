//! Where a law's trials lie together: a place can lie within every single range and still where nobody welded.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::statistics::mean;

/// Share of a variable's variance that the variables before it leave, below which it is one of them again.
const OWN_VARIANCE: f64 = 1e-6;

/// Rounding allowed for the farthest trial itself.
const ROUNDING: f64 = 1e-9;

/// The trials of a law as one cloud in the law's own variables.
///
/// ```text
/// d² = (v − m)ᵀ·S⁻¹·(v − m): m mean, S covariance over the trials used, as read
/// ```
///
/// d²/(n − 1) + 1/n is the leverage in a law with intercept, so d sees the scale that leverage in a law without
/// one is blind to; no change of units or of linear combinations alters it.
///
/// # Source
/// Mahalanobis, Proc. Nat. Inst. Sci. India 2 (1936) 49–55; its tie to leverage: Weisberg, Applied Linear
/// Regression (from memory).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrialCloud {
    /// Number of trials.
    pub trials: usize,
    /// The variables, named as in `range`; one that the others determine is left out.
    pub variables: Vec<String>,
    /// Mean of each.
    pub mean: Vec<f64>,
    /// Covariance over the trials, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// The trial farthest out and its d; null where no two variables are free of one another.
    pub farthest: Option<CloudEnd>,
    /// The trials at both ends of each range.
    pub ends: BTreeMap<String, [CloudEnd; 2]>,
}

/// The trial that something ends with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CloudEnd {
    /// Its identifier.
    pub trial: String,
    /// Its reading, or how far out it lies.
    pub value: f64,
    /// The same of the next trial: where the range would end without this one; null for a single trial.
    pub next: Option<f64>,
}

impl TrialCloud {
    /// From one column of readings per variable, in the order of the trials. `along` are variables that
    /// have a range only.
    pub fn new(trials: &[String], jointly: &[(&str, Vec<f64>)], along: &[(&str, Vec<f64>)]) -> Self {
        let n = trials.len();
        let means: Vec<f64> = jointly.iter().map(|(_, column)| mean(column)).collect();
        let spread = |i: usize, j: usize| {
            let pairs = jointly[i].1.iter().zip(&jointly[j].1);
            pairs.map(|(a, b)| (a - means[i]) * (b - means[j])).sum::<f64>() / (n.max(2) - 1) as f64
        };
        let mut kept: Vec<usize> = Vec::new();
        for i in 0..jointly.len() {
            let varies = spread(i, i) > (1e-12 * means[i]).powi(2);
            if varies && own_share(&kept, i, &spread) > OWN_VARIANCE {
                kept.push(i);
            }
        }
        let ends = jointly.iter().chain(along).map(|(name, column)| ((*name).to_owned(), ends_of(trials, column)));
        let mut cloud = Self {
            trials: n,
            variables: kept.iter().map(|&i| jointly[i].0.to_owned()).collect(),
            mean: kept.iter().map(|&i| means[i]).collect(),
            covariance: kept.iter().map(|&i| kept.iter().map(|&j| spread(i, j)).collect()).collect(),
            farthest: None,
            ends: ends.collect(),
        };
        if let Some(region) = JointRegion::about(&cloud) {
            let at = |row: usize| kept.iter().map(|&i| jointly[i].1[row]).collect::<Vec<_>>();
            let distances: Vec<f64> = (0..n).map(|row| region.distance(&at(row))).collect();
            let [_, farthest] = ends_of(trials, &distances);
            cloud.farthest = Some(farthest);
        }
        cloud
    }

    /// The cloud with one more trial, to first order: how far out the others lie is kept.
    #[must_use]
    pub fn with(&self, place: &[f64]) -> Self {
        let n = self.trials as f64;
        let off: Vec<f64> = place.iter().zip(&self.mean).map(|(v, m)| v - m).collect();
        let mut cloud = self.clone();
        cloud.trials += 1;
        for (i, m) in cloud.mean.iter_mut().enumerate() {
            *m += off[i] / (n + 1.0);
        }
        for (i, row) in cloud.covariance.iter_mut().enumerate() {
            for (j, s) in row.iter_mut().enumerate() {
                *s = ((n - 1.0) * *s + n / (n + 1.0) * off[i] * off[j]) / n;
            }
        }
        if let (Some(region), Some(farthest)) = (JointRegion::about(&cloud), cloud.farthest.as_mut()) {
            farthest.value = farthest.value.max(region.distance(place));
        }
        cloud
    }

    /// The cloud with each variable v as scale·v + shift, scale above 0: how far out the trials lie stays.
    #[must_use]
    pub fn mapped(&self, to: impl Fn(&str) -> [f64; 2]) -> Self {
        let by: Vec<[f64; 2]> = self.variables.iter().map(|name| to(name)).collect();
        let mut cloud = self.clone();
        for (m, [scale, shift]) in cloud.mean.iter_mut().zip(&by) {
            *m = scale * *m + shift;
        }
        for (row, [a, _]) in cloud.covariance.iter_mut().zip(&by) {
            row.iter_mut().zip(&by).for_each(|(s, [b, _])| *s *= a * b);
        }
        for (name, ends) in &mut cloud.ends {
            let [scale, shift] = to(name);
            for end in ends {
                end.value = scale * end.value + shift;
                end.next = end.next.map(|v| scale * v + shift);
            }
        }
        cloud
    }

    /// The cloud without a trial, to first order: mean and covariance are kept, and where it was the farthest
    /// the next one is.
    #[must_use]
    pub fn without(&self, trial: &str) -> Self {
        let mut cloud = self.clone();
        if let Some(farthest) = cloud.farthest.as_mut().filter(|f| f.trial == trial) {
            farthest.value = farthest.next.unwrap_or(farthest.value);
        }
        cloud
    }
}

/// Share of variable `i`'s variance that the variables kept leave to it.
fn own_share(kept: &[usize], i: usize, spread: &dyn Fn(usize, usize) -> f64) -> f64 {
    if kept.is_empty() {
        return 1.0;
    }
    let among = DMatrix::from_fn(kept.len(), kept.len(), |a, b| spread(kept[a], kept[b]));
    let with = DVector::from_fn(kept.len(), |a, _| spread(kept[a], i));
    among.lu().solve(&with).map_or(0.0, |by| 1.0 - by.dot(&with) / spread(i, i))
}

fn ends_of(trials: &[String], column: &[f64]) -> [CloudEnd; 2] {
    let mut order: Vec<usize> = (0..column.len()).collect();
    order.sort_by(|&a, &b| column[a].total_cmp(&column[b]));
    let end = |place: Option<&usize>, next: Option<&usize>| CloudEnd {
        trial: place.map(|&i| trials[i].clone()).unwrap_or_default(),
        value: place.map_or(f64::NAN, |&i| column[i]),
        next: next.map(|&i| column[i]),
    };
    let (mut forwards, mut backwards) = (order.iter(), order.iter().rev());
    [end(forwards.next(), forwards.next()), end(backwards.next(), backwards.next())]
}

/// A cloud ready to be asked about places.
#[derive(Debug, Clone)]
pub struct JointRegion {
    mean: Vec<f64>,
    /// S⁻¹.
    inverse: DMatrix<f64>,
    largest_distance: f64,
}

impl JointRegion {
    /// `None` where fewer than two variables are free of one another, or where the record is damaged.
    pub fn new(cloud: &TrialCloud) -> Option<Self> {
        let largest_distance = cloud.farthest.as_ref()?.value;
        Some(Self { largest_distance, ..Self::about(cloud)? })
    }

    fn about(cloud: &TrialCloud) -> Option<Self> {
        let p = cloud.variables.len();
        let whole = cloud.mean.len() == p && cloud.covariance.len() == p;
        if p < 2 || !whole || cloud.covariance.iter().any(|row| row.len() != p) {
            return None;
        }
        let scale: Vec<f64> = (0..p).map(|i| cloud.covariance[i][i].sqrt()).collect();
        let correlation = DMatrix::from_fn(p, p, |i, j| cloud.covariance[i][j] / (scale[i] * scale[j]));
        let inverse = correlation.cholesky()?.inverse();
        Some(Self {
            mean: cloud.mean.clone(),
            inverse: DMatrix::from_fn(p, p, |i, j| inverse[(i, j)] / (scale[i] * scale[j])),
            largest_distance: 0.0,
        })
    }

    /// d of a place.
    pub fn distance(&self, place: &[f64]) -> f64 {
        self.length(&self.off(place))
    }

    /// Whether a place lies no farther out than the farthest trial.
    pub fn holds(&self, place: &[f64]) -> bool {
        self.distance(place) <= self.largest_distance * (1.0 + ROUNDING)
    }

    /// Whether the region grown about its mean by a factor holds some place within `slack` of this one in
    /// every variable.
    pub fn holds_within(&self, place: &[f64], grown: f64, slack: &[f64]) -> bool {
        let reach = grown * self.largest_distance * (1.0 + ROUNDING);
        self.distance(place) <= reach || self.nearest(place, slack) <= reach
    }

    /// Smallest d over the box of half-widths `slack` about the place.
    ///
    /// A convex quadratic with two or three bounded variables: each lies inside or at either bound, and the best
    /// of these 3^p cases that keeps its bounds is the smallest.
    fn nearest(&self, place: &[f64], slack: &[f64]) -> f64 {
        let p = place.len();
        let centre = self.off(place);
        let case = |number: usize| {
            let kind = |i: usize| number / 3_usize.pow(i as u32) % 3;
            let mut off = DVector::from_fn(p, |i, _| centre[i] + [0.0, -slack[i], slack[i]][kind(i)]);
            let (free, held): (Vec<usize>, Vec<usize>) = (0..p).partition(|&i| kind(i) == 0);
            if !free.is_empty() {
                let among = DMatrix::from_fn(free.len(), free.len(), |a, b| self.inverse[(free[a], free[b])]);
                let pull = DVector::from_fn(free.len(), |a, _| {
                    -held.iter().map(|&j| self.inverse[(free[a], j)] * off[j]).sum::<f64>()
                });
                let best = among.cholesky()?.solve(&pull);
                for (a, &i) in free.iter().enumerate() {
                    off[i] = best[a];
                }
            }
            (0..p).all(|i| (off[i] - centre[i]).abs() <= slack[i] * (1.0 + ROUNDING)).then(|| self.length(&off))
        };
        (0..3_usize.pow(p as u32)).filter_map(case).fold(f64::INFINITY, f64::min)
    }

    /// The variable that lies farthest from what the others lead one to expect, in standard deviations about
    /// that, signed: (S⁻¹(v − m))ᵢ/√(S⁻¹)ᵢᵢ.
    pub fn least_expected(&self, place: &[f64]) -> (usize, f64) {
        let pull = &self.inverse * self.off(place);
        let off = |i: usize| pull[i] / self.inverse[(i, i)].sqrt();
        (0..place.len())
            .map(|i| (i, off(i)))
            .fold((0, 0.0), |most, at| if at.1.abs() > most.1.abs() { at } else { most })
    }

    fn off(&self, place: &[f64]) -> DVector<f64> {
        DVector::from_fn(self.mean.len(), |i, _| place[i] - self.mean[i])
    }

    fn length(&self, off: &DVector<f64>) -> f64 {
        off.dot(&(&self.inverse * off)).max(0.0).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(n: usize) -> Vec<String> {
        (1..=n).map(|i| format!("T{i}")).collect()
    }

    /// Four trials on a rising band about (2.5, 25).
    fn band() -> TrialCloud {
        TrialCloud::new(&names(4), &[("a", vec![1.0, 2.0, 3.0, 4.0]), ("b", vec![10.0, 22.0, 28.0, 40.0])], &[])
    }

    #[test]
    fn distances_are_those_worked_by_hand() {
        let cloud = band();
        // a − 2.5 = −1.5, −0.5, 0.5, 1.5 and b − 25 = −15, −3, 3, 15: sums of squares 5 and 468, of products
        // 22.5 + 1.5 + 1.5 + 22.5 = 48; over 3.
        assert!((cloud.covariance[0][0] - 5.0 / 3.0).abs() < 1e-12);
        assert!((cloud.covariance[0][1] - 16.0).abs() < 1e-12);
        assert!((cloud.covariance[1][1] - 156.0).abs() < 1e-12);
        // det S = 260 − 256 = 4. At (4, 40): d² = (156·1.5² − 2·16·1.5·15 + 5/3·15²)/4 = (351 − 720 + 375)/4 = 1.5.
        let region = JointRegion::new(&cloud).expect("two free variables");
        assert!((region.distance(&[4.0, 40.0]) - 1.5_f64.sqrt()).abs() < 1e-9);
        // At (2, 22): (156·0.25 − 2·16·0.5·3 + 5/3·9)/4 = (39 − 48 + 15)/4 = 1.5 too: all four lie alike.
        assert!((cloud.farthest.expect("two free variables").value - 1.5_f64.sqrt()).abs() < 1e-9);
        for trial in [[1.0, 10.0], [2.0, 22.0], [3.0, 28.0], [4.0, 40.0]] {
            assert!(region.holds(&trial));
        }
    }

    #[test]
    fn a_corner_of_the_box_is_outside_and_named_by_what_lies_farthest_from_expectation() {
        let region = JointRegion::new(&band()).expect("two free variables");
        // Within both ranges, far off the band: 25 − 16/(5/3) = 15.4 goes with 1.5, and 3.53 with 35.
        let corner = [1.5, 35.0];
        assert!(!region.holds(&corner));
        // b: 19.6 over √(156 − 16²/(5/3)) = 1.549; a: −2.03 over √(5/3 − 16²/156) = 0.160, the same within 1 %.
        let (which, off) = region.least_expected(&corner);
        assert!(off.abs() > 12.0 && (off > 0.0) == (which == 1), "{which} {off}");
        assert!(!region.holds_within(&corner, 1.3, &[0.45, 4.5]));
        // Off the band's flank by 0.3 of a: as much slack brings it back, less does not.
        assert!(!region.holds(&[4.3, 40.0]));
        assert!(region.holds_within(&[4.3, 40.0], 1.0, &[0.3, 0.0]));
        assert!(!region.holds_within(&[4.3, 40.0], 1.0, &[0.02, 0.0]));
    }

    #[test]
    fn the_nearest_place_is_that_of_a_fine_grid() {
        let region = JointRegion::new(&band()).expect("two free variables");
        for place in [[1.5, 35.0], [5.0, 60.0], [4.3, 30.0], [2.6, 24.0]] {
            let slack = [0.4, 3.0];
            let grid = (-200..=200)
                .flat_map(|i| (-200..=200).map(move |j| (f64::from(i) / 200.0, f64::from(j) / 200.0)))
                .map(|(a, b)| region.distance(&[place[0] + a * slack[0], place[1] + b * slack[1]]))
                .fold(f64::INFINITY, f64::min);
            let nearest = region.nearest(&place, &slack);
            // Half a step of the grid, 0.001 and 0.0075, over the standard deviations given the other, 0.16 and 1.5.
            assert!(nearest <= grid + 1e-9 && grid - nearest < 0.015, "{place:?}: {nearest} {grid}");
        }
    }

    #[test]
    fn a_mapped_cloud_holds_the_places_that_its_own_places_are_mapped_to() {
        let to = |name: &str| if name == "a" { [2.0, 0.0] } else { [1.0, -5.0] };
        let (own, mapped) = (band(), band().mapped(to));
        let regions = [&own, &mapped].map(|c| JointRegion::new(c).expect("two free variables"));
        for [a, b] in [[1.0, 10.0], [4.0, 40.0], [1.5, 35.0], [2.6, 24.0]] {
            let distances = [regions[0].distance(&[a, b]), regions[1].distance(&[2.0 * a, b - 5.0])];
            assert!((distances[0] - distances[1]).abs() < 1e-9, "{distances:?}");
        }
        assert_eq!((mapped.ends["a"][1].value, mapped.ends["b"][0].next), (8.0, Some(17.0)));
    }

    #[test]
    fn a_variable_that_the_others_determine_is_left_out() {
        let a = vec![1.0, 2.0, 4.0, 3.0];
        let twice = a.iter().map(|v| 18.0 - 2.0 * v).collect();
        let cloud = TrialCloud::new(&names(4), &[("a", a), ("b", twice), ("c", vec![5.0; 4])], &[]);
        assert_eq!(cloud.variables, ["a"]);
        assert!(JointRegion::new(&cloud).is_none());
        let [low, high] = &cloud.ends["a"];
        assert_eq!((low.trial.as_str(), low.value, low.next), ("T1", 1.0, Some(2.0)));
        assert_eq!((high.trial.as_str(), high.value, high.next), ("T3", 4.0, Some(3.0)));
    }

    #[test]
    fn one_more_trial_moves_mean_and_covariance_as_a_new_cloud_would() {
        let all = TrialCloud::new(
            &names(5),
            &[("a", vec![1.0, 2.0, 3.0, 4.0, 6.0]), ("b", vec![10.0, 22.0, 28.0, 40.0, 55.0])],
            &[],
        );
        let grown = band().with(&[6.0, 55.0]);
        assert_eq!(grown.trials, 5);
        for i in 0..2 {
            assert!((grown.mean[i] - all.mean[i]).abs() < 1e-12);
            for j in 0..2 {
                assert!((grown.covariance[i][j] - all.covariance[i][j]).abs() < 1e-10);
            }
        }
        assert!(JointRegion::new(&grown).expect("two free variables").holds(&[6.0, 55.0]));
    }
}
