//! The page of extended laws.

use maud::{Markup, html};
use meltlaw::extend::Extension;

use super::ExtensionInput;
use crate::embedded::{csv, number, text};
use crate::figures::Drawn;
use crate::html::parts::{self, cell, ends, head, words_head};
use crate::html::whole_page;
use crate::laws_comparison::escaped;
use crate::numbers::{confidence, feed, places_for, rounded, significant};
use crate::words;

/// The whole page as text.
pub(super) fn page(input: &ExtensionInput<'_>, figures: &[Drawn]) -> String {
    let laws = input.laws;
    let Some(e) = &laws.extension else {
        let sections = [("verdict", "Verdict", html! { p { "These laws were not extended." } })];
        return whole_page("Laws extended, report", &laws.name, &html! {}, &sections, None);
    };
    let subject = html! {
        (laws.wire.designation) " · " (laws.wire.material.word().replace('-', " ")) ", " (feed(laws.wire.diameter_mm)) " mm · "
        @match &laws.gas { Some(gas) => { (gas.text_and_group()) } None => { "gas not stated" } }
    };
    let sections: Vec<(&str, &str, Markup)> = vec![
        ("verdict", "Verdict", verdict(input, e)),
        (
            "carried",
            "What was carried",
            html! { (parts::figures(&figures.iter().filter(|f| f.name == "carried").cloned().collect::<Vec<_>>(), true)) (traits(e)) },
        ),
        ("tests", "Do the studies agree with the scaling?", tests(e)),
        ("left-out", "The proof: each study from the others", proof(e, figures)),
        ("confirm", "Welds that would confirm it", confirm(e)),
        ("stated", "Stated, not measured", stated(e)),
        ("cautions", "Cautions", html! { ul { @for caution in input.cautions { li { (caution) } } } }),
        ("origin", "Where it comes from", origin(input, e)),
    ];
    whole_page("Laws extended, report", &format!("Laws extended {}", e.words), &subject, &sections, None)
}

/// What a line's report says of laws that were extended.
pub(crate) fn extended_from(e: &Extension) -> Markup {
    html! {
        p.lead { "These laws were not fitted to trials of this wire as it is to be welded but extended " (e.words) ". " @if !e.tests.is_empty() { "Whether the studies agree with the scaling stands under " a href="#diagnostics" { "tests and findings" } "." } }
        (studies(e))
        (traits(e))
        @if !e.left_out.is_empty() {
            p { "Each study predicted from the others: " (e.left_out.iter().filter(|l| l.inside).count()) " of " (e.left_out.len()) " values lie inside their intervals." }
        }
        @if !e.confirm.is_empty() { h3 { "Welds that would confirm the laws" } (confirm(e)) }
        @if !e.stated.is_empty() { h3 { "Stated, not measured" } (stated(e)) }
    }
}

fn stated(e: &Extension) -> Markup {
    html! { ul { @for s in &e.stated { li { (s) } } @if e.stated.is_empty() { li { "nothing" } } } }
}

fn verdict(input: &ExtensionInput<'_>, e: &Extension) -> Markup {
    let laws = &input.laws.laws;
    let missing = laws.missing();
    let odd: Vec<&str> = e.tests.values().filter(|t| t.warns).map(|t| t.reading.seen.as_str()).collect();
    html! {
        p.lead {
            @match &laws.carried {
                Some(carried) => {
                    strong { "Nobody has welded this " (carried.what) ". " }
                    "The laws were extended " (e.words) "; every setting of a line from them is carried, the weakest support, and the few welds below would confirm it."
                }
                None => {
                    "The laws were extended " (e.words) "; a line from them says where trials cover it and where it is extended, and the few welds below would confirm it."
                }
            }
        }
        @if !odd.is_empty() { p { strong { "Do not use them yet: " } @for (i, o) in odd.iter().enumerate() { @if i > 0 { "; " } (o) } "." } }
        @if !missing.is_empty() { ul { @for (name, law) in laws.by_name() { @if !law.ended.usable { li { (name.replace('_', " ")) " could not be extended: " (law.ended.reason) "." } } } } }
        p { "Coefficients, each ± half its " (confidence(input.laws.confidence)) " interval:" }
        ul {
            @for t in &e.traits {
                @let half = (t.at_target.interval[1] - t.at_target.interval[0]) / 2.0;
                li {
                    (t.law.replace('_', " ")) ", " code { (t.name) } ": " (rounded(t.at_target.value, half))
                    @if t.unit != "1" { " " (t.unit) }
                }
            }
        }
    }
}

/// Every coefficient in full digits.
pub(super) fn traits_csv(e: &Extension) -> String {
    let header = [
        "law",
        "coefficient",
        "unit",
        "value",
        "value_low",
        "value_high",
        "scaling",
        "power_of_diameter",
        "heterogeneity",
        "heterogeneity_unit",
        "heterogeneity_low",
        "heterogeneity_high",
        "heterogeneity_from",
    ];
    csv(
        &header,
        e.traits.iter().map(|t| {
            let mut cells = vec![t.law.clone(), t.name.clone(), t.unit.clone()];
            cells.extend([t.at_target.value, t.at_target.interval[0], t.at_target.interval[1]].map(number));
            cells.push(text(&t.scaling));
            cells.extend([t.power_of_diameter, t.heterogeneity].map(number));
            cells.push(t.heterogeneity_unit.clone());
            cells.extend(t.heterogeneity_interval.map(number));
            cells.push(text(&t.heterogeneity_from));
            cells
        }),
    )
}

/// The same for a paper, without packages.
pub(super) fn latex(e: &Extension) -> String {
    let rows: String = e
        .traits
        .iter()
        .map(|t| {
            let places = places_for((t.at_target.interval[1] - t.at_target.interval[0]) / 2.0);
            let plain = |v: f64| crate::numbers::fixed(v, places).replace('−', "-");
            format!(
                "{} & ${}$ & ${}$ to ${}$ & {} \\\\\n",
                escaped(&t.name),
                plain(t.at_target.value),
                plain(t.at_target.interval[0]),
                plain(t.at_target.interval[1]),
                escaped(&t.scaling)
            )
        })
        .collect();
    format!(
        "\\begin{{table}}\n\\caption{{Laws extended {}.}}\n\\begin{{tabular}}{{lrrl}}\n\\hline\ncoefficient & value & interval & scaling \
         \\\\\n\\hline\n{rows}\\hline\n\\end{{tabular}}\n\\end{{table}}\n",
        escaped(&e.words)
    )
}

fn traits(e: &Extension) -> Markup {
    let head = html! { tr {
        (words_head("law")) (words_head("coefficient")) (words_head("unit")) (head("value", "")) (head("from", "")) (head("to", ""))
        (words_head("carried by")) (head("scatter between studies", "% or unit")) (head("scatter from", "")) (head("scatter to", "")) (words_head("scatter is"))
    } };
    let scatter =
        |t: &meltlaw::extend::Trait, v: Option<f64>| v.map(|v| if t.heterogeneity_unit == "1" { 100.0 * v } else { v });
    let body = html! { @for t in &e.traits {
        @let places = places_for((t.at_target.interval[1] - t.at_target.interval[0]) / 2.0);
        tr {
            td.text { (t.law.replace('_', " ")) } th.text scope="row" { (t.name) } td.text { (t.unit) }
            (cell(t.at_target.value, places)) (ends(t.at_target.interval, places))
            td.text { (t.scaling) }
            (cell(scatter(t, t.heterogeneity), 2)) (cell(scatter(t, t.heterogeneity_interval[0]), 2)) (cell(scatter(t, t.heterogeneity_interval[1]), 2))
            td.text { (t.heterogeneity_from) }
        }
    } };
    parts::table_and_data("Every coefficient at the target", &head, &body, "traits", &traits_csv(e))
}

fn tests(e: &Extension) -> Markup {
    html! {
        @if e.tests.is_empty() { p { "Nothing was scaled, so there is nothing to test." } }
        @for (name, test) in &e.tests {
            h3 { (words::capital(&words::test(name))) @if test.warns { " – stands out" } }
            (parts::reading(&test.reading))
        }
    }
}

fn proof(e: &Extension, figures: &[Drawn]) -> Markup {
    html! {
        @if e.left_out.is_empty() {
            p { "With fewer than three studies none can be left out: the intervals rest on what is stated below." }
        } @else {
            (parts::figures(&figures.iter().filter(|f| f.name == "left_out").cloned().collect::<Vec<_>>(), true))
        }
    }
}

fn confirm(e: &Extension) -> Markup {
    let head_row = html! { tr {
        (head("wire feed", "m/min")) (head("contact tip to work", "mm")) (head("arc length", "mm")) (head("pulse current", "A")) (head("pulse time", "ms"))
        (head("mean current expected", "A")) (head("from", "A")) (head("to", "A")) (head("melting rate known within", "%")) (words_head("why"))
    } };
    let body = html! { @for w in &e.confirm {
        tr {
            (cell(w.wire_feed_m_min, 2)) (cell(w.ctwd_mm, 1)) (cell(w.arc_length_mm, 1)) (cell(w.pulse_current_a, 0)) (cell(w.pulse_time_ms, 2))
            (cell(w.current_mean_a, 0)) (ends(w.current_mean_a_interval, 0)) (cell(100.0 * w.melting_rate_relative_se, 1)) td.text { (w.why) }
        }
    } };
    let rows = e.confirm.iter().map(|w| {
        let mut cells: Vec<String> = [
            w.wire_feed_m_min,
            w.ctwd_mm,
            w.arc_length_mm,
            w.pulse_current_a,
            w.pulse_time_ms,
            w.current_mean_a,
            w.current_mean_a_interval[0],
            w.current_mean_a_interval[1],
            w.melting_rate_relative_se,
        ]
        .map(number)
        .to_vec();
        cells.push(text(&w.why));
        cells
    });
    let header = [
        "wire_feed_m_min",
        "ctwd_mm",
        "arc_length_mm",
        "pulse_current_a",
        "pulse_time_ms",
        "current_mean_a",
        "current_mean_a_low",
        "current_mean_a_high",
        "melting_rate_relative_se",
        "why",
    ];
    let data = csv(&header, rows);
    html! {
        @if e.confirm.is_empty() {
            p { "None is proposed here: weld at the ends and in the middle of what was asked for." }
        } @else {
            p { "Trim the background until the arc length holds; the mean current should then lie in the interval. Within is a standard error. Weld them as trials of a study of their own and fit it: these laws are then no longer needed." }
            (parts::table_and_data("Confirming welds", &head_row, &body, "confirming_welds", &data))
        }
    }
}

fn studies(e: &Extension) -> Markup {
    let head_row = html! { tr {
        (words_head("file")) (words_head("study")) (head("diameter", "mm")) (head("metal section", "mm²")) (head("carbon dioxide", "%"))
        (head("burn-off trials", "")) (head("detachment trials", "")) (head("voltage trials", "")) (words_head("checksum of the laws"))
    } };
    let body = html! { @for b in &e.rests_on {
        tr {
            th.text scope="row" { (b.file) } td.text { (b.study) }
            (cell(b.wire_diameter_mm, 2)) (cell(b.metal_section_mm2, 4)) (cell(b.carbon_dioxide_per_cent, 1))
            (cell(b.trials[0] as f64, 0)) (cell(b.trials[1] as f64, 0)) (cell(b.trials[2] as f64, 0))
            td.text { code { (b.laws_checksum) } }
        }
    } };
    let rows = e.rests_on.iter().map(|b| {
        let mut cells = vec![text(&b.file), text(&b.study)];
        cells.extend([Some(b.wire_diameter_mm), Some(b.metal_section_mm2), b.carbon_dioxide_per_cent].map(number));
        cells.extend(b.trials.map(|n| n.to_string()));
        cells.push(b.laws_checksum.clone());
        cells
    });
    let header = [
        "file",
        "study",
        "wire_diameter_mm",
        "metal_section_mm2",
        "carbon_dioxide_per_cent",
        "burn_off_trials",
        "detachment_trials",
        "voltage_trials",
        "laws_checksum",
    ];
    parts::table_and_data("The studies that it rests on", &head_row, &body, "rests_on", &csv(&header, rows))
}

fn origin(input: &ExtensionInput<'_>, e: &Extension) -> Markup {
    html! {
        p { "Made by " (input.tool) ". Checksum of these laws: " code { (input.checksum) } "." }
        (studies(e))
        @for c in &input.laws.calibration { p.small { "Instrument error " (c.name.replace('_', " ")) ": standard uncertainty " (significant(c.standard_uncertainty, 2)) ", taken as common to all studies." } }
    }
}
