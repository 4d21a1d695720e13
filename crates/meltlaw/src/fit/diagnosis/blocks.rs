//! Blocks (days, coils, plates) as a random effect.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::working::{Group, Working};
use super::{WARNS_BELOW, judged, name_list};
use crate::laws::{BetweenBlocks, FitTest, Reading};

/// Probability below which the intervals take the scatter between blocks in. Looser than a warning: what is
/// left out by chance makes intervals too narrow.
const TAKEN_IN_BELOW: f64 = 0.05;

const EXPECTED: &str = "blocks (days, coils, plates) lie at the same level";

/// Trials of each block, as a column of the blocks' common shift.
struct Blocks {
    names: Vec<String>,
    columns: Vec<DVector<f64>>,
}

fn columns(working: &Working, blocks: &[Option<&str>]) -> Blocks {
    let mut members: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, block) in blocks.iter().enumerate() {
        if let Some(block) = block {
            members.entry(block).or_default().push(i);
        }
    }
    let column = |members: &Vec<usize>| {
        let mut c = DVector::zeros(working.residual.len());
        for &i in members {
            c[i] = working.sensitivity[i];
        }
        c
    };
    Blocks { names: members.keys().map(|k| (*k).to_owned()).collect(), columns: members.values().map(column).collect() }
}

/// The test of the blocks' levels, and their scatter where there is more than trials alone explain.
///
/// ```text
/// r = Jδ + C·u + ε, u ~ N(0, σ_b²): σ_b² = (SS_C − rank·s²)/tr(C⊥ᵀC⊥),  added covariance σ_b²·A·Aᵀ, A = (JᵀJ)⁻¹JᵀC
/// ```
///
/// # Source
/// Henderson's third method (1953), Biometrics 9, 226; degrees of freedom by Satterthwaite (1946), Biometrics
/// Bull. 2, 110 (both from memory).
pub(super) fn blocks(
    working: &Working,
    blocks: &[Option<&str>],
    covariance: &DMatrix<f64>,
) -> (FitTest, Option<BetweenBlocks>) {
    let found = columns(working, blocks);
    let unit = working.shift.unit;
    let not_made = |reason: &str| {
        (FitTest::not_made(unit, EXPECTED, reason, "name the block (day, coil, plate) of every trial"), None)
    };
    if found.names.len() < 2 {
        return not_made("fewer than two blocks are named");
    }
    let Some(group) = working.added_group(&found.columns) else {
        return not_made("the blocks cannot be told from the law's own coefficients, or too few trials are left");
    };
    let deviation = spread(&group);
    let effect = deviation * working.shift.per_unit;
    let few = found.names.len() - 1;
    let advice = if few < 4 {
        format!(
            "find what changed between the blocks; {} blocks say little of the next one, so weld the same two settings in at least three more",
            found.names.len()
        )
    } else {
        "find what changed between the blocks (coil, contact tip, probe zero) and weld the same two settings in every block".to_owned()
    };
    let mut test = FitTest {
        statistic: Some(group.f),
        p_value: Some(group.p),
        effect: Some(effect),
        unit: unit.to_owned(),
        reading: judged(
            EXPECTED,
            format!("blocks scatter by {effect:.2} {unit} of {}", working.shift.what),
            group.p,
            &advice,
        ),
        warns: group.p < WARNS_BELOW,
        trials: Vec::new(),
        reason: None,
    };
    if !(group.p < TAKEN_IN_BELOW && deviation > 0.0) {
        return (test, None);
    }
    if !test.warns {
        test.reading.action = "the intervals take the scatter between blocks in".to_owned();
    }
    let rows: Vec<DVector<f64>> =
        found.columns.iter().map(|c| &working.covariance * working.jacobian.tr_mul(c) * deviation).collect();
    let a = DMatrix::from_columns(&rows);
    let added = &a * a.transpose();
    let degrees = (0..added.nrows())
        .map(|i| satterthwaite(covariance[(i, i)], working.degrees, added[(i, i)], few as f64))
        .fold(f64::INFINITY, f64::min);
    let between = BetweenBlocks {
        standard_deviation: deviation,
        effect,
        effect_unit: unit.to_owned(),
        blocks: found.names.len(),
        covariance: added.row_iter().map(|r| r.iter().copied().collect()).collect(),
        degrees_of_freedom: degrees,
        reading: Reading::new(
            EXPECTED,
            format!(
                "{} blocks ({}) scatter by {effect:.2} {unit} of {} beyond what their trials explain",
                found.names.len(),
                name_list(&found.names),
                working.shift.what
            ),
            advice,
        ),
    };
    (test, Some(between))
}

/// Standard deviation of the blocks' levels by the method of moments.
fn spread(group: &Group) -> f64 {
    ((group.taken - group.numerator * group.within) / group.trace).max(0.0).sqrt()
}

/// Degrees of freedom of a sum of two variances with `d1` and `d2` degrees.
pub fn satterthwaite(v1: f64, d1: f64, v2: f64, d2: f64) -> f64 {
    (v1 + v2).powi(2) / (v1 * v1 / d1 + v2 * v2 / d2)
}
