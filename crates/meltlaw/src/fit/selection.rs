//! Which trials a law uses, which it leaves out, and why.

use super::errors_in_variables::Observation;
use crate::laws::TrialLeftOut;
use crate::study::Study;
use crate::trials::{Column, Trial, Trials};

/// Trials chosen for a law.
#[derive(Debug, Clone)]
pub struct Selection {
    /// Rows of the table, in order.
    pub used: Vec<usize>,
    /// What each gives.
    pub observations: Vec<Observation>,
    /// The others and why.
    pub left_out: Vec<TrialLeftOut>,
}

impl Selection {
    /// Identifiers of the trials used.
    pub fn names(&self, trials: &Trials) -> Vec<String> {
        self.used.iter().map(|&i| trials.rows[i].name.clone()).collect()
    }
}

/// Why a row that the user leaves out is left out: by `[[leave_out]]` of the study, or by `use = no`.
pub fn user_says_no(trial: &Trial) -> Option<TrialLeftOut> {
    let reason = match &trial.left_out {
        Some(reason) => format!("left out by the study: {reason}"),
        None if trial.use_it => return None,
        None if trial.note.is_empty() => "use = no".to_owned(),
        None => format!("use = no: {}", trial.note),
    };
    Some(TrialLeftOut { trial: trial.name.clone(), reason })
}

/// Sorts rows into used and left out. Rows that the user leaves out come first in the list, as in the table.
pub fn select(trials: &Trials, observe: impl Fn(&Trial) -> Result<Observation, String>) -> Selection {
    let mut selection = Selection { used: Vec::new(), observations: Vec::new(), left_out: Vec::new() };
    selection.left_out.extend(trials.rows.iter().filter_map(user_says_no));
    for (index, trial) in trials.rows.iter().enumerate().filter(|(_, t)| t.use_it) {
        match observe(trial) {
            Ok(mut observation) => {
                // A trial stated as exact in everything has no weight of its own; this leaves it a
                // billionth of its value, so that such trials among themselves count alike.
                if observation.y_se == 0.0 && observation.errors.iter().all(|e| e.standard_deviation == 0.0) {
                    observation.y_se = 1e-9 * observation.y.abs().max(1e-3);
                }
                selection.used.push(index);
                selection.observations.push(observation);
            }
            Err(reason) => selection.left_out.push(TrialLeftOut { trial: trial.name.clone(), reason }),
        }
    }
    selection
}

/// The probe's gain error in this trial.
pub fn gain_se(study: &Study, trial: &Trial) -> f64 {
    trial.get(Column::CurrentGainSe).unwrap_or(study.bench.current_relative_se)
}
