//! Ordered and binary logits against published tables and 22-digit solutions.
//!
//! Tables with one or two covariates go through the likelihood of the detachment law (`Likelihood`, τ = 0) and
//! its Newton minimiser. The housing table has six covariates, more than the law has: its likelihood is
//! written here and only the minimiser is ours.

use meltlaw::fit::detachment::{CountedSelection, Outcome, fit};
use meltlaw::fit::newton::{Curved, CurvedMinimum, minimise};
use meltlaw::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use meltlaw::fit::reliability::ReadSetting;
use meltlaw::fit::separation::{Seen, separated};
use meltlaw::laws::logistic;
use meltlaw::statistics::GaussHermite;
use meltlaw::study::ScatterFrom;
use meltlaw_tests::csv::Table;
use meltlaw_tests::digits::{digits, fewest_digits};
use meltlaw_tests::reference::{json, number, numbers};
use nalgebra::DMatrix;

/// Digits asked of coefficients and of standard errors; the references hold 18 and more.
const COEFFICIENT_DIGITS: f64 = 10.0;
const ERROR_DIGITS: f64 = 8.0;

fn trial(log_current: f64, log_time: f64, [none, one, more]: [f64; 3]) -> CountedTrial {
    CountedTrial { log_current, log_time, unknown: [0.0; 3], count: Count::Classes { none, one, more } }
}

/// The minimum of the counts' likelihood without scatter over the entries of q that are free.
fn without_scatter(
    trials: &[CountedTrial],
    thresholds: Thresholds,
    free: Vec<usize>,
    fixed: [f64; 5],
    start: &[f64],
) -> CurvedMinimum {
    let rule = GaussHermite::new(31);
    let found = minimise(&Likelihood { trials, rule: &rule, thresholds, with_unknown: false, free, fixed }, start, 1.0);
    assert!(found.converged, "{found:?}");
    found
}

const STILL: [f64; 5] = [0.0, 0.0, 0.0, 0.0, f64::NEG_INFINITY];

/// Standard errors of what has these derivatives by the free entries.
fn delta_method(found: &CurvedMinimum, rows: &[&[f64]]) -> Vec<f64> {
    let covariance = found.inverse_hessian().expect("positive definite at a minimum");
    let jacobian = DMatrix::from_row_iterator(rows.len(), rows[0].len(), rows.iter().flat_map(|r| r.iter().copied()));
    (&jacobian * covariance * jacobian.transpose()).diagonal().iter().map(|v| v.sqrt()).collect()
}

/// A table of three ordered classes against one covariate x: k, θ1 = k·s1, θ2 = k·s2 and their errors.
fn three_classes(trials: &[CountedTrial], start: &[f64]) -> (Vec<f64>, Vec<f64>, f64) {
    let found = without_scatter(trials, Thresholds::Both, vec![1, 2, 3], STILL, start);
    let (k, s1, gap) = (found.x[0].exp(), found.x[1], found.x[2].exp());
    let s2 = s1 + gap;
    let errors = delta_method(&found, &[&[k, 0.0, 0.0], &[k * s1, k, 0.0], &[k * s2, k, k * gap]]);
    (vec![k, k * s1, k * s2], errors, -found.value)
}

/// A table of two classes against x: slope, threshold k·s and their errors, and s.
fn two_classes(trials: &[CountedTrial], start: &[f64]) -> (Vec<f64>, Vec<f64>, CurvedMinimum) {
    let found = without_scatter(trials, Thresholds::Single, vec![1, 2], STILL, start);
    let (k, s) = (found.x[0].exp(), found.x[1]);
    let errors = delta_method(&found, &[&[k, 0.0], &[k * s, k]]);
    (vec![k, k * s], errors, found)
}

#[test]
fn miners_lungs_follow_the_published_ordered_logit() {
    let table = Table::of("reference/ordered_logit_pneumoconiosis/data.csv");
    let wanted = json("reference/ordered_logit_pneumoconiosis/expected.json");
    let columns = ["exposure_years", "normal", "mild", "severe"].map(|c| table.numbers(c));
    let trials: Vec<CountedTrial> = (0..table.rows.len())
        .map(|i| trial(0.0, columns[0][i].ln(), [columns[1][i], columns[2][i], columns[3][i]]))
        .collect();
    let (found, errors, log_likelihood) = three_classes(&trials, &[0.0, 3.5, -1.0]);
    let solution = [
        number(&wanted, "/solution/b"),
        number(&wanted, "/solution/thresholds/0"),
        number(&wanted, "/solution/thresholds/1"),
    ];
    assert!(fewest_digits(&found, &solution) >= COEFFICIENT_DIGITS, "{found:?}");
    // Observed information, which meltlaw reports; the expected one differs in the fourth digit.
    assert!(
        fewest_digits(&errors, &numbers(&wanted, "/standard_errors/observed_information")) >= ERROR_DIGITS,
        "{errors:?}"
    );
    assert!(
        digits(log_likelihood, number(&wanted, "/solution/log_likelihood_without_coefficients")) >= COEFFICIENT_DIGITS
    );
}

#[test]
fn counts_without_scatter_give_the_detachment_law_to_ten_digits() {
    let table = Table::of("reference/ordered_logit_detachment_invented/data.csv");
    let wanted = json("reference/ordered_logit_detachment_invented/expected.json");
    let columns =
        ["pulse_current_a", "pulse_time_ms", "pulses_without_drop", "pulses_with_one_drop", "pulses_with_more_drops"]
            .map(|c| table.numbers(c));
    let trials: Vec<CountedTrial> = (0..table.rows.len())
        .map(|i| trial((columns[0][i] / 400.0).ln(), columns[1][i].ln(), [columns[2][i], columns[3][i], columns[4][i]]))
        .collect();
    let found = without_scatter(&trials, Thresholds::Both, vec![0, 1, 2, 3], STILL, &[1.5, 1.5, 0.3, -1.0]);
    let (k, s1, gap) = (found.x[1].exp(), found.x[2], found.x[3].exp());
    let names = ["exponent", "steepness", "one_drop_from_ms", "more_drops_from_ms"];
    let solution = names.map(|n| number(&wanted, &format!("/solution/{n}")));
    let coefficients = [found.x[0], k, s1.exp(), (s1 + gap).exp()];
    assert!(fewest_digits(&coefficients, &solution) >= COEFFICIENT_DIGITS, "{coefficients:?}");
    let errors = delta_method(
        &found,
        &[&[1.0, 0.0, 0.0, 0.0], &[0.0, k, 0.0, 0.0], &[0.0, 0.0, 1.0, 0.0], &[0.0, 0.0, 1.0, gap]],
    );
    let names = ["exponent", "steepness", "ln_one_drop_from_ms", "ln_more_drops_from_ms"];
    let stated = names.map(|n| number(&wanted, &format!("/standard_errors_observed_information/{n}")));
    assert!(fewest_digits(&errors, &stated) >= ERROR_DIGITS, "{errors:?}");
    assert!(
        digits(-found.value, number(&wanted, "/solution/log_likelihood_without_coefficients")) >= COEFFICIENT_DIGITS
    );
}

#[test]
fn the_whole_detachment_fit_agrees_where_the_counts_scatter_no_more_than_counting() {
    let table = Table::of("reference/ordered_logit_detachment_invented/data.csv");
    let wanted = json("reference/ordered_logit_detachment_invented/expected.json");
    let columns =
        ["pulse_current_a", "pulse_time_ms", "pulses_without_drop", "pulses_with_one_drop", "pulses_with_more_drops"]
            .map(|c| table.numbers(c));
    let settings: Vec<(f64, f64)> =
        (0..table.rows.len()).map(|i| ((columns[0][i] / 400.0).ln(), columns[1][i].ln())).collect();
    let counts: Vec<[f64; 3]> = (0..table.rows.len()).map(|i| [columns[2][i], columns[3][i], columns[4][i]]).collect();
    let Outcome::Fitted(found) = fit(&selection(&settings, &counts), 0.95, ScatterFrom::Likelihood, None) else {
        panic!("classes overlap")
    };
    // Deviance 33.0 on 44 degrees: τ is at 0, and the law that of the counts alone.
    assert!(found.q[4] == f64::NEG_INFINITY, "{:?}", found.q);
    let names = ["exponent", "steepness", "one_drop_from_ms", "more_drops_from_ms"];
    let solution = names.map(|n| number(&wanted, &format!("/solution/{n}")));
    assert!(fewest_digits(&found.natural()[..4], &solution) >= COEFFICIENT_DIGITS, "{:?}", found.natural());
    let upper = found.scatter_upper.flatten().expect("a scatter at 0 has an upper bound");
    assert!(upper > 0.0 && upper < 0.1, "{upper:?}");
}

#[test]
fn beetles_follow_the_published_binary_logit() {
    let table = Table::of("reference/binomial_beetle_mortality/data.csv");
    let wanted = json("reference/binomial_beetle_mortality/expected.json");
    let columns = ["log10_dose", "beetles", "killed"].map(|c| table.numbers(c));
    let trials: Vec<CountedTrial> = (0..table.rows.len())
        .map(|i| trial(0.0, columns[0][i], [columns[1][i] - columns[2][i], columns[2][i], 0.0]))
        .collect();
    let (found, errors, minimum) = two_classes(&trials, &[3.0, 1.75]);
    let [slope, intercept] = ["/solution/logit/slope", "/solution/logit/intercept"].map(|p| number(&wanted, p));
    assert!(fewest_digits(&found, &[slope, -intercept]) >= COEFFICIENT_DIGITS, "{found:?}");
    let stated = numbers(&wanted, "/solution/logit/standard_errors_observed_information");
    assert!(fewest_digits(&errors, &[stated[1], stated[0]]) >= ERROR_DIGITS, "{errors:?}");
    assert!(digits(minimum.x[1], number(&wanted, "/solution/logit/dose_at_half")) >= COEFFICIENT_DIGITS);
    assert!(
        digits(-minimum.value, number(&wanted, "/solution/logit/log_likelihood_without_coefficients"))
            >= COEFFICIENT_DIGITS
    );
    // Dose at half ± 1.96 standard errors by the delta method: ours is the threshold's own standard error.
    let half = 1.959_963_984_540_054 * minimum.inverse_hessian().expect("definite")[(1, 1)].sqrt();
    let interval = numbers(&wanted, "/solution/logit/dose_at_half_interval_95/delta");
    assert!(fewest_digits(&[minimum.x[1] - half, minimum.x[1] + half], &interval) >= ERROR_DIGITS);
}

#[test]
fn cells_of_none_and_of_all_do_not_disturb_a_binary_logit() {
    let table = Table::of("reference/binomial_menarche/data.csv");
    let wanted = json("reference/binomial_menarche/expected.json");
    let columns = ["age_years", "girls", "reached"].map(|c| table.numbers(c));
    let trials: Vec<CountedTrial> = (0..table.rows.len())
        .map(|i| trial(0.0, columns[0][i], [columns[1][i] - columns[2][i], columns[2][i], 0.0]))
        .collect();
    let (found, errors, minimum) = two_classes(&trials, &[0.0, 13.0]);
    let [slope, intercept] = ["/solution/slope", "/solution/intercept"].map(|p| number(&wanted, p));
    assert!(fewest_digits(&found, &[slope, -intercept]) >= COEFFICIENT_DIGITS, "{found:?}");
    let stated = numbers(&wanted, "/solution/standard_errors");
    assert!(fewest_digits(&errors, &[stated[1], stated[0]]) >= ERROR_DIGITS, "{errors:?}");
    assert!(digits(minimum.x[1], number(&wanted, "/solution/age_at_half")) >= COEFFICIENT_DIGITS);
}

/// Ordered logit in any number of covariates: b, then both thresholds.
struct ManyCovariates {
    rows: Vec<(Vec<f64>, [f64; 3])>,
}

impl Curved for ManyCovariates {
    fn evaluate(&self, x: &[f64], gradient: &mut [f64], hessian: &mut DMatrix<f64>) -> f64 {
        let p = x.len() - 2;
        let mut value = 0.0;
        for (covariates, [none, one, more]) in &self.rows {
            let at: f64 = covariates.iter().zip(x).map(|(c, b)| c * b).sum();
            let (a1, a2) = (at - x[p], at - x[p + 1]);
            let grow = 1.0 / (a1 - a2).exp_m1();
            value -= none * logistic(-a1).ln() + one * (logistic(a1) - logistic(a2)).ln() + more * logistic(a2).ln();
            let first = [
                -none * logistic(a1) + one * (logistic(-a1) + grow),
                -one * (logistic(a2) + grow) + more * logistic(-a2),
            ];
            let joint = one * grow * (1.0 + grow);
            let second = [
                [-(none + one) * logistic(a1) * logistic(-a1) - joint, joint],
                [joint, -(one + more) * logistic(a2) * logistic(-a2) - joint],
            ];
            let by = [0, 1].map(|t| {
                let mut by = covariates.clone();
                by.extend([0.0, 0.0]);
                by[p + t] = -1.0;
                by
            });
            for i in 0..x.len() {
                gradient[i] -= first[0] * by[0][i] + first[1] * by[1][i];
                for j in 0..x.len() {
                    for a in 0..2 {
                        for b in 0..2 {
                            hessian[(i, j)] -= second[a][b] * by[a][i] * by[b][j];
                        }
                    }
                }
            }
        }
        value
    }
}

#[test]
fn housing_in_copenhagen_follows_the_published_ordered_logit() {
    let table = Table::of("reference/ordered_logit_copenhagen_housing/data.csv");
    let wanted = json("reference/ordered_logit_copenhagen_housing/expected.json");
    let [influence, house, contact] = ["influence", "type", "contact"].map(|c| table.words(c));
    let counts = ["satisfaction_low", "satisfaction_medium", "satisfaction_high"].map(|c| table.numbers(c));
    let is = |word: &str, level: &str| if word == level { 1.0 } else { 0.0 };
    let rows = (0..table.rows.len())
        .map(|i| {
            let covariates = vec![
                is(&influence[i], "Medium"),
                is(&influence[i], "High"),
                is(&house[i], "Apartment"),
                is(&house[i], "Atrium"),
                is(&house[i], "Terrace"),
                is(&contact[i], "High"),
            ];
            (covariates, [counts[0][i], counts[1][i], counts[2][i]])
        })
        .collect();
    let found = minimise(&ManyCovariates { rows }, &[0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -0.5, 0.5], 1.0);
    assert!(found.converged);
    assert!(
        fewest_digits(&found.x, &numbers(&wanted, "/solution/coefficients")) >= COEFFICIENT_DIGITS,
        "{:?}",
        found.x
    );
    let covariance = found.inverse_hessian().expect("definite");
    let errors: Vec<f64> = covariance.diagonal().iter().map(|v| v.sqrt()).collect();
    assert!(
        fewest_digits(&errors, &numbers(&wanted, "/standard_errors/observed_information")) >= ERROR_DIGITS,
        "{errors:?}"
    );
    assert!(digits(2.0 * found.value, number(&wanted, "/solution/minus_two_log_likelihood")) >= COEFFICIENT_DIGITS);
}

/// A selection of exact settings (ln Ip/400 A, ln tp) with counted classes.
fn selection(settings: &[(f64, f64)], counts: &[[f64; 3]]) -> CountedSelection {
    CountedSelection {
        used: (0..settings.len()).collect(),
        read: settings
            .iter()
            .map(|&(log_current, log_time)| ReadSetting {
                log_current,
                log_time,
                current_variance: 0.0,
                time_variance: 0.0,
            })
            .collect(),
        counts: counts.iter().map(|&[none, one, more]| Count::Classes { none, one, more }).collect(),
        left_out: vec![],
        prior: vec![],
    }
}

/// One of the six separation tables: pulse times and counts at one pulse current.
fn separation_table(name: &str) -> (Vec<f64>, Vec<[f64; 3]>) {
    let table = Table::of(&format!("reference/ordered_logit_separation_invented/{name}.csv"));
    let counts = ["pulses_without_drop", "pulses_with_one_drop", "pulses_with_more_drops"].map(|c| table.numbers(c));
    (
        table.numbers("pulse_time_ms"),
        (0..table.rows.len()).map(|i| [counts[0][i], counts[1][i], counts[2][i]]).collect(),
    )
}

/// The table welded at two pulse currents, 10 % below and above 400 A on the logarithm, with the times moved
/// by exponent 2. By symmetry the exponent is 2, the other coefficients are those of the table, their
/// standard errors smaller by √2.
fn at_two_currents(name: &str) -> CountedSelection {
    let (times, counts) = separation_table(name);
    let settings: Vec<(f64, f64)> =
        [-0.1, 0.1].iter().flat_map(|x| times.iter().map(move |t| (*x, t.ln() - 2.0 * x))).collect();
    selection(&settings, &[counts.clone(), counts].concat())
}

fn seen(counts: &[[f64; 3]]) -> Vec<Seen> {
    counts.iter().map(|[none, one, more]| Seen { none: *none > 0.0, one: *one > 0.0, more: *more > 0.0 }).collect()
}

#[test]
fn six_tables_are_told_separated_or_not() {
    for (name, two_thresholds, verdict, how) in [
        ("complete", true, true, "separated"),
        ("quasi_complete", true, true, "separated"),
        ("overlap_finite", true, false, "fitted"),
        ("never_more", false, false, "one_threshold"),
        ("all_pulses_drop", false, false, "one_threshold"),
        ("one_category", false, true, "one_class"),
    ] {
        let (times, counts) = separation_table(name);
        let settings: Vec<(f64, f64)> = times.iter().map(|t| (0.0, t.ln())).collect();
        // Where no pulse failed to detach, the classes of the second threshold are one and more.
        let mut classes = seen(&counts);
        if classes.iter().all(|s| !s.none) {
            classes = classes.iter().map(|s| Seen { none: s.one, one: s.more, more: false }).collect();
        }
        if name != "one_category" {
            assert_eq!(separated(&settings, &classes, two_thresholds), verdict, "{name}");
        }
        match fit(&at_two_currents(name), 0.95, ScatterFrom::AdjustedLikelihood, None) {
            Outcome::Fitted(_) => assert_eq!("fitted", how, "{name}"),
            Outcome::Bounded(bounds) => {
                assert_eq!(bounds.how, how, "{name}: {}", bounds.reason);
                assert!(bounds.reason.contains("eld "), "{name} names no trial that would cure it: {}", bounds.reason);
                // A steepness is given only where it is finite.
                assert_eq!(bounds.single.is_some(), how == "one_threshold", "{name}");
            }
        }
        // At one pulse current no table tells the exponent, and none is invented.
        let one_current = selection(&[settings.clone(), settings].concat(), &[counts.clone(), counts].concat());
        assert!(
            matches!(fit(&one_current, 0.95, ScatterFrom::AdjustedLikelihood, None), Outcome::Bounded(b) if b.how == "one_pulse_current" || b.how == "one_class"),
            "{name}"
        );
    }
}

#[test]
fn tables_that_overlap_have_their_finite_coefficients() {
    let wanted = json("reference/ordered_logit_separation_invented/expected.json");
    let place = |name: &str, what: &str| format!("/cases/{name}/solution/{what}");
    let trials = |name: &str| -> Vec<CountedTrial> {
        let (times, counts) = separation_table(name);
        times.iter().zip(counts).map(|(t, c)| trial(0.0, t.ln(), c)).collect()
    };
    let name = "overlap_finite";
    let (found, errors, _) = three_classes(&trials(name), &[2.0, 0.5, -0.7]);
    let thresholds = numbers(&wanted, &place(name, "thresholds"));
    assert!(
        fewest_digits(&found, &[number(&wanted, &place(name, "steepness")), thresholds[0], thresholds[1]])
            >= COEFFICIENT_DIGITS,
        "{found:?}"
    );
    assert!(
        fewest_digits(&errors, &numbers(&wanted, &place(name, "standard_errors_observed"))) >= ERROR_DIGITS,
        "{errors:?}"
    );
    for (name, first) in [("never_more", true), ("all_pulses_drop", false)] {
        let binary: Vec<CountedTrial> = trials(name)
            .into_iter()
            .map(|t| {
                let Count::Classes { none, one, more } = t.count else { panic!("classes") };
                let (no, yes) = if first { (none, one + more) } else { (none + one, more) };
                CountedTrial { count: Count::Classes { none: no, one: yes, more: 0.0 }, ..t }
            })
            .collect();
        let (found, errors, _) = two_classes(&binary, &[2.0, 0.7]);
        let solution = ["steepness", "threshold"].map(|w| number(&wanted, &place(name, w)));
        assert!(fewest_digits(&found, &solution) >= COEFFICIENT_DIGITS, "{name}: {found:?}");
        assert!(
            fewest_digits(&errors, &numbers(&wanted, &place(name, "standard_errors"))) >= ERROR_DIGITS,
            "{name}: {errors:?}"
        );
    }
}

#[test]
fn the_whole_fit_at_two_currents_finds_the_coefficients_of_the_tables() {
    let wanted = json("reference/ordered_logit_separation_invented/expected.json");
    let Outcome::Fitted(found) = fit(&at_two_currents("overlap_finite"), 0.95, ScatterFrom::AdjustedLikelihood, None)
    else {
        panic!("the classes overlap")
    };
    assert!(found.q[4] == f64::NEG_INFINITY, "no scatter beyond counting: {:?}", found.q);
    let (k, thresholds) = (
        number(&wanted, "/cases/overlap_finite/solution/steepness"),
        numbers(&wanted, "/cases/overlap_finite/solution/thresholds"),
    );
    let solution = [2.0, k, (thresholds[0] / k).exp(), (thresholds[1] / k).exp()];
    assert!(fewest_digits(&found.natural()[..4], &solution) >= COEFFICIENT_DIGITS, "{:?}", found.natural());
    let error = numbers(&wanted, "/cases/overlap_finite/solution/standard_errors_observed")[0] / 2.0_f64.sqrt();
    assert!(digits(found.covariance_q[(1, 1)].sqrt() * k, error) >= ERROR_DIGITS);
    for (name, first) in [("never_more", true), ("all_pulses_drop", false)] {
        let Outcome::Bounded(bounds) = fit(&at_two_currents(name), 0.95, ScatterFrom::AdjustedLikelihood, None) else {
            panic!("{name}: a class is missing")
        };
        let single = bounds.single.expect("one threshold is finite");
        assert_eq!(single.first, first);
        let k = number(&wanted, &format!("/cases/{name}/solution/steepness"));
        let threshold = number(&wanted, &format!("/cases/{name}/solution/threshold"));
        assert!(
            fewest_digits(&[single.q[0], single.q[1].exp(), single.q[2]], &[2.0, k, threshold / k])
                >= COEFFICIENT_DIGITS,
            "{name}: {:?}",
            single.q
        );
        let error = numbers(&wanted, &format!("/cases/{name}/solution/standard_errors"))[0] / 2.0_f64.sqrt();
        assert!(digits(single.covariance_q[(1, 1)].sqrt() * k, error) >= ERROR_DIGITS, "{name}");
    }
}
