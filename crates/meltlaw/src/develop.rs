//! The whole way of the data: checked study and trials → laws → line.

use crate::checks::{self, Finding, Severity};
use crate::compose::compose;
use crate::constant_voltage::{beside, welds};
use crate::fit::fit_laws;
use crate::fit::prior_pull::contradictions;
use crate::record::{LawsRecord, LineRecord};
use crate::study::Study;
use crate::transition_current::transition_current;
use crate::trials::Trials;

/// Why the way ends before the laws.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DevelopError {
    /// A check found what makes every fit meaningless.
    #[error("{} check(s) found what would make the fits meaningless", .findings.iter().filter(|f| f.severity == Severity::Stop).count())]
    Stopped {
        /// All findings, those that stop among them.
        findings: Vec<Finding>,
    },
}

/// Checks the trials and fits the laws.
///
/// # Errors
/// [`DevelopError::Stopped`] where a check with severity `stop` found something.
pub fn laws(study: &Study, trials: &Trials) -> Result<LawsRecord, DevelopError> {
    let findings = checks::run(study, trials);
    if findings.iter().any(|f| f.severity == Severity::Stop) {
        return Err(DevelopError::Stopped { findings });
    }
    let fitted = fit_laws(study, trials);
    let findings = [findings, contradictions(&fitted.laws)].concat();
    Ok(LawsRecord {
        name: study.name.clone(),
        wire: study.wire.clone(),
        gas: study.gas,
        gas_reason: gas_reason(study),
        conditions: study.conditions(),
        confidence: study.numerics.confidence,
        reading_errors: Some(study.bench.reading_errors()),
        calibration: fitted.calibration,
        not_covered: study.not_covered.iter().map(|t| t.name().to_owned()).collect(),
        assumed: study.assumed.clone(),
        findings,
        reading_notes: trials.reading_notes.clone(),
        laws: fitted.laws,
        constant_voltage_welds: welds(study, trials),
        extension: None,
    })
}

/// Composes the line that the study asks for from the record of the laws.
///
/// `laws_checksum` is that of the laws file.
pub fn line(study: &Study, laws: &LawsRecord, laws_checksum: &str) -> LineRecord {
    let mut record = LineRecord {
        name: study.name.clone(),
        wire: study.wire.clone(),
        gas: study.gas,
        gas_reason: gas_reason(study),
        conditions: study.conditions(),
        confidence: study.numerics.confidence,
        request: Some(study.line.clone()),
        bench: Some(study.bench.clone()),
        calibration: Some(laws.calibration.clone()),
        numerics: Some(study.numerics),
        source: study.source.clone(),
        setup: Some(study.setup.clone()),
        confirm: Some(study.confirm),
        laws: laws.laws.clone(),
        laws_checksum: laws_checksum.to_owned(),
        transition_current: transition_current(&study.wire, study.gas.as_ref()),
        beside_constant_voltage: Vec::new(),
        line: compose(study, &laws.laws, &laws.calibration),
    };
    record.beside_constant_voltage = beside(&record, &laws.constant_voltage_welds);
    record
}

fn gas_reason(study: &Study) -> Option<String> {
    study.gas.is_none().then(|| "the study does not state the gas: add [gas]".to_owned())
}
