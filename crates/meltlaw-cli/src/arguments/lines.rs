//! What is typed to find lines.

use std::path::PathBuf;

use clap::Args;
use meltlaw::find::USUAL_GAS_TOLERANCE_POINTS;
use meltlaw::gas::Gas;
use meltlaw::materials::Material;

use super::feed;

#[derive(Debug, Args)]
pub(crate) struct FindArguments {
    /// Folder to search, with all folders below it; links are not followed.
    pub(crate) folder: PathBuf,
    /// Material of the wire: carbon-steel, stainless-steel, aluminium, nickel or copper.
    #[arg(long, value_parser = material)]
    pub(crate) material: Option<Material>,
    /// Nominal diameter of the wire.
    #[arg(long, value_parser = above_zero)]
    pub(crate) diameter_mm: Option<f64>,
    /// Gas in per cent by volume, such as `argon=82,carbon_dioxide=18` or `82 % Ar + 18 % CO2`.
    #[arg(long, value_parser = gas)]
    pub(crate) gas: Option<Gas>,
    /// By how many percentage points each component of the gas may be off.
    #[arg(long, value_parser = tolerance, default_value_t = USUAL_GAS_TOLERANCE_POINTS, requires = "gas")]
    pub(crate) gas_tolerance_points: f64,
    /// Wire feed speed at which a setting is needed: `6.5` is m/min; `240in/min` and `100mm/s` work too.
    #[arg(long, value_parser = feed)]
    pub(crate) wire_feed: Option<f64>,
    /// Contact-tip-to-work distance, within half a millimetre.
    #[arg(long, value_parser = above_zero)]
    pub(crate) ctwd_mm: Option<f64>,
}

fn material(text: &str) -> Result<Material, String> {
    Material::from_word(text).ok_or_else(|| {
        let known: Vec<&str> = Material::ALL.iter().map(|m| m.word()).collect();
        format!("found '{text}', needed one of {}", known.join(", "))
    })
}

pub(super) fn above_zero(text: &str) -> Result<f64, String> {
    let value: Result<f64, _> = text.trim().parse();
    value
        .ok()
        // Ends as wide as those of the study file: beyond them no number of the answer would be finite.
        .filter(|v| (1e-6..=1e6).contains(v))
        .ok_or_else(|| {
            format!("found '{text}', needed a number from 0.000001 to 1000000 with a decimal point, such as 1.2")
        })
}

fn tolerance(text: &str) -> Result<f64, String> {
    let value: Result<f64, _> = text.trim().parse();
    value
        .ok()
        .filter(|v| (0.0..=100.0).contains(v))
        .ok_or_else(|| format!("found '{text}', needed percentage points from 0 to 100, such as 2"))
}

/// A gas whose components are named by the study file's keys or by their symbols, in either order of name and number.
fn gas(text: &str) -> Result<Gas, String> {
    let mut gas = Gas::default();
    let mut seen: Vec<String> = Vec::new();
    for part in text.split([',', '+', ';']).map(str::trim).filter(|p| !p.is_empty()) {
        let words: Vec<&str> = part.split(|c: char| c == '=' || c == '%' || c == ':' || c.is_whitespace()).collect();
        let words: Vec<&str> = words.into_iter().filter(|w| !w.is_empty()).collect();
        let example = "write argon=82,carbon_dioxide=18 or 82 % Ar + 18 % CO2";
        let [a, b] = words[..] else {
            return Err(format!("found '{part}', needed a component and its per cent; {example}"));
        };
        let (name, share) = match (a.parse::<f64>(), b.parse::<f64>()) {
            (Ok(share), Err(_)) => (b, share),
            (Err(_), Ok(share)) => (a, share),
            _ => return Err(format!("found '{part}', needed a component and its per cent; {example}")),
        };
        if !(0.0..=100.0).contains(&share) {
            return Err(format!("found {share} % in '{part}', needed a share from 0 to 100"));
        }
        let component = component(&mut gas, name).ok_or_else(|| {
            format!("found '{name}', needed argon, carbon_dioxide, helium, oxygen, hydrogen or nitrogen (Ar, CO2, He, O2, H2, N2)")
        })?;
        *component.1 = share;
        if seen.contains(&component.0.to_owned()) {
            return Err(format!("{} is named twice in '{text}'", component.0));
        }
        seen.push(component.0.to_owned());
    }
    let total = gas.total();
    // What people round away: 33.3 three times.
    if (total - 100.0).abs() > 0.5 {
        return Err(format!(
            "the components of '{text}' sum to {total} %, 100 was needed; name the rest too, such as argon"
        ));
    }
    Ok(gas)
}

fn component<'a>(gas: &'a mut Gas, name: &str) -> Option<(&'static str, &'a mut f64)> {
    Some(match name.to_ascii_lowercase().as_str() {
        "argon" | "ar" => ("argon", &mut gas.argon),
        "carbon_dioxide" | "co2" => ("carbon dioxide", &mut gas.carbon_dioxide),
        "helium" | "he" => ("helium", &mut gas.helium),
        "oxygen" | "o2" => ("oxygen", &mut gas.oxygen),
        "hydrogen" | "h2" => ("hydrogen", &mut gas.hydrogen),
        "nitrogen" | "n2" => ("nitrogen", &mut gas.nitrogen),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gas_is_typed_as_in_the_study_or_as_it_is_printed() {
        let wanted = Gas { argon: 82.0, carbon_dioxide: 18.0, ..Gas::default() };
        for text in ["argon=82,carbon_dioxide=18", "82 % Ar + 18 % CO2", "CO2 18, ar 82", "Ar: 82; co2: 18"] {
            assert_eq!(gas(text), Ok(wanted), "{text}");
        }
        assert_eq!(gas(&wanted.text()), Ok(wanted));
        assert_eq!(gas("He=33.3,Ar=33.3,CO2=33.3").map(|g| g.helium), Ok(33.3));
    }

    #[test]
    fn what_is_no_gas_says_what_was_needed() {
        let complaint = |text: &str| gas(text).unwrap_err();
        assert!(complaint("co2=18").contains("sum to 18 %, 100 was needed"));
        assert!(complaint("argon=82,krypton=18").contains("found 'krypton', needed argon"));
        assert!(complaint("82/18").contains("needed a component and its per cent"));
        assert!(complaint("ar=50,argon=50").contains("argon is named twice"));
        assert!(complaint("ar=-5,co2=105").contains("needed a share from 0 to 100"));
        assert!(complaint("").contains("sum to 0 %"));
        assert!(complaint("ar=NaN").contains("found NaN %"));
    }

    #[test]
    fn materials_and_sizes_are_checked() {
        assert_eq!(material("aluminium"), Ok(Material::Aluminium));
        assert!(material("steel").unwrap_err().contains("needed one of carbon-steel"));
        assert_eq!(above_zero("1.2"), Ok(1.2));
        for text in ["0", "-1", "1,2", "inf", "NaN"] {
            assert!(above_zero(text).is_err(), "{text}");
        }
        assert!(tolerance("101").is_err() && tolerance("NaN").is_err());
    }
}
