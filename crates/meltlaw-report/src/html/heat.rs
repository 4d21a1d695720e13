//! Heat and melting: what each feed spends and melts, what pulsing changes against constant voltage, and the
//! transition current that pulse and background lie about.

use maud::{Markup, html};
use meltlaw::constant_voltage::{BesideConstantVoltage, Compared, PowerFrom};
use meltlaw::heat::energy_per_melted_mass_mj_kg;
use meltlaw::line::Node;
use meltlaw::transition_current::TransitionCurrent;

use super::parts::{self, head};
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::{self, confidence, feed, fixed, interval, places_for, signed};

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let record = input.line;
    let nodes = &record.line.nodes;
    if nodes.is_empty() {
        return html! { p { "Without a setting there is nothing to reckon heat from." } };
    }
    let speed = record.request.as_ref().and_then(|r| r.travel_speed_mm_s);
    html! {
        p.lead {
            "Power is the mean of the instantaneous power between contact tip and work. "
            @if let Some(speed) = speed {
                "Arc energy is power over travel speed (" (feed(speed)) " mm/s), after ISO/TR 18491; heat input is 0.8 of it, the thermal efficiency of ISO/TR 17671-1. "
            } @else {
                "Arc energy and heat input need a travel speed: state " code { "[line] travel_speed_mm_s" } ". "
            }
            "The last column is what the arc takes for each kilogram of wire that it melts, losses into plate and air included."
        }
        (melting(nodes, record.confidence))
        p.small { (parts::download("heat_and_melting", &data(nodes))) }
        (transition(record.transition_current.as_ref()))
        (beside(input))
    }
}

fn spent(node: &Node, power_w: f64) -> f64 {
    energy_per_melted_mass_mj_kg(power_w, node.melting_rate_kg_h)
}

fn melting(nodes: &[Node], level: f64) -> Markup {
    let with_travel = nodes.iter().any(|n| n.heat_input_kj_mm.is_some());
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("melting rate", "kg/h")) (head("mean power", "W")) (head("interval", "W"))
        @if with_travel {
            (head("arc energy", "kJ/mm")) (head("interval", "kJ/mm")) (head("heat input", "kJ/mm")) (head("interval", "kJ/mm"))
        }
        (head("energy per melted wire", "MJ/kg")) (head("interval", "MJ/kg"))
    } };
    let body = html! {
        @for n in nodes {
            tr class=[(n.support != "measured").then_some("extended")] {
                th scope="row" { (parts::node_feed(n)) }
                td.number { (numbers::rounded(n.melting_rate_kg_h, n.melting_rate_kg_h * n.melting_rate_relative_se).to_string()) }
                (value_and_interval(Some(n.power_mean_w), n.power_mean_w_interval, 0))
                @if with_travel {
                    (value_and_interval(n.arc_energy_kj_mm, n.arc_energy_kj_mm_interval, 3))
                    (value_and_interval(n.heat_input_kj_mm, n.heat_input_kj_mm_interval, 3))
                }
                (value_and_interval(Some(spent(n, n.power_mean_w)), n.power_mean_w_interval.map(|i| i.map(|p| spent(n, p))), 2))
            }
        }
    };
    let caption = format!(
        "What each feed melts and spends (intervals of the mean at {}, melting rate ± its standard error)",
        confidence(level)
    );
    parts::table(&caption, &head, &body)
}

/// Two cells; a dash where the line does not state it.
fn value_and_interval(value: Option<f64>, ends: Option<[f64; 2]>, places: i32) -> Markup {
    html! {
        td { (value.map_or("–".to_owned(), |v| fixed(v, places))) }
        td.number { (ends.map_or("–".to_owned(), |[low, high]| interval(low, high))) }
    }
}

fn transition(band: Option<&TransitionCurrent>) -> Markup {
    html! {
        h3 { "Transition current" }
        @match band {
            Some(band) => p {
                "Between " (fixed(band.band_a[0], 0)) " and " (fixed(band.band_a[1], 0))
                " A the wire changes from large drops to spray at steady current (" (band.basis())
                "). The pulse current should exceed the band and the background stay below it; where one does not, the node carries a remark. The band warns and decides nothing."
            },
            None => p { "The table of transition currents does not reach this wire and gas, so nothing is said about it." },
        }
    }
}

fn beside(input: &ReportInput<'_>) -> Markup {
    let record = input.line;
    let all = &record.beside_constant_voltage;
    let without: Vec<&str> = input
        .laws
        .constant_voltage_welds
        .iter()
        .filter(|w| !all.iter().any(|b| b.trial == w.trial))
        .map(|w| w.trial.as_str())
        .collect();
    html! {
        @if !all.is_empty() || !without.is_empty() {
            h3 { "Beside constant voltage" }
            @if !all.is_empty() {
                p {
                    "What pulsing changes at the same wire feed and travel speed: the line less the weld. The error of a difference holds the weld's reading errors, that of its wire feed, and the line's own uncertainty; instrument errors common to all trials are counted in the line and not taken as cancelling."
                }
                @for weld in all { (one(weld, record.confidence)) }
                p.small { (parts::download("beside_constant_voltage", &beside_data(all))) }
            }
            @if !without.is_empty() {
                p { "The line has no setting at the wire feed of: " (without.join(", ")) "." }
            }
        }
    }
}

fn one(weld: &BesideConstantVoltage, level: f64) -> Markup {
    let head = html! { tr {
        th.text scope="col" { "quantity" } th.text scope="col" { "unit" } th scope="col" { "constant voltage" } th scope="col" { "pulsed" }
        th scope="col" { "difference" } th scope="col" { "standard error" } th scope="col" { "interval" }
    } };
    let body = html! {
        @for q in &weld.quantities {
            @let places = q.standard_error.map_or(3, places_for);
            tr {
                th.text scope="row" { (words(q)) }
                td.text.unit { (q.unit) }
                td { (fixed(q.constant_voltage, places)) }
                td { (fixed(q.pulsed, places)) }
                td { (signed(q.difference, places)) }
                td { (q.standard_error.map_or("–".to_owned(), |se| fixed(se, places))) }
                td.number { @match q.interval {
                    Some([low, high]) => { (signed(low, places)) " to " (signed(high, places)) }
                    None => { (q.reason.as_deref().unwrap_or("–")) }
                } }
            }
        }
    };
    let speed = weld.travel_speed_mm_s.map_or(String::new(), |v| format!(", travel speed {} mm/s", feed(v)));
    let caption =
        format!("{} at {} m/min{speed} (intervals at {})", weld.trial, feed(weld.wire_feed_m_min), confidence(level));
    html! {
        (parts::table(&caption, &head, &body))
        ul {
            @if let Some(apart) = weld.extension_difference_mm {
                li { "extension of the line less that of the weld: " (signed(apart.value, 1)) " ± " (fixed(apart.standard_error, 1)) " mm" }
            }
            @if let Some(apart) = weld.arc_length_difference_mm {
                li { "arc length of the line less that of the weld: " (signed(apart.value, 1)) " ± " (fixed(apart.standard_error, 1)) " mm" }
            }
            @for note in &weld.notes { li { (note) } }
        }
    }
}

fn words(compared: &Compared) -> &str {
    match compared.quantity.as_str() {
        "current_mean_a" => "mean current",
        "voltage_mean_v" => "mean voltage",
        "power_mean_w" => "mean power",
        "energy_per_melted_mass_mj_kg" => "energy per melted wire",
        "arc_energy_kj_mm" => "arc energy",
        "heat_input_kj_mm" => "heat input",
        other => other,
    }
}

fn data(nodes: &[Node]) -> String {
    const HEADER: [&str; 13] = [
        "wire_feed_m_min",
        "melting_rate_kg_h",
        "melting_rate_relative_se",
        "power_mean_w",
        "power_mean_w_low",
        "power_mean_w_high",
        "arc_energy_kj_mm",
        "arc_energy_kj_mm_low",
        "arc_energy_kj_mm_high",
        "heat_input_kj_mm",
        "heat_input_kj_mm_low",
        "heat_input_kj_mm_high",
        "energy_per_melted_mass_mj_kg",
    ];
    let end = |ends: Option<[f64; 2]>, which: usize| number(ends.map(|e| e[which]));
    csv(
        &HEADER,
        nodes.iter().map(|n| {
            let mut cells: Vec<String> =
                [n.wire_feed_m_min, n.melting_rate_kg_h, n.melting_rate_relative_se].map(number).to_vec();
            for (value, ends) in [
                (Some(n.power_mean_w), n.power_mean_w_interval),
                (n.arc_energy_kj_mm, n.arc_energy_kj_mm_interval),
                (n.heat_input_kj_mm, n.heat_input_kj_mm_interval),
            ] {
                cells.extend([number(value), end(ends, 0), end(ends, 1)]);
            }
            cells.push(number(spent(n, n.power_mean_w)));
            cells
        }),
    )
}

fn beside_data(all: &[BesideConstantVoltage]) -> String {
    let header = [
        "trial",
        "wire_feed_m_min",
        "quantity",
        "unit",
        "constant_voltage",
        "pulsed",
        "difference",
        "standard_error",
        "difference_low",
        "difference_high",
        "power_from",
    ];
    let rows = all.iter().flat_map(|weld| {
        weld.quantities.iter().map(move |q| {
            let from = match weld.power_from {
                PowerFrom::Measured => "measured",
                PowerFrom::ProductOfMeans => "product_of_means",
            };
            vec![
                text(&weld.trial),
                number(weld.wire_feed_m_min),
                text(&q.quantity),
                text(&q.unit),
                number(q.constant_voltage),
                number(q.pulsed),
                number(q.difference),
                number(q.standard_error),
                number(q.interval.map(|i| i[0])),
                number(q.interval.map(|i| i[1])),
                text(from),
            ]
        })
    });
    csv(&header, rows)
}
