//! Whether a line still is what composing left: every identity at every node, from the record alone.

use meltlaw_line::drop_diameter_mm;

use crate::compose::process::{melting_mm_s, power_w, voltage_v};
use crate::heat::THERMAL_EFFICIENCY;
use crate::laws::FittedLaw;
use crate::line::Node;
use crate::record::LineRecord;

/// What the public contract promises of the identities at every node.
pub const PROMISED_RELATIVE: f64 = 1e-6;

/// What must hold at a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Identity {
    /// A setting above zero and finite; its name.
    Setting(&'static str),
    /// α·Ī + β·L·I_rms² + offset = w, Ī and I_rms those of the waveform.
    MeltBalance,
    /// f·(π/6)·drop³ = A·w.
    DropVolume,
    /// Ī of the waveform.
    CurrentMean,
    /// I_rms of the waveform.
    CurrentRms,
    /// 1000/f − t_p.
    BackgroundTime,
    /// Both halves of the period hold the ramps.
    Trapezoid,
    /// The wire's mass per time.
    MeltingRate,
    /// The voltage law.
    Voltage,
    /// Power by the voltage law at each instant, or by the measured instant resistance.
    Power,
    /// Power over travel speed.
    ArcEnergy,
    /// 0.8 of the arc energy.
    HeatInput,
    /// A probability.
    OneDropProbability,
    /// Ends of an interval in order; its name.
    Interval(&'static str),
    /// No node within a range without a setting.
    OutsideGaps,
}

impl Identity {
    /// What was compared, in words with its unit.
    pub fn words(self) -> String {
        match self {
            Self::Setting(name) => format!("{name}, a setting above zero"),
            Self::MeltBalance => "melt balance alpha*I + beta*L*I_rms^2 = wire feed (mm/s)".to_owned(),
            Self::DropVolume => "drop volume f*(pi/6)*drop^3 = section*wire feed, solved for the drop (mm)".to_owned(),
            Self::CurrentMean => "mean current of the waveform (A)".to_owned(),
            Self::CurrentRms => "RMS current of the waveform (A)".to_owned(),
            Self::BackgroundTime => "background time 1000/f - pulse time (ms)".to_owned(),
            Self::Trapezoid => "room for the slopes in pulse and background time (ms)".to_owned(),
            Self::MeltingRate => "melting rate of the wire at this feed (kg/h)".to_owned(),
            Self::Voltage => "mean voltage by the voltage law (V)".to_owned(),
            Self::Power => "mean power by the voltage law (W)".to_owned(),
            Self::ArcEnergy => "arc energy, power over travel speed (kJ/mm)".to_owned(),
            Self::HeatInput => "heat input, 0.8 of the arc energy (kJ/mm)".to_owned(),
            Self::OneDropProbability => "one-drop probability between 0 and 1".to_owned(),
            Self::Interval(name) => format!("lower end of {name}"),
            Self::OutsideGaps => "node outside the ranges without a setting (m/min)".to_owned(),
        }
    }

    /// How what was found must stand to what is needed.
    pub const fn relation(self) -> &'static str {
        match self {
            Self::Setting(_) => "more than ",
            Self::Trapezoid => "at least ",
            Self::Interval(_) | Self::OutsideGaps => "at most ",
            _ => "",
        }
    }
}

/// An identity that does not hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Broken {
    /// The node.
    pub wire_feed_m_min: f64,
    /// What should hold.
    pub identity: Identity,
    /// The number found.
    pub found: f64,
    /// The number needed.
    pub needed: f64,
}

/// All identities that do not hold to [`PROMISED_RELATIVE`], nodes in their order; empty for every line that
/// composing left.
pub fn broken(record: &LineRecord) -> Vec<Broken> {
    let burn_off =
        ["alpha_mm_per_a_s", "beta_per_a2_s", "offset_mm_per_s"].map(|c| coefficient(&record.laws.burn_off, c));
    let volt = ["intercept_v", "slope_ohm", "gradient_v_per_mm", "extension_ohm_per_mm"]
        .map(|c| coefficient(&record.laws.arc_voltage, c));
    let mut all = Vec::new();
    for node in &record.line.nodes {
        let mut at = AtNode { wire_feed_m_min: node.wire_feed_m_min, broken: &mut all };
        at.settings(node);
        at.waveform(node);
        at.process(record, node, &burn_off, &volt);
        at.ranges(record, node);
    }
    all
}

/// A coefficient; zero where the form has none, not a number where it stands without a value.
fn coefficient(law: &FittedLaw, name: &str) -> f64 {
    law.coefficients.get(name).map_or(0.0, |c| c.value.unwrap_or(f64::NAN))
}

struct AtNode<'a> {
    wire_feed_m_min: f64,
    broken: &'a mut Vec<Broken>,
}

impl AtNode<'_> {
    fn holds(&mut self, holds: bool, identity: Identity, found: f64, needed: f64) {
        if !holds {
            self.broken.push(Broken { wire_feed_m_min: self.wire_feed_m_min, identity, found, needed });
        }
    }

    fn equal(&mut self, identity: Identity, found: f64, needed: f64) {
        self.holds((found - needed).abs() <= PROMISED_RELATIVE * needed.abs(), identity, found, needed);
    }

    fn settings(&mut self, node: &Node) {
        for (name, value) in [
            ("wire_feed_m_min", node.wire_feed_m_min),
            ("pulse_current_a", node.pulse_current_a),
            ("pulse_time_ms", node.pulse_time_ms),
            ("pulse_frequency_hz", node.pulse_frequency_hz),
            ("background_current_a", node.background_current_a),
            ("rise_a_per_ms", node.rise_a_per_ms),
            ("fall_a_per_ms", node.fall_a_per_ms),
        ] {
            self.holds(value > 0.0 && value.is_finite(), Identity::Setting(name), value, 0.0);
        }
    }

    fn waveform(&mut self, node: &Node) {
        let wave = node.waveform();
        let moments = wave.moments();
        self.equal(Identity::BackgroundTime, node.background_time_ms, wave.background_time_ms());
        self.equal(Identity::CurrentMean, node.current_mean_a, moments.mean_a);
        self.equal(Identity::CurrentRms, node.current_rms_a, moments.mean_square_a2.sqrt());
        let slack = wave.slope_slack_ms();
        self.holds(slack >= -PROMISED_RELATIVE * node.pulse_time_ms, Identity::Trapezoid, slack, 0.0);
    }

    fn process(&mut self, record: &LineRecord, node: &Node, burn_off: &[f64], volt: &[f64]) {
        let wire_feed_mm_s = node.wire_feed_m_min / 0.06;
        let (extension, arc) = (record.conditions.extension_mm, record.conditions.arc_length_mm);
        let moments = node.waveform().moments();
        let (mean, square) = (moments.mean_a, moments.mean_square_a2);
        self.equal(Identity::MeltBalance, melting_mm_s(burn_off, extension, mean, square), wire_feed_mm_s);
        let drop = drop_diameter_mm(record.wire.section_mm2(), wire_feed_mm_s, node.pulse_frequency_hz);
        // A third of the tolerance, as the volume goes with the cube.
        let within = (node.drop_diameter_mm - drop).abs() <= PROMISED_RELATIVE / 3.0 * drop;
        self.holds(within, Identity::DropVolume, node.drop_diameter_mm, drop);
        self.equal(Identity::MeltingRate, node.melting_rate_kg_h, record.wire.melting_rate_kg_h(wire_feed_mm_s));
        self.equal(Identity::Voltage, node.voltage_mean_v, voltage_v(volt, arc, extension, mean));
        let instant = record
            .laws
            .arc_voltage
            .power
            .as_ref()
            .filter(|p| p.rule == "instant_resistance")
            .and_then(|p| p.instant_resistance_ohm);
        self.equal(Identity::Power, node.power_mean_w, power_w(volt, arc, extension, mean, square, instant));
        let speed = record.request.as_ref().and_then(|r| r.travel_speed_mm_s);
        if let (Some(energy), Some(speed)) = (node.arc_energy_kj_mm, speed) {
            self.equal(Identity::ArcEnergy, energy, node.power_mean_w / speed / 1000.0);
        }
        if let (Some(heat), Some(energy)) = (node.heat_input_kj_mm, node.arc_energy_kj_mm) {
            self.equal(Identity::HeatInput, heat, THERMAL_EFFICIENCY * energy);
        }
    }

    fn ranges(&mut self, record: &LineRecord, node: &Node) {
        let one_drop = &node.one_drop_probability;
        self.holds((0.0..=1.0).contains(&one_drop.value), Identity::OneDropProbability, one_drop.value, 1.0);
        let intervals = [
            ("voltage_mean_v_interval", Some(node.voltage_mean_v_interval)),
            ("power_mean_w_interval", node.power_mean_w_interval),
            ("one_drop_probability.interval", Some(one_drop.interval)),
            ("balancing_background_current_a_interval", Some(node.balancing_background_current_a_interval)),
            ("balancing_current_mean_a_interval", node.balancing_current_mean_a_interval),
            ("next_weld.current_mean_a", Some(node.next_weld.current_mean_a)),
            ("next_weld.voltage_mean_v", Some(node.next_weld.voltage_mean_v)),
            ("next_weld.power_mean_w", Some(node.next_weld.power_mean_w)),
        ];
        for (name, [low, high]) in intervals.into_iter().filter_map(|(name, ends)| Some((name, ends?))) {
            self.holds(low <= high, Identity::Interval(name), low, high);
        }
        for gap in &record.line.unsupported {
            let ([low, high], feed) = (gap.wire_feed_m_min, node.wire_feed_m_min);
            self.holds(!(low < feed && feed < high), Identity::OutsideGaps, feed, low);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    fn worked() -> LineRecord {
        serde_json::from_str(include_str!("../../../datasets/worked_example/line.json")).unwrap()
    }

    fn identities(change: impl FnOnce(&mut LineRecord)) -> Vec<Identity> {
        let mut record = worked();
        change(&mut record);
        let found = broken(&record);
        assert!(found.iter().all(|b| b.wire_feed_m_min == record.line.nodes[1].wire_feed_m_min), "{found:?}");
        found.into_iter().map(|b| b.identity).collect()
    }

    #[test]
    fn the_worked_line_keeps_every_identity() {
        assert_eq!(broken(&worked()), []);
    }

    #[test]
    fn a_changed_pulse_current_breaks_balance_mean_and_rms_with_both_numbers() {
        let mut record = worked();
        record.line.nodes[1].pulse_current_a *= 1.001;
        let found = broken(&record);
        let balance = found.iter().find(|b| b.identity == Identity::MeltBalance).unwrap();
        // 6 m/min = 100 mm/s are fed.
        assert_eq!((balance.wire_feed_m_min, balance.needed), (6.0, 100.0));
        assert!(balance.found > 100.01 && balance.found < 100.2, "{balance:?}");
        assert!(found.iter().any(|b| b.identity == Identity::CurrentMean));
        assert!(found.iter().any(|b| b.identity == Identity::CurrentRms));
    }

    #[test]
    fn what_follows_from_the_settings_cannot_be_changed_alone() {
        use Identity::*;
        assert_eq!(identities(|r| r.line.nodes[1].drop_diameter_mm *= 1.001), [DropVolume]);
        assert_eq!(identities(|r| r.line.nodes[1].melting_rate_kg_h *= 1.001), [MeltingRate]);
        assert_eq!(identities(|r| r.line.nodes[1].voltage_mean_v *= 1.001), [Voltage]);
        assert_eq!(identities(|r| r.line.nodes[1].power_mean_w *= 1.001), [Power]);
        assert_eq!(identities(|r| *r.line.nodes[1].heat_input_kj_mm.as_mut().unwrap() *= 1.001), [HeatInput]);
        assert_eq!(identities(|r| r.line.nodes[1].one_drop_probability.value = 1.2), [OneDropProbability]);
        assert_eq!(
            identities(|r| r.line.nodes[1].voltage_mean_v_interval.reverse()),
            [Interval("voltage_mean_v_interval")]
        );
        assert_eq!(identities(|r| r.line.unsupported[0].wire_feed_m_min = [5.5, 6.5]), [OutsideGaps]);
    }

    #[test]
    fn a_pulse_without_room_for_its_slopes_is_named() {
        assert!(identities(|r| r.line.nodes[1].rise_a_per_ms = 50.0).contains(&Identity::Trapezoid));
        assert!(identities(|r| r.line.nodes[1].fall_a_per_ms = -1.0).contains(&Identity::Setting("fall_a_per_ms")));
    }

    #[test]
    fn a_law_without_a_value_balances_nothing() {
        let mut record = worked();
        record.laws.burn_off.coefficients.get_mut("alpha_mm_per_a_s").unwrap().value = None;
        let found = broken(&record);
        assert_eq!(found.len(), record.line.nodes.len());
        assert!(found.iter().all(|b| b.identity == Identity::MeltBalance && b.found.is_nan()));
    }
}
