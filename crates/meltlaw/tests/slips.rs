//! Slips of the pen and of units in an invented lab are named; clean labs have every value inside.

use meltlaw::virtual_bench as lab;

use meltlaw::fit::fit_laws;
use meltlaw::laws::{FittedLaw, Laws, Plausibility};
use meltlaw::materials::Material;
use meltlaw::study::{Study, VoltagePlace};
use meltlaw::trials::{Column, Trials};
use meltlaw_line::Waveform;

const SIZE: lab::Size = lab::Size { burn_off: 24, detachment: 18, pulses: 120 };

fn clean(study: &Study, truth: &lab::Truth, seed: u64) -> Trials {
    lab::trials(study, truth, SIZE, 5, seed)
}

fn steel() -> (Study, Trials) {
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    let trials = clean(&study, &lab::Truth::of_wire(&study.wire), 1);
    (study, trials)
}

fn map(trials: &mut Trials, column: Column, change: impl Fn(f64) -> f64) {
    for trial in &mut trials.rows {
        let value = trial.get(column).map(&change);
        trial.set(column, value);
    }
}

fn outside(law: &FittedLaw) -> Vec<&Plausibility> {
    law.plausibility.iter().filter(|p| !p.inside).collect()
}

/// The advice for whatever lies outside names the slip.
fn named(laws: &FittedLaw, slip: &str) {
    let outside = outside(laws);
    assert!(!outside.is_empty(), "nothing lies outside: {:#?}", laws.plausibility);
    assert!(
        outside.iter().any(|p| p.reading.action.contains(slip)),
        "'{slip}' is not named: {:#?}",
        outside.iter().map(|p| (&p.name, p.value, &p.reading)).collect::<Vec<_>>()
    );
}

fn laws(study: &Study, trials: &Trials) -> Laws {
    fit_laws(study, trials).laws
}

#[test]
fn clean_labs_of_three_materials_lie_inside_everywhere() {
    for (material, diameter) in
        [(Material::CarbonSteel, 1.2), (Material::StainlessSteel, 1.0), (Material::Aluminium, 1.2)]
    {
        let study = lab::study(lab::wire(material, diameter, None));
        let truth = lab::Truth::of_wire(&study.wire);
        for seed in 0..20 {
            let found = laws(&study, &clean(&study, &truth, seed));
            for (name, law) in found.by_name() {
                assert!(law.ended.usable, "{material:?} {seed} {name}");
                assert!(
                    outside(law).is_empty(),
                    "{material:?} {seed} {name}: {:#?}",
                    outside(law).iter().map(|p| (&p.name, p.value, &p.reading)).collect::<Vec<_>>()
                );
            }
        }
    }
}

#[test]
fn a_feed_in_another_unit_is_named() {
    // Feed as typed over feed as meant.
    for (factor, slip) in [
        (1.0 / 0.06, "in mm/s but read as m/min"),
        (0.06, "in m/min but read as mm/s"),
        (1.0 / 0.0254, "in in/min but read as m/min"),
        (0.0254, "in m/min but read as in/min"),
        (0.06 / 0.0254, "in in/min but read as mm/s"),
        (0.0254 / 0.06, "in mm/s but read as in/min"),
        (60.0, "per minute but read as per second"),
        (1.0 / 60.0, "per second but read as per minute"),
    ] {
        let (study, mut trials) = steel();
        map(&mut trials, Column::WireFeed, |w| w * factor);
        named(&laws(&study, &trials).burn_off, slip);
    }
}

#[test]
fn kiloamperes_are_named() {
    let (study, mut trials) = steel();
    for column in [Column::CurrentMean, Column::CurrentRms] {
        map(&mut trials, column, |i| i / 1000.0);
    }
    named(&laws(&study, &trials).burn_off, "in kA but read as A");
}

#[test]
fn an_rms_that_is_really_the_mean_is_named_with_what_it_does_to_beta() {
    let (study, mut trials) = steel();
    let true_beta = laws(&study, &trials).burn_off.coefficients["beta_per_a2_s"].value.expect("fitted");
    for trial in &mut trials.rows {
        let mean = trial.get(Column::CurrentMean);
        trial.set(Column::CurrentRms, mean);
    }
    let found = laws(&study, &trials).burn_off;
    named(&found, "current_rms_a holds the mean current");
    named(&found, "with the RMS of the stated waveforms");
    assert!(found.coefficients["beta_per_a2_s"].value.expect("fitted") > 1.1 * true_beta);
}

#[test]
fn a_distance_taken_as_extension_is_named() {
    // A steel whose β lies low, and arcs 0.8 times as long as the extension: β comes out 1.8 times too small.
    // (An arc of one length would shift every extension alike, which α takes up.)
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    let truth = lab::Truth { beta_per_a2_s: 3.5e-5, wire_feed_m_min: [2.7, 7.0], ..lab::Truth::STEEL };
    let mut trials = lab::trials(&study, &truth, lab::Size { burn_off: 60, ..SIZE }, 5, 2);
    for trial in &mut trials.rows {
        let extension = trial.get(Column::Ctwd).expect("stated") - trial.get(Column::ArcLength).expect("stated");
        trial.set(Column::ArcLength, Some(0.8 * extension));
        trial.set(Column::Ctwd, None);
        trial.set(Column::Extension, Some(1.8 * extension));
    }
    trials.has_column.push(Column::Extension);
    named(&laws(&study, &trials).burn_off, "extension_mm holds the contact-tip-to-work distance");
}

#[test]
fn an_extension_taken_as_distance_is_named() {
    // Arcs half as long as the extension, taken off it once more: β comes out twice too large.
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    let mut trials = lab::trials(&study, &lab::Truth::STEEL, lab::Size { burn_off: 60, ..SIZE }, 5, 3);
    for trial in &mut trials.rows {
        let extension = trial.get(Column::Ctwd).expect("stated") - trial.get(Column::ArcLength).expect("stated");
        trial.set(Column::Ctwd, Some(extension));
        trial.set(Column::ArcLength, Some(0.5 * extension));
    }
    named(&laws(&study, &trials).burn_off, "ctwd_mm holds the extension");
}

#[test]
fn an_extension_in_inches_is_named() {
    let (study, mut trials) = steel();
    for trial in &mut trials.rows {
        let extension = trial.get(Column::Ctwd).expect("stated") - trial.get(Column::ArcLength).expect("stated");
        trial.set(Column::Ctwd, None);
        trial.set(Column::Extension, Some(extension / 25.4));
    }
    trials.has_column.push(Column::Extension);
    let study = Study { bench: meltlaw::study::Bench { extension_se_mm: 0.01, ..study.bench.clone() }, ..study };
    named(&laws(&study, &trials).burn_off, "the extension is in inches");
}

#[test]
fn a_wrong_diameter_is_named() {
    for (right, typed) in [(1.2, 1.6), (1.2, 0.8), (1.0, 1.6)] {
        let study = lab::study(lab::wire(Material::CarbonSteel, right, None));
        let trials = clean(&study, &lab::Truth::of_wire(&study.wire), 4);
        let mut slip = study.clone();
        slip.wire.diameter_mm = typed;
        named(&laws(&slip, &trials).burn_off, &format!("the wire is {right} mm thick, not {typed}"));
    }
}

#[test]
fn a_cored_wire_without_its_metal_section_is_named() {
    let mut study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    // α ∝ 1/A, β ∝ 1/A² from the solid steel of 1.131 mm².
    let section = 0.7;
    study.wire.metal_section_mm2 = Some(section);
    let share: f64 = 1.131 / section;
    let truth = lab::Truth {
        alpha_mm_per_a_s: 0.305 * share,
        beta_per_a2_s: 5.5e-5 * share * share,
        wire_feed_m_min: [6.5, 16.5],
        ..lab::Truth::STEEL
    };
    let trials = clean(&study, &truth, 6);
    study.wire.metal_section_mm2 = None;
    named(&laws(&study, &trials).burn_off, "cored and its metal section is");
}

#[test]
fn what_no_slip_explains_is_said_so() {
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    // Right melting voltage with a resistivity that no steel has.
    let truth =
        lab::Truth { alpha_mm_per_a_s: 0.30, beta_per_a2_s: 4e-6, wire_feed_m_min: [2.0, 5.1], ..lab::Truth::STEEL };
    let trials = lab::trials(&study, &truth, lab::Size { burn_off: 60, ..SIZE }, 5, 7);
    named(&laws(&study, &trials).burn_off, "none of the usual slips");
}

#[test]
fn a_voltage_read_at_the_source_is_named() {
    let (study, mut trials) = steel();
    for trial in &mut trials.rows {
        let voltage =
            trial.get(Column::VoltageMean).expect("stated") + 0.09 * trial.get(Column::CurrentMean).expect("stated");
        trial.set(Column::VoltageMean, Some(voltage));
    }
    let found = laws(&study, &trials).arc_voltage;
    named(&found, "the voltage was read at the source");
    // The same voltages with the place stated right lie inside.
    let mut right = study;
    right.bench.voltage_measured_at = VoltagePlace::Source;
    right.bench.lead_resistance_ohm = 0.09;
    assert!(outside(&laws(&right, &trials).arc_voltage).is_empty());
}

#[test]
fn arc_lengths_in_inches_are_named() {
    let (study, mut trials) = steel();
    for trial in &mut trials.rows {
        let arc = trial.get(Column::ArcLength).expect("stated");
        let ctwd = trial.get(Column::Ctwd).expect("stated");
        trial.set(Column::Extension, Some(ctwd - arc));
        trial.set(Column::ArcLength, Some(arc / 25.4));
    }
    trials.has_column.push(Column::Extension);
    let study =
        Study { bench: meltlaw::study::Bench { arc_length_se_mm: 0.15 / 25.4, ..study.bench.clone() }, ..study };
    named(&laws(&study, &trials).arc_voltage, "arc lengths are in inches");
}

/// Mean of rise and fall time of a trial.
fn ramp_ms(study: &Study, trial: &meltlaw::trials::Trial) -> f64 {
    let get = |c: Column| trial.get(c).expect("stated");
    let step = get(Column::PulseCurrent) - get(Column::BackgroundCurrent);
    0.5 * (step / study.source.rise_a_per_ms + step / study.source.fall_a_per_ms)
}

#[test]
fn another_width_than_that_at_half_height_is_named() {
    type Typed = fn(f64, f64, f64) -> f64;
    let slips: [(Typed, &str); 5] = [
        (|width, ramp, _| width + ramp, "full width at the base"),
        (|width, ramp, _| width - ramp, "time at full current"),
        (|_, _, period| period, "holds the whole period"),
        (|width, _, period| period - width, "holds the background time"),
        (|width, _, _| 1000.0 * width, "in µs but read as ms"),
    ];
    for (typed, slip) in slips {
        let (study, mut trials) = steel();
        for trial in &mut trials.rows {
            let width = trial.get(Column::PulseTime).expect("stated");
            let period = 1000.0 / trial.get(Column::PulseFrequency).expect("stated");
            trial.set(Column::PulseTime, Some(typed(width, ramp_ms(&study, trial), period)));
        }
        named(&laws(&study, &trials).detachment, slip);
    }
}

#[test]
fn exchanged_counts_are_named_even_where_no_law_can_be_fitted() {
    let (study, mut trials) = steel();
    for trial in &mut trials.rows {
        let (none, more) = (trial.get(Column::WithoutDrop), trial.get(Column::MoreDrops));
        trial.set(Column::WithoutDrop, more);
        trial.set(Column::MoreDrops, none);
    }
    named(&laws(&study, &trials).detachment, "are exchanged");
}

#[test]
fn the_labs_waveform_is_that_of_its_columns() {
    // What the pulse width is judged by: the lab's mean current is the waveform's but for 1 % of pulse time.
    let (study, trials) = steel();
    let get = |c: Column| trials.rows[0].get(c).expect("stated");
    let wave = Waveform {
        pulse_current_a: get(Column::PulseCurrent),
        pulse_time_ms: get(Column::PulseTime),
        background_current_a: get(Column::BackgroundCurrent),
        pulse_frequency_hz: get(Column::PulseFrequency),
        rise_a_per_ms: study.source.rise_a_per_ms,
        fall_a_per_ms: study.source.fall_a_per_ms,
    };
    assert!((wave.moments().mean_a / get(Column::CurrentMean) - 1.0).abs() < 0.03);
}
