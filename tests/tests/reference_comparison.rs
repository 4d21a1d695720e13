//! Comparison of laws and scatter between batches against statsmodels and scipy on the same numbers
//! (`datasets/reference/comparison_two_wires`, `between_batches`).

use std::collections::BTreeMap;

use meltlaw::compare::laws::{LawsComparison, Terms, Verdict, WireLaws, compare_laws};
use meltlaw::develop;
use meltlaw::extend::{ExtensionRequest, Target, extend};
use meltlaw::laws::FittedLaw;
use meltlaw::record::{LawsRecord, LawsWithOrigin, Provenance, StudyReference};
use meltlaw::statistics::Groups;
use meltlaw::study::{CovarianceFrom, Margins};
use meltlaw::virtual_bench::Kind;
use meltlaw_tests::reference::{json, number, numbers};
use serde_json::Value;

const TWO: &str = "reference/comparison_two_wires/expected.json";
const BATCHES: &str = "reference/between_batches/expected.json";

fn provenance() -> Provenance {
    Provenance {
        tool: "test".to_owned(),
        study: StudyReference { file: String::new(), sha256: String::new() },
        inputs: Vec::new(),
        seed: 1,
        draws: 1,
    }
}

fn skeleton() -> LawsRecord {
    let lab = Kind::Steel.lab(1, 0);
    develop::laws(&lab.study, &lab.trials).expect("a good lab")
}

/// Puts other numbers into a law by least squares.
fn put(law: &mut FittedLaw, values: &[f64], covariance: Vec<Vec<f64>>, degrees: usize, trials: usize) {
    law.coefficient_order.truncate(values.len());
    for (name, value) in law.coefficient_order.iter().zip(values) {
        law.coefficients.get_mut(name).expect("named in its order").value = Some(*value);
    }
    law.covariance = covariance;
    law.covariance_from = CovarianceFrom::Residuals;
    law.chi_squared_per_degree = Some(1.0);
    law.degrees_of_freedom = degrees;
    law.trials_used = (0..trials).map(|i| format!("T{i}")).collect();
    law.between_blocks = None;
    law.cloud = None;
}

fn range(ranges: &[(&str, [f64; 2])]) -> BTreeMap<String, [f64; 2]> {
    ranges.iter().map(|(name, range)| ((*name).to_owned(), *range)).collect()
}

fn matrix(value: &Value) -> Vec<Vec<f64>> {
    let rows = value.as_array().expect("rows");
    (0..rows.len()).map(|i| numbers(value, &format!("/{i}"))).collect()
}

fn compared(first: &LawsRecord, second: &LawsRecord, margins: Margins) -> LawsComparison {
    let origin = provenance();
    let side = |name: &'static str, record| WireLaws {
        name: name.to_owned(),
        batches: vec![LawsWithOrigin { name, record, provenance: &origin, checksum: name }],
    };
    let terms = Terms { margins, margins_from: "test".to_owned(), same_instruments: Vec::new(), seed: 5 };
    compare_laws(&[side("a", first), side("b", second)], &terms).expect("known forms and units")
}

/// Burn-off by what statsmodels fitted to one of the wires, at a single place.
fn wire(expected: &Value, which: usize) -> LawsRecord {
    let mut record = skeleton();
    let law = &expected["laws"][which];
    let [degrees, trials] = ["degrees", "trials"].map(|k| law[k].as_u64().expect("a count") as usize);
    let burn = &mut record.laws.burn_off;
    put(burn, &numbers(law, "/params"), matrix(&law["covariance"]), degrees, trials);
    let place = numbers(expected, "/place");
    burn.range = range(&[("current_mean_a", [place[0]; 2]), ("extension_rms_squared_mm_a2", [place[1]; 2])]);
    record
}

/// The same place in a wire that is known exactly and melts so many mm/s there.
fn exact(expected: &Value) -> LawsRecord {
    let mut record = wire(expected, 1);
    let scale = number(expected, "/against_exact/first")
        / numbers(expected, "/place")
            .iter()
            .zip(numbers(&expected["laws"][1], "/params"))
            .map(|(p, b)| p * b)
            .sum::<f64>();
    let values: Vec<f64> = numbers(&expected["laws"][1], "/params").iter().map(|b| b * scale).collect();
    put(&mut record.laws.burn_off, &values, vec![vec![0.0; 2]; 2], 1000, 1000);
    record
}

#[test]
fn at_one_place_the_interval_is_that_of_student_and_the_verdict_that_of_two_one_sided_tests() {
    let expected = json(TWO);
    let (first, second) = (exact(&expected), wire(&expected, 1));
    let ends = numbers(&expected, "/against_exact/interval_of_second_90");
    let value = number(&expected, "/against_exact/first");
    for case in expected["against_exact"]["two_one_sided_tests"].as_array().expect("cases") {
        let margin = case["margin"].as_f64().expect("a margin");
        let comparison = compared(&first, &second, Margins { wire_feed_relative: margin, ..Margins::default() });
        let feed = comparison.comparisons.iter().find(|c| c.law == "burn_off").expect("burn-off");
        let interval = feed.interval.expect("an interval");
        for (found, wanted) in interval.iter().zip(&ends) {
            // 10 000 draws leave 0.003 of the level, 0.018 of the quantile 1.746, 1 % of the half width; three of them.
            let half = 0.06 * (ends[1] - ends[0]) / 2.0;
            assert!((found - 0.06 * (wanted - value)).abs() < 0.03 * half, "{found} {wanted}");
        }
        let alike = case["alike"].as_bool().expect("a verdict");
        // The margins were chosen away from where 3 % of the half width would decide.
        assert_eq!(feed.verdict == Verdict::Alike, alike, "margin {margin}: {feed:?}");
    }
}

#[test]
fn over_an_interval_of_a_straight_line_the_band_is_as_wide_as_quadrature_says() {
    let expected = json(TWO);
    let line = &expected["straight_line"];
    let with = |covariance: Vec<Vec<f64>>, degrees: usize| {
        let mut record = skeleton();
        let law = &mut record.laws.arc_voltage;
        law.form = "current".to_owned();
        put(law, &[20.0, 0.03], covariance, degrees, degrees + 2);
        law.range = range(&[("current_mean_a", [number(line, "/from"), number(line, "/to")])]);
        record
    };
    let degrees = line["degrees"].as_u64().expect("degrees") as usize;
    let first = with(vec![vec![0.0; 2]; 2], 1000);
    let second = with(matrix(&line["covariance"]), degrees);
    let comparison = compared(&first, &second, Margins::default());
    let band = comparison.bands.iter().find(|b| b.law == "arc_voltage").expect("voltage");
    let wanted = number(line, "/critical_90");
    // One standard error of the drawn quantile is 0.018 or so; the grid of 31 places misses less than 0.1 %.
    assert!((band.critical - wanted).abs() < 0.06, "{} {wanted}", band.critical);
}

#[test]
fn the_likelihood_ratio_is_that_of_the_residuals() {
    let expected = json(TWO);
    let comparison = compared(&wire(&expected, 0), &wire(&expected, 1), Margins::default());
    let ratio = comparison.likelihood_ratio.iter().find(|l| l.law == "burn_off").expect("burn-off");
    let wanted = number(&expected, "/likelihood_ratio");
    let found = ratio.statistic.expect("a ratio");
    // scipy's minimum of the sum of logarithms is good to 1e-9 or so of it.
    assert!((found / wanted - 1.0).abs() < 1e-7, "{found} {wanted}");
    assert!(ratio.p_value.is_some_and(|p| p < 0.01));
}

#[test]
fn scatter_between_batches_is_that_of_meta_analysis() {
    let expected = json(BATCHES);
    for case in ["four_batches", "six_batches_precise", "three_that_agree"] {
        let at = &expected[case];
        let (values, variances) = (numbers(at, "/values"), numbers(at, "/variances"));
        let groups = Groups { values: &values, variances: &variances, along: &[] };
        let between = groups.between();
        let close = |found: f64, wanted: f64| (found - wanted).abs() <= 1e-6 * wanted.abs() + 1e-12;
        // statsmodels iterates Q to within 1e-7 of k − 1, so the variance to 1e-7 of itself; the profile's ends are brentq's.
        assert!(close(between, number(at, "/between")), "{case}: {between}");
        let line = groups.line(between);
        assert!(close(line.mean, number(at, "/mean")), "{case}: {line:?}");
        if between > 0.0 {
            assert!(close(line.variance.sqrt(), number(at, "/standard_error_hksj")), "{case}: {line:?}");
        }
        for (found, wanted) in groups.interval(0.95).iter().zip(numbers(at, "/interval_95")) {
            assert!(close(*found, wanted), "{case}: {found} {wanted}");
        }
    }
}

#[test]
fn balanced_batches_scatter_as_in_a_mixed_model() {
    let expected = json(BATCHES);
    let readings = matrix(&expected["mixed_model"]["readings"]);
    let each = readings[0].len() as f64;
    let values: Vec<f64> = readings.iter().map(|r| r.iter().sum::<f64>() / each).collect();
    let squares: f64 = readings.iter().zip(&values).flat_map(|(r, m)| r.iter().map(move |y| (y - m).powi(2))).sum();
    let within = squares / (readings.len() as f64 * (each - 1.0));
    let variances = vec![within / each; values.len()];
    let groups = Groups { values: &values, variances: &variances, along: &[] };
    // REML by iteration: statsmodels stops within 1e-4 or so of the variance.
    assert!((groups.between() / number(&expected, "/mixed_model/between") - 1.0).abs() < 1e-3, "{}", groups.between());
    assert!((within / number(&expected, "/mixed_model/within") - 1.0).abs() < 1e-3);
    let line = groups.line(groups.between());
    assert!((line.mean - number(&expected, "/mixed_model/mean")).abs() < 1e-6);
    assert!((line.variance.sqrt() / number(&expected, "/mixed_model/standard_error") - 1.0).abs() < 1e-3);
}

/// Studies of given diameters whose α and β follow the scaling exactly but for a factor on both, and are known as exactly.
fn studies(diameters: &[f64], factors: &[f64]) -> Vec<LawsRecord> {
    diameters
        .iter()
        .zip(factors)
        .map(|(diameter, factor)| {
            let mut record = skeleton();
            let d = diameter / 1.2;
            let values = [0.3 * factor / (d * d), 5e-5 * factor / d.powi(4)];
            // A billionth of each: nothing beside what scatters.
            let variance = |v: f64| (1e-9 * v).powi(2);
            put(
                &mut record.laws.burn_off,
                &values,
                vec![vec![variance(values[0]), 0.0], vec![0.0, variance(values[1])]],
                40,
                42,
            );
            record.wire.diameter_mm = *diameter;
            record
        })
        .collect()
}

fn extended(records: &[LawsRecord], target: Target, heterogeneity: Option<f64>) -> LawsRecord {
    let origin = provenance();
    let names: Vec<String> = (0..records.len()).map(|i| format!("study {i}")).collect();
    let bases: Vec<LawsWithOrigin<'_>> = records
        .iter()
        .zip(&names)
        .map(|(record, name)| LawsWithOrigin { name, record, provenance: &origin, checksum: name })
        .collect();
    let request = ExtensionRequest {
        target,
        heterogeneity_relative: heterogeneity,
        detachment_power: None,
        seed: 3,
        draws: 20_000,
    };
    extend(&bases, &request).expect("studies that carry so far")
}

#[test]
fn a_diameter_scales_alpha_and_beta_as_the_check_values_say() {
    // datasets/check_values.md, from the heat balance: 1.2 to 1.0 mm α × 1.44, β × 2.0736; 1.2 to 1.6 mm α × 0.5625, β × 0.316406.
    for (welded, target, alpha, beta) in [([1.2, 1.6], 1.0, 1.44, 2.0736), ([1.2, 1.0], 1.6, 0.5625, 0.316_406_25)] {
        let to = Target { wire_diameter_mm: Some(target), ..Target::default() };
        let laws = extended(&studies(&welded, &[1.0, 1.0]), to, Some(1e-9));
        let value = |name: &str| laws.laws.burn_off.coefficients[name].value.expect("a value");
        assert!((value("alpha_mm_per_a_s") / 0.3 / alpha - 1.0).abs() < 1e-8);
        assert!((value("beta_per_a2_s") / 5e-5 / beta - 1.0).abs() < 1e-8);
    }
}

#[test]
fn a_batch_that_nobody_welded_lies_where_student_says() {
    let expected = json(BATCHES);
    let values = numbers(&expected, "/new_group/values");
    let factors: Vec<f64> = values.iter().map(|v| v / 0.3).collect();
    let laws = extended(&studies(&[1.2; 4], &factors), Target { any_batch: true, ..Target::default() }, None);
    // α and β move together here, so the level moves as α does; what the level scatters is laid on α and β as if each moved
    // by itself: their feed in the middle is what must have Student's interval.
    let burn = &laws.laws.burn_off;
    let [current, heated] = ["current_mean_a", "extension_rms_squared_mm_a2"].map(|n| {
        let [low, high] = burn.range[n];
        f64::midpoint(low, high)
    });
    let weights = [current, heated];
    let variance: f64 = (0..2)
        .flat_map(|i| (0..2).map(move |j| (i, j)))
        .map(|(i, j)| weights[i] * weights[j] * burn.covariance[i][j])
        .sum();
    let half = meltlaw::statistics::student_t_quantile(0.975, burn.degrees_of_freedom as f64) * variance.sqrt();
    let ends = numbers(&expected, "/new_group/interval_95");
    let level = 0.3 * current + 5e-5 * heated;
    let wanted = (ends[1] - ends[0]) / 2.0 / 0.3 * level;
    // 20 000 draws leave 1.5 % of a half width at 95 % of Student's t with three degrees; correlations by ranks and one
    // number of degrees for both coefficients as much again.
    assert!((half / wanted - 1.0).abs() < 0.05, "{half} {wanted}");
}
