//! Forms of the arc voltage law: by current, with the arc length, with the extension's resistance.

use super::Forms;
use super::form_test::{CHOOSE, Extra, form_test, not_made};
use super::least_squares_form::candidate;
use super::over_the_line::{FittedForm, feeds_m_min, largest_change, typical_settings};
use crate::fit::arc_voltage;
use crate::fit::errors_in_variables::{EivFit, NoFit};
use crate::fit::selection::Selection;
use crate::laws::{ArcVoltage, Candidate, FitTest};
use crate::statistics::student_t_two_sided;
use crate::study::{ArcVoltageForm, CovarianceFrom, Study};

const FORMS: [ArcVoltageForm; 3] =
    [ArcVoltageForm::Current, ArcVoltageForm::CurrentArc, ArcVoltageForm::CurrentArcExtension];

/// The candidates of the arc voltage law. The held-out range goes by mean current; the effect on the line is
/// in V at the mean currents that the burn-off law asks for over the line, at the study's arc length and
/// extension (without a burn-off law: over the trials' currents, spread over the feeds).
pub fn arc_voltage_forms(
    study: &Study,
    selection: &Selection,
    (used_form, used): (ArcVoltageForm, &EivFit),
    burn: Option<(&Selection, &EivFit)>,
    footing: CovarianceFrom,
) -> Forms {
    let rows = rows(study, selection, burn);
    let used_law = ArcVoltage(used_form);
    let of = |form: ArcVoltageForm| {
        let fitted: Result<EivFit, NoFit> =
            if form == used_form { Ok(used.clone()) } else { arc_voltage::fit(form, &selection.observations) };
        let law = ArcVoltage(form);
        let mut c = candidate(form.word(), &law, &selection.observations, &fitted, |o| o.row[0], footing);
        if let Ok(fit) = fitted.as_ref().map(|fit| FittedForm { law: &law, fit })
            && form != used_form
        {
            c.line_effect = largest_change(&FittedForm { law: &used_law, fit: used }, &fit, &rows, (1.0, "V"), footing);
        }
        (fitted, c)
    };
    let (first, (second, third)) = rayon::join(|| of(FORMS[0]), || rayon::join(|| of(FORMS[1]), || of(FORMS[2])));
    let forms = [first, second, third];
    let test = larger_form_test(study, used_form, &forms, footing);
    Forms { candidates: forms.into_iter().map(|(_, c)| c).collect(), test }
}

fn rows(study: &Study, selection: &Selection, burn: Option<(&Selection, &EivFit)>) -> Vec<(f64, Vec<f64>)> {
    let conditions = study.conditions();
    let at = |feed: f64, mean_a: f64| (feed, vec![mean_a, conditions.arc_length_mm, conditions.extension_mm]);
    if let Some((burn, fit)) = burn {
        return typical_settings(study, burn, &fit.b).into_iter().map(|t| at(t.feed_m_min, t.mean_a)).collect();
    }
    let [low, high] = crate::statistics::range(selection.observations.iter().map(|o| o.row[0]));
    let feeds = feeds_m_min(study);
    let last = (feeds.len() - 1).max(1) as f64;
    feeds.into_iter().enumerate().map(|(i, feed)| at(feed, low + (high - low) * i as f64 / last)).collect()
}

/// The smallest form with a coefficient that the form used lacks. Left to itself the law keeps every term
/// whose interval excludes zero, so this warns only where `[laws]` holds the form down.
fn larger_form_test(
    study: &Study,
    used_form: ArcVoltageForm,
    forms: &[(Result<EivFit, NoFit>, Candidate); 3],
    footing: CovarianceFrom,
) -> FitTest {
    let Some(at) = FORMS.iter().position(|f| *f > used_form) else {
        return not_made("V", "the largest form is in use");
    };
    let (Ok(fit), Some(effect)) = (&forms[at].0, &forms[at].1.line_effect) else {
        return not_made("V", "these trials do not determine a larger form");
    };
    let last = fit.b.len() - 1;
    let (chi, degrees) = (fit.chi_squared_per_degree(), fit.degrees_of_freedom() as f64);
    let (scale, degrees) =
        if footing == CovarianceFrom::StatedErrors { (chi.max(1.0), f64::INFINITY) } else { (chi, degrees) };
    let statistic = fit.b[last] / (fit.stated_covariance[(last, last)] * scale).sqrt();
    form_test(&Extra {
        form: FORMS[at].word(),
        what: &format!("its last term lies {:.1} standard errors from zero", statistic.abs()),
        statistic,
        p_value: student_t_two_sided(statistic, degrees),
        effect,
        exceeds: effect.value.abs() > study.compare.voltage_v,
        margin: format!("{} V", study.compare.voltage_v),
        action: CHOOSE,
    })
}
