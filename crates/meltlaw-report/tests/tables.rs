//! Every table of the page as a spreadsheet takes it: one value a cell, numbers that are read as numbers.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use meltlaw::laws::{PriorPull, Reading};
use meltlaw::line::{Drift, DriftRange, Influence};
use meltlaw::study::Assumed;
use sample::Sample;
use sample::markup::{Cell, check_tables, is_number_or_nothing, tables};

fn check(sample: &Sample) -> Vec<String> {
    check_tables(&sample.draw().html)
}

/// Everything that has a table, in one result.
fn full() -> Sample {
    let mut sample = Sample::with_heat();
    let composed = Sample::composed();
    sample.line.line.composing = composed.line.line.composing;
    for (node, other) in sample.line.line.nodes.iter_mut().zip(composed.line.line.nodes) {
        (node.cost, node.limits, node.pinned) = (other.cost, other.limits, other.pinned);
        let range = |low: f64, high: f64| DriftRange {
            low,
            fails_below: "one_drop_low".to_owned(),
            high,
            fails_above: "arc_short".to_owned(),
        };
        node.drift = Some(Drift {
            pulse_current_a: range(380.0, 460.0),
            pulse_time_ms: range(2.0, 2.9),
            pulse_frequency_hz: range(80.0, 120.0),
            background_current_a: range(40.0, 90.0),
            wire_feed_m_min: range(5.8, 6.2),
        });
    }
    sample.laws = Sample::diagnosed().laws;
    sample.laws.assumed = vec![Assumed {
        key: "bench.arc_length_mm".to_owned(),
        value: "4".to_owned(),
        source: "mean of the trials".to_owned(),
    }];
    let alpha = sample.laws.laws.burn_off.coefficients.get_mut("alpha_mm_per_a_s").unwrap();
    alpha.prior = Some(PriorPull {
        mean: 0.31,
        standard_deviation: 0.02,
        source: "an earlier campaign".to_owned(),
        without: Some(0.306),
        without_standard_error: Some(0.005),
        share: 0.06,
        distance: Some(-0.2),
        p_value: None,
        reading: Reading::new("within 2.5", "-0.2", "nothing"),
        reason: None,
    });
    sample.line.line.influence = vec![Influence {
        trial: "B06".to_owned(),
        law: "burn_off".to_owned(),
        quantity: "wire feed melted".to_owned(),
        unit: "m/min".to_owned(),
        changes: vec![-0.011; 3],
        largest: -0.011,
        at_wire_feed_m_min: 8.0,
        standard_errors: Some(-0.4),
    }];
    sample
}

#[test]
fn every_table_of_a_full_report_pastes_cleanly_and_carries_its_data() {
    let captions = check(&full());
    for begins in [
        "Settings to confirm",
        "What to set",
        "What it does",
        "What each feed melts",
        "What goes into each millimetre",
        "V1 at 6.0 m/min",
        "Changes with",
        "What limits each node most",
        "Coefficients of the burn-off law",
        "Knowledge stated",
        "Trials against the detachment law",
        "Drift of single settings",
        "What fails first",
        "What is weighed",
        "This line beside the midpoint rule",
        "What each node gave up",
        "The five most surprising welds",
        "Trials that move the line most",
        "Forms tried beside",
        "What another form would do",
        "Fit and refit",
        "Trials left out",
        "Defaults used",
        "Ranges of the trials and how far beyond them",
        "What it was made from",
    ] {
        assert!(captions.iter().any(|c| c.starts_with(begins)), "no table ‘{begins}’ among {captions:?}");
    }
}

#[test]
fn tables_with_gaps_negative_and_missing_numbers_paste_cleanly_too() {
    let mut sample = full();
    for law in [&mut sample.laws.laws.burn_off, &mut sample.laws.laws.detachment, &mut sample.laws.laws.arc_voltage] {
        for c in law.coefficients.values_mut() {
            (c.value, c.standard_error, c.standard_error_with_calibration) = (c.value.map(|v| -1e-5 * v), None, None);
            c.interval = [None, Some(-1e9)];
        }
        law.diagnostics[0].studentised_residual = Some(f64::INFINITY);
        law.diagnostics[1].leverage = None;
        law.diagnostics[2].surprise = Some(0.0);
        law.candidates[0].aicc = None;
        law.candidates[1].line_effect.as_mut().unwrap().value = -1.3e-7;
        law.candidates[1].reason = Some("the fit did not converge".to_owned());
    }
    let quantity = &mut sample.line.beside_constant_voltage[0].quantities[0];
    (quantity.interval, quantity.standard_error, quantity.reason) = (None, None, Some("no error stated".to_owned()));
    for node in &mut sample.line.line.nodes {
        (node.cost, node.power_mean_w_interval, node.heat_input_kj_mm_interval) = (None, None, None);
    }
    check(&sample);
    for sample in [Sample::worked_example(), Sample::dense(), Sample::diagnosed(), Sample::without_burn_off()] {
        check(&sample);
    }
}

#[test]
fn the_reader_of_tables_sees_what_it_must() {
    // So that the tests above cannot pass on tables they do not read.
    let page = "<table><caption>c</caption><thead><tr><th scope=\"col\">a <span>A</span></th><th class=\"text\">b</th></tr></thead>\
        <tbody><tr><th scope=\"row\">1</th><td class=\"text unit\">x<i>y</i></td></tr></tbody></table><p>after</p><h3>";
    let [table] = &tables(page)[..] else { panic!() };
    let cell = |words: bool, says: &str| Cell { words, says: says.to_owned() };
    assert_eq!(table.heads, [cell(false, "a A"), cell(true, "b")]);
    assert_eq!(table.rows, [vec![cell(false, "1"), cell(true, "xy")]]);
    assert_eq!(table.after, "<p>after</p>");
    for not in ["−1", "1 to 2", "5 %", "5.4 × 10⁻⁵", "6.0*", "–", "unknown", " 1"] {
        assert!(!is_number_or_nothing(not), "{not}");
    }
    assert!(["", "-1.5", "1e-5", "240"].iter().all(|n| is_number_or_nothing(n)));
}
