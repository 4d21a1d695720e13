//! What the program knows of wire materials: densities, reference currents and the bands in which
//! coefficients are expected. Bands only warn.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Wire materials of the contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Material {
    /// Unalloyed and low-alloy steel.
    CarbonSteel,
    /// Austenitic stainless steel.
    StainlessSteel,
    /// Aluminium and its alloys.
    Aluminium,
    /// Nickel alloys.
    Nickel,
    /// Copper alloys.
    Copper,
}

/// A density with where it is from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Density {
    /// kg/m³.
    pub kg_m3: f64,
    /// Source in words.
    pub source: &'static str,
}

/// Ranges of the physics behind the burn-off law, wide on purpose.
///
/// Energy balance at the wire tip: α = φ/(A·ρ·H), β = ρ_e/(A²·ρ·H).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeltingPhysics {
    /// Melting voltage φ (anode equivalent), V.
    pub melting_voltage_v: [f64; 2],
    /// Mean hot resistivity ρ_e, µΩ·m.
    pub hot_resistivity_uohm_m: [f64; 2],
    /// Drop enthalpy above ambient H, MJ/kg.
    pub drop_enthalpy_mj_kg: [f64; 2],
    /// β·A/α = ρ_e/φ, mm/A: independent of the drop enthalpy.
    pub ratio_mm_per_a: [f64; 2],
}

impl Material {
    /// All materials.
    pub const ALL: [Self; 5] = [Self::CarbonSteel, Self::StainlessSteel, Self::Aluminium, Self::Nickel, Self::Copper];

    /// The word in study files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::CarbonSteel => "carbon-steel",
            Self::StainlessSteel => "stainless-steel",
            Self::Aluminium => "aluminium",
            Self::Nickel => "nickel",
            Self::Copper => "copper",
        }
    }

    /// From the word in study files.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|m| m.word() == word)
    }

    /// Density where the study states none.
    pub const fn density(self) -> Density {
        match self {
            Self::CarbonSteel => Density { kg_m3: 7850.0, source: "usual value for unalloyed steel, from memory" },
            Self::StainlessSteel => {
                Density { kg_m3: 7950.0, source: "usual value for austenitic stainless steel, from memory" }
            }
            Self::Aluminium => Density { kg_m3: 2690.0, source: "usual value for Al-Mg and Al-Si filler, from memory" },
            Self::Nickel => Density { kg_m3: 8440.0, source: "usual value for Ni-Cr-Mo filler, from memory" },
            Self::Copper => Density { kg_m3: 8530.0, source: "usual value for Cu-Si filler, from memory" },
        }
    }

    /// Reference current of the detachment law.
    pub const fn reference_current_a(self) -> f64 {
        match self {
            Self::CarbonSteel | Self::StainlessSteel | Self::Nickel => 400.0,
            Self::Aluminium | Self::Copper => 250.0,
        }
    }

    /// Ranges of the melting physics (from memory, wide; `None` where not even that is at hand).
    pub const fn melting_physics(self) -> Option<MeltingPhysics> {
        match self {
            Self::CarbonSteel => Some(MeltingPhysics {
                melting_voltage_v: [4.0, 8.0],
                hot_resistivity_uohm_m: [0.6, 1.2],
                drop_enthalpy_mj_kg: [1.4, 2.4],
                ratio_mm_per_a: [0.75e-4, 3.0e-4],
            }),
            Self::StainlessSteel => Some(MeltingPhysics {
                melting_voltage_v: [4.0, 8.0],
                hot_resistivity_uohm_m: [0.9, 1.25],
                drop_enthalpy_mj_kg: [1.35, 2.2],
                ratio_mm_per_a: [1.1e-4, 3.1e-4],
            }),
            Self::Aluminium => Some(MeltingPhysics {
                melting_voltage_v: [3.5, 8.0],
                hot_resistivity_uohm_m: [0.045, 0.12],
                drop_enthalpy_mj_kg: [1.05, 2.0],
                ratio_mm_per_a: [0.056e-4, 0.34e-4],
            }),
            Self::Nickel | Self::Copper => None,
        }
    }
}
