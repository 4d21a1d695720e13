//! A refit that single trials cannot pull, beside the likelihood fit.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::working::Working;
use crate::laws::{Reading, RobustRefit};
use crate::statistics::{DrawStream, Purpose, median};

/// Residuals beyond this many robust standard deviations have no weight. With 4.685 the refit is 95 % as sharp
/// as least squares on normal errors.
const CUT: f64 = 4.685;

/// Elemental fits from which the start is chosen.
const STARTS: u64 = 300;

/// Shift of a coefficient, in its standard errors, above which the refit is a warning.
///
/// Where all is well it scatters by √(1/0.95 − 1) = 0.23 of one with many trials, and by more where the scale of
/// few trials is uncertain.
pub(super) fn notable_shift(degrees: f64) -> f64 {
    1.0 + 40.0 / degrees
}

/// The refit of a law; `None` where too few trials are left for it to mean anything.
///
/// ```text
/// minimise Σ ρ(rᵢ/σ), ρ Tukey's bisquare, σ from the least median of |r|
/// ```
///
/// # Source
/// MM-estimates: Yohai (1987), Ann. Statist. 15, 642–656; least median of squares: Rousseeuw (1984), J. Am. Statist.
/// Assoc. 79, 871–880.
pub(super) fn robust(working: &Working, names: &[String], values: &[f64], trials: &[String]) -> Option<RobustRefit> {
    let (n, p) = (working.residual.len(), working.jacobian.ncols());
    if n < 2 * p + 4 {
        return None;
    }
    let (mut shift, sigma) = start(working)?;
    let mut weights = vec![1.0; n];
    for _ in 0..200 {
        let residual = &working.residual - &working.jacobian * &shift;
        for (w, r) in weights.iter_mut().zip(residual.iter()) {
            let u = r / (CUT * sigma);
            *w = if u.abs() < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 };
        }
        let next = weighted(working, &weights)?;
        let step = (&next - &shift).amax() / next.amax().max(1e-300);
        shift = next;
        if step < 1e-10 {
            break;
        }
    }
    let scale = working.residual.norm_squared() / working.degrees;
    let se = |i: usize| (working.covariance[(i, i)] * scale).sqrt();
    let shifts: BTreeMap<String, f64> = names.iter().enumerate().map(|(i, k)| (k.clone(), shift[i] / se(i))).collect();
    let downweighted: BTreeMap<String, f64> =
        trials.iter().zip(&weights).filter(|(_, w)| **w < 0.5).map(|(t, w)| (t.clone(), *w)).collect();
    let (most, by) = shifts.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).map(|(k, v)| (k.clone(), *v))?;
    let seen = if downweighted.is_empty() {
        format!("no trial loses half its weight; {most} moves by {by:+.2} of its standard error")
    } else {
        let list: Vec<&str> = downweighted.keys().map(String::as_str).collect();
        format!(
            "{most} moves by {by:+.2} of its standard error when {} lose(s) more than half the weight",
            list.join(", ")
        )
    };
    Some(RobustRefit {
        method: "bisquare with cut 4.685 times a least-median scale".to_owned(),
        coefficients: names.iter().enumerate().map(|(i, k)| (k.clone(), values[i] + shift[i])).collect(),
        shift: shifts,
        reading: Reading::new(
            "the law stays within its error when trials far from it lose their weight",
            seen,
            if by.abs() > notable_shift(working.degrees) {
                "the law hangs on the trials named: look at their records; if one was misread, mend it or set use = no with a note; if none was, weld that setting again"
            } else {
                "nothing"
            },
        ),
        downweighted,
    })
}

/// Coefficients by weighted least squares on the linear problem.
fn weighted(working: &Working, weights: &[f64]) -> Option<DVector<f64>> {
    let p = working.jacobian.ncols();
    let mut product = DMatrix::zeros(p, p);
    let mut right = DVector::zeros(p);
    for (i, w) in weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
        let row = working.jacobian.row(i).transpose();
        product += *w * &row * row.transpose();
        right += *w * working.residual[i] * row;
    }
    product.cholesky().map(|c| c.solve(&right))
}

/// Shift of the coefficients with the least median of |r| over elemental fits, and the scale that goes with it.
fn start(working: &Working) -> Option<(DVector<f64>, f64)> {
    let (n, p) = (working.residual.len(), working.jacobian.ncols());
    let mut best: Option<(DVector<f64>, f64)> = None;
    let mut sizes = vec![0.0; n];
    for index in 0..STARTS {
        let mut stream = DrawStream::new(0, Purpose::Simulation, index);
        let mut chosen: Vec<usize> = Vec::with_capacity(p);
        while chosen.len() < p {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in a list")]
            let i = ((stream.uniform() * n as f64) as usize).min(n - 1);
            if !chosen.contains(&i) {
                chosen.push(i);
            }
        }
        let square = DMatrix::from_fn(p, p, |a, b| working.jacobian[(chosen[a], b)]);
        let right = DVector::from_fn(p, |a, _| working.residual[chosen[a]]);
        let Some(shift) = square.lu().solve(&right) else { continue };
        let residual = &working.residual - &working.jacobian * &shift;
        for (s, r) in sizes.iter_mut().zip(residual.iter()) {
            *s = r.abs();
        }
        let middle = median(&mut sizes);
        if middle.is_finite() && best.as_ref().is_none_or(|(_, b)| middle < *b) {
            best = Some((shift, middle));
        }
    }
    // 1.4826 makes the median of |normal| a standard deviation; the factor for few trials from the same source
    // as the start.
    let (shift, middle) = best?;
    let sigma = 1.4826 * (1.0 + 5.0 / (n - p) as f64) * middle;
    (sigma > 0.0).then_some((shift, sigma))
}
