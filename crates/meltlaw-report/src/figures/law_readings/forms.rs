//! Other forms of a law: which foretells left-out welds best, and what it would do to the line.

use meltlaw::laws::{Candidate, FittedLaw, LineEffect, Reading};

use super::super::diagnosed::shortened;
use super::{asked, made, said};
use crate::numbers::{feed, percent, signed, significant};
use crate::words;

/// Forms that are this close in AICc do not differ.
const NO_DIFFERENCE: f64 = 2.0;

/// The reading of the forms with their gains over the one used: AICc, log density of a left-out weld.
pub(in crate::figures) fn reading(law: &FittedLaw, rows: &[(&Candidate, [Option<f64>; 2])]) -> Reading {
    let expected = "no other form lies clearly to the right in both pictures";
    let best = |which: usize| {
        let known = rows.iter().filter_map(|(c, g)| Some((*c, g[which]?)));
        known.max_by(|a, b| a.1.total_cmp(&b.1).then((a.0.form == law.form).cmp(&(b.0.form == law.form))))
    };
    let mut parts = Vec::new();
    let foretold = best(1);
    parts.push(match foretold {
        None => "which form foretells left-out welds best is not known".to_owned(),
        Some((c, _)) if c.form == law.form => {
            format!("of {} forms the one used (“{}”) foretells left-out welds best", rows.len(), named(&c.form))
        }
        Some((c, gain)) => format!(
            "“{}” foretells a left-out weld {} better than the form used (“{}”){}",
            named(&c.form),
            percent(gain.exp_m1()),
            named(&law.form),
            c.line_effect.as_ref().map_or(String::new(), |e| format!("; it would move the line by {}", effect(e)))
        ),
    });
    parts.extend(best(0).map(|(c, gain)| {
        if c.form == law.form || gain < NO_DIFFERENCE {
            format!("no form gains more than {NO_DIFFERENCE} in AICc over it, so none fits better")
        } else {
            format!("“{}” fits better by {} in AICc", named(&c.form), signed(gain, 1))
        }
    }));
    // The test speaks of the next larger form by its name in the files.
    parts.extend(made(law, "form").map(|test| {
        let text = said(law, test);
        let form = rows.iter().find_map(|(c, _)| Some((&c.form, text.strip_prefix(c.form.as_str())?)));
        form.map_or(text.clone(), |(form, rest)| format!("“{}”{rest}", named(form)))
    }));
    let action = asked(law, &["form"]).unwrap_or_else(|| {
        let other = foretold.is_some_and(|(c, _)| c.form != law.form);
        match made(law, "form") {
            Some(test) => test.reading.action.clone(),
            None if other => {
                "nothing by these trials: another form is used only where [laws] of the study names it, best before new trials are looked at".to_owned()
            }
            None => "nothing".to_owned(),
        }
    });
    Reading::new(expected, parts.join("; "), action)
}

fn named(form: &str) -> String {
    shortened(&words::form(form), 40)
}

fn effect(e: &LineEffect) -> String {
    let errors = e.standard_errors.map_or(String::new(), |s| format!(" ({} standard errors)", significant(s, 2)));
    let size = significant(e.value.abs(), 2);
    format!("up to {size} {}{errors}, at {} m/min", words::unit(&e.unit), feed(e.at_wire_feed_m_min))
}
