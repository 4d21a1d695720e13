//! The section on heat and melting: what it states, and what it says where something is missing.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use meltlaw::constant_voltage::{ConstantVoltageWeld, Measured, PowerFrom, beside};
use meltlaw::gas::Gas;
use meltlaw::heat::{arc_energy_kj_mm, heat_input_kj_mm};
use meltlaw::transition_current::transition_current;
use sample::Sample;

const SPEED_MM_S: f64 = 7.0;

/// The worked example with power intervals of ± 100 W and two constant-voltage welds, one out of reach.
fn sample() -> Sample {
    let mut sample = Sample::worked_example();
    let gas = Gas { argon: 92.0, carbon_dioxide: 8.0, ..Gas::default() };
    sample.line.transition_current = transition_current(&sample.line.wire, Some(&gas));
    for node in &mut sample.line.line.nodes {
        let power = [node.power_mean_w - 100.0, node.power_mean_w + 100.0];
        node.power_mean_w_interval = Some(power);
        node.balancing_current_mean_a_interval = Some([node.current_mean_a - 2.0, node.current_mean_a + 2.0]);
        node.arc_energy_kj_mm = Some(arc_energy_kj_mm(node.power_mean_w, SPEED_MM_S));
        node.arc_energy_kj_mm_interval = Some(power.map(|p| arc_energy_kj_mm(p, SPEED_MM_S)));
        node.heat_input_kj_mm = Some(heat_input_kj_mm(node.power_mean_w, SPEED_MM_S));
        node.heat_input_kj_mm_interval = Some(power.map(|p| heat_input_kj_mm(p, SPEED_MM_S)));
    }
    let read = |value: f64, standard_error: f64| Measured { value, standard_error };
    let weld = |trial: &str, feed: f64| ConstantVoltageWeld {
        trial: trial.to_owned(),
        wire_feed_m_min: read(feed, 0.03),
        current_mean_a: read(225.0, 1.6),
        current_rms_a: None,
        voltage_mean_v: read(27.0, 0.15),
        power_mean_w: read(6075.0, 55.0),
        power_from: PowerFrom::ProductOfMeans,
        extension_mm: Some(read(11.0, 0.2)),
        arc_length_mm: Some(read(4.0, 0.2)),
        travel_speed_mm_s: None,
    };
    sample.laws.constant_voltage_welds = vec![weld("V1", 6.0), weld("V2", 12.0)];
    sample.line.beside_constant_voltage = beside(&sample.line, &sample.laws.constant_voltage_welds);
    sample
}

/// The section alone.
fn section(sample: &Sample) -> String {
    let page = sample.draw().html;
    let start = page.find("id=\"heat\"").unwrap();
    page[start..start + page[start..].find("</section>").unwrap()].to_owned()
}

#[test]
fn heat_stands_with_its_interval_and_beside_constant_voltage() {
    let sample = sample();
    let text = section(&sample);
    let node = &sample.line.line.nodes[1];
    let shown = format!("{:.3}", node.heat_input_kj_mm.unwrap());
    assert!(text.contains(&shown), "{shown}");
    // Steel 1.2 mm, 92/8: 240 A ± 20 %.
    for part in [
        "Between 192 and 288 A",
        "Ponomarev and Slivinsky",
        "V1 at 6.0 m/min, travel speed 7.0 mm/s",
        "3.0 ± 0.2 mm longer",
        "ISO/TR 18491",
        "no setting at the wire feed of: V2",
        "beside_constant_voltage.csv",
    ] {
        assert!(text.contains(part), "{part}");
    }
    assert!(sample.draw().plots["line_currents.svg"].contains("transition"));
}

#[test]
fn what_is_missing_is_said_and_nothing_else() {
    let mut bare = Sample::worked_example();
    bare.line.request = None;
    bare.line.line.nodes.iter_mut().for_each(|n| (n.arc_energy_kj_mm, n.heat_input_kj_mm) = (None, None));
    let text = section(&bare);
    assert!(text.contains("travel_speed_mm_s") && text.contains("does not reach this wire and gas"));
    assert!(!text.contains("Beside constant voltage") && !text.contains("kJ/mm"));
    assert!(!bare.draw().plots["line_currents.svg"].contains("transition"));
    assert!(!Sample::without_burn_off().draw().html.contains("id=\"heat\""), "heat of a line without a setting");
}

#[test]
fn hostile_texts_and_wild_numbers_stay_texts() {
    const HOSTILE: &str = "</section><script>alert('x')</script>";
    let mut sample = sample();
    let band = sample.line.transition_current.as_mut().unwrap();
    (band.row, band.band_a) = (HOSTILE.to_owned(), [f64::NAN, f64::INFINITY]);
    let beside = &mut sample.line.beside_constant_voltage[0];
    beside.trial = HOSTILE.to_owned();
    beside.notes.push(HOSTILE.to_owned());
    let first = &mut beside.quantities[0];
    (first.quantity, first.unit, first.interval) = (HOSTILE.to_owned(), HOSTILE.to_owned(), None);
    (first.standard_error, first.reason) = (None, Some(HOSTILE.to_owned()));
    sample.laws.constant_voltage_welds[1].trial = HOSTILE.to_owned();
    let page = sample::without_scripts(&sample.draw().html);
    assert!(!page.contains("NaN"));
}
