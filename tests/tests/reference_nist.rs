//! Least squares against the certified values of NIST, through the minimiser that the laws use, and the table
//! of digits that it reaches.
//!
//! Source: NIST StRD (see `datasets/reference/nist_strd/README.md`), with 22-digit solutions beside the
//! certified ones.
#![allow(clippy::print_stdout, reason = "a validation writes its counts")]

use meltlaw::fit::information::{STRONGLY_COLLINEAR, digits_left};
use meltlaw::fit::least_squares::{Minimum, covariance_and_leverage, minimise};
use meltlaw_tests::digits::{digits, fewest_digits};
use meltlaw_tests::digits_table::{Reached, hold_against_kept};
use meltlaw_tests::nist::{
    ANOVA, LINEAR, NONLINEAR, Nonlinear, UNIVARIATE, analysis_of_variance, linear, nonlinear, univariate,
};
use meltlaw_tests::reference::{json, number, numbers};
use nalgebra::DMatrix;

/// Standard errors from the factor of the derivatives and the residual spread.
fn standard_errors(found: &Minimum) -> Vec<f64> {
    let (covariance, _) = covariance_and_leverage(&found.jacobian).expect("columns are independent at a minimum");
    covariance.diagonal().iter().map(|v| v.sqrt() * residual_spread(found)).collect()
}

fn residual_spread(found: &Minimum) -> f64 {
    (found.sum_of_squares() / (found.residuals.len() - found.b.len()) as f64).sqrt()
}

/// The 27 nonlinear sets from both starts.
fn nonlinear_sets() -> Vec<Reached> {
    let reference = json("reference/nist_strd/nonlinear_reference.json");
    let mut reached = Vec::new();
    for (name, model) in NONLINEAR {
        let set = nonlinear(name);
        let at = |what: &str| format!("/sets/{name}/{what}");
        let wanted = numbers(&reference, &at("coefficients"));
        for (i, start) in set.starts.iter().enumerate() {
            let found = minimise(&Nonlinear(&set, model), start);
            assert!(found.ending.converged(), "{name} from start {}: {:?}", i + 1, found.ending);
            // Eleven digits are printed, certified to the last.
            assert!(fewest_digits(&found.b, &set.certified) >= 10.0, "{name} from start {}", i + 1);
            reached.push(Reached {
                set: name,
                start: Some(i + 1),
                coefficients: fewest_digits(&found.b, &wanted),
                standard_errors: Some(fewest_digits(
                    &standard_errors(&found),
                    &numbers(&reference, &at("standard_errors")),
                )),
                sum_of_squares: Some(digits(
                    found.sum_of_squares(),
                    number(&reference, &at("residual_sum_of_squares")),
                )),
                limits: None,
                condition: found.condition(),
            });
        }
    }
    reached
}

/// The 11 linear sets.
fn linear_sets() -> Vec<Reached> {
    let reference = json("reference/nist_strd/linear_reference.json");
    let mut reached = Vec::new();
    for (name, degree, intercept) in LINEAR {
        let model = linear(name, degree, intercept);
        let at = |what: &str| format!("/sets/{name}/{what}");
        let wanted = numbers(&reference, &at("coefficients"));
        let found = minimise(&model, &vec![0.0; wanted.len()]);
        assert!(found.ending.converged(), "{name}: {:?}", found.ending);
        // The reference's own condition, stored to three digits.
        let condition = number(&reference, &at("column_scaled_condition"));
        assert!((found.condition() / condition - 1.0).abs() < 0.01, "{name}: {:e} {condition:e}", found.condition());
        reached.push(Reached {
            set: name,
            start: None,
            coefficients: fewest_digits(&found.b, &wanted),
            standard_errors: Some(fewest_digits(
                &standard_errors(&found),
                &numbers(&reference, &at("standard_errors")),
            )),
            sum_of_squares: Some(digits(found.sum_of_squares(), number(&reference, &at("residual_sum_of_squares")))),
            limits: Some(
                ["coefficients", "standard_errors"]
                    .map(|w| number(&reference, &at(&format!("double_input_limit_digits/{w}")))),
            ),
            condition: found.condition(),
        });
    }
    reached
}

/// Means and standard deviations of single columns, and group means and their spread, as linear models.
fn means() -> Vec<Reached> {
    let mut reached = Vec::new();
    for (name, limits) in UNIVARIATE {
        let set = univariate(name);
        let found = minimise(&set.model, &[0.0]);
        assert!(found.ending.converged(), "{name}: {:?}", found.ending);
        reached.push(Reached {
            set: name,
            start: None,
            coefficients: digits(found.b[0], set.mean),
            standard_errors: Some(digits(residual_spread(&found), set.standard_deviation)),
            sum_of_squares: None,
            limits: Some(limits),
            condition: found.condition(),
        });
    }
    for (name, limits) in ANOVA {
        let set = analysis_of_variance(name);
        let groups = set.model.design.ncols();
        let found = minimise(&set.model, &vec![0.0; groups]);
        assert!(found.ending.converged(), "{name}: {:?}", found.ending);
        // Squares of what each group's mean has beyond the common one, the first group's mean taken off both.
        let beyond = |j: usize| if j == 0 { 0.0 } else { found.b[j] };
        let common = (0..groups).map(|j| set.sizes[j] * beyond(j)).sum::<f64>() / set.sizes.iter().sum::<f64>();
        let between: f64 = (0..groups).map(|j| set.sizes[j] * (beyond(j) - common).powi(2)).sum();
        reached.push(Reached {
            set: name,
            start: None,
            coefficients: digits(between, set.between),
            standard_errors: Some(digits(residual_spread(&found), set.residual_spread)),
            sum_of_squares: Some(digits(found.sum_of_squares(), set.within)),
            limits: Some(limits),
            condition: found.condition(),
        });
    }
    reached
}

/// Digits of Filip's standard errors in exact rational arithmetic on powers of x that are rounded to doubles once
/// each; the stored limit of 8.2 belongs to powers rounded otherwise.
const FILIP_STANDARD_ERRORS: f64 = 7.6;

#[test]
fn the_digits_are_those_of_the_kept_table_and_reach_their_bars() {
    let (nonlinear, linear, means) = (nonlinear_sets(), linear_sets(), means());
    let mut short = Vec::new();
    for r in &nonlinear {
        // The residuals of Lanczos1 are 1e-13 of values near 1: their sum of squares, and with it the standard
        // errors, hold 3 digits in doubles (README of the data). Each exponential adds its own rounding, hence
        // half a digit less here.
        let floor = if r.set == "Lanczos1" { 2.5 } else { 10.0 };
        if r.coefficients < 11.0 || r.standard_errors < Some(floor) || r.sum_of_squares < Some(floor) {
            short.push(r);
        }
    }
    for r in linear.iter().chain(&means) {
        let [coefficients, errors] = r.limits.expect("linear sets have limits");
        let errors = if r.set == "Filip" { FILIP_STANDARD_ERRORS } else { errors };
        if r.coefficients < coefficients - 0.5 || r.standard_errors < Some(errors - 0.5) {
            short.push(r);
        }
    }
    assert!(short.is_empty(), "{short:#?}");
    hold_against_kept(&[
        ("Nonlinear sets", nonlinear),
        ("Linear sets", linear),
        ("Means and analyses of variance", means),
    ]);
}

#[test]
fn filip_is_flagged_by_its_condition_and_norris_is_not() {
    let minimum = |name, degree| {
        let model = linear(name, degree, true);
        minimise(&model, &vec![0.0; model.design.ncols()])
    };
    let filip = minimum("Filip", 10).condition();
    assert!(filip > 5e9, "{filip}");
    // At most 7 digits can be told of its coefficients, whatever the routine.
    assert!(digits_left(filip) < 7.0, "{}", digits_left(filip));
    assert!(minimum("Norris", 1).condition() < STRONGLY_COLLINEAR);
}

/// The largest cosine between the residuals and a column of derivatives.
fn largest_cosine(found: &Minimum) -> f64 {
    let jacobian: &DMatrix<f64> = &found.jacobian;
    let length = found.residuals.norm();
    jacobian.column_iter().map(|c| (c.dot(&found.residuals) / (c.norm() * length)).abs()).fold(0.0, f64::max)
}

/// Random starts per set; more by the environment: `RANDOM_STARTS=200` takes some minutes.
const RANDOM_STARTS: u64 = 10;

#[test]
fn nothing_is_reported_as_converged_elsewhere_than_at_a_stationary_point() {
    use meltlaw::statistics::{DrawStream, Purpose};
    let starts = std::env::var("RANDOM_STARTS").ok().and_then(|n| n.parse().ok()).unwrap_or(RANDOM_STARTS);
    let reference = json("reference/nist_strd/nonlinear_reference.json");
    let (mut wrong, mut certified, mut other, mut refused) = (Vec::new(), 0, 0, 0);
    for (name, model) in NONLINEAR {
        let set = nonlinear(name);
        let wanted = numbers(&reference, &format!("/sets/{name}/coefficients"));
        // Where sums of squares are rounding, so is the angle: residuals 1e-12 of the values.
        let rounding = 1e-12 * set.y.iter().map(|y| y * y).sum::<f64>().sqrt();
        let mut here = [0; 3];
        for seed in 0..starts {
            // A decade to either side of the far start, on the logarithm.
            let mut stream = DrawStream::new(seed, Purpose::Simulation, 0);
            let start: Vec<f64> =
                set.starts[0].iter().map(|b| b * 10.0_f64.powf(2.0 * stream.uniform() - 1.0)).collect();
            let found = minimise(&Nonlinear(&set, model), &start);
            if !found.ending.converged() {
                here[2] += 1;
                continue;
            }
            // Stationary: the residuals are orthogonal to every column of derivatives to a millionth.
            let cosine = largest_cosine(&found);
            if !(cosine <= 1e-6 || found.residuals.norm() <= rounding) {
                wrong.push(format!("{name}, seed {seed}: cosine {cosine:e}, {:?} at {:?}", found.ending, found.b));
            }
            let spot = if fewest_digits(&found.b, &wanted) >= 8.0 { 0 } else { 1 };
            here[spot] += 1;
        }
        if std::env::var_os("RANDOM_STARTS").is_some() {
            #[allow(clippy::print_stdout, reason = "the long run reports its counts")]
            {
                println!(
                    "{name:9} certified {:3}, other stationary {:3}, not converged {:3}",
                    here[0], here[1], here[2]
                );
            }
        }
        certified += here[0];
        other += here[1];
        refused += here[2];
    }
    assert!(wrong.is_empty(), "{} of {certified} + {other} + {refused}: {wrong:#?}", wrong.len());
    // Most starts still find the certified minimum.
    assert!(certified > other + refused, "{certified} certified, {other} elsewhere, {refused} not converged");
}
