//! Prior knowledge stated in the study: what would be wrong is a statement that weighs more or less than its
//! standard deviation says, one that hides a contradiction, or an interval that no longer holds the truth.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use meltlaw::virtual_bench as lab;

use meltlaw::fit::assemble::{CommonErrors, least_squares_law};
use meltlaw::fit::diagnosis::Diagnosis;
use meltlaw::fit::errors_in_variables::EivFit;
use meltlaw::fit::selection::Selection;
use meltlaw::fit::{arc_voltage, burn_off, detachment, detachment_law, fit_laws};
use meltlaw::laws::{ArcVoltage, BurnOff, Coefficient, CoefficientName, FittedLaw, Law, Laws};
use meltlaw::materials::Material;
use meltlaw::statistics::{DrawStream, Purpose, normal_quantile};
use meltlaw::study::{CovarianceFrom, Prior, Study};
use meltlaw::trials::{Column, Trial, Trials};
use rayon::prelude::*;

fn base(lab: u64) -> (Study, Trials) {
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    let size = lab::Size { burn_off: 12, detachment: 14, pulses: 100 };
    let trials = lab::trials(&study, &lab::Truth::STEEL, size, 11, lab);
    (study, trials)
}

fn stated(law: &'static str, coefficient: &'static str, mean: f64, standard_deviation: f64) -> Prior {
    Prior { law, coefficient, mean, standard_deviation, source: "an earlier campaign, invented".to_owned() }
}

fn law<'a>(laws: &'a Laws, name: &str) -> &'a FittedLaw {
    laws.by_name().into_iter().find(|(n, _)| *n == name).unwrap().1
}

fn of<'a>(laws: &'a Laws, prior: &Prior) -> &'a Coefficient {
    &law(laws, prior.law).coefficients[prior.coefficient]
}

/// Means near the truth of the invented labs.
const KNOWN: [(&str, &str, f64); 11] = [
    ("burn_off", "alpha_mm_per_a_s", 0.305),
    ("burn_off", "beta_per_a2_s", 5.5e-5),
    ("arc_voltage", "intercept_v", 16.2),
    ("arc_voltage", "slope_ohm", 0.026),
    ("arc_voltage", "gradient_v_per_mm", 0.85),
    ("arc_voltage", "extension_ohm_per_mm", 5e-4),
    ("detachment", "exponent", 1.9),
    ("detachment", "steepness", 8.0),
    ("detachment", "one_drop_from_ms", 1.75),
    ("detachment", "more_drops_from_ms", 4.0),
    ("detachment", "trial_scatter", 0.03),
];

#[test]
fn a_statement_that_says_nothing_changes_nothing() {
    let (mut study, trials) = base(3);
    // The same form with and without, whatever the data would choose.
    study.laws.arc_voltage = Some(meltlaw::study::ArcVoltageForm::CurrentArcExtension);
    for footing in [CovarianceFrom::Residuals, CovarianceFrom::StatedErrors] {
        study.numerics.covariance_from = footing;
        study.prior.clear();
        let alone = fit_laws(&study, &trials).laws;
        // The scatter is left out: a wide statement on ln τ still excludes τ = 0, which these counts allow.
        study.prior = KNOWN[..10].iter().map(|&(l, c, m)| stated(l, c, m, 1e4 * m)).collect();
        let with = fit_laws(&study, &trials).laws;
        for prior in &study.prior {
            let (a, w) = (of(&alone, prior), of(&with, prior));
            let se = a.standard_error.unwrap();
            let moved = (a.value.unwrap() - w.value.unwrap()).abs() / se;
            assert!(moved < 1e-6, "{}: moved by {moved} standard errors", prior.coefficient);
            // 1e-5: the share of a statement 1e4 means wide, (se/sd)², is at most 1e-8 here, and quantiles of
            // t are found to about 1e-7.
            for (a, w) in a.interval.iter().zip(&w.interval) {
                assert!((a.unwrap() - w.unwrap()).abs() < 1e-5 * se, "{}", prior.coefficient);
            }
            let pull = w.prior.as_ref().unwrap();
            assert!(pull.share < 1e-6 && pull.distance.unwrap().abs() < 1e-3, "{pull:?}");
            assert_eq!(pull.without, a.value);
        }
    }
}

#[test]
fn a_statement_without_doubt_pins_the_coefficient() {
    let (mut study, trials) = base(4);
    for (l, c, mean) in KNOWN {
        let sd = 1e-4 * mean;
        study.prior = vec![stated(l, c, 1.02 * mean, sd)];
        let laws = fit_laws(&study, &trials).laws;
        assert!(law(&laws, l).ended.usable, "{c}: {}", law(&laws, l).ended.reason);
        let found = of(&laws, &study.prior[0]);
        let pull = found.prior.as_ref().unwrap();
        assert!((found.value.unwrap() - 1.02 * mean).abs() < 0.1 * sd, "{c}: {:?}", found.value);
        // Known as well as stated: mean ± 1.96 standard deviations.
        assert!((found.interval[1].unwrap() - 1.02 * mean - 1.96 * sd).abs() < 0.1 * sd, "{c}: {found:?}");
        assert!(pull.share > 0.98, "{c}: {}", pull.share);
        assert!(found.interval_method.ends_with(", with stated prior knowledge"), "{}", found.interval_method);
    }
}

#[test]
fn trials_and_statement_combine_like_two_normals() {
    let (mut study, trials) = base(5);
    // Exact readings make the law linear; a feed error stated far too large holds the scale at 1.
    let bench = &mut study.bench;
    (bench.current_relative_se, bench.ctwd_se_mm, bench.arc_length_se_mm, bench.wire_feed_relative_se) =
        (0.0, 0.0, 0.0, 0.05);
    study.numerics.covariance_from = CovarianceFrom::StatedErrors;
    let observations = burn_off::observations(&study, &trials).observations;
    let alone = burn_off::fit_for(&study, &observations).unwrap();
    let (mean, sd) = (6.0e-5, 0.7 * alone.stated_covariance[(1, 1)].sqrt());
    study.prior = vec![stated("burn_off", "beta_per_a2_s", mean, sd)];
    let both = burn_off::fit_for(&study, &observations).unwrap();
    assert_eq!(both.prior.scale, 1.0);
    // β: weights 1/v and 1/sd². α follows along the covariance of the two.
    let c = &alone.stated_covariance;
    let (v, w) = (c[(1, 1)], sd * sd);
    let beta = (alone.b[1] / v + mean / w) / (1.0 / v + 1.0 / w);
    let alpha = alone.b[0] + c[(0, 1)] / v * (beta - alone.b[1]);
    let variance = 1.0 / (1.0 / v + 1.0 / w);
    let alpha_variance = c[(0, 0)] - c[(0, 1)] * c[(0, 1)] / (v + w);
    // 1e-9: ten digits of the minimiser, less one of the condition.
    let close = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-9;
    assert!(close(both.b[1], beta) && close(both.b[0], alpha), "{:?} {alpha} {beta}", both.b);
    assert!(close(both.stated_covariance[(1, 1)], variance));
    assert!(close(both.stated_covariance[(0, 0)], alpha_variance));
    assert!(close(both.prior_share[0], variance / w));
}

#[test]
fn a_wrong_statement_gains_no_weight_by_its_misfit() {
    let (mut study, trials) = base(6);
    let observations = burn_off::observations(&study, &trials).observations;
    let alone = burn_off::fit_for(&study, &observations).unwrap();
    for mean in [5.5e-5, 9e-5] {
        study.prior = vec![stated("burn_off", "beta_per_a2_s", mean, 2e-6)];
        let fit = burn_off::fit_for(&study, &observations).unwrap();
        assert_eq!(fit.prior.scale, alone.chi_squared_per_degree());
        let laws = fit_laws(&study, &trials).laws;
        let c = &laws.burn_off.coefficients["beta_per_a2_s"];
        let share = c.prior.as_ref().unwrap().share;
        // The statement's share is v/(v + sd²), whatever it says, but for v itself: it grows with β by the
        // errors of current and extension, by less than half where β is 60 % off, and hardly near the truth.
        let v = alone.stated_covariance[(1, 1)] * alone.chi_squared_per_degree();
        assert!((share - fit.prior_share[0]).abs() < 1e-9);
        assert!((share / (v / (v + 4e-12)) - 1.0).abs() < if mean < 6e-5 { 0.05 } else { 0.5 }, "{share}");
        assert!(c.standard_error.unwrap() < 2e-6, "two together know more than one");
    }
}

#[test]
fn one_distance_and_one_current_are_enough_with_a_stated_beta() {
    let (mut study, mut trials) = base(7);
    let first = trials.rows[0].clone();
    let feed = first.get(Column::WireFeed).unwrap();
    trials.rows.truncate(6);
    for (i, t) in trials.rows.iter_mut().enumerate() {
        *t = first.clone();
        t.name = format!("T{i}");
        t.set(Column::WireFeed, Some(feed * (1.0 + 0.004 * [0.5, -1.2, 0.8, 0.1, -0.6, 0.4][i])));
    }
    let alone = fit_laws(&study, &trials).laws;
    assert!(!alone.burn_off.ended.usable);
    study.prior = vec![stated("burn_off", "beta_per_a2_s", 5.5e-5, 2e-6)];
    let laws = fit_laws(&study, &trials).laws;
    assert!(laws.burn_off.ended.usable, "{}", laws.burn_off.ended.reason);
    let beta = &laws.burn_off.coefficients["beta_per_a2_s"];
    // Repeats of one weld say nothing of β: value and interval are the statement's.
    assert!((beta.value.unwrap() - 5.5e-5).abs() < 1e-6 * 2e-6, "{beta:?}");
    assert!((beta.interval[0].unwrap() - (5.5e-5 + normal_quantile(0.025) * 2e-6)).abs() < 1e-6 * 2e-6, "{beta:?}");
    let pull = beta.prior.as_ref().unwrap();
    assert!(pull.without.is_none() && pull.distance.is_none() && pull.share > 0.999_999);
    assert!(pull.reason.as_ref().unwrap().contains("contact-tip-to-work distances"), "{:?}", pull.reason);
    assert!(pull.reading.seen.contains("do not determine it"));
    let alpha = &laws.burn_off.coefficients["alpha_mm_per_a_s"];
    assert!((alpha.interval[0].unwrap()..alpha.interval[1].unwrap()).contains(&0.305), "{alpha:?}");
}

#[test]
fn fewer_trials_than_coefficients_need_statements_that_say_something() {
    let (mut study, mut trials) = base(8);
    trials.rows.truncate(2);
    for (sd, usable) in [(1e-7, true), (1e-2, false)] {
        study.prior = vec![stated("burn_off", "beta_per_a2_s", 5.5e-5, sd)];
        let laws = fit_laws(&study, &trials).laws;
        assert_eq!(laws.burn_off.ended.usable, usable, "{}", laws.burn_off.ended.reason);
    }
}

#[test]
fn a_stated_term_of_the_voltage_law_is_kept() {
    let (mut study, mut trials) = base(9);
    // The same welds as if every arc had been 4 mm long: E·Δa of the voltage goes, r·I·ΔL comes.
    for t in &mut trials.rows {
        let longer = t.get(Column::ArcLength).unwrap() - 4.0;
        let by_arc = 0.85 - 5e-4 * t.get(Column::CurrentMean).unwrap();
        t.set(Column::VoltageMean, Some(t.get(Column::VoltageMean).unwrap() - by_arc * longer));
        t.set(Column::ArcLength, Some(4.0));
    }
    assert!(!fit_laws(&study, &trials).laws.arc_voltage.form.contains("arc"));
    study.prior = vec![stated("arc_voltage", "gradient_v_per_mm", 0.85, 0.05)];
    let laws = fit_laws(&study, &trials).laws;
    assert!(laws.arc_voltage.form.starts_with("current_arc"), "{}", laws.arc_voltage.form);
    let e = &laws.arc_voltage.coefficients["gradient_v_per_mm"];
    // Equal arc lengths say nothing of E. 1e-6: as for any coefficient that only the statement speaks of.
    assert!((e.standard_error.unwrap() / 0.05 - 1.0).abs() < 1e-6, "{e:?}");
    assert!((e.value.unwrap() - 0.85).abs() < 1e-6 * 0.05, "{e:?}");
    assert!(e.prior.as_ref().unwrap().reason.as_ref().unwrap().contains("arc lengths"), "{e:?}");
}

/// Trials at one pulse current, 360 A, with the pulse time swept across both thresholds.
fn one_current(study: &Study, lab: u64, exponent: f64) -> Trials {
    let mut stream = DrawStream::new(23, Purpose::Simulation, lab);
    let truth = lab::Truth::STEEL;
    let offset = exponent * (360.0 / study.reference_current_a()).ln();
    let rows: Vec<Trial> = (0..14)
        .map(|i| {
            let time = (1.2 + 0.36 * f64::from(i)) * (0.95 + 0.1 * stream.uniform());
            let s = offset + time.ln() + truth.trial_scatter * stream.normal();
            let chance = |ms: f64| 1.0 / (1.0 + (-truth.steepness * (s - ms.ln())).exp());
            let mut counts = [0.0; 3];
            for _ in 0..100 {
                let u = stream.uniform();
                counts[usize::from(u < chance(truth.one_drop_from_ms))
                    + usize::from(u < chance(truth.more_drops_from_ms))] += 1.0;
            }
            Trial::new(format!("D{i}"), 0, 2)
                .with(Column::PulseCurrent, 360.0 * (1.0 + 0.008 * stream.normal()))
                .with(Column::PulseTime, time * (1.0 + 0.01 * stream.normal()))
                .with(Column::WithoutDrop, counts[0])
                .with(Column::OneDrop, counts[1])
                .with(Column::MoreDrops, counts[2])
        })
        .collect();
    Trials { rows, ..Trials::default() }
}

#[test]
fn one_pulse_current_is_enough_with_a_stated_exponent() {
    let (mut study, _) = base(0);
    // The readings differ by less than this: as far as anybody knows there is one current.
    study.bench.current_relative_se = 0.02;
    let trials = one_current(&study, 1, 1.9);
    assert_eq!(fit_laws(&study, &trials).laws.detachment.ended.how, "one_pulse_current");
    study.prior = vec![stated("detachment", "exponent", 2.0, 0.2)];
    let laws = fit_laws(&study, &trials).laws;
    assert!(laws.detachment.ended.usable, "{}", laws.detachment.ended.reason);
    let n = &laws.detachment.coefficients["exponent"];
    // 1e-3: the current varies by less than its own error, so n moves the trials' spread hardly at all.
    let near = |a: f64, b: f64| (a - b).abs() < 1e-3 * 0.2;
    assert!(near(n.value.unwrap(), 2.0) && near(n.standard_error.unwrap(), 0.2), "{n:?}");
    assert!(near(n.interval[0].unwrap(), 2.0 - 0.2 * 1.959_964), "{n:?}");
    let pull = n.prior.as_ref().unwrap();
    assert!(pull.without.is_none() && pull.reason.as_ref().unwrap().contains("repeat the sweep"));
    assert_eq!(laws.detachment.degrees_of_freedom, 14 - 3);
}

#[test]
fn a_threshold_never_crossed_can_be_stated() {
    let (mut study, mut trials) = base(10);
    for t in &mut trials.rows {
        if t.get(Column::MoreDrops).is_some_and(|m| m > 0.0) {
            t.set(Column::OneDrop, Some(t.get(Column::OneDrop).unwrap() + t.get(Column::MoreDrops).unwrap()));
            t.set(Column::MoreDrops, Some(0.0));
        }
    }
    assert_eq!(fit_laws(&study, &trials).laws.detachment.ended.how, "one_threshold");
    study.prior = vec![stated("detachment", "more_drops_from_ms", 20.0, 1.0)];
    let laws = fit_laws(&study, &trials).laws;
    assert!(laws.detachment.ended.usable, "{}", laws.detachment.ended.reason);
    let more = &laws.detachment.coefficients["more_drops_from_ms"];
    assert!((more.value.unwrap() - 20.0).abs() < 0.1, "{more:?}");
}

#[test]
fn a_contradiction_is_said_and_a_cause_named() {
    let (mut study, trials) = base(12);
    study.prior = vec![
        stated("burn_off", "beta_per_a2_s", 9e-5, 1e-6),
        stated("detachment", "exponent", 1.0, 0.05),
        stated("arc_voltage", "intercept_v", 16.2, 2.0),
    ];
    let laws = fit_laws(&study, &trials).laws;
    for prior in &study.prior[..2] {
        let pull = of(&laws, prior).prior.as_ref().unwrap();
        assert!(pull.distance.unwrap().abs() > 2.5);
        assert!(pull.reading.action.starts_with("look before use"), "{}", pull.reading.action);
    }
    let beta = of(&laws, &study.prior[0]).prior.as_ref().unwrap();
    assert!(beta.reading.action.contains("taken as extension") && beta.distance.unwrap() < 0.0);
    // The contradiction is a test of the law that warns, and a finding of the study, with the value that is neither.
    let test = &laws.burn_off.tests["stated_beforehand"];
    assert!(test.warns && test.p_value.unwrap() < 0.012 && test.effect.unwrap() < 0.0, "{test:?}");
    assert!(test.reading.seen.starts_with("beta_per_a2_s: trials alone"), "{}", test.reading.seen);
    assert!(test.reading.seen.contains("is neither"), "{}", test.reading.seen);
    assert!(laws.detachment.tests["stated_beforehand"].warns && !laws.arc_voltage.tests["stated_beforehand"].warns);
    let findings = meltlaw::develop::laws(&study, &trials).unwrap().findings;
    let told: Vec<&str> =
        findings.iter().filter(|f| f.check == "stated_beforehand").map(|f| f.reading.seen.as_str()).collect();
    assert!(told.len() == 2 && told[0].starts_with("burn off, beta_per_a2_s: trials alone"), "{told:?}");
    let quiet = of(&laws, &study.prior[2]).prior.as_ref().unwrap();
    assert!(!quiet.reading.action.starts_with("look"), "{quiet:?}");
    for (_, record) in laws.by_name() {
        assert!(record.notes.iter().any(|n| n.contains("prior knowledge stated in the study takes part")));
    }
}

#[test]
fn calibration_effects_are_those_of_the_fit_with_the_statement() {
    let (mut study, trials) = base(13);
    study.calibration = vec![meltlaw::study::CalibrationUncertainty {
        term: meltlaw::study::CalibrationTerm::CurrentGainRelative,
        standard_uncertainty: 0.003,
    }];
    let effects = |study: &Study| fit_laws(study, &trials).calibration[0].effects.clone();
    let alone = effects(&study);
    let beta = 5.5e-5;
    study.prior = vec![stated("burn_off", "beta_per_a2_s", beta, 1e-10)];
    let with = effects(&study);
    // Contract: current gain moves β by +2β; a pinned β cannot move.
    assert!((alone["burn_off.beta_per_a2_s"] / (2.0 * beta) - 1.0).abs() < 0.2);
    assert!(with["burn_off.beta_per_a2_s"].abs() < 1e-3 * beta, "{with:?}");
}

// The records alone, without what is reported beside them: half a minute instead of five.

fn detachment_of(study: &Study, trials: &Trials) -> FittedLaw {
    let selection = detachment::select(study, trials);
    let outcome = detachment::fit(&selection, study.numerics.confidence, study.laws.trial_scatter, None);
    detachment_law::record(study, trials, &selection, &outcome, &CommonErrors::default())
}

fn record_of(
    study: &Study,
    trials: &Trials,
    selection: &Selection,
    fit: &EivFit,
    names: &[CoefficientName],
    unit: &str,
) -> FittedLaw {
    let none = vec![None; selection.used.len()];
    least_squares_law(study, trials, selection, fit, names, &CommonErrors::default(), unit, &none, Diagnosis::default())
}

fn burn_off_of(study: &Study, trials: &Trials) -> FittedLaw {
    let selection = burn_off::observations(study, trials);
    let fit = burn_off::fit_for(study, &selection.observations).unwrap();
    let names = BurnOff(study.laws.burn_off).coefficients();
    record_of(study, trials, &selection, &fit, names, "mm/s")
}

fn arc_voltage_of(study: &Study, trials: &Trials) -> FittedLaw {
    let selection = arc_voltage::observations(study, trials);
    let (form, fit, _) = arc_voltage::choose(study, &selection.observations).unwrap();
    let names = ArcVoltage(form).coefficients();
    record_of(study, trials, &selection, &fit, names, "V")
}

/// Labs whose truth is drawn from what the study states: the intervals must hold it as often as they say.
#[test]
fn intervals_hold_truths_that_the_statements_describe() {
    const LABS: u64 = 300;
    let names = [
        ("burn_off", "alpha_mm_per_a_s"),
        ("burn_off", "beta_per_a2_s"),
        ("arc_voltage", "gradient_v_per_mm"),
        ("arc_voltage", "intercept_v"),
        ("detachment", "exponent"),
        ("detachment", "one_drop_from_ms"),
        ("detachment", "more_drops_from_ms"),
        ("one_current", "one_drop_from_ms"),
    ];
    let held: Vec<[bool; 8]> = (0..LABS)
        .into_par_iter()
        .map(|lab| {
            let mut stream = DrawStream::new(31, Purpose::Simulation, lab);
            let (mut study, _) = base(0);
            study.laws.arc_voltage = Some(meltlaw::study::ArcVoltageForm::CurrentArcExtension);
            let known = [
                stated("burn_off", "beta_per_a2_s", 5.5e-5, 1.5e-6),
                stated("arc_voltage", "gradient_v_per_mm", 0.85, 0.08),
                stated("detachment", "exponent", 1.9, 0.1),
                stated("detachment", "one_drop_from_ms", 1.75, 0.05),
            ];
            let z: [f64; 4] = std::array::from_fn(|_| stream.normal());
            let mut truth = lab::Truth::STEEL;
            truth.beta_per_a2_s += 1.5e-6 * z[0];
            truth.gradient_v_per_mm += 0.08 * z[1];
            truth.exponent += 0.1 * z[2];
            truth.one_drop_from_ms *= (0.05 / 1.75 * z[3]).exp();
            let size = lab::Size { burn_off: 10, detachment: 12, pulses: 100 };
            let trials = lab::trials(&study, &truth, size, 41, lab);
            study.prior = known.to_vec();
            let detachment = detachment_of(&study, &trials);
            let burn = burn_off_of(&study, &trials);
            let volt = arc_voltage_of(&study, &trials);
            study.prior = vec![known[2].clone()];
            let single = detachment_of(&study, &one_current(&study, lab, truth.exponent));
            let truths = [
                truth.alpha_mm_per_a_s,
                truth.beta_per_a2_s,
                truth.gradient_v_per_mm,
                truth.intercept_v,
                truth.exponent,
                truth.one_drop_from_ms,
                truth.more_drops_from_ms,
                lab::Truth::STEEL.one_drop_from_ms,
            ];
            std::array::from_fn(|i| {
                let (law_name, coefficient) = names[i];
                let record = match law_name {
                    "one_current" => &single,
                    "burn_off" => &burn,
                    "arc_voltage" => &volt,
                    _ => &detachment,
                };
                record.coefficients.get(coefficient).is_some_and(|c| {
                    c.interval[0].is_some_and(|l| l <= truths[i]) && c.interval[1].is_some_and(|h| truths[i] <= h)
                })
            })
        })
        .collect();
    // 95 % of 300 labs scatters by √(0.95·0.05/300) = 1.26 %; three of these.
    for (i, (law_name, coefficient)) in names.iter().enumerate() {
        let share = held.iter().filter(|h| h[i]).count() as f64 / LABS as f64;
        assert!((share - 0.95).abs() < 0.038, "{law_name} {coefficient}: held in {:.1} % of labs", 100.0 * share);
    }
}
