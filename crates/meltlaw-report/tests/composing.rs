//! How the report tells how the settings were chosen, and what the study fixed.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use sample::Sample;

#[test]
fn the_rule_its_weights_its_gain_and_each_nodes_cost_are_told() {
    let page = Sample::composed().draw().html;
    for said in [
        "How the settings were chosen</h3>",
        "By an optimum along the line:",
        "401 A for 2.62 ms: at least 93\u{a0}%",
        "<code>drop_size</code></th><td>3.00</td>",
        "The study states its own; the defaults are 1 each.",
        "<td>4.00</td><td>92.6</td>",
        "<td>3.40</td><td>92.1</td>",
        "<td>0.60</td><td>0.5</td>",
        "highest background: 0.12",
        "<td>-0.8</td><td>-3.1</td><td>12</td>",
    ] {
        assert!(page.contains(said), "{said}");
    }
}

#[test]
fn pinned_values_are_marked_in_tables_and_ringed_in_figures() {
    let pinned = Sample::composed().draw();
    let mut sample = Sample::composed();
    sample.line.line.nodes[1].pinned.clear();
    let free = sample.draw();
    assert!(pinned.html.contains("At 6.0 m/min the study itself fixes pulse current and pulse frequency"));
    let named = ">pulse current and pulse frequency</td>";
    assert!(
        pinned.html.contains(named) && !free.html.contains(named) && !free.html.contains("pinned by the study</th>")
    );
    let rings = |report: &meltlaw_report::Report, name: &str| report.plots[name].matches("<circle").count();
    for name in ["line_currents.svg", "line_frequency.svg", "line_drop.svg", "line_voltage.svg", "line_one_drop.svg"] {
        // The ring and the one of the legend.
        assert_eq!(rings(&pinned, name), rings(&free, name) + 2, "{name}");
        assert!(pinned.plots[name].contains("pinned"), "{name}");
    }
    assert_eq!(rings(&pinned, "line_pulse_time.svg"), rings(&free, "line_pulse_time.svg"), "not pinned");
}

#[test]
fn a_line_of_the_midpoint_rule_and_one_that_does_not_say_are_drawn_too() {
    let mut sample = Sample::composed();
    let composing = sample.line.line.composing.as_mut().unwrap();
    (composing.rule, composing.weights, composing.midpoint) = ("midpoint".to_owned(), None, None);
    for node in &mut sample.line.line.nodes {
        node.cost.as_mut().unwrap().by_limit.clear();
    }
    let page = sample.draw().html;
    assert!(page.contains("By the midpoint rule:") && page.contains("What each node gave up"));
    assert!(!page.contains("What is weighed") && !page.contains("saved by 1 % more room"));

    let page = Sample::worked_example().draw().html;
    assert!(page.contains("does not say how its settings were chosen") && !page.contains("What each node gave up"));
}
