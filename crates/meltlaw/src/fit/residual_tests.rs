//! Tests of a fit by its residuals: effect first, p second, and what to do.

use std::collections::BTreeMap;

use super::errors_in_variables::EivFit;
use super::selection::Selection;
use crate::laws::{FitTest, Reading};
use crate::statistics::{chi_squared_above, f_above, mean, shapiro_wilk, student_t_two_sided};
use crate::trials::{Column, Trials};

/// Below this probability a test says that something is there; above it, nothing.
const NOTABLE: f64 = 0.01;

/// All residual tests of a law fitted by least squares.
pub fn residual_tests(trials: &Trials, selection: &Selection, fit: &EivFit) -> BTreeMap<String, FitTest> {
    let studentised: Vec<Option<f64>> = (0..selection.used.len()).map(|i| fit.external(i)).collect();
    let mut tests = BTreeMap::new();
    let by =
        |column: Column| -> Vec<Option<f64>> { selection.used.iter().map(|&i| trials.rows[i].get(column)).collect() };
    tests.insert("drift".to_owned(), trend(&studentised, &by(Column::RunOrder), "run order", "run_order"));
    tests.insert(
        "tip_wear".to_owned(),
        trend(&studentised, &by(Column::TipMinutes), "arc time on the contact tip", "tip_minutes"),
    );
    let blocks: Vec<Option<&str>> = selection.used.iter().map(|&i| trials.rows[i].block.as_deref()).collect();
    tests.insert("blocks".to_owned(), blocks_test(fit, &blocks));
    tests.insert("normality".to_owned(), normality(&studentised));
    tests.insert("lack_of_fit".to_owned(), lack_of_fit(selection, fit));
    tests.insert("stated_errors".to_owned(), stated_errors(fit));
    tests.into_iter().map(|(name, test)| (name, test.finite_or_missing())).collect()
}

/// Correlation of the studentised residuals with a column.
fn trend(residuals: &[Option<f64>], order: &[Option<f64>], what: &str, column: &str) -> FitTest {
    let expected = format!("no trend of the residuals in {what}");
    let pairs: Vec<(f64, f64)> = residuals.iter().zip(order).filter_map(|(r, o)| Some(((*r)?, (*o)?))).collect();
    let not = |reason: String| FitTest::not_made("1", &expected, reason, &format!("note {column} for every trial"));
    if pairs.len() < 5 {
        return not(format!("{column} is given for {} of the trials used, five are needed", pairs.len()));
    }
    let r = correlation(&pairs);
    if !r.is_finite() {
        return not(format!("{column} is the same for all trials"));
    }
    let degrees = pairs.len() as f64 - 2.0;
    let t = r * (degrees / (1.0 - r * r).max(1e-300)).sqrt();
    let p = student_t_two_sided(t, degrees);
    FitTest {
        statistic: Some(r),
        p_value: Some(p),
        effect: Some(r),
        unit: "1".to_owned(),
        reading: Reading::new(
            expected,
            format!("correlation {r:.2} (p = {p:.2})"),
            if p < NOTABLE {
                format!(
                    "something moved with {what}: look at probe, contact tip and feed rolls, and weld a few early settings again"
                )
            } else {
                "nothing".to_owned()
            },
        ),
        warns: false,
        trials: Vec::new(),
        reason: None,
    }
}

/// Pearson's correlation.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let (mx, my) =
        (mean(&pairs.iter().map(|p| p.0).collect::<Vec<_>>()), mean(&pairs.iter().map(|p| p.1).collect::<Vec<_>>()));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        xx += (x - mx) * (x - mx);
        yy += (y - my) * (y - my);
        xy += (x - mx) * (y - my);
    }
    if xx <= 0.0 || yy <= 0.0 { f64::NAN } else { xy / (xx * yy).sqrt() }
}

/// One-way analysis of variance of the weighted residuals by block.
fn blocks_test(fit: &EivFit, blocks: &[Option<&str>]) -> FitTest {
    let expected = "blocks (days, coils, plates) lie at the same level";
    let mut groups: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (e, block) in fit.weighted.iter().zip(blocks) {
        if let Some(block) = block {
            groups.entry(block).or_default().push(*e);
        }
    }
    groups.retain(|_, v| v.len() >= 2);
    let all: usize = groups.values().map(Vec::len).sum();
    if groups.len() < 2 || all <= groups.len() {
        return FitTest::not_made(
            "1",
            expected,
            "fewer than two blocks with two trials each are named",
            "name the block (day, coil, plate) of every trial",
        );
    }
    let total = groups.values().flatten().sum::<f64>() / all as f64;
    let (mut between, mut within) = (0.0, 0.0);
    for values in groups.values() {
        let m = mean(values);
        between += values.len() as f64 * (m - total) * (m - total);
        within += values.iter().map(|v| (v - m) * (v - m)).sum::<f64>();
    }
    let (d1, d2) = ((groups.len() - 1) as f64, (all - groups.len()) as f64);
    let f = between / d1 / (within / d2);
    let p = f_above(f, d1, d2);
    let levels: Vec<f64> = groups.values().map(|v| mean(v)).collect();
    let [low, high] = crate::statistics::range(levels);
    FitTest {
        statistic: Some(f),
        p_value: Some(p),
        effect: Some(high - low),
        unit: "standard errors of one trial".to_owned(),
        reading: Reading::new(
            expected,
            format!("block means are up to {:.1} standard errors of one trial apart (p = {p:.2})", high - low),
            if p < NOTABLE {
                "the intervals do not cover a shift between blocks: find its cause, or weld the same setting once in every block"
            } else {
                "nothing"
            },
        ),
        warns: false,
        trials: Vec::new(),
        reason: None,
    }
}

fn normality(studentised: &[Option<f64>]) -> FitTest {
    let expected = "residuals like a normal sample";
    let values: Vec<f64> = studentised.iter().filter_map(|v| *v).collect();
    match shapiro_wilk(&values) {
        Some(found) => FitTest {
            statistic: Some(found.statistic),
            p_value: Some(found.p_value),
            effect: Some(found.statistic),
            unit: "1".to_owned(),
            reading: Reading::new(
                expected,
                format!("W = {:.3}, p = {:.2}", found.statistic, found.p_value),
                if found.p_value < NOTABLE {
                    "look at the trials that stand out in the residual plot; one wrong number is the usual cause"
                } else {
                    "nothing"
                },
            ),
            warns: false,
            trials: Vec::new(),
            reason: None,
        },
        None => FitTest::not_made("1", expected, "3 to 5000 residuals that differ are needed", "weld more trials"),
    }
}

/// Spread among repeats against the spread about the law. Repeats are trials whose mean current and
/// other predictors agree within 1.5 %.
fn lack_of_fit(selection: &Selection, fit: &EivFit) -> FitTest {
    let expected = "trials at the same setting scatter as much as trials at different ones";
    let alike = |a: usize, b: usize| {
        selection.observations[a]
            .row
            .iter()
            .zip(&selection.observations[b].row)
            .all(|(x, y)| (x - y).abs() <= 0.015 * x.abs().max(y.abs()))
    };
    let mut group = vec![usize::MAX; selection.used.len()];
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for i in 0..group.len() {
        match groups.iter().position(|g| alike(g[0], i)) {
            Some(found) => groups[found].push(i),
            None => groups.push(vec![i]),
        }
        group[i] = groups.len();
    }
    let (mut pure, mut pure_degrees) = (0.0, 0usize);
    for members in groups.iter().filter(|g| g.len() > 1) {
        let values: Vec<f64> = members.iter().map(|&i| fit.weighted[i]).collect();
        let m = mean(&values);
        pure += values.iter().map(|v| (v - m) * (v - m)).sum::<f64>();
        pure_degrees += members.len() - 1;
    }
    let degrees = fit.degrees_of_freedom();
    if pure_degrees == 0 || degrees <= pure_degrees {
        return FitTest::not_made(
            "1",
            expected,
            "no two trials used were welded at the same setting",
            "repeat two settings: that is enough to test it",
        );
    }
    let rest = (degrees - pure_degrees) as f64;
    let f = ((fit.sum_of_squares() - pure) / rest).max(0.0) / (pure / pure_degrees as f64);
    let p = f_above(f, rest, pure_degrees as f64);
    FitTest {
        statistic: Some(f),
        p_value: Some(p),
        effect: Some(f.sqrt()),
        unit: "1".to_owned(),
        reading: Reading::new(
            expected,
            format!(
                "scatter about the law {:.2} times that of repeats (p = {p:.2}, {pure_degrees} degrees from repeats)",
                f.sqrt()
            ),
            if p < NOTABLE {
                "the law does not follow the trials everywhere: look at the residuals over current and extension, and compare the other forms"
            } else {
                "nothing"
            },
        ),
        warns: false,
        trials: Vec::new(),
        reason: None,
    }
}

/// χ² of the stated errors: too large, and something is missing; too small, and they were overstated.
fn stated_errors(fit: &EivFit) -> FitTest {
    let degrees = fit.degrees_of_freedom() as f64;
    let chi = fit.sum_of_squares();
    let above = chi_squared_above(chi, degrees);
    let p = 2.0 * above.min(1.0 - above);
    let ratio = (chi / degrees).sqrt();
    FitTest {
        statistic: Some(chi),
        p_value: Some(p),
        effect: Some(ratio),
        unit: "1".to_owned(),
        reading: Reading::new(
            "residuals as large as the stated errors",
            format!("residuals {ratio:.2} times the stated errors (p = {p:.2})"),
            if p >= NOTABLE {
                "nothing"
            } else if ratio > 1.0 {
                "trials scatter more than stated: look for trials that stand out and for errors not stated; intervals from residuals allow for it"
            } else {
                "trials scatter less than stated: the stated errors are cautious"
            },
        ),
        warns: false,
        trials: Vec::new(),
        reason: None,
    }
}
