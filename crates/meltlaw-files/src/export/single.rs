//! The line in single precision, as controllers keep it: the numbers of [`Table`], the check bands and the standing.

use meltlaw::line::{Line, Node};
use meltlaw::line_table::LineTable;
use meltlaw_line::{StandingSpan, Table, TableFault, TableNode, gap_between};

use super::ExportError;

/// A number at each node.
pub(super) struct Column {
    /// Its name, with the unit at its end.
    pub(super) name: &'static str,
    pub(super) values: Vec<f32>,
}

/// A line that is a sound table in single precision.
pub(super) struct SingleLine {
    pub(super) wire_feed_m_min: Vec<f32>,
    /// What [`Table::evaluate`] takes linear between nodes.
    pub(super) settings: Vec<Column>,
    /// Where the readings of a single weld should lie.
    pub(super) band: Vec<Column>,
    /// Code of the support of each node.
    pub(super) support: Vec<u8>,
    /// Those between nodes; beyond the ends there is no setting anyway.
    pub(super) gaps_m_min: Vec<[f32; 2]>,
    /// In the order of caution, the most cautious last: of those that hold at a feed, the last is its standing.
    pub(super) standing: Vec<StandingSpan<f32>>,
}

type Setting = (&'static str, fn(&TableNode<f32>) -> f32, fn(&Node) -> f64);

const WIRE_FEED: Setting = ("wire_feed_m_min", |n| n.wire_feed_m_min, |n| n.wire_feed_m_min);

const SETTINGS: [Setting; 7] = [
    ("pulse_current_a", |n| n.pulse_current_a, |n| n.pulse_current_a),
    ("pulse_time_ms", |n| n.pulse_time_ms, |n| n.pulse_time_ms),
    ("pulse_frequency_hz", |n| n.pulse_frequency_hz, |n| n.pulse_frequency_hz),
    ("background_current_a", |n| n.background_current_a, |n| n.background_current_a),
    ("rise_a_per_ms", |n| n.rise_a_per_ms, |n| n.rise_a_per_ms),
    ("fall_a_per_ms", |n| n.fall_a_per_ms, |n| n.fall_a_per_ms),
    ("voltage_mean_v", |n| n.voltage_mean_v, |n| n.voltage_mean_v),
];

const BAND: [(&str, fn(&Node) -> f64); 6] = [
    ("current_mean_a_low", |n| n.next_weld.current_mean_a[0]),
    ("current_mean_a_high", |n| n.next_weld.current_mean_a[1]),
    ("voltage_mean_v_low", |n| n.next_weld.voltage_mean_v[0]),
    ("voltage_mean_v_high", |n| n.next_weld.voltage_mean_v[1]),
    ("power_mean_w_low", |n| n.next_weld.power_mean_w[0]),
    ("power_mean_w_high", |n| n.next_weld.power_mean_w[1]),
];

impl SingleLine {
    /// The line's numbers, each rounded once.
    ///
    /// # Errors
    /// [`ExportError`] where the rounded numbers are no table any more.
    pub(super) fn of(line: &Line) -> Result<Self, ExportError> {
        let table = LineTable::<f32>::of(line);
        for (node, rounded) in line.nodes.iter().zip(&table.nodes) {
            sound(node, rounded)?;
        }
        table.as_table().check().map_err(|fault| unsound(line, fault))?;
        let column = |(name, of, _): Setting| Column { name, values: table.nodes.iter().map(of).collect() };
        Ok(Self {
            wire_feed_m_min: column(WIRE_FEED).values,
            settings: SETTINGS.into_iter().map(column).collect(),
            band: BAND
                .iter()
                .map(|(name, of)| Column { name, values: line.nodes.iter().map(|n| of(n) as f32).collect() })
                .collect(),
            support: table.nodes.iter().map(|n| n.support.code()).collect(),
            gaps_m_min: table.gaps_m_min.iter().filter(|gap| between_nodes(**gap, &table.nodes)).copied().collect(),
            standing: by_caution(table.standing),
        })
    }
}

impl SingleLine {
    /// Bytes of its tables: four a number, one a code.
    pub(super) fn bytes(&self) -> usize {
        let columns = 1 + self.settings.len() + self.band.len();
        self.wire_feed_m_min.len() * (4 * columns + 1) + 8 * self.gaps_m_min.len() + 9 * self.standing.len()
    }
}

fn between_nodes(gap: [f32; 2], nodes: &[TableNode<f32>]) -> bool {
    nodes.windows(2).any(|pair| gap_between(gap, pair[0].wire_feed_m_min, pair[1].wire_feed_m_min))
}

/// Whether every number of a node, and what follows from it, is one in single precision too.
fn sound(node: &Node, rounded: &TableNode<f32>) -> Result<(), ExportError> {
    let fault =
        |name, found| Err(ExportError::OutsideSinglePrecision { name, wire_feed_m_min: node.wire_feed_m_min, found });
    for (name, of, exact) in [WIRE_FEED].iter().chain(&SETTINGS) {
        // A setting that is rounded to nothing would be a divisor.
        if !of(rounded).is_finite() || of(rounded) == 0.0 {
            return fault(name, exact(node));
        }
    }
    for (name, of) in BAND {
        if !(of(node) as f32).is_finite() {
            return fault(name, of(node));
        }
    }
    let alone = Table { nodes: std::slice::from_ref(rounded), gaps_m_min: &[], standing: &[] };
    let Ok(does) = alone.evaluate(rounded.wire_feed_m_min) else { return fault(WIRE_FEED.0, node.wire_feed_m_min) };
    for (name, value, exact) in [
        ("background_time_ms", does.background_time_ms, node.background_time_ms),
        ("current_mean_a", does.current_mean_a, node.current_mean_a),
        ("current_rms_a", does.current_rms_a, node.current_rms_a),
    ] {
        if !value.is_finite() {
            return fault(name, exact);
        }
    }
    Ok(())
}

/// What a fault of the rounded table means for the line.
fn unsound(line: &Line, fault: TableFault) -> ExportError {
    let feed = |index: usize| line.nodes.get(index).map_or(f64::NAN, |n| n.wire_feed_m_min);
    match fault {
        TableFault::NotAscending(index) => {
            ExportError::NodesMerge { lower_m_min: feed(index.saturating_sub(1)), upper_m_min: feed(index) }
        }
        TableFault::GapNotAscending(index) => backwards(line.unsupported.get(index).map(|gap| gap.wire_feed_m_min)),
        TableFault::StandingNotAscending(index) => {
            backwards(line.standing.get(index).map(|range| range.wire_feed_m_min))
        }
        TableFault::NotFinite(index) => {
            ExportError::OutsideSinglePrecision { name: WIRE_FEED.0, wire_feed_m_min: feed(index), found: feed(index) }
        }
        TableFault::NoNode => ExportError::NoSetting { reason: "the line has no node".to_owned() },
    }
}

fn backwards(range: Option<[f64; 2]>) -> ExportError {
    let [from_m_min, to_m_min] = range.unwrap_or([f64::NAN; 2]);
    ExportError::RangeBackwards { from_m_min, to_m_min }
}

/// The most cautious last.
fn by_caution(mut ranges: Vec<StandingSpan<f32>>) -> Vec<StandingSpan<f32>> {
    ranges.sort_by_key(|range| range.standing.caution());
    ranges
}

/// The shortest text with a decimal point that reads back to the number, also where a compiler reads it in double
/// precision first.
pub(super) fn number_text(value: f32) -> String {
    let shortest = format!("{value:?}");
    let twice = |text: &str| text.parse::<f64>().is_ok_and(|v| v as f32 == value);
    let text = if twice(&shortest) { shortest } else { format!("{value:.9e}") };
    match text.split_once('e') {
        Some((digits, exponent)) if !digits.contains('.') => format!("{digits}.0e{exponent}"),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_a_point_and_read_back_to_the_bit() {
        assert_eq!(
            [0.1, 600.0, -3.0, 1e20, 1.5e-7].map(number_text),
            ["0.1", "600.0", "-3.0", "1.0e20", "1.5e-7"].map(str::to_owned)
        );
        let mut bits = 1_u32;
        for _ in 0..20_000 {
            bits = bits.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let value = f32::from_bits(bits);
            if value.is_finite() {
                let text = number_text(value);
                assert!(text.contains('.'), "{text}");
                assert_eq!(text.parse::<f32>().map(f32::to_bits), Ok(bits), "{text}");
                assert_eq!(text.parse::<f64>().map(|v| (v as f32).to_bits()), Ok(bits), "{text}");
            }
        }
    }
}
