//! Decimal numbers in a text, as recorders write them: at speed for the plain ones, by the standard library for the rest.

/// 10^-k.
const TENTHS: [f64; 20] = [
    1e0, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-11, 1e-12, 1e-13, 1e-14, 1e-15, 1e-16, 1e-17,
    1e-18, 1e-19,
];

/// Bytes that must lie behind a text so that eight can be looked at from any place in it.
pub(super) const PADDING: usize = 8;

const EACH: u64 = 0x0101_0101_0101_0101;

/// Eight bytes from a place on.
#[inline(always)]
fn eight(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*bytes.get(at..)?.first_chunk::<8>()?))
}

/// Where one of some bytes next stands from `at` on: eight at a time.
#[inline(always)]
pub(super) fn next_of<const N: usize>(bytes: &[u8], mut at: usize, wanted: [u8; N]) -> Option<usize> {
    while let Some(word) = eight(bytes, at) {
        let found = wanted.iter().fold(0, |found, byte| {
            let off = word ^ (EACH * u64::from(*byte));
            // The lowest byte that is zero has its high bit set.
            found | (off.wrapping_sub(EACH) & !off & (EACH * 0x80))
        });
        if found != 0 {
            return Some(at + found.trailing_zeros() as usize / 8);
        }
        at += 8;
    }
    bytes.get(at..)?.iter().position(|b| wanted.contains(b)).map(|k| at + k)
}

/// A number of at most eight digits and mark, as nearly all samples are: all its bytes at once.
#[inline(always)]
pub(super) fn short(bytes: &[u8], at: usize, mark: u8) -> Option<(f64, usize)> {
    let negative = *bytes.get(at)? == b'-';
    let at = at + usize::from(negative);
    let digits = eight(bytes, at)? ^ (EACH * 0x30);
    // A byte above 9 carries into its high bit.
    let others = (digits.wrapping_add(EACH * 0x76) | digits) & (EACH * 0x80);
    let first = (others.trailing_zeros() / 8) as usize;
    if first == 0 {
        return None;
    }
    if first == 8 || bytes[at + first] != mark {
        return (first < 8).then(|| (signed(whole(digits, first), negative), at + first));
    }
    let end = ((others & (others - 1)).trailing_zeros() / 8) as usize;
    // The digits behind the mark move down over it.
    let before = (1_u64 << (8 * first)) - 1;
    let joined = (digits & before) | ((digits >> 8) & !before);
    let value = whole(joined, end - 1) * TENTHS[end - 1 - first];
    Some((signed(value, negative), at + end))
}

#[inline(always)]
fn signed(value: f64, negative: bool) -> f64 {
    if negative { -value } else { value }
}

/// The first `count` digits of a word as a number; at most eight.
///
/// # Source
/// D. Lemire, Number parsing at a gigabyte per second, Softw. Pract. Exp. 51 (2021) 1700–1727 (from memory): pairs, then
/// fours, then eights of digits are joined by three multiplications.
#[inline(always)]
fn whole(digits: u64, count: usize) -> f64 {
    let mut d = if count == 0 { 0 } else { digits << (64 - 8 * count) };
    d = (d.wrapping_mul(10)).wrapping_add(d >> 8) & 0x00ff_00ff_00ff_00ff;
    d = (d.wrapping_mul(100)).wrapping_add(d >> 16) & 0x0000_ffff_0000_ffff;
    d = (d.wrapping_mul(10_000)).wrapping_add(d >> 32) & 0xffff_ffff;
    d as f64
}

/// A plain number from `at` on and where it ends: digits, one decimal mark, an exponent. Two roundings of a double off the
/// nearest at most; samples are kept as singles. `None` where it is not plain.
#[inline(always)]
pub(super) fn plain(bytes: &[u8], mut at: usize, mark: u8) -> Option<(f64, usize)> {
    let negative = *bytes.get(at)? == b'-';
    at += usize::from(negative || bytes[at] == b'+');
    let begun = at;
    let mut digits = 0_u64;
    while let Some(d) = digit(bytes, at) {
        digits = digits.wrapping_mul(10).wrapping_add(d);
        at += 1;
    }
    let mut count = at - begun;
    let mut tenths = 0;
    if bytes.get(at) == Some(&mark) {
        let from = at + 1;
        at = from;
        while let Some(d) = digit(bytes, at) {
            digits = digits.wrapping_mul(10).wrapping_add(d);
            at += 1;
        }
        tenths = at - from;
        count += tenths;
    }
    if count == 0 || count > 19 {
        return None;
    }
    let mut value = digits as f64 * TENTHS[tenths];
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let mut exponent = 0_i32;
        at += 1;
        let down = *bytes.get(at)? == b'-';
        at += usize::from(down || bytes[at] == b'+');
        let from = at;
        while let Some(d) = digit(bytes, at) {
            exponent = exponent.saturating_mul(10).saturating_add(d as i32);
            at += 1;
        }
        if at == from || exponent > 300 {
            return None;
        }
        value *= 10_f64.powi(if down { -exponent } else { exponent });
    }
    Some((if negative { -value } else { value }, at))
}

#[inline(always)]
fn digit(bytes: &[u8], at: usize) -> Option<u64> {
    let d = bytes.get(at)?.wrapping_sub(b'0');
    (d < 10).then_some(u64::from(d))
}

/// A whole cell: blank and `NaN` are no number but no fault either; `None` where it cannot be read.
pub(super) fn cell(text: &[u8], mark: u8) -> Option<f64> {
    let text = std::str::from_utf8(text).ok()?.trim().trim_matches('"').trim();
    if text.is_empty() {
        return Some(f64::NAN);
    }
    let with_point = if mark == b'.' { text.to_owned() } else { text.replace(char::from(mark), ".") };
    let word = with_point.to_ascii_lowercase();
    if ["nan", "inf", "+inf", "-inf", "infinity", "-infinity", "na", "n/a", "null", "-"].contains(&word.as_str()) {
        return Some(f64::NAN);
    }
    if !word.bytes().all(|b| b.is_ascii_digit() || b"+-.e".contains(&b)) {
        return None;
    }
    word.parse::<f64>().ok().map(|v| if v.is_finite() { v } else { f64::NAN })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]
mod tests {
    use super::*;

    #[test]
    fn plain_numbers_are_those_of_the_standard_library() {
        for text in [
            "0",
            "-0.5",
            "420.125",
            "+12.",
            ".25",
            "1.6619e-6",
            "-3E+2",
            "123456789.123456",
            "0.000001234",
            "1e22",
            "99999999999999.9",
        ] {
            let (value, end) = plain(format!("{text},").as_bytes(), 0, b'.').unwrap();
            let wanted: f64 = text.parse().unwrap();
            assert_eq!(end, text.len(), "{text}");
            // Two roundings: four units in the last place of a double at most.
            assert!((value - wanted).abs() <= 1e-15 * wanted.abs(), "{text}: {value}");
            assert_eq!(value as f32, wanted as f32, "{text}");
        }
        assert_eq!(plain(b"3,5;", 0, b',').unwrap(), (3.5, 3));
        for text in ["", "-", "abc", ".", "1e", "1e-", "12345678901234567890123"] {
            assert!(plain(text.as_bytes(), 0, b'.').is_none(), "{text}");
        }
    }

    #[test]
    fn short_numbers_are_those_of_the_standard_library() {
        for text in
            ["0", "7", "-0.5", "420.125", "12.", "419.893", "1234567", "-123.4567", "0.000123", "99999.99", "0.12345"]
        {
            for after in [",", "\n", "\r\n", ";x", ""] {
                let bytes = [text.as_bytes(), after.as_bytes(), &[0; PADDING]].concat();
                let wanted: f64 = text.parse().unwrap();
                if let Some((value, end)) = short(&bytes, 0, b'.') {
                    assert_eq!(end, text.len(), "{text}{after}");
                    assert!((value - wanted).abs() <= 1e-15 * wanted.abs(), "{text}: {value}");
                    assert_eq!(value as f32, wanted as f32, "{text}");
                }
            }
        }
        assert_eq!(short(b"3,25;\0\0\0\0\0\0\0\0", 0, b','), Some((3.25, 4)));
        assert_eq!(short(b"1.5e-6,\0\0\0\0\0\0\0\0", 0, b'.'), Some((1.5, 3)), "an exponent is for others");
        for text in ["", "-", "abc", ".5"] {
            assert!(short(&[text.as_bytes(), &[0; PADDING]].concat(), 0, b'.').is_none(), "{text}");
        }
        let text = b"0.12345,419.893,21.7\n1";
        let found = [next_of(text, 0, [b',']), next_of(text, 8, [b',']), next_of(text, 16, [b'\n'])];
        assert_eq!(found, [Some(7), Some(15), Some(20)]);
        assert_eq!((next_of(text, 21, [b',']), next_of(text, 16, [b',', b'\n'])), (None, Some(20)));
    }

    #[test]
    fn cells_that_are_no_numbers_are_told_from_holes() {
        assert_eq!(cell(b" \"-1.5\" ", b'.'), Some(-1.5));
        assert!(
            cell(b"", b'.').unwrap().is_nan()
                && cell(b"NaN", b'.').unwrap().is_nan()
                && cell(b"1e999", b'.').unwrap().is_nan()
        );
        for wrong in [&b"abc"[..], b"1.2.3", b"0x10", b"1_000", b"\xff", b"12 A"] {
            assert!(cell(wrong, b'.').is_none(), "{wrong:?}");
        }
    }
}
