//! All checks together: silent on good studies, loud on slipped decimal points, the same every time.

#![allow(clippy::unwrap_used, reason = "tests")]

use super::testing::{
    ALUMINIUM, Dice, Lab, STAINLESS, STEEL, mapped, steel_study, steel_trials, study_of, trials_of, weld,
};
use super::{CHECKS, Finding, Severity, run};
use crate::trials::{Column, Trial, Trials};

fn loud(findings: &[Finding]) -> Vec<String> {
    let said = |f: &Finding| format!("{} {:?}: {} ({:?})", f.check, f.severity, f.reading.seen, f.rows.first());
    findings.iter().filter(|f| f.severity > Severity::Note).map(said).collect()
}

/// Trials from the columns of a plain CSV file without quoted numbers.
fn read(text: &str) -> Trials {
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let rows = lines.enumerate().map(|(index, line)| {
        let mut trial = Trial::new("", 0, index + 2);
        for (name, cell) in header.iter().zip(line.split(',')) {
            match *name {
                "trial" => cell.clone_into(&mut trial.name),
                "use" => trial.use_it = cell != "no",
                "note" => cell.clone_into(&mut trial.note),
                name => {
                    if let Some(column) = Column::from_name(name) {
                        trial.set(column, cell.parse().ok());
                    }
                }
            }
        }
        trial
    });
    trials_of(rows.collect())
}

#[test]
fn the_worked_example_gives_notes_only() {
    let trials = read(include_str!("../../../../datasets/worked_example/trials.csv"));
    assert_eq!(trials.rows.len(), 40);
    assert_eq!(trials.used().count(), 39);
    let findings = run(&steel_study(), &trials);
    assert_eq!(loud(&findings), Vec::<String>::new());
    // B07's drops were not counted; no setting was welded twice.
    let names: Vec<&str> = findings.iter().map(|f| f.check.as_str()).collect();
    assert_eq!(names, ["rows_without_what_a_law_needs", "no_repeats"]);
}

#[test]
fn good_labs_of_three_materials_give_notes_only() {
    for lab in [STEEL, STAINLESS, ALUMINIUM] {
        for seed in 0..20 {
            let findings = run(&study_of(&lab), &weld(&lab, 36, seed));
            assert_eq!(loud(&findings), Vec::<String>::new(), "{:?} seed {seed}", study_of(&lab).wire.material);
        }
    }
}

/// Whether some finding above a note names the trial.
fn named(findings: &[Finding], trial: &str) -> bool {
    findings.iter().filter(|f| f.severity > Severity::Note).any(|f| f.rows.iter().any(|r| r.trial == trial))
}

/// Moves the decimal point in one to three rows; returns trials flagged, trials moved, clean trials
/// flagged.
fn move_decimal_points(lab: &Lab, seed: u64) -> [usize; 3] {
    let columns = [
        Column::WireFeed,
        Column::CurrentMean,
        Column::CurrentRms,
        Column::VoltageMean,
        Column::Ctwd,
        Column::PulseCurrent,
        Column::PulseTime,
        Column::BackgroundTime,
        Column::PulseFrequency,
    ];
    let mut dice = Dice::new(1000 + seed);
    let mut trials = weld(lab, 36, seed);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small whole numbers")]
    let mut pick = |count: usize| dice.uniform(0.0, f64::from(u32::try_from(count).unwrap())) as usize;
    let (shifted, first, column) = (1 + pick(3), pick(12), columns[pick(columns.len())]);
    let factor = [10.0, 0.1][pick(2)];
    let moved: Vec<usize> = (0..shifted).map(|k| first + 12 * k).collect();
    for &index in &moved {
        let value = trials.rows[index].get(column).map(|v| v * factor);
        trials.rows[index].set(column, value);
    }
    let findings = run(&study_of(lab), &trials);
    let flagged = |index: usize| named(&findings, &trials.rows[index].name);
    let caught = moved.iter().filter(|&&i| flagged(i)).count();
    [caught, moved.len(), (0..36).filter(|i| !moved.contains(i) && flagged(*i)).count()]
}

#[test]
fn decimal_points_moved_in_one_to_three_rows_are_flagged_and_clean_rows_are_not() {
    let (mut sum, mut clean) = ([0; 3], 0);
    for lab in [STEEL, STAINLESS, ALUMINIUM] {
        for seed in 0..60 {
            let result = move_decimal_points(&lab, seed);
            sum = [sum[0] + result[0], sum[1] + result[1], sum[2] + result[2]];
            clean += 36 - result[1];
        }
    }
    // At least 95 % of the moved, at most 2 % of the clean.
    assert!(sum[0] * 100 >= sum[1] * 95, "{} of {} flagged", sum[0], sum[1]);
    assert!(sum[2] * 50 <= clean, "{} of {clean} clean rows flagged", sum[2]);
}

/// Columns read in another unit, each with what the table would hold for every true value.
const SLIPPED_UNITS: &[(&[Column], f64)] = &[
    (&[Column::WireFeed], 1.0 / 0.06),
    (&[Column::WireFeed], 1.0 / 0.0254),
    (&[Column::WireFeed], 1.0 / 60.0),
    (&[Column::WireFeed], 60.0),
    (&[Column::CurrentMean], 1e-3),
    (&[Column::CurrentMean, Column::CurrentRms], 1e-3),
    (&[Column::CurrentMean, Column::CurrentRms, Column::PulseCurrent, Column::BackgroundCurrent], 1e-3),
    (&[Column::PulseCurrent], 1e3),
    (&[Column::PulseTime], 1e-3),
    (&[Column::PulseTime], 1e3),
    (&[Column::BackgroundTime], 1e-3),
    (&[Column::PulseFrequency], 60.0),
    (&[Column::PulseFrequency], 1e-3),
    (&[Column::Ctwd], 1.0 / 25.4),
    (&[Column::Ctwd], 1e-3),
    (&[Column::Ctwd, Column::ArcLength], 1.0 / 25.4),
    (&[Column::ArcLength], 1e-3),
    (&[Column::VoltageMean], 1e3),
    (&[Column::PowerMean], 1e-3),
];

#[test]
fn every_column_in_another_unit_stops() {
    for lab in [STEEL, STAINLESS, ALUMINIUM] {
        for seed in 0..10 {
            for (columns, factor) in SLIPPED_UNITS {
                let slip = |trials, &column: &Column| mapped(trials, column, |v| v * factor);
                let trials = columns.iter().fold(weld(&lab, 24, seed), slip);
                let findings = run(&study_of(&lab), &trials);
                let stopped = findings.iter().any(|f| f.severity == Severity::Stop);
                let misled =
                    findings.iter().any(|f| f.check == "power_against_product" && columns[0] != Column::PowerMean);
                assert!(
                    stopped && !misled,
                    "{:?} {columns:?} {factor}: {:?}",
                    study_of(&lab).wire.material,
                    loud(&findings)
                );
            }
        }
    }
}

#[test]
fn small_and_coarsely_read_studies_are_as_silent() {
    for seed in 0..20 {
        let trials = weld(&STEEL, 10, seed);
        let whole_amperes = [Column::CurrentMean, Column::CurrentRms, Column::PulseCurrent, Column::BackgroundCurrent];
        let trials = whole_amperes.into_iter().fold(trials, |trials, column| mapped(trials, column, f64::round));
        let tenths = |v: f64| (10.0 * v).round() / 10.0;
        let trials = mapped(mapped(trials, Column::PulseTime, tenths), Column::BackgroundTime, tenths);
        let findings = run(&steel_study(), &trials);
        // Ten trials may miss a class of drops; nothing else is wrong with them.
        let other: Vec<Finding> = findings.into_iter().filter(|f| f.check != "counts_one_class").collect();
        assert_eq!(loud(&other), Vec::<String>::new(), "seed {seed}");
    }
}

#[test]
fn names_are_those_of_the_files_and_each_stands_once() {
    let mut names: Vec<&str> = CHECKS.iter().map(|c| c.name).collect();
    for check in CHECKS {
        let file = format!("{}/src/checks/{}.rs", env!("CARGO_MANIFEST_DIR"), check.name);
        assert!(std::path::Path::new(&file).exists(), "{file}");
        assert!(!check.about.is_empty());
    }
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), CHECKS.len());
}

#[test]
fn findings_carry_the_name_of_their_check_and_come_in_its_order() {
    let mut trials = weld(&STEEL, 7, 1);
    trials.rows[2].set(Column::WireFeed, Some(-1.0));
    let findings = run(&steel_study(), &trials);
    let place = |f: &Finding| CHECKS.iter().position(|c| c.name == f.check).unwrap();
    assert!(findings.len() > 3 && findings.is_sorted_by_key(place));
    assert_eq!(findings, run(&steel_study(), &trials));
}

#[test]
fn nothing_and_nonsense_do_not_panic() {
    run(&steel_study(), &trials_of(Vec::new()));
    run(&steel_study(), &trials_of(vec![Trial::new("a", 0, 2)]));
    for value in [0.0, -1.0, 1e300, f64::INFINITY, f64::NEG_INFINITY, f64::MIN_POSITIVE] {
        let mut trials = steel_trials();
        for (index, trial) in trials.rows.iter_mut().enumerate() {
            trial.set(Column::ALL[index % Column::COUNT], Some(value));
        }
        run(&steel_study(), &trials);
        for trial in &mut trials.rows {
            Column::ALL.iter().for_each(|&column| trial.set(column, Some(value)));
        }
        run(&steel_study(), &trials);
    }
}
