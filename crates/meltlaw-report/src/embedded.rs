//! Data of figures and tables as CSV, embedded in the page as `data:` links.

use std::fmt::Write;

use sha2::{Digest, Sha256};

/// A CSV text with full numbers: header first, one line a row.
pub(crate) fn csv(header: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut text = header.join(",");
    text.push('\n');
    for row in rows {
        let cells: Vec<String> = row.iter().map(|cell| quoted(cell)).collect();
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    text
}

/// A number in full, blank where there is none.
pub(crate) fn number(value: impl Into<Option<f64>>) -> String {
    value.into().filter(|v| v.is_finite()).map(|v| v.to_string()).unwrap_or_default()
}

/// Text of a user for a cell: what a spreadsheet would take for a formula is marked as text.
pub(crate) fn text(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t']) && text.parse::<f64>().is_err();
    if formula { format!("'{text}") } else { text.to_owned() }
}

/// A `data:` link to a CSV text, percent-encoded or in base64, whichever is shorter.
pub(crate) fn link(csv: &str) -> String {
    // Letters of each; `;base64` counts as well.
    let plain: usize = csv.bytes().map(|byte| if stays(byte) { 1 } else { 3 }).sum();
    if plain <= csv.len().div_ceil(3) * 4 + 7 {
        format!("data:text/csv;charset=utf-8,{}", percent_encoded(csv, plain))
    } else {
        format!("data:text/csv;charset=utf-8;base64,{}", base64(csv.as_bytes()))
    }
}

/// What is unreserved, or reserved without a meaning after the comma of a `data:` link, and means nothing to
/// HTML either.
fn stays(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || b"-._~,;:@/!$()*".contains(&byte)
}

/// RFC 3986 section 2.1, so many letters long.
fn percent_encoded(text: &str, length: usize) -> String {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    let mut coded = String::with_capacity(length);
    for byte in text.bytes() {
        if stays(byte) {
            coded.push(char::from(byte));
        } else {
            coded.push('%');
            coded.extend([byte >> 4, byte & 15].map(|digit| char::from(DIGITS[usize::from(digit)])));
        }
    }
    coded
}

/// The source expression by which a content-security policy allows one inline script or style sheet.
pub(crate) fn hash_source(text: &str) -> String {
    format!("sha256-{}", base64(&Sha256::digest(text.as_bytes())))
}

fn quoted(cell: &str) -> String {
    if cell.contains([',', '"', '\n', '\r']) {
        let mut text = String::with_capacity(cell.len() + 8);
        write!(text, "\"{}\"", cell.replace('"', "\"\"")).expect("writing to a string does not fail");
        text
    } else {
        cell.to_owned()
    }
}

/// RFC 4648 section 4, with padding.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let three = chunk.iter().fold(0u32, |n, b| n << 8 | u32::from(*b)) << (8 * (3 - chunk.len()));
        for place in 0..4 {
            let letter = LETTERS[(three >> (18 - 6 * place) & 63) as usize];
            text.push(if place <= chunk.len() { letter as char } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_examples_of_rfc_4648_come_out() {
        // RFC 4648 section 10.
        for (plain, coded) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn a_link_takes_the_shorter_way_and_leaves_nothing_to_html() {
        assert_eq!(link("a,b\n-1.5,2e-7\n"), "data:text/csv;charset=utf-8,a,b%0A-1.5,2e-7%0A");
        let hostile = link("a\n\"'><&#+%\"\n");
        assert!(!hostile.contains(['"', '\'', '<', '>', '&', '#']), "{hostile}");
        assert_eq!(percent_encoded("µ%", 9), "%C2%B5%25");
        assert!(link("µµµµµµµµ").contains(";base64,"));
    }

    #[test]
    fn cells_with_commas_and_quotes_are_quoted_and_formulas_disarmed() {
        let table = csv(&["a", "b"], [vec![text("x,\"y\""), text("=1+1")], vec![number(0.1), number(None)]]);
        assert_eq!(table, "a,b\n\"x,\"\"y\"\"\",'=1+1\n0.1,\n");
        assert_eq!(text("-1"), "-1");
    }
}
