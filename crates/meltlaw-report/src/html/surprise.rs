//! How surprised the other trials are by each weld, as 'one in so many'.

use maud::{Markup, html};
use meltlaw::laws::TrialDiagnostic;

use super::parts;
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::{fixed, signed};
use crate::words;

/// Welds shown.
const SHOWN: usize = 5;
/// A weld is worth a look where one so far off is expected once in so many studies of this size.
const STUDIES: f64 = 20.0;

/// Every weld with a surprise, the most surprising first; each law by itself.
fn sorted<'a>(input: &ReportInput<'a>) -> Vec<(&'static str, usize, &'a TrialDiagnostic, f64)> {
    let mut all: Vec<_> = input
        .laws
        .laws
        .by_name()
        .into_iter()
        .flat_map(|(name, law)| {
            let welds = law.diagnostics.iter().filter(|d| d.surprise.is_some()).count();
            law.diagnostics.iter().filter_map(move |d| Some((name, welds, d, d.surprise?)))
        })
        .filter(|(.., p)| (0.0..=1.0).contains(p))
        .collect();
    all.sort_by(|a, b| a.3.total_cmp(&b.3).then(a.2.trial.cmp(&b.2.trial)));
    all
}

/// The five most surprising welds.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let all = sorted(input);
    if all.is_empty() {
        return html! {};
    }
    let most = all.iter().map(|(_, welds, ..)| *welds).max().unwrap_or(1);
    let head = html! { tr {
        th.text scope="col" { "weld" } th.text scope="col" { "law" } th.text scope="col" { "unit" } th scope="col" { "measured" } th scope="col" { "the law says" }
        th scope="col" { "difference" } th scope="col" { "once in so many welds" } th.text scope="col" { "so" }
    } };
    let body = html! {
        @for (name, welds, d, p) in all.iter().take(SHOWN) {
            @let (unit, factor, places) = shown(name);
            tr {
                th.text scope="row" { (d.trial) }
                td.text { (words::law(name)) }
                td.text.unit { (unit) }
                td { (fixed(factor * (d.fitted + d.residual), places)) }
                td { (fixed(factor * d.fitted, places)) }
                td { (signed(factor * d.residual, places)) }
                td.number { (one_in(*p)) }
                td.text { @if worth_a_look(*p, *welds) { strong { "look at the record of this weld" } } @else { "as chance brings it" } }
            }
        }
    };
    let rows =
        all.iter().map(|(name, _, d, p)| vec![text(&d.trial), (*name).to_owned(), number(d.residual), number(*p)]);
    let data = csv(&["trial", "law", "residual", "surprise"], rows);
    html! {
        h3 { "The most surprising welds" }
        p {
            "A weld at least this far from what the others say happens once in so many welds. Among " (most) " welds of a law one in "
            (most) " is no surprise: some weld has to be the odd one out. Rarer than one in " (fixed(STUDIES * most as f64, -1))
            ", chance alone would bring one in every twentieth study only."
        }
        (parts::table("The five most surprising welds", &head, &body))
        p.small { (parts::download("surprise", &data)) }
    }
}

/// Whether chance alone would bring such a weld in one of twenty studies at most.
fn worth_a_look(surprise: f64, welds: usize) -> bool {
    surprise * welds as f64 * STUDIES <= 1.0
}

/// Unit of the trade, factor from the law's unit, places.
fn shown(law: &str) -> (&'static str, f64, i32) {
    match law {
        "burn_off" => ("m/min", 0.06, 2), // mm/s to m/min, exact
        "detachment" => ("drops per pulse", 1.0, 3),
        _ => ("V", 1.0, 2),
    }
}

/// `one in 240`: two digits, at most a million.
fn one_in(probability: f64) -> String {
    let welds = 1.0 / probability;
    if welds > 1e6 {
        return "over a million".to_owned();
    }
    let places = 1 - welds.max(1.0).log10().floor() as i32;
    format!("one in {}", fixed(welds, places.min(if welds < 10.0 { 1 } else { 0 })))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rare_welds_are_counted_in_welds() {
        assert_eq!(one_in(0.5), "one in 2.0");
        assert_eq!(one_in(1.0 / 237.0), "one in 240");
        assert_eq!(one_in(0.0), "over a million");
    }

    #[test]
    fn one_in_seventy_among_seventy_is_no_reason_to_look() {
        assert!(!worth_a_look(1.0 / 70.0, 70));
        // 70 welds in twenty studies are 1400.
        assert!(worth_a_look(1.0 / 1500.0, 70) && !worth_a_look(1.0 / 1300.0, 70));
    }
}
