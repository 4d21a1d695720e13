//! Which trials carry counted drops, in the law's units.

use crate::fit::ordered_logit::Count;
use crate::fit::prior_on_counts::{PriorOnCounts, stated};
use crate::fit::reliability::ReadSetting;
use crate::fit::selection::{gain_se, user_says_no};
use crate::laws::{Counts, TrialLeftOut};
use crate::study::Study;
use crate::trials::{Column, Mode, Trial, Trials};

/// Counted trials and their settings as read.
#[derive(Debug, Clone)]
pub struct CountedSelection {
    /// Rows of the table, in order.
    pub used: Vec<usize>,
    /// Settings as read.
    pub read: Vec<ReadSetting>,
    /// Counts.
    pub counts: Vec<Count>,
    /// The others and why.
    pub left_out: Vec<TrialLeftOut>,
    /// What the study states of the coefficients.
    pub prior: Vec<PriorOnCounts>,
}

impl CountedSelection {
    /// Whether classes were counted in some trial.
    pub fn kind(&self) -> Counts {
        if self.counts.iter().any(|c| matches!(c, Count::Classes { .. })) || self.counts.is_empty() {
            Counts::Classes
        } else {
            Counts::Totals
        }
    }
}

/// Trials with counted drops and a pulse, in the law's units.
pub fn select(study: &Study, trials: &Trials) -> CountedSelection {
    let mut selection = CountedSelection {
        used: Vec::new(),
        read: Vec::new(),
        counts: Vec::new(),
        left_out: Vec::new(),
        prior: stated(study),
    };
    selection.left_out.extend(trials.rows.iter().filter_map(user_says_no));
    for (index, trial) in trials.rows.iter().enumerate().filter(|(_, t)| t.use_it) {
        match counted(study, trial) {
            Ok((read, count)) => {
                selection.used.push(index);
                selection.read.push(read);
                selection.counts.push(count);
            }
            Err(reason) => {
                selection.left_out.push(TrialLeftOut { trial: trial.name.clone(), reason: reason.to_owned() })
            }
        }
    }
    selection
}

fn counted(study: &Study, trial: &Trial) -> Result<(ReadSetting, Count), &'static str> {
    if trial.mode != Mode::Pulsed {
        return Err("not a pulsed trial");
    }
    let classes = [Column::WithoutDrop, Column::OneDrop, Column::MoreDrops].map(|c| trial.get(c));
    let count = match (classes, trial.get(Column::Drops), trial.get(Column::Pulses)) {
        ([Some(none), Some(one), Some(more)], _, _) => Count::Classes { none, one, more },
        (_, Some(drops), Some(pulses)) => Count::Totals { drops, pulses },
        ([None, None, None], None, _) => return Err("drops not counted"),
        ([None, None, None], Some(_), None) => return Err("drops without pulses: the number of pulses is missing"),
        _ => return Err("the counts are incomplete: all three classes, or drops with pulses, are needed"),
    };
    if matches!(count, Count::Totals { drops, pulses } if !(drops <= 2.0 * pulses)) {
        return Err("more than two drops per pulse in the totals");
    }
    if count.pulses() <= 0.0 {
        return Err("no pulse counted");
    }
    let current = trial.get(Column::PulseCurrent).filter(|v| *v > 0.0).ok_or("no pulse_current_a")?;
    let time = trial.get(Column::PulseTime).filter(|v| *v > 0.0).ok_or("no pulse_time_ms")?;
    let gain = gain_se(study, trial);
    let own = trial.stated_se(Column::PulseCurrent).map_or(0.0, |se| se / current);
    let time_se = trial.stated_se(Column::PulseTime).map_or(study.bench.pulse_time_relative_se, |se| se / time);
    Ok((
        ReadSetting {
            log_current: (current / study.reference_current_a()).ln(),
            log_time: time.ln(),
            current_variance: gain * gain + own * own,
            time_variance: time_se * time_se,
        },
        count,
    ))
}
