//! The current at which solid wire changes from large drops to spray, as a band. A pulse should lie above it,
//! a background below: what does not gets a remark, never a refusal.
//!
//! # Source
//! The table is common practice, from memory; see `datasets/check_values.md`, section 3. The one source seen (its
//! abstract) is T. Methong and others, Sci. Technol. Weld. Join. 23(1) (2018) 87–94, doi 10.1080/13621718.2017.1344454:
//! 330 to 350 A for carbon steel under 80 % Ar + 20 % CO2, diameter not stated, which is 20 % and more above the table.
//! Hence ± 20 %, and under that gas the band reaches to 350 A from 1.2 mm on.

use meltlaw_line::Waveform;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::gas::Gas;
use crate::materials::Material;
use crate::study::Wire;

/// How far the table may be off: as far as the one source that was seen lies from it.
const SPREAD_RELATIVE: f64 = 0.20;
/// Gas by volume that may be another than in the nearest row, per cent: further off the table says nothing.
/// (Our choice: the two carbon dioxide rows for steel lie as far apart.)
const OTHER_GAS_PERCENT: f64 = 15.0;
const SOURCE: &str = "common practice, from memory";
/// Transition of carbon steel under 80 % Ar + 20 % CO2 by Methong and others, A.
const METHONG_A: [f64; 2] = [330.0, 350.0];
const METHONG: &str = "330 to 350 A by Methong et al. (2018)";

/// The band for a wire and gas.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TransitionCurrent {
    /// Value of the table at the wire's diameter, lowest and highest where it states a range, A.
    pub table_a: [f64; 2],
    /// The same ± 20 %, and as far as another source says, A.
    pub band_a: [f64; 2],
    /// Row of the table.
    pub row: String,
    /// Where the table is from.
    pub source: String,
    /// In what the wire and gas differ from the row.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub differs: Option<String>,
}

struct Row {
    material: Material,
    wire: &'static str,
    gas: Gas,
    /// Ascending in diameter.
    by_diameter: &'static [Known],
}

/// What the table says of one diameter.
#[derive(Clone, Copy)]
struct Known {
    diameter_mm: f64,
    /// Lowest and highest value of the table, A.
    table_a: [f64; 2],
    band_a: [f64; 2],
}

impl Known {
    /// The band that another source for the same wire and gas lies in too.
    const fn and(mut self, other_a: [f64; 2]) -> Self {
        self.band_a = [self.band_a[0].min(other_a[0]), self.band_a[1].max(other_a[1])];
        self
    }

    fn between(self, next: Self, diameter_mm: f64) -> Self {
        let t = (diameter_mm - self.diameter_mm) / (next.diameter_mm - self.diameter_mm);
        let mixed = |a: [f64; 2], b: [f64; 2]| [0, 1].map(|end| a[end] + t * (b[end] - a[end]));
        Self { diameter_mm, table_a: mixed(self.table_a, next.table_a), band_a: mixed(self.band_a, next.band_a) }
    }
}

const fn gas(argon: f64, carbon_dioxide: f64, oxygen: f64) -> Gas {
    Gas { argon, carbon_dioxide, oxygen, helium: 0.0, hydrogen: 0.0, nitrogen: 0.0 }
}

const fn at(diameter_mm: f64, current_a: f64) -> Known {
    range(diameter_mm, [current_a, current_a])
}

const fn range(diameter_mm: f64, table_a: [f64; 2]) -> Known {
    let band_a = [table_a[0] * (1.0 - SPREAD_RELATIVE), table_a[1] * (1.0 + SPREAD_RELATIVE)];
    Known { diameter_mm, table_a, band_a }
}

const TABLE: [Row; 5] = [
    Row {
        material: Material::CarbonSteel,
        wire: "low-carbon steel",
        gas: gas(95.0, 5.0, 0.0),
        by_diameter: &[at(0.8, 140.0), at(1.0, 180.0), at(1.2, 240.0), at(1.6, 280.0)],
    },
    Row {
        material: Material::CarbonSteel,
        wire: "low-carbon steel",
        gas: gas(80.0, 20.0, 0.0),
        by_diameter: &[at(0.8, 160.0), at(1.0, 200.0), at(1.2, 275.0).and(METHONG_A), at(1.6, 280.0).and(METHONG_A)],
    },
    Row {
        material: Material::CarbonSteel,
        wire: "mild steel",
        gas: gas(98.0, 0.0, 2.0),
        by_diameter: &[at(1.0, 190.0)],
    },
    Row {
        material: Material::StainlessSteel,
        wire: "stainless steel",
        gas: gas(98.0, 0.0, 2.0),
        by_diameter: &[at(0.9, 170.0), at(1.0, 170.0), at(1.2, 225.0), at(1.6, 285.0)],
    },
    Row {
        material: Material::Aluminium,
        wire: "aluminium",
        gas: gas(100.0, 0.0, 0.0),
        by_diameter: &[range(0.8, [90.0, 95.0]), at(1.0, 100.0), at(1.2, 120.0), range(1.6, [170.0, 180.0])],
    },
];

impl Row {
    /// Linear in the diameter between the row's diameters; nothing beyond them.
    fn known(&self, diameter_mm: f64) -> Option<Known> {
        if let Some(exact) = self.by_diameter.iter().find(|k| (k.diameter_mm - diameter_mm).abs() < 1e-9) {
            return Some(*exact);
        }
        let pairs = self.by_diameter.windows(2);
        let mut around = pairs.filter(|pair| (pair[0].diameter_mm..=pair[1].diameter_mm).contains(&diameter_mm));
        around.next().map(|pair| pair[0].between(pair[1], diameter_mm))
    }

    /// Share of the gas that would have to be exchanged for the row's, per cent by volume.
    fn other_gas_percent(&self, gas: &Gas) -> f64 {
        self.gas.components().iter().zip(gas.components()).map(|(row, own)| (row.1 - own.1).abs()).sum::<f64>() / 2.0
    }

    fn name(&self) -> String {
        format!("{}, {}", self.wire, self.gas.text())
    }
}

/// The band for a solid wire and its gas: the row whose gas is nearest among those that reach the diameter.
///
/// Without a stated gas the band spans all rows of the material. `None` for nickel and copper, for cored
/// wire, for diameters that no row reaches, and where more than 15 % of the gas is another.
pub fn transition_current(wire: &Wire, gas: Option<&Gas>) -> Option<TransitionCurrent> {
    if wire.metal_section_mm2.is_some() || wire.linear_mass_g_m.is_some() {
        return None;
    }
    let reaching: Vec<(&Row, Known)> = TABLE
        .iter()
        .filter(|row| row.material == wire.material)
        .filter_map(|row| Some((row, row.known(wire.diameter_mm)?)))
        .collect();
    let (known, row, differs) = match gas {
        Some(gas) => {
            let (row, known) =
                reaching.iter().min_by(|a, b| a.0.other_gas_percent(gas).total_cmp(&b.0.other_gas_percent(gas)))?;
            let other = row.other_gas_percent(gas);
            // Guarded so that a composition that is no number says nothing.
            if !(other <= OTHER_GAS_PERCENT) {
                return None;
            }
            let differs =
                (other > 0.0).then(|| format!("the gas here is {}, {} % by volume apart", gas.text(), short(other)));
            (*known, row.name(), differs)
        }
        None => {
            let both = |a: [f64; 2], b: [f64; 2]| [a[0].min(b[0]), a[1].max(b[1])];
            let all = reaching.iter().map(|(_, known)| *known);
            let spanned = all.reduce(|a, b| Known {
                table_a: both(a.table_a, b.table_a),
                band_a: both(a.band_a, b.band_a),
                ..a
            })?;
            let names: Vec<String> = reaching.iter().map(|(row, _)| row.name()).collect();
            let differs = "the gas is not stated, so all rows of the material count".to_owned();
            (spanned, names.join("; "), Some(differs))
        }
    };
    let Known { table_a, band_a, .. } = known;
    let widened = band_a[1] > table_a[1] * (1.0 + SPREAD_RELATIVE);
    let source = if widened { format!("{SOURCE}; {METHONG}") } else { SOURCE.to_owned() };
    Some(TransitionCurrent { table_a, band_a, row, source, differs })
}

/// To one decimal, none where it is whole.
fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

impl TransitionCurrent {
    /// `240 A ± 20 %, low-carbon steel, 95 % Ar + 5 % CO2, …`: the row with its source and what differs.
    pub fn basis(&self) -> String {
        let [low, high] = self.table_a;
        let value = if low == high { short(low) } else { format!("{} to {}", short(low), short(high)) };
        let differs = self.differs.as_ref().map_or(String::new(), |d| format!("; {d}"));
        format!("{value} A ± 20 %: {}; {}{differs}", self.row, self.source)
    }

    /// What a setting's pulse and background have to hear; nothing where they lie on their sides of the band.
    ///
    /// The words hold the band and not the setting, so that neighbouring nodes say the same.
    pub fn notes(&self, wave: &Waveform) -> Vec<String> {
        let [low, high] = self.band_a;
        let band = format!("{} to {} A ({})", short(low), short(high), self.basis());
        let mut notes = Vec::new();
        // NaN is remarked on too.
        if !(wave.pulse_current_a > high) {
            notes.push(format!(
                "the pulse current does not exceed the transition current of {band}: the wire may transfer globularly, not in one drop per pulse; look at the transfer on high-speed video"
            ));
        }
        if !(wave.background_current_a < low) {
            notes.push(format!(
                "the background current does not stay below the transition current of {band}: drops may leave between the pulses too; look at the transfer on high-speed video"
            ));
        }
        notes
    }
}

/// Remarks on a setting with this wire and gas; none where no band is known.
pub fn notes(wire: &Wire, gas: Option<&Gas>, wave: &Waveform) -> Vec<String> {
    transition_current(wire, gas).map_or_else(Vec::new, |band| band.notes(wave))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
    use super::*;
    use crate::virtual_bench::wire;

    fn found(material: Material, diameter_mm: f64, own: Gas) -> Option<TransitionCurrent> {
        transition_current(&wire(material, diameter_mm, None), Some(&own))
    }

    fn close(found: [f64; 2], expected: [f64; 2]) {
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 1e-9, "{found:?}, not {expected:?}");
        }
    }

    #[test]
    fn the_table_is_met_at_its_own_places() {
        use Material::{Aluminium, CarbonSteel, StainlessSteel};
        // check_values.md, section 3; the band is 0.8 and 1.2 times the value.
        let steel = found(CarbonSteel, 1.2, gas(95.0, 5.0, 0.0)).unwrap();
        close(steel.table_a, [240.0, 240.0]);
        close(steel.band_a, [192.0, 288.0]);
        assert_eq!(steel.differs, None);
        close(found(CarbonSteel, 1.2, gas(80.0, 20.0, 0.0)).unwrap().table_a, [275.0, 275.0]);
        close(found(CarbonSteel, 1.0, gas(98.0, 0.0, 2.0)).unwrap().table_a, [190.0, 190.0]);
        close(found(StainlessSteel, 0.9, gas(98.0, 0.0, 2.0)).unwrap().table_a, [170.0, 170.0]);
        let thick = found(Aluminium, 1.6, gas(100.0, 0.0, 0.0)).unwrap();
        close(thick.table_a, [170.0, 180.0]);
        // 170 · 0.8 and 180 · 1.2.
        close(thick.band_a, [136.0, 216.0]);
        assert!(thick.basis().starts_with("170 to 180 A ± 20 %: aluminium, 100 % Ar; common practice, from memory"));
    }

    #[test]
    fn the_band_of_steel_under_80_20_holds_what_the_other_source_says() {
        let own = gas(80.0, 20.0, 0.0);
        let usual = found(Material::CarbonSteel, 1.2, own).unwrap();
        // 0.8 · 275; 1.2 · 275 = 330 A is less than the 350 A of the other source.
        close(usual.band_a, [220.0, 350.0]);
        assert!(usual.basis().ends_with("from memory; 330 to 350 A by Methong et al. (2018)"), "{}", usual.basis());
        // A thicker wire does not change over at less.
        close(found(Material::CarbonSteel, 1.6, own).unwrap().band_a, [224.0, 350.0]);
        let thin = found(Material::CarbonSteel, 1.0, own).unwrap();
        close(thin.band_a, [160.0, 240.0]);
        assert_eq!(thin.source, "common practice, from memory");
        // Half way between both.
        close(found(Material::CarbonSteel, 1.1, own).unwrap().band_a, [190.0, 295.0]);
    }

    #[test]
    fn between_diameters_the_row_is_linear_and_beyond_them_silent() {
        let own = gas(95.0, 5.0, 0.0);
        // 1.4 mm lies in the middle of 240 and 280 A; 0.9 mm in the middle of 140 and 180 A.
        close(found(Material::CarbonSteel, 1.4, own).unwrap().table_a, [260.0, 260.0]);
        close(found(Material::CarbonSteel, 0.9, own).unwrap().table_a, [160.0, 160.0]);
        for diameter_mm in [0.6, 0.79, 1.61, 2.4, f64::NAN] {
            assert_eq!(found(Material::CarbonSteel, diameter_mm, own), None);
        }
        assert_eq!(found(Material::StainlessSteel, 0.8, gas(98.0, 0.0, 2.0)), None);
    }

    #[test]
    fn the_nearest_gas_that_reaches_the_diameter_counts_and_says_what_differs() {
        // From 92/8: 3 % to 95/5, 12 % to 80/20, 8 % to 98/2 O2.
        let near = found(Material::CarbonSteel, 1.0, gas(92.0, 8.0, 0.0)).unwrap();
        close(near.table_a, [180.0, 180.0]);
        assert_eq!(near.differs.as_deref(), Some("the gas here is 92 % Ar + 8 % CO2, 3 % by volume apart"));
        // 98/2 O2 has a row of its own at 1.0 mm only; at 1.2 mm 95/5 is 5 % away.
        close(found(Material::CarbonSteel, 1.2, gas(98.0, 0.0, 2.0)).unwrap().table_a, [240.0, 240.0]);
        close(found(Material::CarbonSteel, 1.2, gas(85.0, 15.0, 0.0)).unwrap().table_a, [275.0, 275.0]);
        // Pure CO2 is 80 % away from the nearest row: nothing is said.
        assert_eq!(found(Material::CarbonSteel, 1.2, gas(0.0, 100.0, 0.0)), None);
        let helium = Gas { helium: 50.0, argon: 50.0, ..Gas::default() };
        assert_eq!(found(Material::Aluminium, 1.2, helium), None);
    }

    #[test]
    fn without_a_gas_all_rows_of_the_material_count() {
        let open = transition_current(&wire(Material::CarbonSteel, 1.2, None), None).unwrap();
        // 240 and 275 A: 0.8 · 240, and 350 A of the other source is more than 1.2 · 275.
        close(open.band_a, [192.0, 350.0]);
        assert!(open.differs.unwrap().contains("not stated"));
    }

    #[test]
    fn nothing_is_said_of_other_materials_and_cored_wires() {
        let own = gas(100.0, 0.0, 0.0);
        assert_eq!(found(Material::Nickel, 1.2, own), None);
        assert_eq!(found(Material::Copper, 1.2, own), None);
        let cored = wire(Material::CarbonSteel, 1.2, Some(0.9));
        assert_eq!(transition_current(&cored, Some(&gas(95.0, 5.0, 0.0))), None);
    }

    #[test]
    fn a_setting_hears_of_the_side_on_which_it_does_not_lie() {
        let band = found(Material::CarbonSteel, 1.2, gas(95.0, 5.0, 0.0)).unwrap();
        let wave = |pulse_current_a, background_current_a| Waveform {
            pulse_current_a,
            pulse_time_ms: 2.0,
            background_current_a,
            pulse_frequency_hz: 100.0,
            rise_a_per_ms: 600.0,
            fall_a_per_ms: 600.0,
        };
        assert!(band.notes(&wave(350.0, 128.0)).is_empty());
        // Inside the band counts: 288 A is not above, 192 A not below.
        let both = band.notes(&wave(288.0, 192.0));
        assert_eq!(both.len(), 2);
        assert!(both[0].contains("192 to 288 A") && both[0].contains("globularly"), "{both:?}");
        assert!(both[1].contains("between the pulses"));
        assert_eq!(band.notes(&wave(350.0, 200.0)).len(), 1);
    }
}
