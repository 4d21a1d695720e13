//! All questions, asked of one law.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::blocks::{self, Levels};
use super::working::{Shift, Working};
use super::{WARNS_BELOW, judged, name_list, outliers, robust, spread, trends};
use crate::factors::Factor;
use crate::fit::detachment::{CountedSelection, DetachmentFit, QUADRATURE_POINTS};
use crate::fit::detachment_law::{expected_drops, law_of, seen_drops};
use crate::fit::errors_in_variables::{EivFit, weighted_residuals};
use crate::fit::ordered_logit::{CountedTrial, Likelihood, Thresholds};
use crate::fit::selection::Selection;
use crate::laws::{BetweenBlocks, FitTest, Law, Reading, RobustRefit};
use crate::statistics::{GaussHermite, chi_squared_above, median};
use crate::trials::{Column, Trials};

/// What the tests of one law found.
#[derive(Debug, Clone, Default)]
pub struct Diagnosis {
    /// Tests by name.
    pub tests: BTreeMap<String, FitTest>,
    /// Scatter between blocks, where there is more than trials alone explain.
    pub between_blocks: Option<BetweenBlocks>,
    /// The refit with bounded influence.
    pub robust: Option<RobustRefit>,
    /// Trials that stand out: place among those used and distance in standard errors of what the others say.
    pub outliers: Vec<(usize, f64)>,
    /// Counted drops: each trial's distance from the law by its likelihood, in standard errors.
    pub likelihood_roots: Vec<f64>,
}

impl Diagnosis {
    /// Every test with numbers, or missing with its reason: readings without any scatter leave 0/0 behind.
    fn with_finite_tests(self) -> Self {
        let tests = self.tests.into_iter().map(|(name, test)| (name, test.finite_or_missing())).collect();
        Self { tests, ..self }
    }
}

/// What the trials used say of order, wear and factors.
struct Campaign<'a> {
    names: Vec<String>,
    run_order: Vec<Option<f64>>,
    order_is: &'static str,
    tip_minutes: Vec<Option<f64>>,
    factors: Vec<Levels<'a>>,
}

impl<'a> Campaign<'a> {
    fn of(trials: &'a Trials, used: &[usize]) -> Self {
        let by = |column: Column| -> Vec<Option<f64>> { used.iter().map(|&i| trials.rows[i].get(column)).collect() };
        let stated = by(Column::RunOrder);
        // A table without the order of welding is mostly in that order; the reading says what was taken.
        let in_order = stated.iter().any(Option::is_some);
        Self {
            names: used.iter().map(|&i| trials.rows[i].name.clone()).collect(),
            run_order: if in_order { stated } else { used.iter().map(|&i| Some(i as f64)).collect() },
            order_is: if in_order { "run order" } else { "the order of the rows (run_order is not given)" },
            tip_minutes: by(Column::TipMinutes),
            // Whoever names nothing is asked for blocks; the other factors are spoken of only where they are named.
            factors: Factor::ALL
                .into_iter()
                .map(|factor| Levels { factor, of: used.iter().map(|&i| trials.rows[i].level(factor)).collect() })
                .filter(|levels| levels.factor == Factor::Block || levels.of.iter().any(Option::is_some))
                .collect(),
        }
    }
}

/// Tests of a law fitted by least squares; `covariance` is that of its coefficients.
///
/// A common shift is relative where the law's value is a feed, and absolute where it is a voltage.
pub fn least_squares(
    law: &impl Law,
    trials: &Trials,
    selection: &Selection,
    fit: &EivFit,
    covariance: &DMatrix<f64>,
) -> Diagnosis {
    let (residual, jacobian) = weighted_residuals(law, &selection.observations, &fit.b);
    let feed = law.coefficients().iter().any(|c| c.name == "alpha_mm_per_a_s");
    // The error of one trial follows from a derivative and its weighted form.
    let n = law.quantities();
    let mut gradient = vec![0.0; fit.b.len()];
    let errors: Vec<f64> = selection
        .observations
        .iter()
        .enumerate()
        .map(|(i, o)| {
            law.gradient(&fit.b, &o.row[..n], &mut gradient);
            let largest = (0..gradient.len()).max_by(|&a, &b| {
                (jacobian[(i, a)] * fit.stated_covariance[(a, a)].sqrt())
                    .abs()
                    .total_cmp(&(jacobian[(i, b)] * fit.stated_covariance[(b, b)].sqrt()).abs())
            });
            largest.map_or(f64::NAN, |j| (gradient[j] / jacobian[(i, j)]).abs())
        })
        .collect();
    let values: Vec<f64> = selection.observations.iter().map(|o| o.y).collect();
    let typical_value = median(&mut values.clone());
    let typical_error = median(&mut errors.clone());
    let (unit, in_unit) = if feed { ("m/min", 0.06) } else { ("V", 1.0) };
    let shift = if feed {
        Shift { unit, per_unit: typical_value * in_unit, what: "feed at equal current and extension" }
    } else {
        Shift { unit, per_unit: 1.0, what: "voltage at equal current and arc length" }
    };
    let jacobian = -jacobian;
    // By the derivatives themselves, so that a shift of all trials alike is exactly what the coefficients can take
    // up; by the readings it would carry the residuals in.
    let sensitivity = if feed { &jacobian * DVector::from_row_slice(&fit.b) } else { jacobian.column(0).into_owned() };
    let working = Working {
        residual,
        jacobian,
        covariance: fit.stated_covariance.clone(),
        sensitivity,
        shift,
        degrees: fit.degrees_of_freedom() as f64,
    };
    let campaign = Campaign::of(trials, &selection.used);
    let names: Vec<String> = law.coefficients().iter().map(|c| c.name.to_owned()).collect();
    let external: Vec<Option<f64>> = (0..values.len()).map(|i| fit.external(i)).collect();
    let mut found = common(&working, &external, &campaign, covariance);
    found.robust = robust::robust(&working, &names, &fit.b, &campaign.names);
    found.tests.insert("robust".to_owned(), robust_test(found.robust.as_ref(), working.degrees));
    // Externally studentised residuals of few trials are Student's, not normal; internal ones stay near it.
    let few = fit.degrees_of_freedom() < 20;
    let studentised: Vec<Option<f64>> =
        (0..values.len()).map(|i| if few { Some(fit.internal(i)) } else { external[i] }).collect();
    let internal: Vec<f64> = (0..values.len()).map(|i| fit.internal(i)).collect();
    let fitted: Vec<f64> = fit.fitted.iter().map(|f| f * in_unit).collect();
    let error = typical_error * in_unit;
    found.tests.insert("normality".to_owned(), spread::normality(&studentised));
    found.tests.insert("lack_of_fit".to_owned(), spread::lack_of_fit(selection, fit, &campaign.names, error, unit));
    found.tests.insert("stated_errors".to_owned(), spread::stated_errors(fit, error, unit));
    found.tests.insert("heteroscedasticity".to_owned(), trends::heteroscedasticity(&fitted, &internal, unit));
    let cure = if feed {
        "weld the lowest and the highest feed at two clearly different contact-tip-to-work distances"
    } else {
        "vary the arc length at low and at high current, and weld at a second contact-tip-to-work distance"
    };
    found.tests.insert("collinearity".to_owned(), spread::collinearity(fit, cure));
    found.with_finite_tests()
}

/// Tests that every law shares.
fn common(
    working: &Working,
    studentised: &[Option<f64>],
    campaign: &Campaign<'_>,
    covariance: &DMatrix<f64>,
) -> Diagnosis {
    let mut tests = BTreeMap::new();
    tests.insert(
        "drift".to_owned(),
        trends::along(
            working,
            studentised,
            &campaign.run_order,
            campaign.order_is,
            "run_order",
            "something moved during the campaign: check the probes' zero and gain, contact tip and feed rolls, and weld the first two settings again",
        ),
    );
    tests.insert(
        "tip_wear".to_owned(),
        trends::along(
            working,
            studentised,
            &campaign.tip_minutes,
            "arc time on the contact tip",
            "tip_minutes",
            "the contact tip wears: change it sooner, and weld two settings with a new and with a worn tip",
        ),
    );
    let (of_factors, between_blocks) = blocks::all_factors(working, &campaign.factors, covariance);
    tests.extend(of_factors);
    let outliers = outliers::outliers(working);
    tests.insert("outliers".to_owned(), outlier_test(&outliers, &campaign.names));
    Diagnosis { tests, between_blocks, robust: None, outliers, likelihood_roots: Vec::new() }
}

fn outlier_test(found: &[(usize, f64)], names: &[String]) -> FitTest {
    let expected = format!(
        "no trial so far from the others that {} clean studies in 1000 show one",
        (1000.0 * outliers::OUTLIER_FAMILY).round()
    );
    let trials: Vec<String> = found.iter().map(|(i, _)| names[*i].clone()).collect();
    let farthest = found.iter().map(|(_, t)| t.abs()).fold(0.0, f64::max);
    FitTest {
        statistic: Some(found.len() as f64),
        p_value: None,
        effect: Some(found.len() as f64),
        unit: "trials".to_owned(),
        reading: Reading::new(
            expected,
            if trials.is_empty() {
                "none".to_owned()
            } else {
                format!("{} ({farthest:.0} standard errors at most)", name_list(&trials))
            },
            if trials.is_empty() {
                "nothing"
            } else {
                "look at the record of these welds for a misread or miscopied number, a slipped wire, a short window; mend it, or set use = no with a note; where nothing is wrong leave them in and weld the setting again"
            },
        ),
        warns: !trials.is_empty(),
        trials,
        reason: Some("the limit keeps the rate over all trials; single trials have their surprise".to_owned()),
    }
}

fn robust_test(refit: Option<&RobustRefit>, degrees: f64) -> FitTest {
    let Some(refit) = refit else {
        return FitTest::not_made(
            "standard errors",
            "the law stays within its error when trials far from it lose their weight",
            "too few trials for a refit with bounded influence, or residuals without any spread",
            "weld more trials",
        );
    };
    let most = refit.shift.values().fold(0.0, |m: f64, v| if v.abs() > m.abs() { *v } else { m });
    FitTest {
        statistic: Some(most),
        p_value: None,
        effect: Some(most),
        unit: "standard errors".to_owned(),
        reading: refit.reading.clone(),
        warns: most.abs() > robust::notable_shift(degrees),
        trials: refit.downweighted.keys().cloned().collect(),
        reason: Some("a shift is held against the standard error, not against chance".to_owned()),
    }
}

/// Tests of the detachment law, on its mean drops per pulse.
///
/// A common shift is one of s, told as pulse time in the middle of the window at the reference current.
/// `covariance_q` is that of (n, ln k, s1, ln(s2 − s1)).
pub fn counted_drops(
    trials: &Trials,
    selection: &CountedSelection,
    fit: &DetachmentFit,
    covariance_q: &DMatrix<f64>,
) -> Diagnosis {
    const H: f64 = 1e-5;
    let rule = GaussHermite::new(QUADRATURE_POINTS);
    let law = fit.law();
    let n = fit.trials.len();
    let mut residual = DVector::zeros(n);
    let mut jacobian = DMatrix::zeros(n, 4);
    let mut sensitivity = DVector::zeros(n);
    for (i, trial) in fit.trials.iter().enumerate() {
        let (expected, variance) = expected_drops(&law, trial, &rule);
        let error = variance.sqrt();
        residual[i] = likelihood_root(fit, trial, seen_drops(trial) >= expected, &rule);
        for j in 0..4 {
            let [low, high] = [-H, H].map(|h| {
                let mut q = fit.q;
                q[j] += h;
                expected_drops(&law_of(&q), trial, &rule).0
            });
            jacobian[(i, j)] = (high - low) / (2.0 * H) / error;
        }
        let [low, high] = [-H, H].map(|h| {
            let mut moved = *trial;
            moved.log_time += h;
            expected_drops(&law, &moved, &rule).0
        });
        sensitivity[i] = (high - low) / (2.0 * H) / error;
    }
    let campaign = Campaign::of(trials, &selection.used);
    let middle_ms = f64::midpoint(law.one_drop_s, law.more_drops_s).exp();
    let covariance = jacobian.tr_mul(&jacobian).cholesky().map(|c| c.inverse());
    let Some(covariance) = covariance.filter(|_| residual.iter().all(|r: &f64| r.is_finite())) else {
        return Diagnosis::default();
    };
    let working = Working {
        residual,
        jacobian,
        covariance,
        sensitivity,
        shift: Shift { unit: "ms", per_unit: middle_ms, what: "pulse time mid-window" },
        degrees: fit.degrees_of_freedom as f64,
    };
    let roots: Vec<Option<f64>> = working.residual.iter().map(|r| Some(*r)).collect();
    let mut found = common(&working, &roots, &campaign, covariance_q);
    found.tests.insert("regular_counts".to_owned(), regular_counts(&working));
    found.likelihood_roots = working.residual.as_slice().to_vec();
    found.with_finite_tests()
}

/// How far a trial lies from where the law expects it, in standard errors by its likelihood: the signed root of
/// twice what a shift of its own would gain.
///
/// Rare drops make (seen − expected)/standard error far from normal; this is not.
fn likelihood_root(fit: &DetachmentFit, trial: &CountedTrial, more: bool, rule: &GaussHermite) -> f64 {
    let problem = Likelihood {
        trials: std::slice::from_ref(trial),
        rule,
        thresholds: Thresholds::Both,
        with_unknown: true,
        free: vec![],
        fixed: fit.q,
    };
    let at = |shift: f64| {
        let d = problem.trial(&fit.q, &CountedTrial { log_time: trial.log_time + shift, ..*trial });
        // A shift of the setting is one of both thresholds the other way.
        (d.value, -d.gradient[2], d.hessian[2][2])
    };
    let (start, mut slope, mut bend) = at(0.0);
    let (mut shift, mut best) = (0.0, start);
    for _ in 0..40 {
        let step = (slope / bend.abs().max(1e-12)).clamp(-0.3, 0.3);
        let mut scale = 1.0;
        let next = loop {
            let found = at(shift + scale * step);
            if found.0 >= best || scale < 1e-3 {
                break found;
            }
            scale *= 0.5;
        };
        if next.0 <= best + 1e-10 {
            best = best.max(next.0);
            break;
        }
        shift += scale * step;
        (best, slope, bend) = next;
        if shift.abs() > 5.0 {
            break;
        }
    }
    let root = (2.0 * (best - start).max(0.0)).sqrt();
    if more { root } else { -root }
}

/// Counts more regular than counting allows: the mark of counts copied or worked out instead of counted.
fn regular_counts(working: &Working) -> FitTest {
    let expected = "counts scatter at least as counting makes them";
    let chi = working.residual.norm_squared();
    let below = 1.0 - chi_squared_above(chi, working.degrees);
    let ratio = (chi / working.degrees).sqrt();
    FitTest {
        statistic: Some(chi),
        p_value: Some(below),
        effect: Some(ratio),
        unit: "1".to_owned(),
        reading: judged(
            expected,
            format!("counts scatter {ratio:.2} times as much as counting and the fitted trial scatter make them"),
            below,
            "counts this regular were hardly counted pulse by pulse: ask whether they were worked out from a drop frequency, and count again from the video",
        ),
        warns: below < WARNS_BELOW,
        trials: Vec::new(),
        reason: None,
    }
}
