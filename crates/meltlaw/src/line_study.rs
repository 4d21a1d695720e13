//! From a line file back to what composing needs: with the request, the bench and the numerics that a line
//! carries, settings can be worked out again from the line file alone.

use std::collections::BTreeMap;

use crate::record::LineRecord;
use crate::study::{CalibrationTerm, CalibrationUncertainty, LawChoices, Margins, Study};

/// Why a line file does not suffice to work out settings again.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LineStudyError {
    /// Members that lines of this program carry are not there.
    #[error("the line file lacks {}: an earlier version or another program wrote it; compose the line again with `meltlaw compose` or `meltlaw develop`", .members.join(", "))]
    Lacks {
        /// The missing members.
        members: Vec<&'static str>,
    },
    /// Two members of the file tell different geometries.
    #[error(
        "the line file contradicts itself: `conditions` says {member} {conditions}, `bench` says {bench}; compose the line again instead of editing the file"
    )]
    Contradicts {
        /// What they disagree about.
        member: &'static str,
        /// As in `conditions`.
        conditions: f64,
        /// As in `bench`.
        bench: f64,
    },
}

impl LineRecord {
    /// A study that composes as the one this line came from.
    ///
    /// What composing does not ask for (margins of comparison, law choices, prior knowledge, assumptions) is
    /// left empty.
    ///
    /// # Errors
    /// [`LineStudyError`] where the file lacks `request`, `bench`, `calibration` or `numerics`, or tells two
    /// geometries.
    pub fn study(&self) -> Result<Study, LineStudyError> {
        let (Some(line), Some(bench), Some(calibration), Some(numerics)) =
            (&self.request, &self.bench, &self.calibration, self.numerics)
        else {
            let members = [
                ("request", self.request.is_none()),
                ("bench", self.bench.is_none()),
                ("calibration", self.calibration.is_none()),
                ("numerics", self.numerics.is_none()),
            ];
            let members = members.into_iter().filter_map(|(name, missing)| missing.then_some(name)).collect();
            return Err(LineStudyError::Lacks { members });
        };
        for (member, conditions, bench) in [
            ("ctwd_mm", self.conditions.ctwd_mm, bench.ctwd_mm),
            ("arc_length_mm", self.conditions.arc_length_mm, bench.arc_length_mm),
        ] {
            if conditions != bench {
                return Err(LineStudyError::Contradicts { member, conditions, bench });
            }
        }
        let stated: Vec<CalibrationUncertainty> = calibration
            .iter()
            .filter_map(|c| {
                let term = CalibrationTerm::from_name(&c.name)?;
                Some(CalibrationUncertainty { term, standard_uncertainty: c.standard_uncertainty })
            })
            .collect();
        let not_covered = CalibrationTerm::ALL.into_iter().filter(|t| !stated.iter().any(|c| c.term == *t)).collect();
        Ok(Study {
            name: self.name.clone(),
            wire: self.wire.clone(),
            gas: self.gas,
            bench: bench.clone(),
            calibration: stated,
            not_covered,
            source: self.source.clone(),
            line: line.clone(),
            compare: Margins { wire_feed_relative: 0.0, detachment_relative: 0.0, voltage_v: 0.0, shared_form: false },
            confirm: self.confirm.unwrap_or_default(),
            setup: self.setup.clone().unwrap_or_default(),
            factors: BTreeMap::new(),
            numerics,
            laws: LawChoices { reference_current_a: self.laws.detachment.reference_current_a, ..LawChoices::default() },
            prior: Vec::new(),
            assumed: Vec::new(),
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
    use super::*;

    fn record() -> LineRecord {
        serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap()
    }

    #[test]
    fn a_foreign_line_says_what_it_lacks() {
        let lacks = record().study().unwrap_err();
        assert_eq!(lacks, LineStudyError::Lacks { members: vec!["request", "bench", "calibration", "numerics"] });
        assert!(lacks.to_string().starts_with("the line file lacks request, bench, calibration, numerics: "));
    }

    #[test]
    fn members_that_are_absent_are_not_written() {
        let text = serde_json::to_string(&record()).unwrap();
        assert!(!text.contains("\"bench\"") && !text.contains("\"numerics\"") && !text.contains("\"calibration\":"));
    }
}
