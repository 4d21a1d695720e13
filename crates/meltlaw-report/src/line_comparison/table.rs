//! What the drawing of a comparison shows, in full numbers, and every setting besides.

use super::ComparedLines;
use crate::embedded::{csv, number, text};

pub(super) fn table(pairs: &[&ComparedLines<'_>]) -> String {
    let header = [
        "first_line",
        "other_line",
        "law",
        "quantity",
        "wire_feed_m_min",
        "first",
        "other",
        "difference",
        "difference_low",
        "difference_high",
        "beyond_error",
    ];
    let settings = |p: &ComparedLines<'_>| -> Vec<Vec<String>> {
        let rows = p
            .comparison
            .feeds
            .iter()
            .flat_map(|f| f.settings.iter().chain(&f.follows).map(move |s| (f.wire_feed_m_min, s)));
        rows.filter(|(_, s)| s.quantity != "background_current_a")
            .map(|(feed, s)| {
                let mut cells = vec![text(p.first_name), text(p.second_name), String::new(), s.quantity.clone()];
                cells.extend([feed, s.first, s.second, s.difference].map(number));
                cells.extend([String::new(), String::new(), String::new()]);
                cells
            })
            .collect()
    };
    let rows = pairs.iter().flat_map(|p| {
        let told = p.comparison.comparisons.iter().map(|c| {
            let mut cells = vec![text(p.first_name), text(p.second_name), c.law.clone(), c.quantity.clone()];
            cells.extend([c.at.wire_feed_m_min, c.first, c.second, c.difference].map(number));
            cells.extend([0, 1].map(|end| number(c.interval.map(|i| i[end]))));
            cells
                .push(c.differs_from_zero.map_or(String::new(), |beyond| if beyond { "yes" } else { "no" }.to_owned()));
            cells
        });
        told.chain(settings(p)).collect::<Vec<_>>()
    });
    csv(&header, rows)
}
