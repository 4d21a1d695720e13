//! The line: figures over wire feed and the tables of nodes.

use maud::{Markup, html};
use meltlaw::line::{Node, Sensitivity};

use super::parts::{self, head};
use super::{heat, live};
use crate::ReportInput;
use crate::columns::columns;
use crate::composing;
use crate::embedded::{csv, number};
use crate::figures::Figures;
use crate::numbers::{self, feed, fixed, interval, signed};
use crate::words;

/// The section.
pub(crate) fn section(input: &ReportInput<'_>, figures: &Figures) -> Markup {
    let nodes = &input.line.line.nodes;
    if nodes.is_empty() {
        return html! { p { "There is nothing to show: the line has no setting. The " a href="#verdict" { "verdict" } " says why." } };
    }
    html! {
        p.lead {
            "Filled points are inside what the trials measured, hollow ones on tinted ground are extended, and hatched ground has no setting. "
            "Rule for what lies between: " (input.line.line.interpolation.rule) "."
        }
        (live::panel(input.line))
        h3 { "The whole line" }
        (parts::figures(&figures.line, false))
        h3 { "Nodes" }
        (settings(nodes))
        @if composing::pinned(nodes).next().is_some() {
            (parts::pinned_legend())
        }
        (effects(nodes, input.line.confidence))
        p.small { (parts::download("line_nodes", &data(nodes))) }
        h3 id="heat" { "Heat and melting" }
        (heat::section(input))
        h3 { "What moves the arc" }
        p { "With all settings held. The last column of each group is the change of background current that brings the arc length back." }
        (sensitivities(nodes))
        (remarks(nodes))
    }
}

fn row_class(node: &Node) -> Option<&'static str> {
    (node.support != "measured").then_some("extended")
}

fn settings(nodes: &[Node]) -> Markup {
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("pulse current", "A")) (head("pulse time", "ms")) (head("frequency", "Hz"))
        (head("background current", "A")) (head("background time", "ms")) (head("rise", "A/ms")) (head("fall", "A/ms"))
        th.text scope="col" { "support" } th.text scope="col" { "limits that bind" }
    } };
    let body = html! {
        @for n in nodes {
            tr class=[row_class(n)] {
                th scope="row" { (parts::node_feed(n)) }
                td { (parts::set(n, "pulse_current_a", n.pulse_current_a, 1)) }
                td { (parts::set(n, "pulse_time_ms", n.pulse_time_ms, 3)) }
                td { (parts::set(n, "pulse_frequency_hz", n.pulse_frequency_hz, 1)) }
                td { (fixed(n.background_current_a, 1)) }
                td { (fixed(n.background_time_ms, 2)) }
                td { (fixed(n.rise_a_per_ms, 0)) }
                td { (fixed(n.fall_a_per_ms, 0)) }
                td.text { (n.support) }
                td.text { (words::listed(&n.limits.iter().map(|l| words::plain(l)).collect::<Vec<_>>())) }
            }
        }
    };
    parts::table("What to set", &head, &body)
}

fn effects(nodes: &[Node], confidence: f64) -> Markup {
    let with_travel = nodes.iter().any(|n| n.heat_input_kj_mm.is_some());
    let confidence = numbers::confidence(confidence);
    let head = html! { tr {
        (head("wire feed", "m/min")) (head("mean current", "A")) (head("RMS current", "A")) (head("mean voltage", "V")) (head("interval", "V"))
        (head("mean power", "W")) (head("melting rate", "kg/h")) (head("drop", "mm")) (head("one drop", "%")) (head("interval", "%"))
        (head("background that balances", "A"))
        @if with_travel { (head("heat input", "kJ/mm")) }
    } };
    let body = html! {
        @for n in nodes {
            @let volts = n.voltage_mean_v_interval;
            @let drop = n.one_drop_probability;
            @let balance = n.balancing_background_current_a_interval;
            tr class=[row_class(n)] {
                th scope="row" { (parts::node_feed(n)) }
                td { (fixed(n.current_mean_a, 1)) }
                td { (fixed(n.current_rms_a, 1)) }
                td { (fixed(n.voltage_mean_v, numbers::places_for((volts[1] - volts[0]) / 2.0))) }
                td.number { (interval(volts[0], volts[1])) }
                td { (fixed(n.power_mean_w, 0)) }
                td.number { (numbers::rounded(n.melting_rate_kg_h, n.melting_rate_kg_h * n.melting_rate_relative_se).to_string()) }
                td { (fixed(n.drop_diameter_mm, 2)) }
                td { (fixed(100.0 * drop.value, 1)) }
                td.number { (fixed(100.0 * drop.interval[0], 1)) " to " (fixed(100.0 * drop.interval[1], 1)) }
                td.number { (interval(balance[0], balance[1])) }
                @if with_travel { td { (n.heat_input_kj_mm.map_or(String::new(), |h| fixed(h, 3))) } }
            }
        }
    };
    html! {
        (parts::table(&format!("What it does (intervals at {confidence}, melting rate ± its standard error)"), &head, &body))
    }
}

/// What is changed, and what that does.
type Group = (&'static str, fn(&Node) -> Sensitivity);

fn sensitivities(nodes: &[Node]) -> Markup {
    let groups: [Group; 3] = [
        ("contact-tip-to-work distance +1 mm", |n| n.sensitivities.ctwd),
        ("wire feed +1 %", |n| n.sensitivities.wire_feed),
        ("wire diameter +1 %", |n| n.sensitivities.wire_diameter),
    ];
    let head = html! {
        tr { th scope="col" rowspan="2" { "wire feed " span.unit { "m/min" } } @for (name, _) in &groups { th scope="colgroup" colspan="3" { (name) } } }
        tr { @for _ in &groups { (head("arc length", "mm")) (head("voltage", "V")) (head("to restore", "A")) } }
    };
    let body = html! {
        @for n in nodes {
            tr class=[row_class(n)] {
                th scope="row" { (parts::node_feed(n)) }
                @for (_, of) in &groups {
                    @let s = of(n);
                    td { (signed(s.arc_length_mm, 2)) } td { (signed(s.voltage_mean_v, 2)) } td { (signed(s.background_current_a, 1)) }
                }
            }
        }
    };
    parts::table("Changes at each node", &head, &body)
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
