//! Numbers as they are printed: rounded by their uncertainty, with the true minus sign.

use std::fmt;

use meltlaw::short_number::short_number;

/// The true minus sign, as wide as a plus and never broken off at a line's end.
pub const MINUS: char = '−';

/// A value and its error, rounded together; both are to be multiplied by 10 to the `power`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rounded {
    /// The value, to the last digit of the error.
    pub value: String,
    /// The error, to two digits.
    pub error: String,
    /// The power of ten taken out of both; 0 for numbers that are read easily as they stand.
    pub power: i32,
}

impl fmt::Display for Rounded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.power {
            0 => write!(f, "{} ± {}", self.value, self.error),
            power => write!(f, "({} ± {}) × {}", self.value, self.error, power_of_ten(power)),
        }
    }
}

/// Rounds a value by its error: two digits on the error, the value to the same place.
///
/// An error that is zero or unknown rounds nothing: the value keeps four digits and the error reads `0`
/// or `unknown`.
pub fn rounded(value: f64, error: f64) -> Rounded {
    if !(error.is_finite() && error > 0.0 && value.is_finite()) {
        let power = awkward_power(value);
        return Rounded {
            value: significant(value / 10f64.powi(power), 4),
            error: if error == 0.0 { "0".to_owned() } else { "unknown".to_owned() },
            power,
        };
    }
    let power = awkward_power(value.abs().max(error));
    let (value, error) = (value / 10f64.powi(power), error / 10f64.powi(power));
    let places = places_for(error);
    Rounded { value: fixed(value, places), error: fixed(error, places), power }
}

/// An interval with two digits on its half width.
pub fn interval(low: f64, high: f64) -> String {
    let places = places_for((high - low).abs() / 2.0);
    format!("{} to {}", fixed(low, places), fixed(high, places))
}

/// Digits after the decimal point that leave two digits on `error`; negative rounds to tens and hundreds.
pub fn places_for(error: f64) -> i32 {
    if !(error.is_finite() && error > 0.0) {
        return 3;
    }
    // Written with two digits, 0.0996 is 1.0e-1; the page's script writes it the same way.
    let written = format!("{error:.1e}");
    1 - written.split_once('e').and_then(|(_, power)| power.parse::<i32>().ok()).unwrap_or(0)
}

/// Digits after the decimal point that leave so many significant digits.
pub(crate) fn places_of(value: f64, digits: i32) -> i32 {
    if value == 0.0 || !value.is_finite() { 0 } else { digits - 1 - value.abs().log10().floor() as i32 }
}

/// A number with fixed places, true minus, never a negative zero; negative places round before the point.
pub fn fixed(value: f64, places: i32) -> String {
    if !value.is_finite() {
        return "unknown".to_owned();
    }
    let text = if places >= 0 {
        format!("{value:.*}", places.min(17) as usize)
    } else {
        let step = 10f64.powi(-places);
        format!("{:.0}", (value / step).round() * step)
    };
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| b == b'0' || b == b'.') => digits.to_owned(),
        Some(digits) => format!("{MINUS}{digits}"),
        None => text,
    }
}

/// A number in a cell of a table, empty where there is none: pasted into a spreadsheet it must be read as a
/// number everywhere, so the minus is the one of a keyboard and nothing else stands beside it.
pub(crate) fn in_cell(value: impl Into<Option<f64>>, places: i32) -> String {
    let value = value.into().filter(|v| v.is_finite());
    value.map_or(String::new(), |v| fixed(v, places).replace(MINUS, "-"))
}

/// The same with a plus before what is positive: for residuals and changes.
pub fn signed(value: f64, places: i32) -> String {
    let text = fixed(value, places);
    let nothing = text.bytes().all(|b| b == b'0' || b == b'.');
    if value > 0.0 && !nothing { format!("+{text}") } else { text }
}

/// A number to so many significant digits, by a power of ten where it would be awkward otherwise.
pub fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return fixed(value, 0);
    }
    let power = awkward_power(value);
    let scaled = value / 10f64.powi(power);
    let text = fixed(scaled, places_of(scaled, digits));
    if power == 0 { text } else { format!("{text} × {}", power_of_ten(power)) }
}

/// A share as per cent, sign and number held together: whole numbers, but never `100` or `0` for what is neither.
pub fn percent(share: f64) -> String {
    let value = share * 100.0;
    match value {
        v if !v.is_finite() => "unknown".to_owned(),
        v if v > 0.0 && v < 0.5 => "< 1\u{a0}%".to_owned(),
        v if (99.5..100.0).contains(&v) => "> 99\u{a0}%".to_owned(),
        v => format!("{}\u{a0}%", fixed(v, 0)),
    }
}

/// The most that something is off, to so many places and rounded up: `at most 0.3`, or `less than 0.1` for less.
pub fn at_most(value: f64, places: i32) -> String {
    let last = 10f64.powi(-places);
    if value.abs() < last {
        return format!("less than {}", fixed(last, places));
    }
    // Less a hair, so that 0.3 itself does not become 0.4.
    format!("at most {}", fixed((value / last - 1e-9).ceil() * last, places))
}

/// A confidence as per cent, as stated: `95 %`, `99.5 %`.
pub fn confidence(confidence: f64) -> String {
    format!("{}\u{a0}%", fixed(100.0 * confidence, 1).trim_end_matches(".0"))
}

/// Wire feed speeds: two places, and as many more as the feed has of the five that lines are rounded to; so no feed is
/// shown as another one beside it.
pub fn feed(wire_feed_m_min: f64) -> String {
    feed_within(wire_feed_m_min, 5)
}

/// A wire feed speed as it was typed, to a nanometre a minute.
pub fn feed_as_typed(wire_feed_m_min: f64) -> String {
    feed_within(wire_feed_m_min, 9)
}

/// The fewest places, two at least, that leave less than half of the last of `most` places out.
fn feed_within(wire_feed_m_min: f64, most: i32) -> String {
    if wire_feed_m_min.is_finite() && wire_feed_m_min.abs() >= 1e6 {
        return short_number(wire_feed_m_min);
    }
    let left_out = |places: i32| {
        let power = 10f64.powi(places);
        (wire_feed_m_min - (wire_feed_m_min * power).round() / power).abs()
    };
    let places = (2..most).find(|p| left_out(*p) < 0.5 * 10f64.powi(-most)).unwrap_or(most);
    let text = fixed(wire_feed_m_min, places);
    if places == 2 { text.strip_suffix('0').map_or(text.clone(), str::to_owned) } else { text }
}

/// `10⁻⁵`.
pub fn power_of_ten(power: i32) -> String {
    let raised = |c| match c {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        digit => char::from_u32(u32::from(digit) - u32::from('0') + 0x2070).unwrap_or(digit),
    };
    format!("10{}", power.to_string().chars().map(raised).collect::<String>())
}

/// 0 where a number reads easily, else the power of ten to take out.
fn awkward_power(value: f64) -> i32 {
    if value == 0.0 || !value.is_finite() || (1e-3..1e6).contains(&value.abs()) {
        return 0;
    }
    value.abs().log10().floor() as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_error_keeps_two_digits_and_the_value_follows() {
        assert_eq!(rounded(0.306905, 0.00466).to_string(), "0.3069 ± 0.0047");
        assert_eq!(rounded(16.1494, 0.231).to_string(), "16.15 ± 0.23");
        assert_eq!(rounded(5595.3, 87.2).to_string(), "5595 ± 87");
        assert_eq!(rounded(-3.4457, 0.35).to_string(), "−3.45 ± 0.35");
        // 0.0996 to two digits is 0.10, so the value has two places.
        assert_eq!(rounded(4.0353, 0.0996).to_string(), "4.04 ± 0.10");
        // Errors of hundreds round both to tens.
        assert_eq!(rounded(233_828.9, 1240.0).to_string(), "233800 ± 1200");
    }

    #[test]
    fn small_numbers_share_one_power_of_ten() {
        let beta = rounded(5.38891e-5, 1.2919e-6);
        assert_eq!((beta.value.as_str(), beta.error.as_str(), beta.power), ("5.39", "0.13", -5));
        assert_eq!(beta.to_string(), "(5.39 ± 0.13) × 10⁻⁵");
    }

    #[test]
    fn an_error_of_zero_or_none_is_said_and_not_divided_by() {
        assert_eq!(rounded(7850.0, 0.0).to_string(), "7850 ± 0");
        assert_eq!(rounded(7850.0, f64::NAN).to_string(), "7850 ± unknown");
        assert_eq!(rounded(f64::NAN, 1.0).value, "unknown");
        assert_eq!(rounded(5.4e-5, f64::NAN).to_string(), "(5.400 ± unknown) × 10⁻⁵");
    }

    #[test]
    fn nothing_reads_minus_zero() {
        assert_eq!(fixed(-0.001, 2), "0.00");
        assert_eq!(signed(0.0001, 2), "0.00");
        assert_eq!(signed(1.234, 2), "+1.23");
        assert_eq!(signed(-1.234, 2), "−1.23");
    }

    #[test]
    fn a_cell_holds_what_a_spreadsheet_reads_as_a_number_or_nothing() {
        assert_eq!(in_cell(-1.234, 2), "-1.23");
        assert_eq!(in_cell(-0.001, 2), "0.00");
        assert_eq!(in_cell(None, 2) + &in_cell(f64::NAN, 2), "");
        assert_eq!(in_cell(1_359_537.0, places_of(1_359_537.0, 3)), "1360000");
    }

    #[test]
    fn what_is_next_to_nothing_is_less_than_the_last_place() {
        assert_eq!(at_most(3.1e-14, 1), "less than 0.1");
        assert_eq!(at_most(0.0, 1), "less than 0.1");
        assert_eq!(at_most(0.27, 1), "at most 0.3");
        assert_eq!(at_most(0.31, 1), "at most 0.4");
        assert_eq!(at_most(0.3, 1), "at most 0.3");
        assert_eq!(at_most(f64::NAN, 1), "at most unknown");
    }

    #[test]
    fn a_feed_is_not_shown_as_the_one_beside_it() {
        let shown = [6.0, 6.5, 6.25, 5.995, 6.096, 5.99999, 240.0 * 0.0254, 6.123_456_7, 1e308].map(feed);
        assert_eq!(shown, ["6.0", "6.5", "6.25", "5.995", "6.096", "5.99999", "6.096", "6.12346", "1e308"]);
        assert_eq!([5.999_999_9, 240.0 * 0.0254].map(feed_as_typed), ["5.9999999", "6.096"]);
    }

    #[test]
    fn an_interval_is_rounded_by_its_half_width() {
        assert_eq!(interval(24.038_444, 24.322_481), "24.04 to 24.32");
        assert_eq!(interval(135.478, 142.46), "135.5 to 142.5");
    }

    #[test]
    fn shares_do_not_round_to_certainty() {
        assert_eq!(percent(0.9997), "> 99\u{a0}%");
        assert_eq!(percent(0.0004), "< 1\u{a0}%");
        assert_eq!(percent(0.929), "93\u{a0}%");
        assert_eq!(percent(1.0), "100\u{a0}%");
    }
}
