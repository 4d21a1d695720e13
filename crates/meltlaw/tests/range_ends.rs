//! What a line says of its ends, put to the test: the trial is left out, or the further trial welded, the laws are
//! fitted anew and the line composed anew.

use meltlaw::compose::compose;
use meltlaw::fit::fit_laws;
use meltlaw::line::{Line, RangeEnd};
use meltlaw::study::{ComposingRule, SourceLimits, Study};
use meltlaw::trials::Trials;
use meltlaw::virtual_bench::{Disturbance, Kind, Lab, Pulse, Setting, TrueWeld};

/// New laws and bent settings move an end by this much beside what is foretold to first order, m/min.
const FIRST_ORDER_M_MIN: f64 = 0.15;

/// A laboratory whose line is asked for far beyond its trials.
fn lab(number: u64) -> (Lab, Study) {
    let lab = Kind::Steel.lab(4, number);
    let mut study = lab.study.clone();
    study.line.wire_feed_m_min = [2.0, 13.0];
    study.line.step_m_min = 0.5;
    study.line.extended_by = 0.15;
    study.line.composing = ComposingRule::Midpoint;
    study.numerics.draws = 50;
    (lab, study)
}

fn line(study: &Study, trials: &Trials) -> Line {
    let fitted = fit_laws(study, trials);
    compose(study, &fitted.laws, &fitted.calibration)
}

fn high_end(line: &Line) -> &RangeEnd {
    line.range_ends.iter().rfind(|e| e.side == "high").expect("a line with nodes has a high end")
}

#[test]
fn an_end_names_the_variable_its_limit_and_the_trial_that_sets_it() {
    for number in 0..4 {
        let (lab, study) = lab(number);
        let line = line(&study, &lab.trials);
        let end = high_end(&line);
        assert_eq!(end.wire_feed_m_min, line.nodes.last().expect("the line has nodes").wire_feed_m_min);
        assert_eq!(end.limits, ["data_high"]);
        let name = end.variable.as_ref().expect("data end it");
        let validity = &line.validity[name];
        assert_eq!(end.limit_value, Some(validity.extended[1]));
        let [_, top] = validity.ends.as_ref().expect("the data end the line");
        assert_eq!((end.trial.as_ref(), top.value), (Some(&top.trial), validity.measured[1]));
        assert!(top.next.expect("the data end the line") <= top.value);
        assert!(end.reason.contains(&top.trial), "{}", end.reason);
        // The last node keeps the limit; one step of the search beyond it does not.
        let last = line.nodes.last().expect("the line has nodes");
        let (value, per_m_min) = match name.as_str() {
            "current_mean_a" => (last.current_mean_a, 25.0),
            _ => (14.0 * last.current_rms_a.powi(2), 2e5),
        };
        // Steps of 0.01 m/min at no more than so much per m/min.
        assert!((0.0..0.01 * per_m_min).contains(&(validity.extended[1] - value)), "{name} {value}");
    }
}

#[test]
fn without_the_trial_the_line_ends_where_it_was_foretold() {
    for number in 0..4 {
        let (lab, study) = lab(number);
        let before = line(&study, &lab.trials);
        let end = high_end(&before);
        let mut fewer = lab.trials.clone();
        let trial = end.trial.as_ref().expect("the data end the line");
        fewer.rows.iter_mut().filter(|row| row.name == *trial).for_each(|row| row.use_it = false);
        let after = line(&study, &fewer).nodes.last().expect("the line has nodes").wire_feed_m_min;
        let foretold = end.without_trial_m_min.expect("the data end the line");
        assert!((after - foretold).abs() < FIRST_ORDER_M_MIN, "{number}: {after} for {foretold}");
    }
}

#[test]
fn a_further_trial_moves_the_end_to_where_it_was_foretold() {
    for number in 0..4 {
        let (lab, study) = lab(number);
        let before = line(&study, &lab.trials);
        let end = high_end(&before);
        let further = end.further_trial.expect("data end it");
        assert!(further.end_m_min > end.wire_feed_m_min);
        // The settings of the last node and of one well inward, carried on in a straight line.
        let last = before.nodes.last().expect("the line has nodes");
        let inward = before
            .nodes
            .iter()
            .rfind(|n| last.wire_feed_m_min - n.wire_feed_m_min >= 0.2)
            .expect("the data end the line");
        let on = |of: fn(&meltlaw::line::Node) -> f64| {
            let slope = (of(last) - of(inward)) / (last.wire_feed_m_min - inward.wire_feed_m_min);
            of(last) + slope * (further.wire_feed_m_min - last.wire_feed_m_min)
        };
        let pulse = Pulse {
            current_a: on(|n| n.pulse_current_a),
            time_ms: on(|n| n.pulse_time_ms),
            frequency_hz: on(|n| n.pulse_frequency_hz),
        };
        let setting = Setting {
            wire_feed_mm_s: further.wire_feed_m_min / 0.06,
            ctwd_mm: study.bench.ctwd_mm,
            arc_length_mm: study.bench.arc_length_mm,
            pulse: Some(pulse),
        };
        // The bench of the invented process stops at 200 A of background, the line's source has no limit.
        let source = SourceLimits { background_current_a: Some([10.0, 400.0]), ..study.source.clone() };
        let weld = TrueWeld::new(&lab.truth, &source, study.reference_current_a(), setting)
            .expect("the process goes on a little beyond the trials");
        let mut stream = meltlaw::statistics::DrawStream::new(9, meltlaw::statistics::Purpose::Simulation, number);
        // Read without error: a reading that is 1 % off moves the end by 1.15 %.
        let mut exact = study.clone();
        let bench = &mut exact.bench;
        bench.wire_feed_relative_se = 0.0;
        bench.current_relative_se = 0.0;
        bench.voltage_se_v = 0.0;
        bench.arc_length_se_mm = 0.0;
        bench.pulse_time_relative_se = 0.0;
        let read = weld.read(&exact, &lab.truth, &Disturbance::default(), 150, "further".into(), 99, &mut stream);
        let mut more = lab.trials.clone();
        more.rows.push(read.with(meltlaw::trials::Column::RunOrder, 99.0));
        let after = line(&study, &more).nodes.last().expect("the line has nodes").wire_feed_m_min;
        assert!((after - further.end_m_min).abs() < FIRST_ORDER_M_MIN, "{number}: {after} for {further:?}");
    }
}
