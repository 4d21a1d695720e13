//! What work at the bench makes a contributor to an uncertainty smaller.

/// What halves a contributor at the bench.
pub(crate) fn at_the_bench(contributor: &str, quantity: &str) -> &'static str {
    match (contributor, quantity) {
        ("trials", "melting rate") => {
            "weld more trials: four times as many halve it; lowest and highest feeds and a second contact-tip-to-work distance count most"
        }
        ("trials", "one drop per pulse") => {
            "weld more counted trials near both edges of the window, spread over low and high pulse currents: four times as many halve it"
        }
        ("trials", _) => {
            "weld more trials: four times as many halve it; lowest and highest currents, short and long arcs count most"
        }
        ("studies", _) => {
            "weld the welds that confirm the laws, or trials of this wire, and fit those; another study beside these tells better how far studies scatter"
        }
        ("between_blocks", _) => {
            "find what differs between the days, coils or plates, and weld the same two settings in more of them"
        }
        ("drop_counting", _) => "count more pulses in each trial: four times as many halve it",
        ("current_gain_relative", _) => {
            "calibrate the current probe against a shunt in the welding circuit and state what is left"
        }
        ("wire_feed_gain_relative", _) => {
            "measure the wire feed: cut off and weigh or measure what comes out in a timed run, and state what is left"
        }
        ("voltage_offset_v" | "voltage_gain_relative", _) => {
            "compare the voltage channel with a calibrated meter at the contact tip and state what is left"
        }
        ("ctwd_offset_mm", _) => {
            "set the contact-tip-to-work distance with a gauge instead of a rule, and state its error"
        }
        ("arc_length_offset_mm", _) => {
            "measure the arc length on pictures with a scale in the plane of the wire, and state its error"
        }
        ("pulse_time_gain_relative", _) => "check pulse time and time base of the recorder against a known signal",
        _ => "measure it better and state what is left",
    }
}
