//! The cautions that every law, line, table, export and report carries. This list is the only one: the README is held
//! against it by a test.
//!
//! # Source
//! Common practice of arc welding safety. Local rules, the makers' instructions and safety data sheets come first.

use crate::materials::Material;

/// Cautions for every wire, the most basic ones first.
pub const FOR_EVERY_WIRE: [&str; 17] = [
    "A composed line is a starting point and not a welding procedure specification (WPS): weld it, look at it, section it, and have procedures qualified under the code that applies (for example ISO 15614) by the people licensed to do so.",
    "Outside the range that the trials cover nothing is promised.",
    "The line describes steady welding only: ignition, run-in, burn-back and crater filling are not covered.",
    "The line is not a safety function: a controller that reads it needs limits, interlocks and an emergency stop of its own.",
    "A new batch of wire or gas, another cable, torch or liner and a worn contact tip change the arc: check the line before using it again.",
    "Follow the makers' instructions, the safety data sheets and the local law: they come before everything stated here.",
    "Arc radiation burns eyes and skin, reflected light too: filter shade, covered skin, screens for others.",
    "Fume is hazardous to breathe, chromium and nickel from stainless and manganese from steel above all: extract at the arc and keep to the local limits.",
    "Coatings such as paint, zinc, lead and cadmium add poisonous fume: remove them before welding.",
    "The arc makes ozone and nitrogen oxides, with carbon dioxide mixtures carbon monoxide too: ventilate.",
    "Shielding gas displaces air, and in confined spaces and pits it suffocates without warning: ventilate, wear an oxygen monitor and never work there alone.",
    "Chlorinated solvents and their vapour near the arc become poisonous gas: keep them away and weld nothing that is still wet with them.",
    "Electric shock: wire, spool and feed rolls are live while the source is on: undamaged dry gloves, more care in wet or narrow places.",
    "Earth the work and the equipment by the local rules, and never earth a recorder or a probe through the welding circuit.",
    "Electromagnetic fields of the welding current can disturb pacemakers and other implants: anybody with an implant stays away until a doctor has agreed, and nobody winds a welding cable around the body.",
    "Noise of a pulsed arc can damage hearing: wear hearing protection.",
    "Fire, spatter and hot metal: clear the surroundings, and never point the torch at anyone to test the feed.",
];

const OZONE_AND_ULTRAVIOLET: &str = "Ozone and ultraviolet radiation are strongest with aluminium and stainless steel: extract at the arc, cover all skin and screen the place well.";

impl Material {
    /// Cautions for this wire's material, beside those for every wire.
    pub fn cautions(self) -> &'static [&'static str] {
        match self {
            Self::CarbonSteel => &[
                "Fume of steel wire holds manganese, which can damage the nervous system: extract at the arc and keep to the local limits.",
            ],
            Self::StainlessSteel => &[
                "Fume of stainless steel wire holds hexavalent chromium and nickel, which can cause cancer: extract at the arc, keep to the local limits and wear breathing protection where extraction does not suffice.",
                OZONE_AND_ULTRAVIOLET,
            ],
            Self::Aluminium => &[OZONE_AND_ULTRAVIOLET],
            Self::Nickel => &[
                "Fume of nickel wire holds nickel, and with chromium in the wire hexavalent chromium too, which can cause cancer and allergies: extract at the arc, keep to the local limits and wear breathing protection where extraction does not suffice.",
            ],
            Self::Copper => &[
                "Fume of copper wire irritates the lungs and can bring on metal fume fever: extract at the arc and keep to the local limits.",
            ],
        }
    }
}

/// All cautions for wires of these materials, each once; where no material is known, those for every material.
pub fn cautions(materials: &[Material]) -> Vec<String> {
    let materials = if materials.is_empty() { &Material::ALL } else { materials };
    let mut all = FOR_EVERY_WIRE.map(str::to_owned).to_vec();
    for caution in materials.iter().flat_map(|m| m.cautions()) {
        if !all.iter().any(|known| known == caution) {
            all.push((*caution).to_owned());
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn holds(materials: &[Material], words: &str) -> bool {
        cautions(materials).iter().any(|caution| caution.contains(words))
    }

    #[test]
    fn what_can_hurt_without_being_seen_is_named_for_every_wire() {
        for material in Material::ALL {
            for words in [
                "not a welding procedure specification",
                "burn-back",
                "not a safety function",
                "pacemakers",
                "hearing protection",
                "oxygen monitor and never work there alone",
                "Chlorinated solvents",
                "local rules",
                "makers' instructions",
                "local law",
                "undamaged dry gloves",
                "never earth a recorder",
            ] {
                assert!(holds(&[material], words), "{}: {words}", material.word());
            }
        }
    }

    #[test]
    fn each_material_brings_its_own_hazards_and_no_other() {
        use Material::{Aluminium, CarbonSteel, Copper, Nickel, StainlessSteel};
        let own = "Fume of ";
        assert!(holds(&[StainlessSteel], "hexavalent chromium"));
        assert!(holds(&[StainlessSteel], "Ozone and ultraviolet"));
        assert!(holds(&[Aluminium], "Ozone and ultraviolet"));
        assert!(!holds(&[Aluminium], own));
        assert!(holds(&[Nickel], "Fume of nickel wire"));
        assert!(holds(&[Copper], "metal fume fever"));
        assert!(!holds(&[CarbonSteel], "hexavalent"));
        assert!(!holds(&[CarbonSteel], "Ozone and ultraviolet"));
    }

    #[test]
    fn without_a_known_material_all_of_them_are_named_and_none_twice() {
        let mut all = cautions(&[]);
        for material in Material::ALL {
            assert!(material.cautions().iter().all(|caution| all.iter().any(|a| a == caution)));
        }
        let count = all.len();
        all.sort();
        all.dedup();
        assert_eq!(all.len(), count);
    }

    #[test]
    fn each_caution_is_one_sentence_on_one_line() {
        for caution in cautions(&[]) {
            assert!(caution.ends_with('.') && !caution.contains(". ") && !caution.contains('\n'), "{caution}");
        }
    }
}
