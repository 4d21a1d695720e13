//! The laboratories of the recovery study: good ones of several materials and sizes, and ones with a fault
//! planted.

use super::bench::{study, wire};
use super::faults::{Block, Disturbance, between_blocks, drifting_gain, spoil};
use super::lab::{Plan, Size, stride, table, weld_all};
use super::truth::Truth;
use super::weld::TrueWeld;
use crate::factors::Factor;
use crate::materials::Material;
use crate::statistics::{DrawStream, Purpose};
use crate::study::{Bench, Study};
use crate::trials::{Column, Trials};

/// Streams of a laboratory's campaign (order, blocks, faults) and of its new welds lie this far from the
/// streams of its trials, so that a faulty laboratory is the good one of the same number with the fault.
const CAMPAIGN: u64 = 1 << 40;
pub(super) const NEW_WELDS: u64 = 2 << 40;
pub(super) const ORACLE: u64 = 3 << 40;

/// Blocks of a campaign.
const BLOCKS: usize = 5;

/// Welds after which a contact tip is changed.
const WELDS_PER_TIP: usize = 25;

/// Scatter between blocks where there is any: as large as the errors of one trial.
const BLOCK: Block = Block { gain_relative: 0.008, wire_feed_relative: 0.008, detachment_s: 0.08 };

/// Drift of the probe over a campaign.
const DRIFT: f64 = 0.06;

/// A kind of laboratory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "about() says it")]
pub enum Kind {
    Steel,
    SteelBlocks,
    Stainless,
    Aluminium,
    Small,
    SmallApart,
    Mixed,
    OneRecipe,
    Outliers,
    Drift,
    Blocks,
    Separated,
    Overdispersed,
    ErrorsHalved,
    ErrorsDoubled,
}

/// An invented laboratory with its truth.
#[derive(Debug, Clone)]
pub struct Lab {
    /// The study as the laboratory states it.
    pub study: Study,
    /// The errors that its readings truly have.
    pub true_bench: Bench,
    /// The laws that its process follows.
    pub truth: Truth,
    /// What it read.
    pub trials: Trials,
    /// What each row truly was.
    pub welds: Vec<TrueWeld>,
    /// Which rows carry a spoilt reading.
    pub spoilt: Vec<usize>,
    /// Block of each row and the scatter between blocks, where there is any.
    pub blocks: Option<(Vec<usize>, Block)>,
    /// Number of the laboratory under its seed.
    pub number: u64,
    /// The seed.
    pub seed: u64,
}

impl Kind {
    /// All kinds, in the order of the tables.
    pub const ALL: [Self; 15] = [
        Self::Steel,
        Self::SteelBlocks,
        Self::Stainless,
        Self::Aluminium,
        Self::Small,
        Self::SmallApart,
        Self::Mixed,
        Self::OneRecipe,
        Self::Outliers,
        Self::Drift,
        Self::Blocks,
        Self::Separated,
        Self::Overdispersed,
        Self::ErrorsHalved,
        Self::ErrorsDoubled,
    ];

    /// Name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Steel => "steel",
            Self::SteelBlocks => "steel-blocks",
            Self::Stainless => "stainless",
            Self::Aluminium => "aluminium",
            Self::Small => "small",
            Self::SmallApart => "small-apart",
            Self::Mixed => "mixed",
            Self::OneRecipe => "one-recipe",
            Self::Outliers => "outliers",
            Self::Drift => "drift",
            Self::Blocks => "blocks",
            Self::Separated => "separated",
            Self::Overdispersed => "overdispersed",
            Self::ErrorsHalved => "errors-halved",
            Self::ErrorsDoubled => "errors-doubled",
        }
    }

    /// From the name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// What the laboratories are.
    pub const fn about(self) -> &'static str {
        match self {
            Self::Steel => "unalloyed steel 1.2 mm, 40 burn-off and 30 detachment trials",
            Self::SteelBlocks => "the same with five blocks named that do not differ",
            Self::Stainless => "stainless steel 1.0 mm",
            Self::Aluminium => "aluminium 1.2 mm: beta*L*I_rms^2 nearly vanishes",
            Self::Small => "steel, 8 burn-off and 10 detachment trials, everything measured in each",
            Self::SmallApart => "steel, 8 trials with feed and voltage only, 10 with counted drops only",
            Self::Mixed => "steel, every second burn-off trial welded with constant current",
            Self::OneRecipe => {
                "steel, feed and voltage at one sharp pulse and two distances, drops counted in other trials"
            }
            Self::Outliers => "steel, three trials with a reading 8 to 15 standard errors off or a digit misread",
            Self::Drift => "steel, the probe's gain drifts by 6 % over the campaign",
            Self::Blocks => "steel, five blocks with offsets of probe gain 0.8 %, feed reading 0.8 % and s 0.08",
            Self::Separated => "steel, 14 detachment trials, each pulse of a trial detaching alike",
            Self::Overdispersed => "steel, true settings scatter by 0.15 in s from trial to trial",
            Self::ErrorsHalved => "steel, all stated errors half the true",
            Self::ErrorsDoubled => "steel, all stated errors double the true",
        }
    }

    /// Whether something is wrong that a laboratory should be warned of.
    pub const fn has_fault(self) -> bool {
        matches!(
            self,
            Self::Outliers
                | Self::Drift
                | Self::Blocks
                | Self::Separated
                | Self::Overdispersed
                | Self::ErrorsHalved
                | Self::ErrorsDoubled
        )
    }

    /// Whether the trials are meant to determine the detachment law.
    pub const fn determines_detachment(self) -> bool {
        !matches!(self, Self::Separated)
    }

    const fn size(self) -> Size {
        match self {
            Self::Small | Self::SmallApart => Size { burn_off: 8, detachment: 10, pulses: 150 },
            Self::Separated => Size { burn_off: 40, detachment: 14, pulses: 150 },
            _ => Size { burn_off: 40, detachment: 30, pulses: 150 },
        }
    }

    fn truth(self, study: &Study) -> Truth {
        let truth = Truth::of_wire(&study.wire);
        match self {
            Self::Overdispersed => Truth { trial_scatter: 0.15, ..truth },
            Self::Separated => Truth { steepness: 2000.0, trial_scatter: 0.0, ..truth },
            Self::Aluminium => Truth { wire_feed_m_min: [4.0, 7.5], ..truth },
            _ => truth,
        }
    }

    fn study(self) -> Study {
        let wire = match self {
            Self::Stainless => wire(Material::StainlessSteel, 1.0, None),
            Self::Aluminium => wire(Material::Aluminium, 1.2, None),
            _ => wire(Material::CarbonSteel, 1.2, None),
        };
        let mut study = study(wire);
        study.name = format!("invented lab, {}", self.name());
        study.numerics.draws = 1000;
        if self == Self::Aluminium {
            // Below the transition to spray transfer, so that drops leave in the pulses only.
            study.source.background_current_a = Some([20.0, 130.0]);
        }
        let [slow, fast] = self.truth(&study).wire_feed_m_min;
        // Five feeds between 15 and 85 % of the range, a whole number of hundredths apart.
        let step = (0.175 * (fast - slow) * 100.0).round() / 100.0;
        let low = ((slow + 0.15 * (fast - slow)) * 100.0).round() / 100.0;
        study.line.wire_feed_m_min = [low, ((low + 4.0 * step) * 100.0).round() / 100.0];
        study.line.step_m_min = step;
        study.line.interpolation_tolerance = 1.0;
        // A node that exists only where its own interval came out narrow would be judged by its luck.
        study.line.one_drop_floor = 0.0;
        study.line.extended_melting_rate_relative_se = 1.0;
        study.line.extended_by = 1.0;
        study
    }

    /// A laboratory of this kind.
    pub fn lab(self, seed: u64, number: u64) -> Lab {
        let honest = self.study();
        let truth = self.truth(&honest);
        let size = self.size();
        let mut stream = DrawStream::new(seed, Purpose::Simulation, number | CAMPAIGN);
        let order = shuffled(size.trials(), &mut stream);
        let block_of: Vec<usize> = order.iter().map(|place| place * BLOCKS / size.trials()).collect();
        let disturbances: Vec<Disturbance> = match self {
            Self::Drift => drifting_gain(&order, DRIFT),
            Self::Blocks => between_blocks(&block_of, &BLOCK, &mut stream),
            _ => Vec::new(),
        };
        let plan = Plan {
            sweep_step: stride(5, size.detachment),
            constant_current: self == Self::Mixed,
            one_recipe: self == Self::OneRecipe,
            disturbances,
        };
        let mut welded = weld_all(&honest, &truth, size, &plan, seed, number);
        for (row, trial) in welded.trials.rows.iter_mut().enumerate() {
            trial.set(Column::RunOrder, Some(order[row] as f64 + 1.0));
            trial.set(Column::TipMinutes, Some(1.2 * (order[row] % WELDS_PER_TIP + 1) as f64));
            if matches!(self, Self::SteelBlocks | Self::Blocks) {
                trial.set_level(Factor::Block, Some(format!("coil {}", block_of[row] + 1)));
            }
            if matches!(self, Self::SmallApart | Self::OneRecipe) {
                keep_one_purpose(trial, row < size.burn_off);
            }
        }
        let mut spoilt = Vec::new();
        if self == Self::Outliers {
            spoilt = shuffled(size.trials(), &mut stream)[..3].to_vec();
            spoilt.iter().for_each(|&row| spoil(&mut welded.trials.rows[row], &honest.bench, &mut stream));
        }
        let mut study = honest.clone();
        match self {
            Self::ErrorsHalved => scale_errors(&mut study.bench, 0.5),
            Self::ErrorsDoubled => scale_errors(&mut study.bench, 2.0),
            _ => {}
        }
        Lab {
            study,
            true_bench: honest.bench,
            truth,
            trials: table(welded.trials.rows),
            welds: welded.welds,
            spoilt,
            blocks: (self == Self::Blocks).then_some((block_of, BLOCK)),
            number,
            seed,
        }
    }
}

/// A laboratory that weighs the wire in some trials and films the drops in others.
fn keep_one_purpose(trial: &mut crate::trials::Trial, burn_off: bool) {
    let blank: &[Column] = if burn_off {
        &[Column::WithoutDrop, Column::OneDrop, Column::MoreDrops]
    } else {
        &[Column::WireFeed, Column::VoltageMean, Column::PowerMean]
    };
    blank.iter().for_each(|c| trial.set(*c, None));
}

fn scale_errors(bench: &mut Bench, by: f64) {
    for error in [
        &mut bench.wire_feed_relative_se,
        &mut bench.current_relative_se,
        &mut bench.voltage_se_v,
        &mut bench.ctwd_se_mm,
        &mut bench.arc_length_se_mm,
        &mut bench.extension_se_mm,
        &mut bench.pulse_time_relative_se,
    ] {
        *error *= by;
    }
}

/// 0 to count − 1 in random order (Fisher and Yates).
fn shuffled(count: usize, stream: &mut DrawStream) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    for last in (1..count).rev() {
        let other = ((stream.uniform() * (last + 1) as f64) as usize).min(last);
        order.swap(last, other);
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_faulty_lab_is_the_good_one_of_its_number_with_the_fault() {
        let (good, bad) = (Kind::Steel.lab(3, 7), Kind::Outliers.lab(3, 7));
        // Blank cells are NaN and would differ from themselves.
        let read = |lab: &Lab, row: usize| Column::ALL.iter().map(|c| lab.trials.rows[row].get(*c)).collect::<Vec<_>>();
        let differ: Vec<usize> = (0..70).filter(|&row| read(&good, row) != read(&bad, row)).collect();
        let mut spoilt = bad.spoilt.clone();
        spoilt.sort_unstable();
        assert_eq!(differ, spoilt);
    }

    #[test]
    fn every_kind_has_its_own_name_and_welds() {
        for kind in Kind::ALL {
            assert_eq!(Kind::from_name(kind.name()), Some(kind));
            let lab = kind.lab(1, 0);
            assert_eq!(lab.trials.rows.len(), lab.welds.len());
        }
    }
}
