//! Factors (day, spool, station, block) as a random effect.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::{DMatrix, DVector};

use super::working::{Group, Working};
use super::{WARNS_BELOW, judged, name_list};
use crate::factors::Factor;
use crate::laws::{BetweenBlocks, FitTest, Reading};

/// Probability below which the intervals take the scatter between blocks in. Looser than a warning: what is
/// left out by chance makes intervals too narrow.
const TAKEN_IN_BELOW: f64 = 0.05;

/// Most levels of a factor: the work grows with their cube. A study of more days, coils or plates has named its trials
/// instead.
const MOST_LEVELS: usize = 200;

/// A factor and its level in each trial.
#[derive(Debug)]
pub(super) struct Levels<'a> {
    pub(super) factor: Factor,
    pub(super) of: Vec<Option<&'a str>>,
}

impl Levels<'_> {
    /// For each trial the first one at its level: the same for two factors that group the trials alike.
    fn groups(&self) -> Vec<Option<usize>> {
        let mut first: BTreeMap<&str, usize> = BTreeMap::new();
        self.of.iter().enumerate().map(|(i, level)| Some(*first.entry((*level)?).or_insert(i))).collect()
    }

    /// How many levels there are.
    fn count(&self) -> usize {
        self.of.iter().flatten().collect::<BTreeSet<_>>().len()
    }

    fn expected(&self) -> String {
        let more = if self.factor == Factor::Block { " (days, coils, plates)" } else { "" };
        format!("{}{more} lie at the same level", self.factor.levels())
    }
}

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

/// The tests of all factors by name, and the scatter that the intervals take in.
///
/// Of factors that group the trials alike only the first is tested. The scatter of several factors is added up,
/// with the degrees of the one with fewest levels: too wide where they share a cause, never too narrow.
pub(super) fn all_factors(
    working: &Working,
    factors: &[Levels<'_>],
    covariance: &DMatrix<f64>,
) -> (BTreeMap<String, FitTest>, Option<BetweenBlocks>) {
    let (mut tests, mut taken_in): (BTreeMap<String, FitTest>, Option<BetweenBlocks>) = (BTreeMap::new(), None);
    for (place, levels) in factors.iter().enumerate() {
        let groups = levels.groups();
        let named = groups.iter().any(Option::is_some);
        let twin = factors[..place].iter().find(|earlier| named && earlier.groups() == groups);
        let (test, between) = match twin {
            Some(earlier) => {
                let reason = format!(
                    "the {} group the trials exactly as the {} do; {} stands for both",
                    levels.factor.levels(),
                    earlier.factor.levels(),
                    earlier.factor.name()
                );
                let cure = format!("let at least two {} share a {}", levels.factor.levels(), earlier.factor.name());
                (FitTest::not_made(working.shift.unit, &levels.expected(), reason, &cure), None)
            }
            None => blocks(working, levels, covariance),
        };
        tests.insert(levels.factor.levels().to_owned(), test);
        taken_in = match (taken_in, between) {
            (Some(one), Some(other)) => Some(together(one, other)),
            (one, other) => one.or(other),
        };
    }
    (tests, taken_in)
}

/// The scatter of two factors added up.
fn together(one: BetweenBlocks, other: BetweenBlocks) -> BetweenBlocks {
    let covariance = one.covariance.iter().zip(&other.covariance);
    let sum = |(a, b): (&Vec<f64>, &Vec<f64>)| a.iter().zip(b).map(|(x, y)| x + y).collect();
    BetweenBlocks {
        standard_deviation: one.standard_deviation.hypot(other.standard_deviation),
        effect: one.effect.hypot(other.effect),
        effect_unit: one.effect_unit,
        factors: one.factors.into_iter().chain(other.factors).collect(),
        blocks: one.blocks.min(other.blocks),
        covariance: covariance.map(sum).collect(),
        degrees_of_freedom: one.degrees_of_freedom.min(other.degrees_of_freedom),
        reading: Reading::new(
            format!("{}; {}", one.reading.expected, other.reading.expected),
            format!("{}; {}", one.reading.seen, other.reading.seen),
            format!("{}; {}", one.reading.action, other.reading.action),
        ),
    }
}

/// The test of the blocks' levels, and their scatter where there is more than trials alone explain.
///
/// ```text
/// r = Jδ + C·u + ε, u ~ N(0, σ_b²): σ_b² = (SS_C − rank·s²)/tr(C⊥ᵀC⊥),  added covariance σ_b²·A·Aᵀ, A = (JᵀJ)⁻¹JᵀC
/// ```
///
/// # Source
/// Henderson's third method (1953), Biometrics 9, 226–252; degrees of freedom by Satterthwaite (1946), Biometrics
/// Bull. 2, 110–114.
fn blocks(working: &Working, levels: &Levels<'_>, covariance: &DMatrix<f64>) -> (FitTest, Option<BetweenBlocks>) {
    let unit = working.shift.unit;
    let (word, factor) = (levels.factor.levels(), levels.factor.name());
    let not_made = |reason: String| {
        let more = if levels.factor == Factor::Block { " (day, coil, plate)" } else { "" };
        let cure = format!("name the {factor}{more} of every trial");
        (FitTest::not_made(unit, &levels.expected(), reason, &cure), None)
    };
    match levels.count() {
        0 | 1 => return not_made(format!("fewer than two {word} are named")),
        named if named > MOST_LEVELS => {
            return not_made(format!("{named} {word} are named, at most {MOST_LEVELS} can be told apart"));
        }
        _ => {}
    }
    let found = columns(working, &levels.of);
    let Some(group) = working.added_group(&found.columns) else {
        return not_made(format!(
            "the {word} cannot be told from the law's own coefficients, or too few trials are left"
        ));
    };
    let deviation = spread(&group);
    let effect = deviation * working.shift.per_unit;
    let few = found.names.len() - 1;
    let advice = if few < 4 {
        format!(
            "find what changed between the {word}; {} {word} say little of the next one, so weld the same two settings in at least three more",
            found.names.len()
        )
    } else {
        format!(
            "find what changed between the {word} (coil, contact tip, probe zero) and weld the same two settings in every {factor}"
        )
    };
    let mut test = FitTest {
        statistic: Some(group.f),
        p_value: Some(group.p),
        effect: Some(effect),
        unit: unit.to_owned(),
        reading: judged(
            levels.expected(),
            format!("{word} scatter by {effect:.2} {unit} of {}", working.shift.what),
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
        test.reading.action = format!("the intervals take the scatter between {word} in");
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
        factors: vec![factor.to_owned()],
        blocks: found.names.len(),
        covariance: added.row_iter().map(|r| r.iter().copied().collect()).collect(),
        degrees_of_freedom: degrees,
        reading: Reading::new(
            levels.expected(),
            format!(
                "{} {word} ({}) scatter by {effect:.2} {unit} of {} beyond what their trials explain",
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
