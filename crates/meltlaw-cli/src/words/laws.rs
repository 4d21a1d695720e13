//! The fitted laws: first whether they can be used, then their coefficients, then what diagnosis says.

use meltlaw::laws::{FittedLaw, Laws};
use meltlaw_report::numbers::significant;

use super::{coefficients, diagnosis};
use crate::told::{Told, Tone};

/// The three laws, each with a heading and a blank line before the next.
pub(crate) fn law_lines(laws: &Laws, level: f64, width: usize) -> Vec<Told> {
    let mut lines = Vec::new();
    for (name, law) in laws.by_name() {
        if !lines.is_empty() {
            lines.push(Told::line(""));
        }
        lines.push(heading(name, law));
        lines.push(Told::line(format!("  {}", law.equation)));
        if !law.ended.usable {
            lines.push(Told::new("  ", law.ended.reason.as_str()));
        }
        lines.extend(coefficients::lines(law, level, width));
        lines.extend(law.notes.iter().map(|note| Told::new("  note       ", note.as_str())));
        lines.extend(diagnosis::lines(law));
    }
    lines
}

/// What the laws found weak in the trials: warnings, requests and trials that stand out, law by law.
pub(crate) fn weakness_lines(laws: &Laws) -> Vec<Told> {
    laws.by_name()
        .into_iter()
        .flat_map(|(name, law)| {
            let mut lines = vec![heading(name, law)];
            if law.ended.usable {
                lines.extend(diagnosis::warnings(law));
            } else {
                lines.push(Told::new("  ", law.ended.reason.as_str()));
            }
            lines
        })
        .collect()
}

/// `2 of 3 laws usable, 1 warning` after `start`: the answer before its parts.
pub(crate) fn laws_in_short(start: &str, laws: &Laws) -> Told {
    let all = laws.by_name();
    let usable = all.iter().filter(|(_, law)| law.ended.usable).count();
    let warnings: usize = all.iter().map(|(_, law)| diagnosis::warning_count(law)).sum();
    let requests: usize = all.iter().map(|(_, law)| diagnosis::request_count(law)).sum();
    let warned = if warnings > 0 { format!(", {}", plural(warnings, "warning")) } else { String::new() };
    let asked = if requests > 0 { format!(", {requests} to look at") } else { String::new() };
    let text = format!("{start}{usable} of {} laws usable{warned}{asked}", all.len());
    marked(text, usable < all.len() || warnings > 0)
}

/// A heading, marked where something below it is.
pub(crate) fn marked(text: impl std::fmt::Display, warns: bool) -> Told {
    if warns { Told::heading(format!("! {text}")).toned(Tone::Warning) } else { Told::heading(text.to_string()) }
}

/// `2 warnings, 1 note`: what occurs; `nothing found` where nothing does.
pub(crate) fn counted(things: &[(usize, &str)]) -> String {
    let some: Vec<String> =
        things.iter().filter(|(count, _)| *count > 0).map(|(count, name)| plural(*count, name)).collect();
    if some.is_empty() { "nothing found".to_owned() } else { some.join(", ") }
}

/// `1 row`, `2 rows`.
pub(crate) fn plural(count: usize, name: &str) -> String {
    format!("{count} {name}{}", if count == 1 { "" } else { "s" })
}

fn heading(name: &str, law: &FittedLaw) -> Told {
    let (used, left_out) = (law.trials_used.len(), law.trials_left_out.len());
    let trials = if law.ended.how == "extended" {
        "from other studies".to_owned()
    } else {
        format!("{} used, {left_out} left out", plural(used, "trial"))
    };
    let how = law.ended.how.replace('_', " ");
    let name = name.replace('_', " ");
    if law.ended.usable {
        let scatter = scatter_words(law).map_or(String::new(), |s| format!(", scatter {s}"));
        marked(format!("{name}: {how}, {trials}{scatter}"), diagnosis::warning_count(law) > 0)
    } else {
        marked(format!("{name}: not usable ({how}), {trials}"), true)
    }
}

/// The scatter of the trials about the law, in the unit of the trade.
fn scatter_words(law: &FittedLaw) -> Option<String> {
    let scatter = law.residual_standard_deviation?;
    let (factor, unit) = trade_unit(law);
    Some(format!("{} {unit}", significant(factor * scatter, 2)))
}

/// From the unit of a law's residuals to that of the trade, and its name.
pub(super) fn trade_unit(law: &FittedLaw) -> (f64, &str) {
    match law.residual_unit.as_str() {
        "mm/s" => (0.06, "m/min"), // exact
        unit => (1.0, unit),
    }
}
