//! Heat and melting: what each feed spends and melts, what pulsing changes against constant voltage, and the
//! transition current that pulse and background lie about.

use maud::{Markup, html};
use meltlaw::constant_voltage::{BesideConstantVoltage, Compared, PowerFrom};
use meltlaw::heat::energy_per_melted_mass_mj_kg;
use meltlaw::line::Node;
use meltlaw::transition_current::TransitionCurrent;

use super::parts::{self, cell, ends, half_width, head, places_by, short_head, words_head};
use crate::ReportInput;
use crate::embedded::{csv, number, text};
use crate::numbers::{confidence, feed, fixed, places_for, signed};

/// The section.
pub(crate) fn section(input: &ReportInput<'_>) -> Markup {
    let record = input.line;
    let nodes = &record.line.nodes;
    let speed = record.request.as_ref().and_then(|r| r.travel_speed_mm_s);
    html! {
        p.lead {
            "Power is the mean of the instantaneous power between contact tip and work. "
            @if let Some(speed) = speed {
                "Arc energy is power over travel speed (" (feed(speed)) " mm/s), after ISO/TR 18491; heat input is 0.8 of it, the thermal efficiency of ISO/TR 17671-1. "
            } @else {
                "Arc energy and heat input need a travel speed: state " code { "[line] travel_speed_mm_s" } ". "
            }
            "Energy per melted wire is what the arc takes for each kilogram of wire that it melts, losses into plate and air included."
        }
        (melting(nodes, record.confidence))
        (into_the_weld(nodes, record.confidence))
        (transition(record.transition_current.as_ref()))
        (beside(input))
    }
}

fn spent(node: &Node, power_w: f64) -> f64 {
    energy_per_melted_mass_mj_kg(power_w, node.melting_rate_kg_h)
}

fn melting(nodes: &[Node], level: f64) -> Markup {
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("melting rate", "kg/h")) (head("its standard error", "kg/h"))
        (head("power", "W")) (head("power low", "W")) (head("power high", "W"))
        (head("energy per melted wire", "MJ/kg")) (head("energy low", "MJ/kg")) (head("energy high", "MJ/kg"))
    } };
    let error = |n: &Node| n.melting_rate_kg_h * n.melting_rate_relative_se;
    let rate = places_by(nodes.iter().map(error), 3);
    let power = column_places(nodes, |n| n.power_mean_w_interval, 0);
    let energy = column_places(nodes, energy_interval, 2);
    let body = html! {
        @for n in nodes {
            tr class=[parts::row_class(n)] {
                (parts::at_feed(n))
                (cell(n.melting_rate_kg_h, rate)) (cell(error(n), rate))
                (value_and_ends(Some(n.power_mean_w), n.power_mean_w_interval, power))
                (value_and_ends(Some(spent(n, n.power_mean_w)), energy_interval(n), energy))
            }
        }
    };
    let caption = format!(
        "What each feed melts and spends; low and high are the ends of {} intervals of the mean",
        confidence(level)
    );
    parts::table_and_data(&caption, &head, &body, "heat_and_melting", &data(nodes))
}

/// Arc energy and heat input, where a travel speed is stated.
fn into_the_weld(nodes: &[Node], level: f64) -> Markup {
    if nodes.iter().all(|n| n.heat_input_kj_mm.is_none()) {
        return html! {};
    }
    let head = html! { tr {
        (head("wire feed", "m/min"))
        (head("arc energy", "kJ/mm")) (head("arc energy low", "kJ/mm")) (head("arc energy high", "kJ/mm"))
        (head("heat input", "kJ/mm")) (head("heat input low", "kJ/mm")) (head("heat input high", "kJ/mm"))
    } };
    let arc = column_places(nodes, |n| n.arc_energy_kj_mm_interval, 3);
    let heat = column_places(nodes, |n| n.heat_input_kj_mm_interval, 3);
    let body = html! {
        @for n in nodes {
            tr class=[parts::row_class(n)] {
                (parts::at_feed(n))
                (value_and_ends(n.arc_energy_kj_mm, n.arc_energy_kj_mm_interval, arc))
                (value_and_ends(n.heat_input_kj_mm, n.heat_input_kj_mm_interval, heat))
            }
        }
    };
    let caption = format!(
        "What goes into each millimetre of weld; low and high are the ends of {} intervals of the mean",
        confidence(level)
    );
    parts::table_and_data(&caption, &head, &body, "heat_input", &heat_data(nodes))
}

fn energy_interval(node: &Node) -> Option<[f64; 2]> {
    node.power_mean_w_interval.map(|i| i.map(|p| spent(node, p)))
}

/// Three cells.
fn value_and_ends(value: Option<f64>, interval: Option<[f64; 2]>, places: i32) -> Markup {
    html! { (cell(value, places)) (ends(interval, places)) }
}

/// Digits that the intervals of a column leave.
fn column_places(nodes: &[Node], interval: fn(&Node) -> Option<[f64; 2]>, otherwise: i32) -> i32 {
    places_by(nodes.iter().filter_map(interval).map(half_width), otherwise)
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
    let remarks = weld.quantities.iter().any(|q| q.interval.is_none());
    let head = html! { tr {
        (words_head("quantity")) (short_head("unit")) (head("constant voltage", "")) (head("pulsed", ""))
        (head("difference", "")) (head("its standard error", "")) (head("difference low", "")) (head("difference high", ""))
        @if remarks { (words_head("remark")) }
    } };
    let body = html! {
        @for q in &weld.quantities {
            @let places = q.standard_error.map_or(3, places_for);
            tr {
                th.text scope="row" { (words(q)) }
                td.text.unit { (q.unit) }
                (cell(q.constant_voltage, places)) (cell(q.pulsed, places)) (cell(q.difference, places))
                (cell(q.standard_error, places)) (ends(q.interval, places))
                @if remarks { td.text { @if q.interval.is_none() { (q.reason.as_deref().unwrap_or("no interval")) } } }
            }
        }
    };
    let speed = weld.travel_speed_mm_s.map_or(String::new(), |v| format!(", travel speed {} mm/s", feed(v)));
    let caption = format!(
        "{} at {} m/min{speed}; low and high are the ends of {} intervals",
        weld.trial,
        feed(weld.wire_feed_m_min),
        confidence(level)
    );
    html! {
        (parts::table(&caption, &head, &body))
        ul {
            @if let Some(apart) = weld.extension_difference_mm {
                li { "extension of the line less that of the weld: " (signed(apart.value, places_for(apart.standard_error))) " ± " (fixed(apart.standard_error, places_for(apart.standard_error))) " mm" }
            }
            @if let Some(apart) = weld.arc_length_difference_mm {
                li { "arc length of the line less that of the weld: " (signed(apart.value, places_for(apart.standard_error))) " ± " (fixed(apart.standard_error, places_for(apart.standard_error))) " mm" }
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
    const HEADER: [&str; 9] = [
        "wire_feed_m_min",
        "melting_rate_kg_h",
        "melting_rate_relative_se",
        "power_mean_w",
        "power_mean_w_low",
        "power_mean_w_high",
        "energy_per_melted_mass_mj_kg",
        "energy_per_melted_mass_mj_kg_low",
        "energy_per_melted_mass_mj_kg_high",
    ];
    csv(
        &HEADER,
        nodes.iter().map(|n| {
            let first = [n.wire_feed_m_min, n.melting_rate_kg_h, n.melting_rate_relative_se].map(number);
            let spent = spent(n, n.power_mean_w);
            let rest = [(Some(n.power_mean_w), n.power_mean_w_interval), (Some(spent), energy_interval(n))];
            first.into_iter().chain(rest.into_iter().flat_map(with_ends)).collect()
        }),
    )
}

fn heat_data(nodes: &[Node]) -> String {
    const HEADER: [&str; 7] = [
        "wire_feed_m_min",
        "arc_energy_kj_mm",
        "arc_energy_kj_mm_low",
        "arc_energy_kj_mm_high",
        "heat_input_kj_mm",
        "heat_input_kj_mm_low",
        "heat_input_kj_mm_high",
    ];
    csv(
        &HEADER,
        nodes.iter().map(|n| {
            let pairs =
                [(n.arc_energy_kj_mm, n.arc_energy_kj_mm_interval), (n.heat_input_kj_mm, n.heat_input_kj_mm_interval)];
            std::iter::once(number(n.wire_feed_m_min)).chain(pairs.into_iter().flat_map(with_ends)).collect()
        }),
    )
}

fn with_ends((value, ends): (Option<f64>, Option<[f64; 2]>)) -> [String; 3] {
    [number(value), number(ends.map(|e| e[0])), number(ends.map(|e| e[1]))]
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
