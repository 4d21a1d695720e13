//! What the figures of a law say of themselves: as the tests of the record judge, with numbers where there are
//! any and with the reason where there are none.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use meltlaw::laws::{FitTest, FittedLaw, LineEffect, Reading};
use meltlaw_report::Report;
use sample::Sample;

/// Expected, seen, do of a figure of the page.
fn reading(report: &Report, figure: &str) -> [String; 3] {
    let from = report.html.find(&format!("<figure id=\"figure-{figure}\"")).unwrap_or_else(|| panic!("no {figure}"));
    let text = &report.html[from..];
    let text = &text[..text.find("</figure>").unwrap()];
    let text = text.split_once("<dl class=\"reading\">").unwrap().1;
    ["expected", "seen", "do"].map(|line| {
        let after = text.split_once(&format!("<dt>{line}</dt>")).unwrap().1;
        after.split(['>', '<']).nth(2).unwrap().to_owned()
    })
}

fn test(seen: &str, action: &str, warns: bool) -> FitTest {
    FitTest {
        statistic: Some(0.4),
        p_value: Some(if warns { 1e-5 } else { 0.3 }),
        effect: Some(0.12),
        unit: "m/min".to_owned(),
        reading: Reading::new("as should be", seen, action),
        warns,
        trials: Vec::new(),
        reason: None,
    }
}

fn burn_off(sample: &mut Sample) -> &mut FittedLaw {
    &mut sample.laws.laws.burn_off
}

const FIGURES_OF_LAWS: [&str; 18] = [
    "burn_off",
    "burn_off_residuals",
    "burn_off_in_order",
    "burn_off_tip_wear",
    "burn_off_leverage",
    "burn_off_influence",
    "burn_off_profiles",
    "burn_off_forms",
    "detachment_profiles",
    "detachment_forms",
    "arc_voltage",
    "arc_voltage_residuals",
    "arc_voltage_in_order",
    "arc_voltage_tip_wear",
    "arc_voltage_leverage",
    "arc_voltage_influence",
    "arc_voltage_profiles",
    "arc_voltage_forms",
];

#[test]
fn every_figure_of_a_law_has_three_lines_and_its_text_alternative_tells_what_it_shows() {
    let report = Sample::diagnosed().draw();
    for figure in FIGURES_OF_LAWS {
        let lines = reading(&report, figure);
        assert!(lines.iter().all(|line| line.len() > 5), "{figure}: {lines:?}");
        assert!(
            !lines.iter().any(|l| l.contains("unknown") || l.contains("  ") || l.contains("..")),
            "{figure}: {lines:?}"
        );
        let svg = &report.plots[&format!("{figure}.svg")];
        let words = svg.split_once("<desc").unwrap().1.split_once("</desc>").unwrap().0;
        // The first letter is a capital there.
        let seen = &lines[1][lines[1].char_indices().nth(1).unwrap().0..];
        assert!(words.contains(seen), "{figure}: {words} / {seen}");
    }
}

#[test]
fn a_course_asks_for_what_its_test_asks() {
    let mut sample = Sample::diagnosed();
    burn_off(&mut sample).tests.clear();
    let drift = test("-0.12 m/min of feed from first to last", "check the probes and weld two settings again", true);
    let wear = test("+0.02 m/min of feed from first to last", "nothing", false);
    burn_off(&mut sample).tests.insert("drift".to_owned(), drift);
    burn_off(&mut sample).tests.insert("tip_wear".to_owned(), wear);
    burn_off(&mut sample).diagnostics[5].studentised_residual = Some(0.3);
    let report = sample.draw();
    let [_, seen, action] = reading(&report, "burn_off_in_order");
    assert!(seen.starts_with("−0.12 m/min of feed"), "{seen}");
    assert_eq!(action, "check the probes and weld two settings again");
    assert_eq!(reading(&report, "burn_off_tip_wear")[2], "nothing");
}

#[test]
fn steps_between_coils_are_asked_about_where_the_order_is_drawn() {
    let mut sample = Sample::diagnosed();
    let blocks = test("blocks scatter by 0.31 V", "find what changed between the coils", true);
    sample.laws.laws.arc_voltage.tests.insert("blocks".to_owned(), blocks);
    let report = sample.draw();
    let [_, seen, action] = reading(&report, "arc_voltage_in_order");
    assert!(seen.contains("blocks scatter by 0.31 V") && action.contains("find what changed between the coils"));
    assert!(!reading(&report, "arc_voltage_tip_wear")[2].contains("find what changed"));
}

#[test]
fn a_course_whose_test_could_not_be_made_gives_the_reason_and_asks_for_nothing() {
    let mut sample = Sample::diagnosed();
    let not_made = FitTest::not_made("V", "no trend", "run_order is given for 3 of the trials used", "note run_order");
    sample.laws.laws.arc_voltage.tests.insert("drift".to_owned(), not_made);
    let [_, seen, action] = reading(&sample.draw(), "arc_voltage_in_order");
    assert!(seen.starts_with("not tested: run_order is given for 3"), "{seen}");
    // The page asks only for what was found; what a test would need stands apart there.
    assert_eq!(action, "nothing by this figure; to have it tested, note run_order");
}

#[test]
fn a_record_without_tests_is_told_and_not_judged() {
    let mut sample = Sample::diagnosed();
    sample.laws.laws.arc_voltage.tests.clear();
    sample.laws.laws.arc_voltage.diagnostics.iter_mut().for_each(|d| d.without_it.clear());
    sample.laws.laws.arc_voltage.chi_squared_per_degree = None;
    sample.laws.laws.arc_voltage.chi_squared_per_degree_reason = Some("no errors are stated".to_owned());
    let report = sample.draw();
    for figure in ["arc_voltage", "arc_voltage_residuals", "arc_voltage_in_order", "arc_voltage_leverage"] {
        let [_, seen, action] = reading(&report, figure);
        assert_eq!(action, "nothing by this figure alone; the record holds no test of it", "{figure}: {seen}");
    }
    let [_, seen, _] = reading(&report, "arc_voltage");
    assert!(seen.contains("not held against stated errors: no errors are stated"), "{seen}");
    assert!(reading(&report, "arc_voltage_in_order")[1].starts_with("the trend goes by "));
}

#[test]
fn spread_is_told_in_the_trades_unit_and_against_the_stated_errors() {
    let report = Sample::worked_example().draw();
    let [_, seen, _] = reading(&report, "burn_off");
    // 1.0891 mm/s · 0.06 = 0.0653 m/min; √0.80195 = 0.8955.
    assert!(seen.contains("scatter about the line by 0.065 m/min"), "{seen}");
    assert!(seen.contains("0.90 times") && seen.contains("per degree of freedom 0.80"), "{seen}");
    let [_, seen, _] = reading(&report, "burn_off_residuals");
    // 39 trials · 0.0455 = 1.8.
    assert!(seen.contains("of 39 trials") && seen.contains("chance alone brings about 2"), "{seen}");
}

#[test]
fn where_no_degree_of_freedom_is_left_nothing_is_claimed() {
    let mut sample = Sample::diagnosed();
    let law = burn_off(&mut sample);
    law.degrees_of_freedom = 0;
    law.diagnostics.truncate(2);
    law.diagnostics.iter_mut().for_each(|d| (d.studentised_residual, d.cooks_distance) = (None, None));
    law.tests.clear();
    let report = sample.draw();
    for figure in ["burn_off", "burn_off_residuals"] {
        let [_, seen, action] = reading(&report, figure);
        assert!(seen.contains("no degree of freedom is left") && action == "weld more trials", "{figure}: {seen}");
    }
    assert!(!report.plots["burn_off_residuals.svg"].contains("The band is"));
    assert!(!report.plots.contains_key("burn_off_leverage.svg"));
}

#[test]
fn a_trial_that_the_test_of_the_outliers_names_is_asked_about_by_every_figure_that_rings_it() {
    let report = Sample::diagnosed().draw();
    let asks = "look at the record of that weld; weld its setting again";
    for figure in ["burn_off_residuals", "burn_off_leverage"] {
        assert!(reading(&report, figure)[2].contains(asks), "{figure}");
    }
    assert!(reading(&report, "burn_off_in_order")[2].starts_with("look at the record of B06 first"));
    assert!(reading(&report, "burn_off_leverage")[1].contains("B06"));
}

#[test]
fn beyond_the_drawn_limit_the_test_has_the_last_word() {
    let mut sample = Sample::diagnosed();
    let law = burn_off(&mut sample);
    law.diagnostics[5].flags.clear();
    law.diagnostics[5].cooks_distance = Some(0.2);
    // As the program leaves it: no probability, with the reason why, yet made.
    let mut none = test("none", "nothing", false);
    (none.p_value, none.effect, none.statistic) = (None, Some(0.0), Some(0.0));
    none.reason = Some("the limit keeps the rate over all trials".to_owned());
    law.tests.insert("outliers".to_owned(), none);
    let report = sample.draw();
    let [_, seen, action] = reading(&report, "burn_off_leverage");
    assert!(seen.contains("B06 lies beyond the limit, but the test of the outliers"), "{seen}");
    assert_eq!(action, "nothing");
}

#[test]
fn a_trial_that_moves_the_law_by_its_error_is_welded_again() {
    let mut sample = Sample::diagnosed();
    burn_off(&mut sample).tests.clear();
    let law = burn_off(&mut sample);
    law.diagnostics[5].cooks_distance = Some(0.2);
    law.diagnostics[5].studentised_residual = Some(0.2);
    let error = law.coefficients["alpha_mm_per_a_s"].standard_error.unwrap();
    law.diagnostics.iter_mut().for_each(|d| d.without_it.values_mut().for_each(|v| *v = 0.0));
    law.diagnostics[3].without_it.insert("alpha_mm_per_a_s".to_owned(), -1.2 * error);
    let report = sample.draw();
    // Both figures ask for the same.
    assert_eq!(reading(&report, "burn_off_leverage")[2], "weld B04 again: the law hangs on it");
    let [_, seen, action] = reading(&report, "burn_off_influence");
    assert!(seen.contains("without it α (melting by the arc) moves by −1.2 standard errors"), "{seen}");
    assert_eq!(action, "weld B04 again: the law hangs on it");
    burn_off(&mut sample).diagnostics[3].without_it.insert("alpha_mm_per_a_s".to_owned(), 0.9 * error);
    assert_eq!(reading(&sample.draw(), "burn_off_influence")[2], "nothing");
    // All coefficients together by more than the law's error, each by less than its own.
    burn_off(&mut sample).diagnostics[3].cooks_distance = Some(1.2);
    assert_eq!(reading(&sample.draw(), "burn_off_leverage")[2], "weld B04 again: the law hangs on it");
}

#[test]
fn older_records_leave_figures_out_and_the_rest_stands() {
    let mut sample = Sample::diagnosed();
    for d in &mut burn_off(&mut sample).diagnostics {
        d.without_it.clear();
        d.surprise = None;
    }
    burn_off(&mut sample).profiles.clear();
    let report = sample.draw();
    assert!(
        !report.plots.contains_key("burn_off_influence.svg") && !report.plots.contains_key("burn_off_profiles.svg")
    );
    assert!(reading(&report, "burn_off_leverage")[1].contains(" has most say: leverage "));
}

#[test]
fn a_profile_that_stays_open_asks_for_the_trial_that_would_close_it() {
    let report = Sample::diagnosed().draw();
    let [_, seen, action] = reading(&report, "detachment_profiles");
    assert!(seen.contains("4 of 5 coefficients are held from both sides"), "{seen}");
    assert!(seen.contains("τ is open on the upper side (repeat a setting five times)"), "{seen}");
    assert_eq!(action, "quote no ± for τ: repeat a setting five times");
    // The sample's profiles end 1.95 standard errors below and 2.05 above: 5 % more.
    let [_, seen, action] = reading(&report, "burn_off_profiles");
    assert!(seen.contains("all 2 coefficients are held from both sides") && seen.contains("upwards and"), "{seen}");
    assert!(seen.ends_with("5\u{a0}% more"), "{seen}");
    assert_eq!(action, "nothing");
}

#[test]
fn an_uneven_profile_is_quoted_by_its_two_ends() {
    let mut sample = Sample::diagnosed();
    let profile = &mut burn_off(&mut sample).profiles[0];
    let upper = profile.interval[1].unwrap();
    let estimate = profile.values[profile.values.len() / 2];
    profile.interval[1] = Some(upper + 0.5 * (upper - estimate));
    let [_, seen, action] = reading(&sample.draw(), "burn_off_profiles");
    assert!(seen.contains("least even is α"), "{seen}");
    assert!(action.starts_with("nothing; but quote the interval with its two ends"), "{action}");
}

#[test]
fn another_form_is_told_with_what_it_would_do_and_only_the_test_asks() {
    let mut sample = Sample::diagnosed();
    let law = burn_off(&mut sample);
    assert!(law.candidates[1].form == "offset");
    // e^0.05 − 1 = 5.1 %.
    law.candidates[1].leave_one_out_log_density = Some(-1.56);
    law.candidates[1].line_effect = Some(LineEffect {
        value: -0.12,
        unit: "m/min".to_owned(),
        at_wire_feed_m_min: 9.0,
        standard_errors: Some(2.3),
    });
    let [_, seen, action] = reading(&sample.draw(), "burn_off_forms");
    assert!(seen.contains("“with an offset” foretells a left-out weld 5\u{a0}% better"), "{seen}");
    assert!(seen.contains("it would move the line by up to 0.12 m/min (2.3 standard errors), at 9.0 m/min"), "{seen}");
    assert!(action.starts_with("nothing by these trials"), "{action}");
    let form =
        test("offset (offset -2.1 mm/s) would move the line by up to -0.12 m/min", "weld where the forms differ", true);
    burn_off(&mut sample).tests.insert("form".to_owned(), form);
    let [_, seen, action] = reading(&sample.draw(), "burn_off_forms");
    assert!(seen.contains("“with an offset” (offset −2.1 mm/s) would move the line by up to −0.12 m/min"), "{seen}");
    assert_eq!(action, "weld where the forms differ");
}

#[test]
fn a_law_that_is_not_usable_is_not_recommended_by_its_figure() {
    let mut sample = Sample::diagnosed();
    burn_off(&mut sample).ended.usable = false;
    burn_off(&mut sample).ended.reason = "the fit did not settle; weld two more feeds".to_owned();
    let [.., action] = reading(&sample.draw(), "burn_off");
    assert_eq!(action, "do not use this law: the fit did not settle; weld two more feeds");
}
