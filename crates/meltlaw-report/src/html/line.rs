//! The line: figures over wire feed and the tables of nodes.

use maud::{Markup, html};
use meltlaw::line::{Node, Sensitivity};

use super::parts::{self, cell, ends, half_width, head, places_by, short_head, words_head};
use super::{heat, live};
use crate::ReportInput;
use crate::columns::{column, columns};
use crate::composing;
use crate::embedded::{csv, number};
use crate::figures::Figures;
use crate::numbers::{self, feed};
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let nodes = &input.line.line.nodes;
    if nodes.is_empty() {
        return html! { p { "There is nothing to show: the line has no setting. The " a href="#verdict" { "verdict" } " says why." } };
    }
    html! {
        p.lead {
            "Filled points lie inside the ranges of the trials, hollow ones on tinted ground are extended or carried, and hatched ground has no setting. "
            "Rule for what lies between: " (input.line.line.interpolation.rule) "."
        }
        (live::panel(input.line))
        h3 { "The whole line" }
        (parts::figures(&figures.line, false))
        h3 { "Nodes" }
        p.small { "Two nodes close together mark a border: the support changes between them." }
        (settings(nodes))
        @if composing::pinned(nodes).next().is_some() {
            (parts::pinned_legend())
        }
        (effects(nodes, input.line.confidence))
        h3 id="heat" { "Heat and melting" }
        (heat::section(input))
        h3 { "What moves the arc" }
        p { "With all settings held. The background to restore is the change of background current that brings the arc length back." }
        (sensitivities(nodes))
        (remarks(nodes))
    }
}

fn settings(nodes: &[Node]) -> Markup {
    let pinned = composing::pinned(nodes).next().is_some();
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("pulse current", "A")) (head("pulse time", "ms")) (head("frequency", "Hz"))
        (head("background current", "A")) (head("background time", "ms")) (head("rise", "A/ms")) (head("fall", "A/ms"))
        @if pinned { (parts::pinned_head()) }
        (short_head("support")) (words_head("limits that bind"))
    } };
    let body = html! {
        @for n in nodes {
            tr class=[parts::row_class(n)] {
                (parts::at_feed(n))
                (cell(n.pulse_current_a, 1)) (cell(n.pulse_time_ms, 3)) (cell(n.pulse_frequency_hz, 1))
                (cell(n.background_current_a, 1)) (cell(n.background_time_ms, 2)) (cell(n.rise_a_per_ms, 0)) (cell(n.fall_a_per_ms, 0))
                @if pinned { (parts::pinned(n)) }
                td.text.short { (n.support) }
                td.text { (words::listed(&n.limits.iter().map(|l| words::limit_in_short(l)).collect::<Vec<_>>())) }
            }
        }
    };
    parts::table_and_data("What to set", &head, &body, "line_nodes", &data(nodes))
}

/// What the heat tables do not show already.
fn effects(nodes: &[Node], confidence: f64) -> Markup {
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("mean current", "A")) (head("RMS current", "A"))
        (head("voltage", "V")) (head("voltage low", "V")) (head("voltage high", "V")) (head("drop", "mm"))
        (head("one drop", "%")) (head("one drop low", "%")) (head("one drop high", "%"))
        (head("balancing background low", "A")) (head("balancing background high", "A"))
    } };
    let volt_places = places_by(nodes.iter().map(|n| half_width(n.voltage_mean_v_interval)), 2);
    let balance_places = places_by(nodes.iter().map(|n| half_width(n.balancing_background_current_a_interval)), 1);
    let body = html! {
        @for n in nodes {
            @let volts = n.voltage_mean_v_interval;
            @let drop = n.one_drop_probability;
            @let balance = n.balancing_background_current_a_interval;
            tr class=[parts::row_class(n)] {
                (parts::at_feed(n))
                (cell(n.current_mean_a, 1)) (cell(n.current_rms_a, 1))
                (cell(n.voltage_mean_v, volt_places)) (ends(volts, volt_places)) (cell(n.drop_diameter_mm, 3))
                (cell(100.0 * drop.value, 1)) (ends(drop.interval.map(|p| 100.0 * p), 1))
                (ends(balance, balance_places))
            }
        }
    };
    let caption =
        format!("What it does; low and high are the ends of {} intervals of the mean", numbers::confidence(confidence));
    parts::table_and_data(&caption, &head, &body, "line_effects", &effects_data(nodes))
}

/// What is changed, and what that does.
type Group = (&'static str, &'static str, fn(&Node) -> Sensitivity);

const CHANGED: [Group; 3] = [
    ("distance +1\u{a0}mm", "ctwd", |n| n.sensitivities.ctwd),
    ("feed +1\u{a0}%", "wire_feed", |n| n.sensitivities.wire_feed),
    ("diameter +1\u{a0}%", "wire_diameter", |n| n.sensitivities.wire_diameter),
];

fn sensitivities(nodes: &[Node]) -> Markup {
    let head = html! { tr {
        (head("wire feed", "m/min"))
        @for (name, ..) in CHANGED {
            (head(&format!("{name}: arc length"), "mm")) (head(&format!("{name}: voltage"), "V")) (head(&format!("{name}: background to restore"), "A"))
        }
    } };
    let body = html! {
        @for n in nodes {
            tr class=[parts::row_class(n)] {
                (parts::at_feed(n))
                @for (.., of) in CHANGED {
                    @let s = of(n);
                    (cell(s.arc_length_mm, 2)) (cell(s.voltage_mean_v, 2)) (cell(s.background_current_a, 1))
                }
            }
        }
    };
    let caption = "Changes with contact-tip-to-work distance, wire feed and wire diameter";
    parts::table_and_data(caption, &head, &body, "sensitivities", &sensitivities_data(nodes))
}

fn remarks(nodes: &[Node]) -> Markup {
    // Pins, and how far a pulse lies off the surest, are told under how the settings were chosen.
    let told = |n: &Node, note: &str| {
        note.starts_with("pinned by the study") || n.cost.is_some() && note.starts_with("the pulse is ")
    };
    let remarks: Vec<(&Node, &String)> = nodes
        .iter()
        .flat_map(|n| n.notes.iter().filter(move |note| !told(n, note)).map(move |note| (n, note)))
        .collect();
    html! {
        @if !remarks.is_empty() {
            h3 { "Remarks on single nodes" }
            ul { @for (n, note) in remarks { li { (feed(n.wire_feed_m_min)) " m/min: " (note) } } }
        }
    }
}

fn data(nodes: &[Node]) -> String {
    let header: Vec<&str> = columns().map(|(name, _)| *name).chain(["support", "pinned", "limits"]).collect();
    csv(
        &header,
        nodes.iter().map(|n| {
            let numbers = columns().map(|(_, of)| number(of(n)));
            numbers.chain([n.support.clone(), n.pinned.join(" "), n.limits.join(" ")]).collect()
        }),
    )
}

fn effects_data(nodes: &[Node]) -> String {
    const SHOWN: [&str; 12] = [
        "wire_feed_m_min",
        "current_mean_a",
        "current_rms_a",
        "voltage_mean_v",
        "voltage_mean_v_low",
        "voltage_mean_v_high",
        "drop_diameter_mm",
        "one_drop_probability",
        "one_drop_probability_low",
        "one_drop_probability_high",
        "balancing_background_current_a_low",
        "balancing_background_current_a_high",
    ];
    csv(&SHOWN, nodes.iter().map(|n| SHOWN.iter().map(|name| number(column(n, name))).collect()))
}

fn sensitivities_data(nodes: &[Node]) -> String {
    const MEANT: [&str; 3] = ["arc_length_mm", "voltage_mean_v", "background_current_a"];
    let names: Vec<String> =
        CHANGED.iter().flat_map(|(_, key, _)| MEANT.map(|quantity| format!("{key}_{quantity}"))).collect();
    let header: Vec<&str> = std::iter::once("wire_feed_m_min").chain(names.iter().map(String::as_str)).collect();
    csv(
        &header,
        nodes.iter().map(|n| {
            let changes = CHANGED.iter().flat_map(|(.., of)| {
                let s = of(n);
                [s.arc_length_mm, s.voltage_mean_v, s.background_current_a]
            });
            std::iter::once(n.wire_feed_m_min).chain(changes).map(number).collect()
        }),
    )
}
