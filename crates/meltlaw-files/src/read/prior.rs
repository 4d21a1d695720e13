//! Stated prior knowledge: `[prior.LAW.COEFFICIENT]` with mean, standard deviation and where they come
//! from.

use meltlaw::laws::{ArcVoltage, BurnOff, CoefficientName, DETACHMENT_COEFFICIENTS, Law};
use meltlaw::ranges::{COEFFICIENT, COEFFICIENT_SD, POSITIVE_COEFFICIENT};
use meltlaw::study::{ArcVoltageForm, BurnOffForm, LawChoices, Prior};

use super::section::Section;

/// Laws and all coefficients that some form of them has.
pub(crate) fn prior_coefficients() -> [(&'static str, &'static [CoefficientName]); 3] {
    [
        ("burn_off", BurnOff(BurnOffForm::Offset).coefficients()),
        ("detachment", &DETACHMENT_COEFFICIENTS),
        ("arc_voltage", ArcVoltage(ArcVoltageForm::CurrentArcExtension).coefficients()),
    ]
}

/// Whether a coefficient is positive by nature and therefore stated on the logarithm.
pub(crate) fn above_zero(coefficient: &str) -> bool {
    DETACHMENT_COEFFICIENTS.iter().any(|c| c.name == coefficient && c.name != "exponent")
}

/// Everything that the study states beforehand, in the order of laws and coefficients.
pub(crate) fn read_prior(section: Section<'_>, laws: &LawChoices) -> Vec<Prior> {
    let mut all = Vec::new();
    for (law, names) in prior_coefficients() {
        let of_law = section.section(law);
        for name in names {
            let Some(found) = of_law.find(name.name) else { continue };
            if let Some((form, has_it)) = form_without(law, name.name, laws) {
                let needed = format!("a coefficient that the form {form} has");
                let action = format!("remove it, or state {law} = \"{has_it}\" under [laws]");
                of_law.fault(name.name, found.line, "a prior", needed, &action);
            }
            all.extend(read_one(of_law.section(name.name), law, name.name));
        }
        let mean_of = |name: &str| all.iter().find(|p: &&Prior| p.coefficient == name).map(|p| p.mean);
        if let (Some(one), Some(more)) = (mean_of("one_drop_from_ms"), mean_of("more_drops_from_ms"))
            && law == "detachment"
            && more <= one
        {
            let line = of_law.find("more_drops_from_ms").map_or(of_law.line(), |f| f.line);
            let needed = format!("a mean above that of one_drop_from_ms, {one} ms");
            of_law.fault("more_drops_from_ms", line, format!("a mean of {more} ms"), needed, "correct one of the two");
        }
        of_law.finish();
    }
    section.finish();
    all
}

fn read_one(section: Section<'_>, law: &'static str, coefficient: &'static str) -> Option<Prior> {
    let mean =
        section.required_number("mean", if above_zero(coefficient) { &POSITIVE_COEFFICIENT } else { &COEFFICIENT });
    let standard_deviation = section.required_number("standard_deviation", &COEFFICIENT_SD);
    let source = section.required_text("source", "where the knowledge comes from, in one line");
    section.finish();
    Some(Prior { law, coefficient, mean: mean?, standard_deviation: standard_deviation?, source: source? })
}

/// The form that the study asks for where it lacks a coefficient, and the shortest form that has it.
fn form_without(law: &str, coefficient: &str, laws: &LawChoices) -> Option<(&'static str, &'static str)> {
    let has = |names: &[CoefficientName]| names.iter().any(|n| n.name == coefficient);
    match law {
        "burn_off" => {
            let form = laws.burn_off;
            (!has(BurnOff(form).coefficients())).then(|| (form.word(), BurnOffForm::Offset.word()))
        }
        "arc_voltage" => {
            let form = laws.arc_voltage?;
            let longer = [ArcVoltageForm::CurrentArc, ArcVoltageForm::CurrentArcExtension];
            let enough = longer.into_iter().find(|f| has(ArcVoltage(*f).coefficients()))?;
            (!has(ArcVoltage(form).coefficients())).then(|| (form.word(), enough.word()))
        }
        _ => None,
    }
}
