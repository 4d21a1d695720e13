//! The worked example as a report's input, and the same made hostile, denser or poorer.
#![allow(dead_code, clippy::unwrap_used, reason = "shared by several test programs; tests stop at the first surprise")]

mod composed;
pub(crate) mod markup;

use meltlaw::cautions::cautions;
use meltlaw::checks::{Finding, RowReference, Severity};
use meltlaw::factors::Factor;
use meltlaw::laws::{
    BetweenBlocks, Candidate, Ended, FitTest, HeldOutRange, LineEffect, Profile, Reading, RobustRefit,
};
use meltlaw::line::{Node, Unsupported};
use meltlaw::materials::Material;
use meltlaw::record::{InputReference, LawsRecord, LineRecord, Provenance, StudyReference};
use meltlaw::study::{ComposingRule, LineRequest, Weights};
use meltlaw::trials::{Column, Trial, TrialSource, Trials};
use meltlaw_report::{Report, ReportInput, draw};

/// Everything that a report borrows.
#[derive(Debug, Clone)]
pub(crate) struct Sample {
    pub(crate) laws: LawsRecord,
    pub(crate) line: LineRecord,
    pub(crate) trials: Trials,
    pub(crate) provenance: Provenance,
    pub(crate) cautions: Vec<String>,
}

impl Sample {
    /// `laws.json`, `line.json` and `trials.csv` of the worked example.
    pub(crate) fn worked_example() -> Self {
        let laws: LawsRecord =
            serde_json::from_str(include_str!("../../../../datasets/worked_example/laws.json")).unwrap();
        let mut line: LineRecord =
            serde_json::from_str(include_str!("../../../../datasets/worked_example/line.json")).unwrap();
        line.name = "Worked example: solid wire 1.2 mm, invented".to_owned();
        line.request = Some(LineRequest {
            wire_feed_m_min: [3.0, 9.5],
            step_m_min: 0.5,
            drop_to_wire_ratio: 1.1,
            drop_to_wire_limits: [0.8, 1.4],
            interpolation_tolerance: 0.002,
            one_drop_floor: 0.8,
            extended_by: 0.15,
            extended_melting_rate_relative_se: 0.02,
            travel_speed_mm_s: Some(7.0),
            pins: Vec::new(),
            composing: ComposingRule::default(),
            weights: Weights::default(),
        });
        let provenance = Provenance {
            tool: "meltlaw 0.1.0".to_owned(),
            study: StudyReference { file: "study.toml".to_owned(), sha256: "53b2".repeat(16) },
            inputs: vec![InputReference {
                file: "trials.csv".to_owned(),
                sha256: "58ea".repeat(16),
                rows: 40,
                rows_used: 39,
            }],
            seed: 1,
            draws: 20000,
        };
        let cautions = cautions(&[Material::CarbonSteel]);
        Self { laws, line, trials: trials(), provenance, cautions }
    }

    /// Nodes every half metre with an extended end, a gap, findings and a trial that stands out.
    pub(crate) fn dense() -> Self {
        let mut sample = Self::worked_example();
        let nodes = &sample.line.line.nodes;
        let at = |feed: f64| -> Node {
            let (a, b) = if feed < 6.0 { (&nodes[0], &nodes[1]) } else { (&nodes[1], &nodes[2]) };
            let t = (feed - a.wire_feed_m_min) / (b.wire_feed_m_min - a.wire_feed_m_min);
            let mix = |x: f64, y: f64| x + t * (y - x);
            let mut n = a.clone();
            n.wire_feed_m_min = feed;
            n.pulse_frequency_hz = mix(a.pulse_frequency_hz, b.pulse_frequency_hz);
            n.background_current_a = mix(a.background_current_a, b.background_current_a);
            n.current_mean_a = mix(a.current_mean_a, b.current_mean_a);
            n.current_rms_a = mix(a.current_rms_a, b.current_rms_a);
            n.drop_diameter_mm = mix(a.drop_diameter_mm, b.drop_diameter_mm);
            n.melting_rate_kg_h = mix(a.melting_rate_kg_h, b.melting_rate_kg_h);
            n.melting_rate_relative_se = mix(a.melting_rate_relative_se, b.melting_rate_relative_se);
            n.voltage_mean_v = mix(a.voltage_mean_v, b.voltage_mean_v);
            for end in 0..2 {
                n.voltage_mean_v_interval[end] = mix(a.voltage_mean_v_interval[end], b.voltage_mean_v_interval[end]);
                n.next_weld.voltage_mean_v[end] = mix(a.next_weld.voltage_mean_v[end], b.next_weld.voltage_mean_v[end]);
                n.next_weld.current_mean_a[end] = mix(a.next_weld.current_mean_a[end], b.next_weld.current_mean_a[end]);
                n.balancing_background_current_a_interval[end] =
                    mix(a.balancing_background_current_a_interval[end], b.balancing_background_current_a_interval[end]);
            }
            if !(3.5..=8.2).contains(&feed) {
                n.support = "extended".to_owned();
            }
            if feed > 7.2 {
                n.limits = vec!["background_high".to_owned()];
            }
            n
        };
        let feeds: Vec<f64> = (6..=18).map(|n| f64::from(n) / 2.0).filter(|f| *f != 5.5).collect();
        let nodes: Vec<Node> = feeds.into_iter().map(at).collect();
        sample.line.line.nodes = nodes;
        sample.line.line.unsupported.push(Unsupported {
            wire_feed_m_min: [5.2, 5.8],
            limits: vec!["one_drop_low".to_owned()],
            reason: "the lower end of the one-drop probability is 0.78, the study asks for 0.80".to_owned(),
        });
        sample.laws.not_covered = vec!["voltage_gain_relative".to_owned(), "pulse_time_gain_relative".to_owned()];
        sample.laws.laws.burn_off.diagnostics[5].flags = vec!["studentised residual 3.4".to_owned()];
        sample.laws.findings = vec![
            Finding {
                check: "mean_current_against_waveform".to_owned(),
                severity: Severity::Warning,
                rows: vec![RowReference {
                    file: "trials.csv".to_owned(),
                    row: 12,
                    trial: "B11".to_owned(),
                    column: Some("current_mean_a".to_owned()),
                    found: Some("244.2 A".to_owned()),
                }],
                reading: Reading::new(
                    "252 A from the waveform",
                    "244.2 A",
                    "compare the window of mean current and waveform",
                ),
            },
            Finding {
                check: "gas_for_material".to_owned(),
                severity: Severity::Note,
                rows: Vec::new(),
                reading: Reading::new("argon with 2 to 20 % carbon dioxide", "8 %", "nothing"),
            },
        ];
        sample
    }

    /// Every kind of diagnosis filled by hand for all three laws, with a trial that stands out and pulls.
    pub(crate) fn diagnosed() -> Self {
        let mut sample = Self::dense();
        for (place, trial) in sample.trials.rows.iter_mut().enumerate() {
            trial.set(Column::RunOrder, Some((place * 7 % 40 + 1) as f64));
            trial.set(Column::TipMinutes, Some(0.8 * (place * 7 % 40) as f64));
            let coil = ["coil A", "coil B", "coil C"][place * 7 % 40 / 14];
            trial.set_level(Factor::Block, Some(coil.to_owned()));
        }
        diagnose(&mut sample.laws);
        sample
    }

    /// No burn-off law and so no line.
    pub(crate) fn without_burn_off() -> Self {
        let mut sample = Self::worked_example();
        let missing = |law: &mut meltlaw::laws::FittedLaw| {
            law.coefficients.clear();
            law.coefficient_order.clear();
            law.covariance.clear();
            law.diagnostics.clear();
            law.ended = Ended {
                how: "too_few_trials".to_owned(),
                usable: false,
                reason: "1 usable trial cannot determine 2 coefficients and a residual spread; weld at least 4 at different feeds".to_owned(),
            };
        };
        missing(&mut sample.laws.laws.burn_off);
        missing(&mut sample.line.laws.burn_off);
        sample.line.line.nodes.clear();
        sample.line.line.standing.clear();
        sample.line.line.interpolation.largest_relative_melt_balance_error = None;
        sample.line.line.unsupported = vec![Unsupported {
            wire_feed_m_min: [3.0, 9.5],
            limits: vec!["law_missing".to_owned()],
            reason: "the burn-off law is missing".to_owned(),
        }];
        sample
    }

    /// The report of this sample.
    pub(crate) fn draw(&self) -> Report {
        draw(&ReportInput {
            laws: &self.laws,
            line: &self.line,
            trials: &self.trials,
            provenance: &self.provenance,
            cautions: &self.cautions,
            checksum_laws: "f2741e8b",
            checksum_line: "c3cae89a",
        })
    }
}

/// Fills what a fit leaves to diagnose it by, with numbers of the right size.
pub(crate) fn diagnose(laws: &mut LawsRecord) {
    let laws = &mut laws.laws;
    for (which, law) in [&mut laws.burn_off, &mut laws.detachment, &mut laws.arc_voltage].into_iter().enumerate() {
        let keys = law.coefficient_order.clone();
        let errors: Vec<f64> = keys.iter().map(|k| law.coefficients[k].standard_error.unwrap_or(0.0)).collect();
        for (place, d) in law.diagnostics.iter_mut().enumerate() {
            let t = d.studentised_residual.unwrap_or(0.0);
            // Twice the normal tail, by the usual bound: of the right size.
            d.surprise = Some((-0.5 * t * t).exp() / (1.0 + t.abs()));
            let share = d.leverage.unwrap_or(0.05).sqrt();
            let turn = |n: usize| if (place + n).is_multiple_of(2) { 1.0 } else { -0.6 };
            let changes = keys.iter().zip(&errors).enumerate().map(|(n, (k, e))| (k.clone(), e * t * share * turn(n)));
            d.without_it = changes.collect();
        }
        if which == 0 {
            let odd = &mut law.diagnostics[5];
            odd.studentised_residual = Some(9.4);
            odd.cooks_distance = Some(1.3);
            odd.surprise = Some(1e-9);
            odd.flags = vec!["stands out: 9.4 standard errors from what the other trials say".to_owned()];
        }
        law.profiles = keys.iter().zip(&errors).map(|(k, e)| profile(k, law.coefficients[k].value, *e)).collect();
        law.robust = Some(RobustRefit {
            method: "bounded weights by Huber with 1.345 standard errors".to_owned(),
            coefficients: keys.iter().map(|k| (k.clone(), law.coefficients[k].value.unwrap_or(0.0))).collect(),
            shift: keys.iter().enumerate().map(|(n, k)| (k.clone(), 0.2 - 0.1 * n as f64)).collect(),
            downweighted: law.diagnostics.iter().skip(5).take(1).map(|d| (d.trial.clone(), 0.14)).collect(),
            reading: Reading::new("the same law whatever single trials say", "moved by 0.2 standard errors", "nothing"),
        });
        let form = |form: &str, aicc: f64, density: f64| Candidate {
            form: form.to_owned(),
            aicc: Some(aicc),
            leave_one_out_relative: Some(0.012),
            leave_one_out_log_density: Some(density),
            held_out_range: Some(HeldOutRange {
                fitted: 24,
                predicted: 15,
                rms_relative: 0.013,
                mean_relative: 0.002,
                standardised: 1.1,
            }),
            line_effect: None,
            reason: None,
        };
        let other = ["offset", "with_background_current", "current"][which];
        law.candidates = vec![form(&law.form, 10.0, -1.61), form(other, 12.4, -1.63)];
        law.candidates[1].line_effect = Some(LineEffect {
            value: 0.03,
            unit: ["m/min", "ms", "V"][which].to_owned(),
            at_wire_feed_m_min: 9.0,
            standard_errors: Some(0.8),
        });
    }
    let outliers = FitTest {
        statistic: Some(9.4),
        p_value: Some(1e-6),
        effect: Some(8.2),
        unit: "mm/s".to_owned(),
        reading: Reading::new(
            "no trial further from the others than chance brings",
            "one trial lies 9.4 standard errors off",
            "look at the record of that weld; weld its setting again",
        ),
        warns: true,
        trials: vec![laws.burn_off.diagnostics[5].trial.clone()],
        reason: None,
    };
    laws.burn_off.tests.insert("outliers".to_owned(), outliers);
    laws.arc_voltage.between_blocks = Some(BetweenBlocks {
        standard_deviation: 0.8,
        effect: 0.11,
        effect_unit: "V".to_owned(),
        factors: vec!["block".to_owned()],
        blocks: 3,
        covariance: Vec::new(),
        degrees_of_freedom: 2.4,
        reading: Reading::new("blocks at one level", "0.11 V between coils", "weld one setting in every block"),
    });
}

/// A profile that bends a little, open above for the last kind of coefficient.
fn profile(key: &str, value: Option<f64>, error: f64) -> Profile {
    let value = value.unwrap_or(1.0);
    let steps: Vec<f64> = (-16..=16).map(|n| f64::from(n) / 4.0).collect();
    let bend = if key == "trial_scatter" { 0.15 } else { 0.01 };
    let root = |s: f64| s - bend * s * s.abs().min(3.0) / 2.0;
    Profile {
        coefficient: key.to_owned(),
        unit: if key.ends_with("_ms") { "ms" } else { "1" }.to_owned(),
        values: steps.iter().map(|s| value + s * error).collect(),
        signed_root: steps.iter().map(|s| root(*s)).collect(),
        interval: [Some(value - 1.95 * error), (key != "trial_scatter").then_some(value + 2.05 * error)],
        reason: (key == "trial_scatter").then(|| "repeat a setting five times".to_owned()),
    }
}

/// Good enough for the worked example's own table: the only quoted cell is the last one.
fn trials() -> Trials {
    let mut lines = include_str!("../../../../datasets/worked_example/trials.csv").lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let mut trials = Trials {
        sources: vec![TrialSource {
            file: "trials.csv".to_owned(),
            sha256: "58ea".repeat(16),
            read_as: "CSV, separator ',', decimal point".to_owned(),
            rows: 40,
            ..TrialSource::default()
        }],
        ..Trials::default()
    };
    trials.has_column = header.iter().filter_map(|h| Column::from_name(h)).collect();
    for (place, line) in lines.enumerate() {
        let cells: Vec<&str> = line.splitn(header.len(), ',').collect();
        let mut trial = Trial::new(cells[0], 0, place + 2);
        for (name, cell) in header.iter().zip(&cells) {
            match Column::from_name(name) {
                Some(column) => trial.set(column, cell.parse().ok()),
                None if *name == "use" => trial.use_it = *cell == "yes",
                None => {}
            }
        }
        trials.rows.push(trial);
    }
    trials
}

/// The page without the line's data and the page's own script, which must be the only ones, and as they came from us.
pub(crate) fn without_scripts(page: &str) -> String {
    let mut parts = page.split("<script");
    let mut rest = parts.next().unwrap().to_owned();
    let own = concat!(
        "\"use strict\";\n(() => {\n",
        include_str!("../../src/html/live/numbers.js"),
        include_str!("../../src/html/live/line.js"),
        include_str!("../../src/html/live/page.js"),
        "})();\n"
    );
    for part in parts {
        let (script, after) = part.split_once("</script>").expect("a script that does not end");
        if let Some(data) = script.strip_prefix(" id=\"line-data\" type=\"application/json\">") {
            assert!(!data.contains('<'), "data that could end their element");
            serde_json::from_str::<serde_json::Value>(data).expect("data that are not JSON");
        } else {
            assert_eq!(script, format!(">{own}"), "a script that is not ours");
        }
        rest.push_str(after);
    }
    rest
}
