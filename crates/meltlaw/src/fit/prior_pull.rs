//! What stated prior knowledge does to each coefficient, shown beside what the trials alone say.

use super::fit_laws;
use super::prior_on_counts::EXPONENT;
use crate::checks::{Finding, Severity};
use crate::in_words::with_unit;
use crate::laws::{Coefficient, DETACHMENT_COEFFICIENTS, FitTest, FittedLaw, Laws, PriorPull, Reading};
use crate::statistics::{normal_above, student_t_two_sided};
use crate::study::{ArcVoltageForm, CovarianceFrom, LawChoices, Prior, Study};
use crate::trials::Trials;

/// Distance between trials and statement, in standard errors, beyond which somebody must look: 1.2 % of
/// statements that hold lie farther. Where few trials tell their own standard error, Student's distance of that rarity.
pub const LOOK_BEYOND: f64 = 2.5;

/// Name of the test that holds trials and statements against each other, and of its finding.
pub const AGREEMENT: &str = "stated_beforehand";

/// Share of a coefficient's information beyond which it rests mostly on the statement.
const MOSTLY_STATED: f64 = 0.5;

/// Puts the pull of every statement beside its coefficient; nothing where the study states none.
pub fn show(study: &Study, trials: &Trials, laws: &mut Laws) {
    if study.prior.is_empty() {
        return;
    }
    const FORMS: [ArcVoltageForm; 3] =
        [ArcVoltageForm::Current, ArcVoltageForm::CurrentArc, ArcVoltageForm::CurrentArcExtension];
    let same_form = FORMS.into_iter().find(|f| f.word() == laws.arc_voltage.form);
    let alone = Study {
        prior: Vec::new(),
        calibration: Vec::new(),
        laws: LawChoices { arc_voltage: same_form, ..study.laws },
        ..study.clone()
    };
    let alone = fit_laws(&alone, trials).laws;
    let Laws { burn_off, detachment, arc_voltage, .. } = laws;
    for (name, law, alone) in [
        ("burn_off", burn_off, &alone.burn_off),
        ("detachment", detachment, &alone.detachment),
        ("arc_voltage", arc_voltage, &alone.arc_voltage),
    ] {
        let stated: Vec<&Prior> = study.prior_of(name).collect();
        if !stated.is_empty() {
            show_in(law, alone, &stated);
        }
    }
}

fn show_in(law: &mut FittedLaw, alone: &FittedLaw, stated: &[&Prior]) {
    let names = stated.iter().map(|p| p.coefficient).collect::<Vec<_>>().join(", ");
    if !law.ended.usable {
        law.notes.push(format!("the study states prior knowledge of {names}, which does not replace what is missing"));
        return;
    }
    law.notes.push(format!("prior knowledge stated in the study takes part in the fit: {names}"));
    for c in law.coefficients.values_mut() {
        c.interval_method.push_str(", with stated prior knowledge");
    }
    for prior in stated {
        if let Some(c) = law.coefficients.get_mut(prior.coefficient) {
            c.prior = Some(pull(prior, c, alone));
        }
    }
    if let Some(test) = agreement(law) {
        law.tests.insert(AGREEMENT.to_owned(), test);
    }
}

/// Trials against statements, as a test of the law: the statement that lies farthest off.
fn agreement(law: &FittedLaw) -> Option<FitTest> {
    let told = |(name, c): (&String, &Coefficient)| Some((name.clone(), c.unit.clone(), c.prior.clone()?));
    let (name, unit, pull) = law
        .coefficients
        .iter()
        .filter_map(told)
        .min_by(|a, b| a.2.p_value.unwrap_or(2.0).total_cmp(&b.2.p_value.unwrap_or(2.0)))?;
    let reading = Reading { seen: format!("{name}: {}", pull.reading.seen), ..pull.reading.clone() };
    Some(FitTest {
        statistic: pull.distance,
        p_value: pull.p_value,
        effect: pull.without.filter(|_| pull.distance.is_some()).map(|without| without - pull.mean),
        unit,
        reading,
        warns: pull.contradicts(),
        trials: Vec::new(),
        reason: pull.reason,
    })
}

/// A warning for every statement that the trials contradict.
pub fn contradictions(laws: &Laws) -> Vec<Finding> {
    let of_law = |(law, record): (&'static str, &FittedLaw)| {
        let told = |(name, c): (&String, &Coefficient)| {
            let pull = c.prior.as_ref().filter(|pull| pull.contradicts())?;
            let seen = format!("{}, {name}: {}", law.replace('_', " "), pull.reading.seen);
            let reading = Reading { seen, ..pull.reading.clone() };
            Some(Finding { check: AGREEMENT.to_owned(), severity: Severity::Warning, rows: Vec::new(), reading })
        };
        record.coefficients.iter().filter_map(told).collect::<Vec<_>>()
    };
    laws.by_name().into_iter().flat_map(of_law).collect()
}

impl PriorPull {
    /// Whether the trials alone lie so far from the statement that one of the two must be wrong.
    pub fn contradicts(&self) -> bool {
        self.p_value.is_some_and(|p| p < 2.0 * normal_above(LOOK_BEYOND))
    }
}

/// The pull of one statement.
///
/// ```text
/// share = variance with the statement / standard_deviation²
/// distance = (trials alone − mean)/√(standard error² + standard_deviation²)
/// ```
/// Its probability is Student's at Welch and Satterthwaite's degrees, the statement's own being known exactly.
///
/// On the logarithm for the detachment law's positive coefficients, where the statement stands too.
fn pull(prior: &Prior, with: &Coefficient, alone: &FittedLaw) -> PriorPull {
    let logarithmic = DETACHMENT_COEFFICIENTS.iter().skip(EXPONENT + 1).any(|c| c.name == prior.coefficient);
    // Standard error on the scale on which the statement is normal.
    let on_scale = |value: f64, se: f64| if logarithmic { se / value } else { se };
    let spread = on_scale(prior.mean, prior.standard_deviation);
    let share = match (with.value, with.standard_error) {
        (Some(value), Some(se)) => (on_scale(value, se) / spread).powi(2).clamp(0.0, 1.0),
        _ => 0.0,
    };
    let found = alone.coefficients.get(prior.coefficient);
    let without = found.and_then(|c| c.value);
    let without_standard_error = found.and_then(|c| c.standard_error);
    let known = without.zip(without_standard_error);
    let distance = known.map(|(value, se)| {
        let apart = if logarithmic { (value / prior.mean).ln() } else { value - prior.mean };
        apart / on_scale(value, se).hypot(spread)
    });
    let p_value = known.zip(distance).map(|((value, se), distance)| {
        let se = on_scale(value, se);
        let degrees = if alone.covariance_from == CovarianceFrom::StatedErrors {
            f64::INFINITY
        } else {
            alone.degrees_of_freedom as f64
        };
        let share = se * se / (se * se + spread * spread);
        two_sided(distance, degrees / (share * share))
    });
    let why = || match found.and_then(|c| c.reason.clone()) {
        Some(reason) => reason,
        None if alone.ended.reason.is_empty() => "the trials alone do not give it a standard error".to_owned(),
        None => alone.ended.reason.clone(),
    };
    let reason = distance.is_none().then(why);
    let mut pull = PriorPull {
        mean: prior.mean,
        standard_deviation: prior.standard_deviation,
        source: prior.source.clone(),
        without,
        without_standard_error,
        share,
        distance,
        p_value,
        reading: Reading::new("", "", ""),
        reason,
    };
    pull.reading = reading(prior, with, &pull);
    pull
}

/// Probability of a distance at least as large where the statement holds.
fn two_sided(distance: f64, degrees: f64) -> f64 {
    // Beyond a million degrees Student is normal.
    if degrees < 1e6 { student_t_two_sided(distance, degrees) } else { 2.0 * normal_above(distance.abs()) }
}

fn reading(prior: &Prior, with: &Coefficient, pull: &PriorPull) -> Reading {
    let unit = with_unit("", &with.unit);
    let expected = format!(
        "the trials alone agree with {} ± {}{unit} (stated from: {})",
        short(prior.mean),
        short(prior.standard_deviation),
        prior.source
    );
    let part = format!("the statement brings {:.0} % of what is known of it", 100.0 * pull.share);
    let (Some(value), Some(se), Some(distance)) = (pull.without, pull.without_standard_error, pull.distance) else {
        return Reading::new(
            expected,
            format!("the trials alone do not determine it; {part}"),
            format!(
                "treat it as only as good as its source. Without the statement: {}",
                pull.reason.as_deref().unwrap_or("weld more trials")
            ),
        );
    };
    let side = if distance < 0.0 { "below" } else { "above" };
    let apart = format!(
        "trials alone {} ± {}{unit}, {:.1} standard errors of the difference {side}",
        short(value),
        short(se),
        distance.abs()
    );
    if pull.contradicts() {
        let together = with.value.map_or(String::new(), |v| format!(", and the fit's {}{unit} is neither", short(v)));
        let action = format!(
            "look before use, one of the two is wrong: {}; or the source speaks of another wire, gas or bench. Until it is found, fit without the statement",
            suspicion(prior.coefficient)
        );
        return Reading::new(expected, format!("{apart}{together}; {part}"), action);
    }
    let action = if pull.share > MOSTLY_STATED {
        "it rests mostly on the statement: more trials that move it would make it your own"
    } else {
        "nothing"
    };
    Reading::new(expected, format!("{apart}; {part}"), action)
}

/// What usually moves a coefficient away from where it should be (common practice).
fn suspicion(coefficient: &str) -> &'static str {
    match coefficient {
        "alpha_mm_per_a_s" => "a current probe or feed encoder that reads wrong, a feed in another unit",
        "beta_per_a2_s" => "a contact-tip-to-work distance taken as extension, an RMS current that is really the mean",
        "offset_mm_per_s" => "a zero error of the feed encoder or the current probe",
        "exponent" => "a pulse current read from the panel instead of the probe, currents too close together",
        "steepness" => "settings that wandered within a trial, drops counted in pulses still settling",
        "one_drop_from_ms" | "more_drops_from_ms" => {
            "a pulse time taken at the foot instead of half height, drops counted in the wrong class"
        }
        "trial_scatter" => "repeats copied instead of welded, days or coils mixed without a block",
        "intercept_v" => "voltage measured at the source without the drop of the leads, an offset of the meter",
        "gradient_v_per_mm" => "an arc length read in the picture without the tilt of the camera",
        "extension_ohm_per_mm" => "a worn contact tip, a contact-tip-to-work distance taken as extension",
        _ => "a reading in another unit, a current probe that reads wrong",
    }
}

/// Three digits, with a power of ten where that is shorter.
fn short(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 {
        "0".to_owned()
    } else if (1e-3..1e5).contains(&size) {
        let places = (2.0 - size.log10().floor()).max(0.0) as usize;
        format!("{value:.places$}")
    } else {
        format!("{value:.2e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_distance_that_few_trials_tell_is_held_against_student() {
        let contradicts = |degrees: f64| two_sided(2.6, degrees) < 2.0 * normal_above(LOOK_BEYOND);
        assert!(contradicts(f64::INFINITY) && contradicts(1e4));
        // With two degrees of freedom 12 % of statements that hold lie as far.
        assert!(!contradicts(2.0));
    }
}
