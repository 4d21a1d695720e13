//! A reduced log to look at: the whole with its window, all periods laid over each other, current against voltage, pulses.

use std::collections::BTreeMap;

use maud::html;
use meltlaw::laws::Reading;
use meltlaw::reduce::{Measured, Pictures, Reduced};
use meltlaw::trials::Column;

use crate::axis::Axis;
use crate::colours::Colour;
use crate::embedded::{csv, number};
use crate::figure::Figure;
use crate::figures::Drawn;
use crate::html::parts::{self, cell, words_head};
use crate::html::whole_page;
use crate::marks::{Align, Frame, Marker, Shape, Stroke};
use crate::numbers::{fixed, places_for, significant};

const WIDTH: f64 = 560.0;
/// Bars of a histogram.
const BARS: usize = 40;

/// A drawn log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogPage {
    /// The page, complete in one file.
    pub html: String,
    /// Figures and their data by name: `overview.svg`, `overview.csv`, …
    pub files: BTreeMap<String, String>,
}

/// Draws a log; `None` where it was reduced without pictures.
pub fn draw_log(name: &str, reduced: &Reduced) -> Option<LogPage> {
    let pictures = reduced.pictures.as_ref()?;
    let drawn: Vec<Drawn> = [overview(reduced, pictures), folded(pictures), against(pictures), pulses(pictures)]
        .into_iter()
        .flatten()
        .collect();
    let mut files = BTreeMap::new();
    for figure in &drawn {
        files.insert(format!("{}.svg", figure.name), figure.svg.clone());
        files.insert(format!("{}.csv", figure.name), figure.csv.clone());
    }
    let subject = html! {
        (reduced.mode.word().replace('_', " ")) ", window " (fixed(reduced.window_s[0], 2)) " to " (fixed(reduced.window_s[1], 2)) " s of "
        (fixed(reduced.samples as f64 / reduced.sample_rate_hz, 2)) " s at " (significant(reduced.sample_rate_hz / 1000.0, 4)) " kHz"
    };
    let findings = html! {
        @if reduced.findings.is_empty() { p { "Nothing was noticed." } }
        ul { @for f in &reduced.findings { li { strong { (f.name.replace('_', " ")) } ": " (f.seen) "; " (f.action) "." } } }
    };
    let sections = [
        ("row", "The row", row(reduced)),
        ("noticed", "What was noticed", findings),
        ("pictures", "Pictures", parts::figures(&drawn, true)),
    ];
    Some(LogPage { html: whole_page("Log, reduced", name, &subject, &sections, None), files })
}

/// The row in numbers.
fn row(r: &Reduced) -> maud::Markup {
    let mut rows: Vec<(&str, &str, Measured)> = vec![
        ("mean current", "A", r.current_mean_a),
        ("RMS current", "A", r.current_rms_a),
        ("mean voltage", "V", r.voltage_mean_v),
        ("mean power", "W", r.power_mean_w),
        ("arc energy in the window", "J", r.arc_energy()),
    ];
    if let Some(p) = &r.pulsed {
        rows.extend([
            ("pulse current", "A", p.pulse_current_a),
            ("background current", "A", p.background_current_a),
            ("pulse time at half height", "ms", p.pulse_time_ms),
            ("background time", "ms", p.background_time_ms),
            ("pulse frequency", "Hz", p.pulse_frequency_hz),
        ]);
        rows.extend(p.rise_a_per_ms.map(|m| ("rise", "A/ms", m)));
        rows.extend(p.fall_a_per_ms.map(|m| ("fall", "A/ms", m)));
    }
    let steady = r.steady.iter().filter_map(|(name, mean)| Some((Column::from_name(name)?, *mean)));
    let steady: Vec<(String, &str, Measured)> = steady.map(|(c, mean)| (c.quantity(), c.unit(), mean)).collect();
    rows.extend(steady.iter().map(|(quantity, unit, mean)| (quantity.as_str(), *unit, *mean)));
    let head = html! { tr { (words_head("quantity")) (words_head("unit")) (parts::head("value", "")) (parts::head("standard error", "")) } };
    let body = html! { @for (name, unit, m) in &rows {
        @let places = places_for(m.standard_error.filter(|e| *e > 0.0).unwrap_or(m.value.abs() / 1000.0));
        tr { th.text scope="row" { (name) } td.text { (unit) } (cell(m.value, places)) (cell(m.standard_error, places)) }
    } };
    let data = rows
        .iter()
        .map(|(name, unit, m)| vec![(*name).to_owned(), (*unit).to_owned(), number(m.value), number(m.standard_error)]);
    let data = csv(&["quantity", "unit", "value", "standard_error"], data);
    html! {
        (parts::table_and_data("What the log was reduced to", &head, &body, "row", &data))
        p { "Counted in the window: " @if let Some(p) = &r.pulsed { "whole pulses " (p.pulses) ", " } "short circuits " (r.short_circuits) "." }
        @if let Some(s) = r.pulsed.as_ref().and_then(|p| p.drop_signs.as_ref()) {
            p { "Drops by the voltage: " (s.pulses[0]) " pulses without a sign, " (s.pulses[1]) " with one, " (s.pulses[2]) " with more. A sign is a rise of "
                (fixed(s.threshold_v, 2)) " V and more that the current does not explain; the usual one is " (fixed(s.usual_v, 2)) " V. "
                (fixed(100.0 * s.error_rate, 1)) " % of the pulses are told wrongly, besides drops that leave while the current falls and two within half a millisecond." }
        }
        p.small { "Standard errors are those of the log's own scatter, autocorrelation among it; how much one weld differs from the next is not in them." }
    }
}

fn frame(top: f64, height: f64) -> Frame {
    Frame { left: 60.0, top, right: WIDTH - 20.0, bottom: top + height }
}

/// Where it lies across; low, middle and high of current and voltage.
type Stretch = (f64, [f64; 3], [f64; 3]);

/// Current above, voltage below: a line with its band, a stretch tinted where there is one.
fn both_channels(
    stretches: &[Stretch],
    (label, from, to): (&str, f64, f64),
    tinted: Option<[f64; 2]>,
    band: Colour,
) -> Figure {
    let mut figure = Figure::new(WIDTH, 420.0);
    type Of = fn(&Stretch) -> [f64; 3];
    let panels: [(&str, Of, f64); 2] = [("current (A)", |s| s.1, 24.0), ("voltage (V)", |s| s.2, 222.0)];
    for (upright, of, top) in panels {
        let values = stretches.iter().flat_map(|s| [of(s)[0], of(s)[2]]);
        let across = Axis::between(label, from, to);
        let panel = figure.panel(frame(top, 130.0), across, Axis::around(upright, values, 0.05));
        if let Some([from, to]) = tinted {
            figure.upright(&panel, from, to, Colour::Sand, 0.35);
        }
        let line = |k: usize| stretches.iter().map(|s| (s.0, of(s)[k])).collect::<Vec<_>>();
        figure.band(&panel, &line(0), &line(2), band, 0.3);
        figure.curve(&panel, &line(1), Stroke::solid(Colour::Deep, 1.6));
    }
    figure
}

fn overview(reduced: &Reduced, pictures: &Pictures) -> Option<Drawn> {
    let columns = &pictures.overview;
    let (first, last) = (columns.first()?.start_s, columns.last()?.end_s);
    let stretches: Vec<Stretch> =
        columns.iter().map(|c| (f64::midpoint(c.start_s, c.end_s), c.current_a, c.voltage_v)).collect();
    let figure = both_channels(&stretches, ("time (s)", first, last), Some(reduced.window_s), Colour::Deep);
    let share = (reduced.window_s[1] - reduced.window_s[0]) / (reduced.arc_s[1] - reduced.arc_s[0]);
    let seen = format!(
        "the arc burns from {} to {} s; the window holds {} % of it",
        fixed(reduced.arc_s[0], 2),
        fixed(reduced.arc_s[1], 2),
        fixed(100.0 * share, 0)
    );
    let rows = columns
        .iter()
        .map(|c| [c.start_s, c.end_s].into_iter().chain(c.current_a).chain(c.voltage_v).map(number).collect());
    Some(Drawn {
        name: "overview",
        title: "The whole log".to_owned(),
        caption: "Line: mean; shaded: from the smallest to the largest sample. Tinted: the window that the row was taken from.".to_owned(),
        reading: Reading::new("steady bands all over the window", seen.clone(), "nothing while they are steady; where they change, weld again or give a larger --cut-ends-s"),
        svg: figure.svg("overview", "Current and voltage over the log", &seen),
        csv: csv(
            &["start_s", "end_s", "current_a_min", "current_a_mean", "current_a_max", "voltage_v_min", "voltage_v_mean", "voltage_v_max"],
            rows,
        ),
    })
}

fn folded(pictures: &Pictures) -> Option<Drawn> {
    let times = &pictures.folded;
    let (first, last) = (times.first()?.time_ms, times.last()?.time_ms);
    let stretches: Vec<Stretch> = times.iter().map(|t| (t.time_ms, t.current_a, t.voltage_v)).collect();
    let figure = both_channels(&stretches, ("time after the rise (ms)", first.min(0.0), last), None, Colour::Sea);
    let rows = times.iter().map(|t| {
        let mut cells = vec![number(t.time_ms)];
        cells.extend(t.current_a.into_iter().chain(t.voltage_v).map(number));
        cells
    });
    let seen = format!("{} ms are shown, all periods over each other", fixed(last, 1));
    Some(Drawn {
        name: "folded",
        title: "All periods".to_owned(),
        caption: "Line: median of all periods; shaded: nine tenths of the samples.".to_owned(),
        reading: Reading::new(
            "a narrow band with a flat top and a flat background",
            seen.clone(),
            "nothing while the states are narrow; a wide band within a state is drift or hum, at an edge it is scatter of the pulse time",
        ),
        svg: figure.svg("folded", "Median period of current and voltage", &seen),
        csv: csv(
            &[
                "time_ms",
                "current_a_low",
                "current_a_median",
                "current_a_high",
                "voltage_v_low",
                "voltage_v_median",
                "voltage_v_high",
            ],
            rows,
        ),
    })
}

fn against(pictures: &Pictures) -> Option<Drawn> {
    let places = &pictures.against;
    let most = places.iter().map(|p| p.2).max()?;
    let mut figure = Figure::new(WIDTH, 320.0);
    let panel = figure.panel(
        frame(24.0, 240.0),
        Axis::around("current (A)", places.iter().map(|p| p.0), 0.04),
        Axis::around("voltage (V)", places.iter().map(|p| p.1), 0.04),
    );
    // Rare samples alone would hide where most lie.
    let looks = [(0.0, 1.0, Colour::Sand), (0.01, 1.4, Colour::Sea), (0.1, 1.8, Colour::Deep)];
    for (from, radius, colour) in looks {
        for (i, u, _) in places.iter().filter(|p| f64::from(p.2) > from * f64::from(most)) {
            figure.point(&panel, *i, *u, Marker { shape: Shape::Square, radius, colour, filled: true });
        }
    }
    let rows = places.iter().map(|(i, u, n)| vec![number(*i), number(*u), n.to_string()]);
    let seen = format!("{} places with samples", places.len());
    Some(Drawn {
        name: "current_against_voltage",
        title: "Current against voltage".to_owned(),
        caption: "Where samples lie: light few, dark most. A loop between the states is a channel that comes late, or the inductance of the cable.".to_owned(),
        reading: Reading::new("two clouds, joined by one slanted line", seen.clone(), "nothing while it is a line; where it opens into a loop, compare both channels on one step"),
        svg: figure.svg("current_against_voltage", "Voltage over current, sample by sample", &seen),
        csv: csv(&["current_a", "voltage_v", "samples"], rows),
    })
}

fn pulses(pictures: &Pictures) -> Option<Drawn> {
    let pulses = &pictures.pulses;
    if pulses.len() < 3 {
        return None;
    }
    let mut figure = Figure::new(WIDTH, 460.0);
    let labels = ["pulse current (A)", "background current (A)", "pulse time (ms)", "period (ms)"];
    let mut rows = Vec::new();
    for (k, label) in labels.into_iter().enumerate() {
        let values: Vec<f64> = pulses.iter().map(|p| f64::from(p[k])).filter(|v| v.is_finite()).collect();
        let across = Axis::around(label, values.iter().copied(), 0.03);
        let width = (across.high - across.low) / BARS as f64;
        let mut counts = [0_u32; BARS];
        for v in &values {
            counts[(((v - across.low) / width) as usize).min(BARS - 1)] += 1;
        }
        let (left, top) = (44.0 + 270.0 * (k % 2) as f64, 24.0 + 226.0 * (k / 2) as f64);
        let frame = Frame { left, top, right: left + 220.0, bottom: top + 160.0 };
        let low = across.low;
        let panel =
            figure.panel(frame, across, Axis::around("", counts.iter().map(|c| f64::from(*c)).chain([0.0]), 0.05));
        figure.text((left - 36.0, top - 10.0), "pulses", Align::Start, Colour::Ink, 12.0);
        for (bar, count) in counts.iter().enumerate().filter(|(_, c)| **c > 0) {
            let (from, to) = (low + bar as f64 * width, low + (bar + 1) as f64 * width);
            let top = f64::from(*count);
            figure.band(&panel, &[(from, 0.0), (to, 0.0)], &[(from, top), (to, top)], Colour::Deep, 0.8);
            rows.push(vec![label.to_owned(), number(from), number(to), count.to_string()]);
        }
    }
    let seen = format!("{} pulses spread over the window", pulses.len());
    Some(Drawn {
        name: "pulses",
        title: "Pulse by pulse".to_owned(),
        caption: "How often each value occurs.".to_owned(),
        reading: Reading::new(
            "one narrow hump each",
            seen.clone(),
            "nothing while there is one; two humps are two states of the source, a tail of the period is missed pulses",
        ),
        svg: figure.svg("pulses", "Histograms of pulse current, background current, pulse time and period", &seen),
        csv: csv(&["quantity", "from", "to", "pulses"], rows),
    })
}
