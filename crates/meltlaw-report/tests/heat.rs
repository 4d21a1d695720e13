//! The section on heat and melting: what it states, and what it says where something is missing.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use sample::Sample;

/// The section alone.
fn section(sample: &Sample) -> String {
    let page = sample.draw().html;
    let start = page.find("id=\"heat\"").unwrap();
    page[start..start + page[start..].find("</section>").unwrap()].to_owned()
}

#[test]
fn heat_stands_with_its_interval_and_beside_constant_voltage() {
    let sample = Sample::with_heat();
    let text = section(&sample);
    let node = &sample.line.line.nodes[1];
    let shown = format!("{:.3}", node.heat_input_kj_mm.unwrap());
    assert!(text.contains(&shown), "{shown}");
    // Steel 1.2 mm, 92/8: 240 A ± 20 %.
    for part in [
        "Between 192 and 288 A",
        "common practice, from memory",
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
    let mut sample = Sample::with_heat();
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
