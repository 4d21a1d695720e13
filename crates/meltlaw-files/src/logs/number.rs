//! Decimal numbers in a text, as recorders write them: at speed for the plain ones, by the standard library for the rest.

/// 10^-k.
const TENTHS: [f64; 20] = [
    1e0, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 1e-11, 1e-12, 1e-13, 1e-14, 1e-15, 1e-16, 1e-17,
    1e-18, 1e-19,
];

const EACH: u64 = 0x0101_0101_0101_0101;

/// Eight bytes from a place on.
#[inline(always)]
fn eight(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*bytes.get(at..)?.first_chunk::<8>()?))
}

/// A decimal mark, as eight bytes at once meet it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mark {
    byte: u8,
    /// What is left of it when a zero is taken off each byte.
    off_zero: u64,
}

impl Mark {
    pub(super) const fn new(byte: u8) -> Self {
        Self { byte, off_zero: (byte ^ b'0') as u64 }
    }

    /// The number that fills a place of a text, where it is plain.
    #[inline(always)]
    pub(super) fn number(self, text: &[u8], [begin, end]: [usize; 2]) -> Option<f64> {
        let short = self.short(text, begin, end);
        if short.is_some() { short } else { self.longer(text, begin, end) }
    }

    #[cold]
    #[inline(never)]
    fn longer(self, text: &[u8], begin: usize, end: usize) -> Option<f64> {
        plain(text, begin, self.byte).filter(|(_, ended)| *ended == end).map(|(value, _)| value)
    }

    /// A sign and at most eight digits and mark, as nearly all samples are: all bytes at once.
    #[inline(always)]
    fn short(self, text: &[u8], begin: usize, end: usize) -> Option<f64> {
        let word = eight(text, end.wrapping_sub(8))?;
        let negative = u64::from(text[begin] == b'-');
        // Bits of what stands before the number.
        let before = (64 + 8 * (begin as u64 + negative)).wrapping_sub(8 * end as u64);
        if before >= 64 {
            return None;
        }
        let digits = (word ^ (EACH * 0x30)) >> before << before;
        // A byte above 9 carries into its high bit.
        let others = (digits.wrapping_add(EACH * 0x76) | digits) & (EACH * 0x80);
        let sign = negative << 63;
        if others == 0 {
            return Some(f64::from_bits(whole(digits).to_bits() ^ sign));
        }
        if others & (others - 1) != 0 || (digits >> (others.trailing_zeros() & 56)) & 0xff != self.off_zero {
            return None;
        }
        // The digits before the mark move up over it.
        let to_mark = others ^ (others - 1);
        let joined = ((digits & (to_mark >> 8)) << 8) | (digits & !to_mark);
        let behind = 7 - others.trailing_zeros() / 8;
        // The mark alone is no number.
        if before == 56 {
            return None;
        }
        Some(f64::from_bits((whole(joined) * TENTHS[behind as usize]).to_bits() ^ sign))
    }
}

/// Eight digits, the first in the lowest byte, as a number.
///
/// # Source
/// D. Lemire, Number parsing at a gigabyte per second, Softw. Pract. Exp. 51 (2021) 1700–1727 (from memory): pairs, then
/// fours, then eights of digits are joined by three multiplications.
#[inline(always)]
fn whole(mut d: u64) -> f64 {
    d = (d.wrapping_mul(10)).wrapping_add(d >> 8) & 0x00ff_00ff_00ff_00ff;
    d = (d.wrapping_mul(100)).wrapping_add(d >> 16) & 0x0000_ffff_0000_ffff;
    d = (d.wrapping_mul(10_000)).wrapping_add(d >> 32) & 0xffff_ffff;
    f64::from(d as u32)
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
    fn numbers_that_fill_a_place_are_those_of_the_standard_library() {
        for text in [
            "0",
            "7",
            "-0.5",
            "420.125",
            "12.",
            ".5",
            "-.5",
            "419.893",
            "1234567",
            "12345678",
            "-123.4567",
            "0.000123",
            "99999.99",
            "0.12345",
            "-12345678",
            "0.0121683",
            "123456.789012",
            "1.5e-6",
            "-2E3",
        ] {
            for before in ["", "1", "0.00001,", "3,9999999999,"] {
                let bytes = [before.as_bytes(), text.as_bytes(), b",1.5\n"].concat();
                let found = Mark::new(b'.').number(&bytes, [before.len(), before.len() + text.len()]);
                let wanted: f64 = text.parse().unwrap();
                let value = found.unwrap_or_else(|| panic!("{text} behind '{before}'"));
                assert!((value - wanted).abs() <= 1e-15 * wanted.abs(), "{text}: {value}");
                assert_eq!(value as f32, wanted as f32, "{text}");
            }
        }
        assert_eq!(Mark::new(b',').number(b"1;3,25;\0\0\0\0\0\0\0\0", [2, 6]), Some(3.25));
        for text in ["", "-", ".", "-.", "abc", "1.2.3", "1,5", " 1.5", "1.5 ", "--1", "1-", "+-2", "nan", "1:5", "1/5"]
        {
            for before in ["", "12345678,"] {
                let bytes = [before.as_bytes(), text.as_bytes(), b"\n"].concat();
                let found = Mark::new(b'.').number(&bytes, [before.len(), before.len() + text.len()]);
                assert_eq!(found, None, "'{text}' behind '{before}'");
            }
        }
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
