//! Laws held against margins: what would be wrong if a verdict, a conversion or a refusal were.
#![allow(missing_docs, clippy::unwrap_used, reason = "tests stop at the first surprise")]

use meltlaw::compare::laws::{LawStatement, LawsComparison, NotComparable, Terms, Verdict, WireLaws, compare_laws};
use meltlaw::develop;
use meltlaw::record::{InputReference, LawsRecord, LawsWithOrigin, Provenance, StudyReference};
use meltlaw::study::{CalibrationTerm, CalibrationUncertainty, Margins};
use meltlaw::virtual_bench::{self, Difference, Kind, Plan, Said, Scatter, Setup, Size, Truth, compared_pair};

fn provenance(sha256: &str) -> Provenance {
    Provenance {
        tool: "test".to_owned(),
        study: StudyReference { file: "study.toml".to_owned(), sha256: String::new() },
        inputs: vec![InputReference {
            file: "trials.csv".to_owned(),
            sha256: sha256.to_owned(),
            rows: 1,
            rows_used: 1,
        }],
        seed: 1,
        draws: 1,
    }
}

fn laws(number: u64) -> LawsRecord {
    let lab = Kind::Steel.lab(3, number);
    develop::laws(&lab.study, &lab.trials).unwrap()
}

fn terms() -> Terms {
    Terms { margins: Margins::default(), margins_from: "test".to_owned(), same_instruments: Vec::new(), seed: 1 }
}

/// Each record as a wire of its own, named by its place.
fn compared(records: &[&LawsRecord], terms: &Terms) -> Result<LawsComparison, NotComparable> {
    let names: Vec<String> = (0..records.len()).map(|i| format!("wire {i}")).collect();
    let provenances: Vec<Provenance> = (0..records.len()).map(|i| provenance(&format!("hash {i}"))).collect();
    let wires: Vec<WireLaws<'_>> = records
        .iter()
        .enumerate()
        .map(|(i, record)| WireLaws {
            name: names[i].clone(),
            batches: vec![LawsWithOrigin { name: &names[i], record, provenance: &provenances[i], checksum: &names[i] }],
        })
        .collect();
    compare_laws(&wires, terms)
}

fn of<'a>(comparison: &'a LawsComparison, quantity: &str) -> &'a LawStatement {
    comparison.comparisons.iter().find(|c| c.quantity == quantity).unwrap()
}

fn width(s: &LawStatement) -> f64 {
    let [low, high] = s.interval.unwrap();
    high - low
}

#[test]
fn a_study_and_itself_are_alike_and_said_to_be_the_same() {
    let one = laws(0);
    let comparison = compared(&[&one, &one], &terms()).unwrap();
    assert_eq!(comparison.overall, Verdict::Alike);
    assert!(comparison.comparisons.iter().all(|c| c.interval == Some([0.0, 0.0])), "{comparison:#?}");
    let name = "one";
    let wire = |record| WireLaws {
        name: name.to_owned(),
        batches: vec![LawsWithOrigin { name, record, provenance: &PROVENANCE_OF_NOTHING, checksum: "same" }],
    };
    let notes = compare_laws(&[wire(&one), wire(&one)], &terms()).unwrap().notes;
    assert!(notes[0].contains("are the same laws"), "{notes:?}");
    // Other laws of the same trials share their errors.
    let mut other = one.clone();
    other.name = "again".to_owned();
    let same_hash = provenance("h");
    let with = |record, checksum| WireLaws {
        name: checksum,
        batches: vec![LawsWithOrigin { name: "n", record, provenance: &same_hash, checksum: "" }],
    };
    let notes = compare_laws(&[with(&one, "a".to_owned()), with(&other, "b".to_owned())], &terms()).unwrap().notes;
    assert!(notes[0].contains("fitted to the same trials"), "{notes:?}");
}

static PROVENANCE_OF_NOTHING: Provenance = Provenance {
    tool: String::new(),
    study: StudyReference { file: String::new(), sha256: String::new() },
    inputs: Vec::new(),
    seed: 0,
    draws: 0,
};

#[test]
fn wide_margins_make_wires_alike_and_narrow_ones_do_not() {
    let (one, other) = (laws(0), laws(1));
    let with = |times: f64| Terms {
        margins: Margins {
            wire_feed_relative: 0.02 * times,
            detachment_relative: 0.05 * times,
            voltage_v: 0.5 * times,
            shared_form: false,
        },
        ..terms()
    };
    assert_eq!(compared(&[&one, &other], &with(5.0)).unwrap().overall, Verdict::Alike);
    let narrow = compared(&[&one, &other], &with(1e-3)).unwrap();
    assert_ne!(narrow.overall, Verdict::Alike);
    for c in &narrow.comparisons {
        // Settled or not, every statement says where, how sure and what to do.
        assert!(c.at.is_some() && c.interval.is_some() && !c.settle.is_empty());
        assert_eq!(c.trials_to_settle.is_none(), c.reason.is_some(), "{c:?}");
        assert!((c.budget.iter().map(|b| b.1).sum::<f64>() - 1.0).abs() < 1e-12);
    }
}

#[test]
fn another_reference_current_changes_nothing_but_the_numbers_of_the_law() {
    let (one, other) = (laws(0), laws(1));
    let plain = compared(&[&one, &other], &terms()).unwrap();
    let lab = Kind::Steel.lab(3, 1);
    let mut study = lab.study.clone();
    study.laws.reference_current_a = Some(350.0);
    let moved = develop::laws(&study, &lab.trials).unwrap();
    assert_eq!(moved.laws.detachment.reference_current_a, Some(350.0));
    let converted = compared(&[&one, &moved], &terms()).unwrap();
    for quantity in ["one_drop_from_ms", "more_drops_from_ms"] {
        let (a, b) = (of(&plain, quantity), of(&converted, quantity));
        // The fit in other coordinates stops at another place within its tolerance, 1e-8 of a standard error or so.
        assert!((a.difference.unwrap() - b.difference.unwrap()).abs() < 1e-5, "{quantity}");
        assert!((width(a) - width(b)).abs() < 0.01 * width(a), "{quantity}");
    }
    let ratio = converted.likelihood_ratio.iter().find(|l| l.law == "detachment").unwrap();
    assert!(ratio.statistic.is_none() && ratio.reason.as_ref().unwrap().contains("reference currents"));
}

#[test]
fn other_forms_are_compared_by_what_they_predict() {
    let one = laws(0);
    let lab = Kind::Steel.lab(3, 1);
    let mut study = lab.study.clone();
    study.laws.burn_off = meltlaw::study::BurnOffForm::Offset;
    study.laws.arc_voltage = Some(meltlaw::study::ArcVoltageForm::CurrentArc);
    let offset = develop::laws(&study, &lab.trials).unwrap();
    let comparison = compared(&[&one, &offset], &terms()).unwrap();
    assert!(of(&comparison, "wire_feed_m_min").difference.is_some());
    assert!(of(&comparison, "voltage_mean_v").difference.is_some());
    let told = comparison.notes.join("\n");
    assert!(told.contains("converted to") && told.contains("mean of its trials"), "{told}");
    let ratio = comparison.likelihood_ratio.iter().find(|l| l.law == "burn_off").unwrap();
    assert!(ratio.reason.as_ref().unwrap().contains("other forms, proportional and offset"), "{ratio:?}");
}

#[test]
fn other_units_and_unknown_forms_are_refused_with_the_file() {
    let one = laws(0);
    let mut inches = one.clone();
    inches.laws.burn_off.coefficients.get_mut("alpha_mm_per_a_s").unwrap().unit = "in/(A min)".to_owned();
    let refusal = compared(&[&one, &inches], &terms()).unwrap_err().to_string();
    assert_eq!(
        refusal,
        "wire 1: laws.burn_off: alpha_mm_per_a_s with unit 'in/(A min)' was found; unit 'mm/(A s)' was needed; fit the study again with this program"
    );
    let mut strange = one.clone();
    strange.laws.arc_voltage.form = "cubic".to_owned();
    let refusal = compared(&[&strange, &one], &terms()).unwrap_err().to_string();
    assert!(refusal.starts_with("wire 0: laws.arc_voltage: form 'cubic' was found; one of current,"), "{refusal}");
}

#[test]
fn a_law_that_is_missing_or_was_welded_elsewhere_is_said_and_the_others_go_on() {
    let one = laws(0);
    let mut without = laws(1);
    without.laws.detachment.ended.usable = false;
    without.laws.detachment.ended.reason = "no pulse was counted".to_owned();
    without.laws.burn_off.range.insert("current_mean_a".to_owned(), [900.0, 950.0]);
    let comparison = compared(&[&one, &without], &terms()).unwrap();
    assert_ne!(comparison.overall, Verdict::Alike);
    let drop = of(&comparison, "one_drop_from_ms");
    assert!(drop.reason.as_ref().unwrap().contains("detachment of wire 1 could not be fitted: no pulse was counted"));
    let feed = of(&comparison, "wire_feed_m_min");
    assert!(feed.reason.as_ref().unwrap().contains("their mean currents do not meet"), "{feed:?}");
    assert!(of(&comparison, "voltage_mean_v").difference.is_some());
}

#[test]
fn errors_of_the_same_instruments_cancel_only_where_that_is_said() {
    let labs = [0, 1].map(|n| {
        let mut lab = Kind::Steel.lab(3, n);
        lab.study.calibration = vec![
            CalibrationUncertainty { term: CalibrationTerm::WireFeedGainRelative, standard_uncertainty: 0.02 },
            CalibrationUncertainty { term: CalibrationTerm::VoltageOffsetV, standard_uncertainty: 0.5 },
        ];
        develop::laws(&lab.study, &lab.trials).unwrap()
    });
    let own = compared(&[&labs[0], &labs[1]], &terms()).unwrap();
    let same = Terms { same_instruments: vec![CalibrationTerm::WireFeedGainRelative], ..terms() };
    let same = compared(&[&labs[0], &labs[1]], &same).unwrap();
    assert!(width(of(&same, "wire_feed_m_min")) < 0.5 * width(of(&own, "wire_feed_m_min")));
    // Only the feed was said to be the same.
    assert!((width(of(&same, "voltage_mean_v")) / width(of(&own, "voltage_mean_v")) - 1.0).abs() < 0.05);
    assert_eq!(same.instruments.same, ["wire_feed_gain_relative"]);
    assert!(own.instruments.words.contains("no instrument is stated to be the same"));
    // 2 % of feed error that nothing cancels: no number of trials settles a margin of 2 %.
    let feed = of(&own, "wire_feed_m_min");
    assert!(feed.trials_to_settle.is_none() && feed.settle.contains("--same-instruments"), "{}", feed.settle);
}

#[test]
fn more_wires_widen_the_band_of_each_and_the_first_is_paid_for_once() {
    let all: Vec<LawsRecord> = (0..4).map(laws).collect();
    let two = compared(&[&all[0], &all[1]], &terms()).unwrap();
    let four = compared(&[&all[0], &all[1], &all[2], &all[3]], &terms()).unwrap();
    let critical = |c: &LawsComparison| c.bands.iter().find(|b| b.law == "burn_off").unwrap().critical;
    let ratio = critical(&four) / critical(&two);
    // Bonferroni over three would widen Scheffé's plane, √(χ²₂(0.9667)/χ²₂(0.90)) = √(6.80/4.61) = 1.21; less, since
    // all three hold the first wire's error.
    assert!(ratio > 1.05 && ratio < 1.21, "{ratio}");
    assert_eq!(four.comparisons.len(), 12);
    assert_eq!(four.regions.iter().filter(|r| r.of_difference).count(), 3);
}

#[test]
fn the_answer_does_not_depend_on_the_number_of_threads() {
    let (one, other) = (laws(0), laws(1));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| serde_json::to_string(&compared(&[&one, &other], &terms()).unwrap()).unwrap())
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn the_trials_asked_for_do_settle_it() {
    // Two wires alike: undecided with 14 trials of each. With as many more as asked for, most pairs are settled.
    let size = |burn_off: usize| Size { burn_off, detachment: 6, pulses: 50 };
    let compared = |burn_off: usize, pair: u64| {
        let (one, other) = (lab(size(burn_off), 2 * pair), lab(size(burn_off), 2 * pair + 1));
        of(&compared(&[&one, &other], &terms()).unwrap(), "wire_feed_m_min").clone()
    };
    let asked: Vec<usize> = (0..12).filter_map(|pair| compared(14, pair).trials_to_settle).collect();
    assert!(asked.len() > 6, "{asked:?}");
    let mut typical = asked.clone();
    typical.sort_unstable();
    let typical = typical[typical.len() / 2];
    let settled = (20..32).filter(|&pair| compared(14 + typical, pair).verdict == Verdict::Alike).count();
    // Four of five of 12, where the number asked for would be right: 9.6, less 2.5 standard deviations of 1.4.
    assert!((6..=12).contains(&settled), "{settled} of 12 with {typical} more; {asked:?}");
}

/// A lab of a steel wire.
fn lab(size: Size, number: u64) -> LawsRecord {
    let study = virtual_bench::study(virtual_bench::wire(meltlaw::materials::Material::CarbonSteel, 1.2, None));
    let truth = Truth::of_wire(&study.wire);
    let welded = virtual_bench::weld_all(&study, &truth, size, &Plan::default(), 5, number);
    develop::laws(&study, &welded.trials).unwrap()
}

#[test]
fn false_verdicts_stay_below_the_stated_rate_and_bands_hold_the_truth() {
    const PAIRS: u64 = 60;
    let setup = Setup {
        size: Size { burn_off: 16, detachment: 14, pulses: 100 },
        instruments: [0.004, 0.002, 0.05],
        same: false,
        batches: 1,
        between: Scatter::default(),
    };
    let at_margin = Difference::of_margins(&Margins::default(), 1.0);
    let said: Vec<[Option<Said>; 4]> = (0..PAIRS).map(|n| compared_pair(&at_margin, &setup, 11, n)).collect();
    let (mut held, mut asked, mut alike, mut different) = (0, 0, 0, 0);
    for s in said.iter().flatten().flatten() {
        asked += 1;
        held += u64::from(s.holds);
        alike += u64::from(s.verdict == Verdict::Alike);
        different += u64::from(s.verdict == Verdict::Different);
    }
    assert_eq!(asked, 4 * PAIRS);
    // 90 % of 240, of which both thresholds of a pair lean on each other: 3.5 standard deviations of 180 are 14, of 240
    // below 204.
    assert!(held >= 200, "{held} of {asked}");
    // 5 % either way and 12 expected at most; 3.5 standard deviations more are 24.
    assert!(alike <= 24 && different <= 24, "{alike} {different}");
}
