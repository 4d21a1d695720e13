//! How surprised the other trials are by each weld, as 'one in so many'.

use maud::{Markup, html};
use meltlaw::laws::{FittedLaw, TrialDiagnostic};

use super::parts::{self, cell, head, short_head, words_head};
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::{self, fixed, in_cell, places_of};
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
        (words_head("weld")) (words_head("law")) (short_head("unit")) (head("measured", "")) (head("the law says", ""))
        (head("difference", "")) (head("once in so many welds", "")) (words_head("so"))
    } };
    let body = html! {
        @for (name, welds, d, p) in all.iter().take(SHOWN) {
            @let (unit, factor, usual) = shown(name);
            @let places = spread(input, name).map_or(usual, |s| numbers::places_for(factor * s));
            tr {
                th.text scope="row" { (d.trial) }
                td.text { (words::law(name)) }
                td.text.unit { (unit) }
                (cell(factor * (d.fitted + d.residual), places))
                (cell(factor * d.fitted, places))
                (cell(factor * d.residual, places))
                td { (once_in(*p)) }
                td.text { @if worth_a_look(*p, *welds) { strong { "look at the record of this weld" } } @else { "as chance brings it" } }
            }
        }
    };
    let rows = all.iter().map(|(name, _, d, p)| {
        let numbers = [d.fitted + d.residual, d.fitted, d.residual, *p].map(number);
        let unit = |law: &FittedLaw| text(words::law_unit(name, &law.residual_unit));
        let unit = law(input, name).map_or(String::new(), unit);
        [text(&d.trial), (*name).to_owned(), unit].into_iter().chain(numbers).collect()
    });
    let data = csv(&["trial", "law", "unit", "measured", "fitted", "residual", "surprise"], rows);
    html! {
        h3 { "The most surprising welds" }
        p {
            "A weld at least this far from what the others say happens once in so many welds. Among " (most) " welds of a law one in "
            (most) " is no surprise: some weld has to be the odd one out. Rarer than one in " (fixed(STUDIES * most as f64, -1))
            ", chance alone would bring one in every twentieth study only. Above a million is not counted further."
        }
        (parts::table_and_data("The five most surprising welds", &head, &body, "surprise", &data))
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

fn law<'a>(input: &ReportInput<'a>, name: &str) -> Option<&'a FittedLaw> {
    input.laws.laws.by_name().into_iter().find(|(known, _)| *known == name).map(|(_, law)| law)
}

/// How far trials scatter about a law, in its own unit.
fn spread(input: &ReportInput<'_>, name: &str) -> Option<f64> {
    law(input, name)?.residual_standard_deviation
}

/// Welds among which one is expected so far off: two digits, at most a million.
fn once_in(probability: f64) -> String {
    let welds = (1.0 / probability).min(1e6);
    in_cell(welds, places_of(welds, 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rare_welds_are_counted_in_welds() {
        assert_eq!(once_in(0.5), "2.0");
        assert_eq!(once_in(1.0 / 237.0), "240");
        assert_eq!(once_in(0.0), "1000000");
    }

    #[test]
    fn one_in_seventy_among_seventy_is_no_reason_to_look() {
        assert!(!worth_a_look(1.0 / 70.0, 70));
        // 70 welds in twenty studies are 1400.
        assert!(worth_a_look(1.0 / 1500.0, 70) && !worth_a_look(1.0 / 1300.0, 70));
    }
}
