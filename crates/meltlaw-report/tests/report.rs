//! The report as a whole: what it must say, and what no input may make of it.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use meltlaw::checks::Severity;
use meltlaw::factors::Factor;
use meltlaw::laws::FittedLaw;
use meltlaw::line::StandingRange;
use sample::Sample;
use sample::markup::{assert_balanced, assert_page, assert_svg};

fn assert_sound(sample: &Sample) -> meltlaw_report::Report {
    let report = sample.draw();
    let page = sample::without_scripts(&report.html);
    assert_page(&page);
    for (file, svg) in &report.plots {
        assert_svg(svg, file);
    }
    assert!(!report.html.contains("http:") && !report.html.contains("https:"), "something outside is named");
    assert!(report.html.len() < 1_500_000, "{} bytes", report.html.len());
    report
}

#[test]
fn the_worked_example_gives_every_figure_and_the_verdict_first() {
    let report = assert_sound(&Sample::worked_example());
    let names: Vec<&str> = report.plots.keys().map(String::as_str).collect();
    assert_eq!(
        names,
        [
            "arc_voltage.svg",
            "arc_voltage_in_order.svg",
            "arc_voltage_leverage.svg",
            "arc_voltage_residuals.svg",
            "budget_melting_rate.svg",
            "budget_one_drop.svg",
            "budget_voltage.svg",
            "burn_off.svg",
            "burn_off_forms.svg",
            "burn_off_in_order.svg",
            "burn_off_leverage.svg",
            "burn_off_residuals.svg",
            "detachment_map.svg",
            "detachment_shares.svg",
            "line_currents.svg",
            "line_drop.svg",
            "line_frequency.svg",
            "line_melting_error.svg",
            "line_one_drop.svg",
            "line_pulse_time.svg",
            "line_voltage.svg",
            "range.svg",
        ]
    );
    let text = &report.html;
    let places: Vec<usize> = [
        "Verdict",
        "The line",
        "How well it is known",
        "The laws and their trials",
        "One drop per pulse",
        "Tests and findings",
        "Left out, assumed, not covered",
        "What to weld next",
        "Cautions",
        "Where it comes from",
    ]
    .iter()
    .map(|heading| text.find(&format!("-heading\">{heading}</h2>")).unwrap())
    .collect();
    assert!(places.is_sorted());
    for said in [
        "Covered by trials: the line may be tried from 4.0 to 8.0\u{a0}m/min.",
        "trials at higher wire feeds",
        "0.3069",
        "10⁻⁵ 1/(A² s)",
        "<td>5.13</td><td>5.65</td>",
    ] {
        assert!(text.contains(said), "{said}");
    }
}

#[test]
fn a_line_with_a_gap_and_extended_ends_says_each_range_by_itself() {
    let report = assert_sound(&Sample::dense());
    for said in [
        "from 3.5 to 5.0\u{a0}m/min and from 6.0 to 8.0\u{a0}m/min",
        "from 3.0 to 3.5\u{a0}m/min and from 8.0 to 9.0\u{a0}m/min",
        "No setting from 5.2 to 5.8 m/min: one drop per pulse is not sure enough",
        "compare the window of mean current and waveform",
    ] {
        assert!(report.html.contains(said), "{said}");
    }
}

#[test]
fn a_diagnosed_fit_is_drawn_law_by_law_with_its_data() {
    let report = assert_sound(&Sample::diagnosed());
    for figure in [
        "burn_off_in_order",
        "burn_off_tip_wear",
        "burn_off_leverage",
        "burn_off_influence",
        "burn_off_profiles",
        "burn_off_forms",
        "detachment_profiles",
        "arc_voltage_influence",
        "detachment_forms",
        "arc_voltage_in_order",
        "arc_voltage_leverage",
        "arc_voltage_forms",
    ] {
        assert!(report.plots.contains_key(&format!("{figure}.svg")), "{figure}");
        assert!(report.html.contains(&format!("download=\"{figure}.csv\"")), "{figure}");
    }
    for said in [
        "One test warns, of the burn-off law (trials that do not fit).",
        // 8.2 mm/s are 0.492 m/min; the size stands before the probability.
        "(0.49 m/min, p &lt; 0.001)",
        "Trials: B06.",
        "<td>1000000</td>",
        "look at the record of this weld",
        "What to improve first",
        "With that halved",
        "open on the upper side (repeat a setting five times)",
        "<td>0.030</td><td class=\"text unit\">m/min</td><td>9.00</td><td>0.80</td>",
        "Scatter between blocks: </strong>0.11 V",
    ] {
        assert!(report.html.contains(said), "{said}");
    }
    let course = &report.plots["burn_off_in_order.svg"];
    assert!(course.contains("B06") && course.contains("coil B") && course.contains("limit"));
}

#[test]
fn warnings_come_before_all_other_readings() {
    let mut sample = Sample::diagnosed();
    let tests = &mut sample.laws.laws.arc_voltage.tests;
    let mut warning = sample.laws.laws.burn_off.tests["outliers"].clone();
    warning.reading.seen = "the last of all laws".to_owned();
    tests.insert("zz_last".to_owned(), warning);
    let report = assert_sound(&sample);
    let diagnostics = &report.html[report.html.find("id=\"diagnostics\"").unwrap()..];
    let last_warning = diagnostics.find("the last of all laws").unwrap();
    let first_other = diagnostics.find("as expected</summary>").unwrap();
    assert!(last_warning < first_other);
    assert!(
        report
            .html
            .contains("2 tests warn, of the burn-off law (trials that do not fit) and the arc voltage law (zz last).")
    );
}

#[test]
fn a_law_without_diagnosis_draws_none() {
    let mut sample = Sample::diagnosed();
    for law in [&mut sample.laws.laws.burn_off, &mut sample.laws.laws.detachment, &mut sample.laws.laws.arc_voltage] {
        law.diagnostics.clear();
        law.profiles.clear();
        law.candidates.clear();
        law.robust = None;
        law.between_blocks = None;
        law.tests.clear();
    }
    let report = assert_sound(&sample);
    let diagnosis = ["in_order", "tip_wear", "leverage", "influence", "profiles", "forms"];
    for name in report.plots.keys() {
        assert!(!diagnosis.iter().any(|d| name.contains(d)), "{name}");
    }
    assert!(report.html.contains("No test warns.") && !report.html.contains("most surprising welds"));
}

#[test]
fn numbers_that_are_missing_or_wild_leave_the_rest_standing() {
    let mut sample = Sample::diagnosed();
    for law in [&mut sample.laws.laws.burn_off, &mut sample.laws.laws.arc_voltage] {
        law.degrees_of_freedom = 1;
        law.diagnostics[0].studentised_residual = None;
        law.diagnostics[1].leverage = None;
        law.diagnostics[2].studentised_residual = Some(f64::INFINITY);
        law.diagnostics[3].surprise = Some(f64::NAN);
        law.diagnostics[4].without_it.values_mut().for_each(|v| *v = f64::NAN);
        law.profiles[0].values.truncate(1);
        law.profiles[1].interval = [None, None];
        law.candidates[0].aicc = None;
        law.candidates[1].leave_one_out_log_density = Some(f64::NEG_INFINITY);
    }
    assert_sound(&sample);
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    assert_eq!(Sample::dense().draw(), Sample::dense().draw());
}

#[test]
fn a_missing_law_is_said_first_with_reason_and_cure() {
    let report = assert_sound(&Sample::without_burn_off());
    let verdict = report.html.find("There is no line: the burn-off law is missing.").unwrap();
    assert!(verdict < report.html.find("-heading\">The line</h2>").unwrap());
    assert!(report.html.contains("weld at least 4 at different feeds"));
    assert!(!report.plots.contains_key("line_currents.svg") && !report.plots.contains_key("burn_off.svg"));
    assert!(report.plots.contains_key("detachment_map.svg"));
}

#[test]
fn laws_without_a_single_feasible_feed_say_what_stands_in_the_way() {
    let mut sample = Sample::worked_example();
    sample.line.line.nodes.clear();
    sample.line.line.standing.clear();
    sample.line.line.unsupported[0].wire_feed_m_min = [3.0, 9.5];
    let report = assert_sound(&sample);
    assert!(report.html.contains("There is no setting at any wire feed that was asked for."));
}

#[test]
fn nothing_at_all_still_gives_a_page() {
    let mut sample = Sample::without_burn_off();
    let empty = |law: &mut FittedLaw| {
        law.coefficients.clear();
        law.diagnostics.clear();
        law.trials_used.clear();
        law.ended.usable = false;
        "no row has what the law needs".clone_into(&mut law.ended.reason);
    };
    let laws = &mut sample.laws.laws;
    [&mut laws.burn_off, &mut laws.detachment, &mut laws.arc_voltage].into_iter().for_each(empty);
    sample.trials.rows.clear();
    sample.laws.calibration.clear();
    sample.line.line.unsupported.clear();
    sample.line.line.validity.clear();
    sample.line.gas = None;
    sample.line.gas_reason = Some("the study does not say".to_owned());
    let report = assert_sound(&sample);
    assert!(report.plots.is_empty());
    assert!(report.html.contains("the burn-off law, detachment law and arc voltage law are missing"));
}

#[test]
fn a_threshold_that_is_only_bounded_leaves_the_trials_on_the_map() {
    let mut sample = Sample::worked_example();
    let more = sample.laws.laws.detachment.coefficients.get_mut("more_drops_from_ms").unwrap();
    more.value = None;
    more.standard_error = None;
    more.interval = [Some(3.9), None];
    more.reason = Some("no counted pulse detached more than one drop; weld 5 ms at 400 A".to_owned());
    let report = assert_sound(&sample);
    assert!(report.plots.contains_key("detachment_map.svg") && !report.plots.contains_key("detachment_shares.svg"));
    assert!(
        report.html.contains("<td>3.900</td><td></td>")
            && report.html.contains("open above")
            && report.html.contains("weld 5 ms at 400 A")
    );
}

#[test]
fn one_node_alone_is_drawn() {
    let mut sample = Sample::worked_example();
    sample.line.line.nodes.truncate(1);
    sample.line.request = None;
    assert!(assert_sound(&sample).html.contains("at 4.0\u{a0}m/min only"));
}

#[test]
fn a_withdrawn_range_is_said_before_anything_else() {
    let mut sample = Sample::worked_example();
    sample.line.line.standing = vec![StandingRange {
        state: "withdrawn".to_owned(),
        wire_feed_m_min: [4.0, 6.0],
        rule: None,
        evidence: Some("new batch burns longer".to_owned()),
        date: Some("2026-11-25".to_owned()),
        by: Some("R. Ebner".to_owned()),
    }];
    let report = assert_sound(&sample);
    let [stop, may] = ["Do not use it from 4.0 to 6.0\u{a0}m/min: withdrawn.", "the line may be tried"]
        .map(|t| report.html.find(t).unwrap());
    assert!(stop < may);
}

#[test]
fn a_contradicted_range_is_not_offered_by_the_page() {
    let mut sample = Sample::worked_example();
    let contradicted = |wire_feed_m_min| StandingRange {
        state: "contradicted".to_owned(),
        wire_feed_m_min,
        rule: None,
        evidence: None,
        date: None,
        by: None,
    };
    sample.line.line.standing = vec![contradicted([4.0, 6.0])];
    let html = assert_sound(&sample).html;
    assert!(html.contains("Do not use it from 4.0 to 6.0\u{a0}m/min: contradicted."));
    assert!(html.contains("the line may be tried from 6.0 to 8.0\u{a0}m/min"), "the rest of the line");
    assert!(
        html.contains(r#""status":"contradicted","reason":"confirmation welds contradict the line from 4 to 6 m/min"#)
    );
    // The page opens at a node that may be used.
    assert!(html.contains(r#"<strong id="setting-feed">8.0 m/min"#));
    sample.line.line.standing = vec![contradicted([0.0, 9.0])];
    let html = assert_sound(&sample).html;
    assert!(html.contains("Do not use it from 0.0 to 9.0") && !html.contains("the line may be tried"));
}

#[test]
fn hostile_texts_everywhere_stay_texts() {
    const HOSTILE: &str = "</style></title></svg><script>alert('x')</script><img src=x onerror=\"a()\">&amp;]]> http";
    let mut sample = Sample::diagnosed();
    let hostile = || HOSTILE.to_owned();
    sample.laws.name = hostile();
    sample.line.name = hostile();
    sample.line.wire.designation = hostile();
    sample.line.line.interpolation.rule = hostile();
    sample.line.line.unsupported[0].reason = hostile();
    sample.line.line.unsupported[0].limits = vec![hostile()];
    sample.line.line.nodes[0].notes = vec![hostile()];
    sample.line.line.nodes[0].support = hostile();
    sample.line.line.nodes[0].limits = vec![hostile()];
    for node in &mut sample.line.line.nodes {
        node.budget.melting_rate.insert(hostile(), 0.5);
    }
    sample.laws.findings[0].reading.seen = hostile();
    sample.laws.findings[0].severity = Severity::Stop;
    sample.laws.findings[0].rows[0].trial = hostile();
    sample.laws.findings[0].rows[0].file = hostile();
    sample.laws.reading_notes = vec![hostile()];
    sample.laws.not_covered = vec![hostile()];
    let laws = &mut sample.laws.laws;
    for law in [&mut laws.burn_off, &mut laws.detachment, &mut laws.arc_voltage] {
        law.equation = hostile();
        law.notes = vec![hostile()];
        law.ended.how = hostile();
        law.diagnostics[0].trial = hostile();
        law.diagnostics[0].flags = vec![hostile()];
        law.trials_left_out[0].reason = hostile();
        law.trials_left_out[0].trial = hostile();
        law.trials_used[0] = hostile();
        law.diagnostics[0].studentised_residual = Some(9.0);
        law.diagnostics[0].surprise = Some(1e-8);
        law.diagnostics[0].without_it.values_mut().for_each(|v| *v = 1.0);
        law.candidates[1].form = hostile();
        law.candidates[1].reason = Some(hostile());
        law.candidates[1].line_effect.as_mut().unwrap().unit = hostile();
        law.profiles[0].coefficient = hostile();
        law.profiles[0].unit = hostile();
        law.profiles[0].interval = [None, None];
        law.profiles[0].reason = Some(hostile());
        let robust = law.robust.as_mut().unwrap();
        robust.method = hostile();
        robust.downweighted.insert(hostile(), 0.1);
        robust.reading.action = hostile();
        for test in law.tests.values_mut() {
            test.unit = hostile();
            test.trials = vec![hostile()];
        }
        let mut odd = law.coefficients.values().next().unwrap().clone();
        odd.unit = hostile();
        law.coefficients.insert(hostile(), odd);
    }
    sample.trials.rows[0].name = hostile();
    sample.trials.rows[0].note = hostile();
    sample.trials.rows[0].set_level(Factor::Block, Some(hostile()));
    sample.laws.laws.arc_voltage.between_blocks.as_mut().unwrap().effect_unit = hostile();
    sample.trials.sources[0].file = hostile();
    sample.provenance.tool = hostile();
    sample.provenance.study.file = hostile();
    sample.provenance.inputs[0].file = hostile();
    sample.cautions.push(hostile());

    let report = sample.draw();
    let page = sample::without_scripts(&report.html);
    assert_balanced(&page, "report.html");
    assert!(!report.html.contains("<img"));
    assert_eq!(report.html.matches("</style>").count(), 1);
    // The page's, the waveform's and one for each figure.
    assert_eq!(report.html.matches("</title>").count(), 2 + report.plots.len());
    for (file, svg) in &report.plots {
        assert_balanced(svg, file);
        assert!(!svg.contains("<script") && !svg.contains("<img"), "{file}");
    }
}
