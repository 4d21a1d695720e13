//! Candidate forms on invented labs: a form that the process really has is found, warned of and shown with
//! what it does to the line; a clean lab asks for none.

use meltlaw::virtual_bench as lab;

use meltlaw::fit::fit_laws;
use meltlaw::laws::{Candidate, FittedLaw, Laws};
use meltlaw::materials::Material;
use meltlaw::study::{BurnOffForm, Study};
use meltlaw::trials::{Column, Trials};

const SIZE: lab::Size = lab::Size { burn_off: 30, detachment: 24, pulses: 150 };

fn steel(seed: u64) -> (Study, Trials) {
    let study = lab::study(lab::wire(Material::CarbonSteel, 1.2, None));
    let trials = lab::trials(&study, &lab::Truth::STEEL, SIZE, 8, seed);
    (study, trials)
}

fn laws(study: &Study, trials: &Trials) -> Laws {
    fit_laws(study, trials).laws
}

fn form<'a>(law: &'a FittedLaw, word: &str) -> &'a Candidate {
    law.candidates.iter().find(|c| c.form == word).expect("a candidate")
}

fn density(law: &FittedLaw, word: &str) -> f64 {
    form(law, word).leave_one_out_log_density.expect("enough trials")
}

/// Adds an offset to what the wire melts, 10 mm/s.
fn with_offset(trials: &mut Trials) {
    for trial in &mut trials.rows {
        let feed = trial.get(Column::WireFeed).map(|w| w + 0.06 * 10.0);
        trial.set(Column::WireFeed, feed);
    }
}

#[test]
fn an_offset_that_is_there_is_found_and_not_used() {
    let (study, mut trials) = steel(1);
    with_offset(&mut trials);
    let law = laws(&study, &trials).burn_off;
    assert_eq!(law.form, "proportional");
    let test = &law.tests["form"];
    assert!(test.warns, "{test:#?}");
    assert!(test.reading.seen.contains("offset") && test.reading.action.contains("[laws]"));
    assert!(density(&law, "offset") > density(&law, "proportional") + 0.1);
    // Fitted to the lower feeds, the form without offset misses the upper ones by more than its errors.
    let held = |word: &str| form(&law, word).held_out_range.clone().expect("enough trials");
    assert!(held("proportional").standardised > 1.5 * held("offset").standardised);
    assert!(form(&law, "offset").line_effect.as_ref().expect("determined").value.abs() > 0.06);
    // Asked for in the study, it is used and no longer warned of.
    let mut asked = study;
    asked.laws.burn_off = BurnOffForm::Offset;
    let law = laws(&asked, &trials).burn_off;
    assert!(law.form == "offset" && !law.tests["form"].warns);
}

#[test]
fn a_background_that_helps_the_drop_is_found() {
    let (study, mut trials) = steel(2);
    // The counts belong to s; with pulse times shorter by 0.4·ln(Ib/100 A) the same s is had with the
    // background's help.
    for trial in &mut trials.rows {
        let help = 0.4 * (trial.get(Column::BackgroundCurrent).expect("stated") / 100.0).ln();
        let time = trial.get(Column::PulseTime).map(|t| t * (-help).exp());
        trial.set(Column::PulseTime, time);
    }
    let law = laws(&study, &trials).detachment;
    let test = &law.tests["form"];
    assert!(test.reading.seen.contains("with_background_current"), "{test:#?}");
    let statistic = test.statistic.expect("tried");
    assert!(statistic > 4.0 && test.warns, "{test:#?}");
    assert!(density(&law, "with_background_current") > density(&law, "ordered_logit"));
    let aicc = |word: &str| form(&law, word).aicc.expect("enough trials");
    assert!(aicc("with_background_current") < aicc("ordered_logit") - 5.0);
}

#[test]
fn clean_labs_ask_for_no_other_form() {
    for seed in 10..20 {
        let (study, trials) = steel(seed);
        for (name, law) in laws(&study, &trials).by_name() {
            assert!(!law.tests["form"].warns, "{seed} {name}");
        }
    }
}

#[test]
fn every_law_shows_its_forms_with_what_they_would_do() {
    let (study, trials) = steel(3);
    let laws = laws(&study, &trials);
    let words = |law: &FittedLaw| law.candidates.iter().map(|c| c.form.clone()).collect::<Vec<_>>();
    assert_eq!(words(&laws.burn_off), ["proportional", "offset", "physical_beta"]);
    assert_eq!(words(&laws.arc_voltage), ["current", "current_arc", "current_arc_extension"]);
    assert_eq!(words(&laws.detachment), ["ordered_logit", "with_background_current", "with_drop_size"]);
    for ((_, law), unit) in laws.by_name().into_iter().zip(["m/min", "ms", "V"]) {
        for c in &law.candidates {
            assert!(c.aicc.is_some() && c.leave_one_out_log_density.is_some(), "{}: {:?}", c.form, c.reason);
            assert!(c.held_out_range.is_some(), "{}: {:?}", c.form, c.reason);
            match &c.line_effect {
                Some(effect) => {
                    assert!(c.form != law.form && effect.unit == unit);
                    let [low, high] = study.line.wire_feed_m_min;
                    assert!((low..=high).contains(&effect.at_wire_feed_m_min));
                }
                None => assert_eq!(c.form, law.form, "only the form used changes nothing"),
            }
        }
    }
}

#[test]
fn a_form_whose_columns_are_missing_says_which() {
    let (study, mut trials) = steel(4);
    for trial in &mut trials.rows {
        trial.set(Column::BackgroundCurrent, None);
    }
    let law = laws(&study, &trials).detachment;
    let reason = form(&law, "with_background_current").reason.clone().expect("a reason");
    assert!(reason.contains("54 of the 54") && reason.contains("background_current_a"), "{reason}");
    assert!(form(&law, "with_drop_size").aicc.is_some());
    let nickel = Study { wire: lab::wire(Material::Nickel, 1.2, None), ..study };
    let law = laws(&nickel, &trials).burn_off;
    assert!(form(&law, "physical_beta").reason.as_ref().expect("a reason").contains("nickel"));
}

#[test]
fn too_few_trials_give_reasons_instead_of_numbers() {
    let (study, mut trials) = steel(5);
    trials.rows.truncate(3);
    let law = laws(&study, &trials).burn_off;
    assert!(law.ended.usable);
    for c in &law.candidates {
        let whole = c.aicc.is_some() && c.leave_one_out_log_density.is_some() && c.held_out_range.is_some();
        assert!(whole || c.reason.is_some(), "{c:?}");
    }
}
