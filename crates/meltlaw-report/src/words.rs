//! What names in files mean at the bench.

use meltlaw::laws::FittedLaw;

/// A law in words.
pub(crate) fn law(name: &str) -> &str {
    match name {
        "burn_off" => "burn-off law",
        "detachment" => "detachment law",
        "arc_voltage" => "arc voltage law",
        other => other,
    }
}

/// What a limit says, and what lifts it.
pub(crate) fn limit(name: &str) -> (&str, &str) {
    match name {
        "current_low" => {
            ("the source cannot go that low in mean or pulse current", "a source with a lower current limit")
        }
        "current_high" => {
            ("the mean or pulse current reaches the source's highest current", "a source with more current")
        }
        "background_low" => (
            "the background current reaches the source's lowest",
            "a source with a lower background, or a smaller drop",
        ),
        "background_high" => (
            "the background current reaches the source's highest",
            "a source with a higher background, or a smaller drop",
        ),
        "pulse_time_low" => ("the pulse time reaches the source's shortest", "a source with shorter pulses"),
        "pulse_time_high" => ("the pulse time reaches the source's longest", "a source with longer pulses"),
        "frequency_low" => {
            ("the pulse frequency reaches the source's lowest", "a smaller drop, which needs more pulses")
        }
        "frequency_high" => {
            ("the pulse frequency reaches the source's highest", "a larger drop, which needs fewer pulses")
        }
        "pulse_duty_low" => ("the pulse fills too small a part of the period", "longer pulses"),
        "pulse_duty_high" => ("the pulse fills too large a part of the period", "shorter pulses"),
        "slopes" => ("the source's slopes leave no room for pulse or background", "a source with steeper slopes"),
        "drop_small" => {
            ("the drop reaches the smallest allowed", "a wider drop_to_wire_limits in the study, if the weld allows it")
        }
        "drop_large" => {
            ("the drop reaches the largest allowed", "a wider drop_to_wire_limits in the study, if the weld allows it")
        }
        "one_drop_low" => ("one drop per pulse is not sure enough", "more counted trials near both thresholds"),
        "melting_rate_uncertain" => {
            ("the melting rate is not known well enough", "more burn-off trials near this feed")
        }
        "data_low" => ("it lies below the ranges of the trials", "trials at lower wire feeds"),
        "data_high" => ("it lies above the ranges of the trials", "trials at higher wire feeds"),
        "law_missing" => ("a law that the line needs could not be fitted", "the trials named with that law"),
        other => (other, "see the line's file"),
    }
}

/// A limit where there is little room: what is at its end there.
pub(crate) fn limit_in_short(name: &str) -> String {
    match name {
        "current_low" => "lowest current",
        "current_high" => "highest current",
        "background_low" => "lowest background",
        "background_high" => "highest background",
        "pulse_time_low" => "shortest pulse",
        "pulse_time_high" => "longest pulse",
        "frequency_low" => "lowest frequency",
        "frequency_high" => "highest frequency",
        "pulse_duty_low" => "smallest share of pulse",
        "pulse_duty_high" => "largest share of pulse",
        "slopes" => "slopes of the source",
        "drop_small" => "smallest drop",
        "drop_large" => "largest drop",
        "one_drop_low" => "one drop not sure",
        "melting_rate_uncertain" => "melting rate not known",
        "data_low" => "trials end below",
        "data_high" => "trials end above",
        "law_missing" => "a law is missing",
        other => return plain(other),
    }
    .to_owned()
}

/// How settings are chosen, in a word or two.
pub(crate) fn rule(name: &str) -> String {
    match name {
        "optimised" => "by an optimum along the line".to_owned(),
        "midpoint" => "by the midpoint rule".to_owned(),
        other => plain(other),
    }
}

/// A setting in words.
pub(crate) fn setting(name: &str) -> &str {
    match name {
        "pulse_current_a" => "pulse current",
        "pulse_time_ms" => "pulse time",
        "pulse_frequency_hz" => "pulse frequency",
        other => other,
    }
}

/// Symbol and meaning of a coefficient.
pub(crate) fn coefficient(name: &str) -> (&'static str, &'static str) {
    match name {
        "alpha_mm_per_a_s" => ("α", "melting by the arc: wire per second for each ampere"),
        "beta_per_a2_s" => ("β", "melting by resistance: for each mm of extension and ampere squared"),
        "offset_mm_per_s" => ("w₀", "melting that does not depend on the current"),
        "exponent" => ("n", "how strongly the pulse current counts against the pulse time"),
        "steepness" => ("k", "how sharp the two edges of the one-drop window are"),
        "one_drop_from_ms" => ("t₁", "pulse time at the reference current at which half the pulses detach a drop"),
        "more_drops_from_ms" => {
            ("t₂", "pulse time at the reference current at which half the pulses detach more than one")
        }
        "trial_scatter" => ("τ", "scatter from trial to trial beyond counting and stated errors"),
        "intercept_v" => ("U₀", "voltage without current and arc length"),
        "slope_ohm" => ("R", "rise of the voltage with the current"),
        "gradient_v_per_mm" => ("E", "voltage for each mm of arc"),
        "extension_ohm_per_mm" => ("r", "resistance of each mm of extension"),
        _ => ("", ""),
    }
}

/// What support rests on: name, unit as shown, factor from the contract's unit to it.
pub(crate) fn variable(name: &str) -> (String, &'static str, f64) {
    let (words, unit, factor) = match name {
        "current_mean_a" => ("mean current", "A", 1.0),
        "extension_rms_squared_mm_a2" => ("extension times RMS current squared", "mm kA²", 1e-6), // A² to kA²
        "detachment_s" => ("position in the detachment window", "", 1.0),
        "log_pulse_current" => ("logarithm of pulse current over reference", "", 1.0),
        "arc_length_mm" => ("arc length", "mm", 1.0),
        "extension_mm" => ("extension", "mm", 1.0),
        "ctwd_mm" => ("contact-tip-to-work distance", "mm", 1.0),
        other => return (plain(other), "", 1.0),
    };
    (words.to_owned(), unit, factor)
}

/// A unit as printed: `1` is no unit.
pub(crate) fn unit(unit: &str) -> String {
    match unit {
        "1" => String::new(),
        "ohm" => "Ω".to_owned(),
        "ohm/mm" => "Ω/mm".to_owned(),
        other => other.replace("^n", "ⁿ").replace("^2", "²"),
    }
}

/// A contributor to a budget.
pub(crate) fn contributor(name: &str) -> String {
    match name {
        "trials" => "scatter of the trials".to_owned(),
        "studies" => "what the studies leave open".to_owned(),
        "drop_counting" => "counting of drops".to_owned(),
        "between_blocks" => "scatter between days, coils or plates".to_owned(),
        "current_gain_relative" => "gain of the current probe".to_owned(),
        "wire_feed_gain_relative" => "gain of the wire feed reading".to_owned(),
        "voltage_offset_v" => "offset of the voltage reading".to_owned(),
        "voltage_gain_relative" => "gain of the voltage reading".to_owned(),
        "ctwd_offset_mm" => "offset of the contact-tip-to-work distance".to_owned(),
        "arc_length_offset_mm" => "offset of the arc length".to_owned(),
        "pulse_time_gain_relative" => "gain of the pulse time".to_owned(),
        other => plain(other),
    }
}

/// The same where there is little room.
pub(crate) fn contributor_in_short(name: &str) -> String {
    match name {
        "trials" => "trials".to_owned(),
        "studies" => "studies".to_owned(),
        "drop_counting" => "counting".to_owned(),
        "between_blocks" => "blocks".to_owned(),
        "current_gain_relative" => "current gain".to_owned(),
        "wire_feed_gain_relative" => "feed gain".to_owned(),
        "voltage_offset_v" => "voltage offset".to_owned(),
        "voltage_gain_relative" => "voltage gain".to_owned(),
        "ctwd_offset_mm" => "tip-to-work offset".to_owned(),
        "arc_length_offset_mm" => "arc length offset".to_owned(),
        "pulse_time_gain_relative" => "pulse time gain".to_owned(),
        other => plain(other).chars().take(16).collect(),
    }
}

/// An equation in the letters of the trade instead of the ones of a keyboard.
pub(crate) fn equation(typed: &str) -> String {
    [
        ("alpha", "α"),
        ("beta", "β"),
        ("sigma", "σ"),
        ("^2", "²"),
        ("^n", "ⁿ"),
        ("*", "\u{2009}·\u{2009}"),
        (" - ", " − "),
    ]
    .into_iter()
    .fold(typed.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// The unit of a law's residuals, where the result does not name it.
pub(crate) fn law_unit<'a>(name: &str, stated: &'a str) -> &'a str {
    match (stated, name) {
        ("", "burn_off") => "mm/s",
        ("", "detachment") => "drops per pulse",
        ("", "arc_voltage") => "V",
        (stated, _) => stated,
    }
}

/// How a fit ended.
pub(crate) fn ended(how: &str) -> String {
    match how {
        "converged" => "the fit converged".to_owned(),
        "not_converged" => "the fit did not converge".to_owned(),
        FittedLaw::EXTENDED => "extended from other studies".to_owned(),
        "separated" => "the counts leave the thresholds open on one side".to_owned(),
        "too_few_trials" => "there are too few trials".to_owned(),
        "impossible_power" => "a power of the table is impossible".to_owned(),
        other => plain(other),
    }
}

/// What the standard errors rest on.
pub(crate) fn covariance_from(from: meltlaw::study::CovarianceFrom) -> &'static str {
    use meltlaw::study::CovarianceFrom as From;
    match from {
        From::Residuals => "the scatter of the trials about the law",
        From::StatedErrors => "the errors stated in the study",
        From::ObservedInformation => "the curvature of the likelihood of the counts",
    }
}

/// A name of a test or check as words.
pub(crate) fn plain(name: &str) -> String {
    let word = |part: &str| match part {
        "rms" => "RMS".to_owned(),
        "ctwd" => "CTWD".to_owned(),
        part => part.to_owned(),
    };
    name.split('_').map(word).collect::<Vec<_>>().join(" ")
}

/// A form of a law in words.
pub(crate) fn form(name: &str) -> String {
    match name {
        "proportional" => "no offset".to_owned(),
        "offset" => "with an offset".to_owned(),
        "physical_beta" => "β from the material".to_owned(),
        "ordered_logit" => "pulse current and time".to_owned(),
        "with_background_current" => "also background current".to_owned(),
        "with_drop_size" => "also drop size".to_owned(),
        "current" => "current only".to_owned(),
        "current_arc" => "current, arc length".to_owned(),
        "current_arc_extension" => "also extension".to_owned(),
        other => plain(other),
    }
}

/// What a test looks at, in words.
pub(crate) fn test(name: &str) -> String {
    match name {
        "drift" => "drift over the campaign".to_owned(),
        "tip_wear" => "wear of the contact tip".to_owned(),
        "blocks" => "blocks (days, coils, plates)".to_owned(),
        "days" => "days of welding".to_owned(),
        "spools" => "spools of wire".to_owned(),
        "stations" => "welding stations".to_owned(),
        "normality" => "shape of the scatter".to_owned(),
        "lack_of_fit" => "law against repeated settings".to_owned(),
        "heteroscedasticity" => "scatter along the range".to_owned(),
        "collinearity" => "settings that move together".to_owned(),
        "outliers" => "trials that do not fit".to_owned(),
        "robust" => "refit that single trials cannot pull".to_owned(),
        "stated_errors" => "stated errors against the scatter".to_owned(),
        "overdispersion" => "scatter of the drop counts".to_owned(),
        "parallel_thresholds" => "equal steepness of both edges".to_owned(),
        "form" => "form of the law".to_owned(),
        "power" => "power against the voltage law".to_owned(),
        other => of_studies(other).unwrap_or_else(|| plain(other)),
    }
}

/// Tests of studies that laws were extended from.
fn of_studies(name: &str) -> Option<String> {
    [
        ("heterogeneity_", "scatter between studies: "),
        ("odd_one_out_", "the study that stands off: "),
        ("scaling_", "power of the metal section: "),
    ]
    .into_iter()
    .find_map(|(begins, says)| Some(format!("{says}{}", plain(name.strip_prefix(begins)?))))
}

/// With a capital where it begins with a word of ours. A symbol (`r`, `dw/dL`), a unit, the name of a file, column or
/// trial stays as it is spelt: `rohdaten.csv` and `Rohdaten.csv` are two files.
pub(crate) fn capital(text: &str) -> String {
    let first = text.split_whitespace().next().unwrap_or_default();
    let word = first.trim_end_matches([',', ';', ':', '.', '’', '\'']);
    let ours = word.chars().all(|c| c.is_ascii_lowercase() || c == '-' || c == '’')
        && (word == "a" || word.len() > 1)
        && !UNITS.contains(&word);
    let mut letters = text.chars();
    match letters.next().filter(|_| ours) {
        Some(letter) => letter.to_uppercase().chain(letters).collect(),
        None => text.to_owned(),
    }
}

/// Units and symbols of small letters that could pass for words.
const UNITS: [&str; 6] = ["mm", "ms", "kg", "ohm", "tp", "se"];

/// `a, b and c`.
pub(crate) fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_word_of_ours_gets_a_capital() {
        for ours in ["one trial is left out", "a gap", "one-drop threshold", "burn-off, twice"] {
            assert!(capital(ours).starts_with(|c: char| c.is_ascii_uppercase()), "{ours}");
        }
        for spelt in
            ["rohdaten.csv: row 3", "r = 0.3", "dw/dL is", "mm are", "b7 stands out", "arc_voltage: x", "α", ""]
        {
            assert_eq!(capital(spelt), spelt);
        }
    }
}
