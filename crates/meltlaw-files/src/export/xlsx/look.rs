//! How the workbook looks: a few quiet colours, each beside a word; digits by what can be told apart at the bench.

use meltlaw_line::{Standing, Status};
use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Worksheet, XlsxError};

use crate::export::units::unit_of;
use crate::write::tables::text;

const INK: u32 = 0x001c_252e;
const SOFT: u32 = 0x0056_626d;
const RULE: u32 = 0x00c9_d0d6;
const DEEP: u32 = 0x0017_437f;
const HEAD: u32 = 0x00ec_eff2;
const SEA: u32 = 0x001b_655d;
const SEA_PALE: u32 = 0x00df_efec;
const SAND: u32 = 0x0073_5507;
const SAND_PALE: u32 = 0x00f8_ecc9;
const RUST: u32 = 0x008c_3806;
const RUST_PALE: u32 = 0x00f8_e2d5;

/// The formats of all sheets.
pub(super) struct Look {
    pub(super) plain: Format,
    /// Words beside a number.
    pub(super) words: Format,
    pub(super) wrapped: Format,
    pub(super) title: Format,
    pub(super) soft: Format,
    pub(super) warning: Format,
    pub(super) band: Format,
    pub(super) head: Format,
    pub(super) unit: Format,
    pub(super) name: Format,
    pub(super) input: Format,
    pub(super) good: Format,
    pub(super) careful: Format,
    pub(super) none: Format,
    pub(super) reason: Format,
    /// Code of a status, in the middle: it is no quantity.
    pub(super) code: Format,
}

impl Look {
    pub(super) fn new() -> Self {
        let plain = Format::new().set_font_color(Color::RGB(INK)).set_align(FormatAlign::Top);
        let pale = |ink: u32, paper: u32| {
            plain.clone().set_font_color(Color::RGB(ink)).set_background_color(Color::RGB(paper))
        };
        let head = pale(INK, HEAD).set_text_wrap().set_align(FormatAlign::Bottom);
        Self {
            words: plain.clone().set_align(FormatAlign::Left).set_indent(1),
            wrapped: plain.clone().set_text_wrap().set_align(FormatAlign::Left).set_indent(1),
            title: plain.clone().set_bold().set_font_size(15),
            soft: plain.clone().set_font_color(Color::RGB(SOFT)),
            warning: plain.clone().set_bold().set_font_color(Color::RGB(RUST)),
            band: pale(0x00ff_ffff, DEEP).set_bold(),
            head: head.clone().set_bold(),
            unit: head.clone(),
            name: head
                .set_font_color(Color::RGB(SOFT))
                .set_font_size(7)
                .set_border_bottom(FormatBorder::Thin)
                .set_border_bottom_color(Color::RGB(SOFT)),
            input: pale(INK, SAND_PALE).set_bold().set_border(FormatBorder::Medium).set_border_color(Color::RGB(SAND)),
            good: pale(SEA, SEA_PALE).set_align(FormatAlign::Left).set_indent(1),
            careful: pale(SAND, SAND_PALE).set_align(FormatAlign::Left).set_indent(1),
            none: pale(RUST, RUST_PALE).set_align(FormatAlign::Left).set_indent(1),
            reason: plain.clone().set_font_color(Color::RGB(RUST)).set_align(FormatAlign::Left).set_indent(1),
            code: plain.clone().set_font_color(Color::RGB(SOFT)).set_align(FormatAlign::Center),
            plain,
        }
    }

    /// Numbers of a column.
    pub(super) fn number(&self, column: &str) -> Format {
        self.plain.clone().set_num_format(number_format(column)).set_align(FormatAlign::Right)
    }

    /// Words on how far trials carry a setting, or that there is none.
    pub(super) fn support(&self, status: Status, support: &str) -> &Format {
        match (status, support) {
            (Status::Ok, "covered") => &self.good,
            (Status::Ok, _) => &self.careful,
            _ => &self.none,
        }
    }

    pub(super) fn standing(&self, standing: Option<Standing>) -> &Format {
        match standing {
            Some(Standing::Confirmed) => &self.good,
            Some(Standing::Proposed) | None => &self.words,
            Some(Standing::Contradicted | Standing::Withdrawn) => &self.none,
        }
    }

    /// A border below a line of cells.
    pub(super) fn ruled(format: &Format) -> Format {
        format.clone().set_border_bottom(FormatBorder::Hair).set_border_bottom_color(Color::RGB(RULE))
    }
}

/// Digits that an instrument at the bench, or the machine, can tell apart; the cell holds them all.
pub(super) fn number_format(column: &str) -> &'static str {
    match unit_of(column).unit {
        "m/min" => "0.00##",
        "A" | "Hz" => "0.0",
        "ms" | "kg/h" | "kJ/mm" => "0.000",
        "A/ms" | "W" => "0",
        "mm" | "V" => "0.00",
        _ => "0.0000",
    }
}

/// What a status says, for people.
pub(super) const fn status_words(status: Status) -> &'static str {
    match status {
        Status::Ok => "setting",
        Status::BelowRange => "no setting: below the range",
        Status::AboveRange => "no setting: above the range",
        Status::UnsupportedGap => "no setting: in a gap",
        Status::NotANumber => "no setting: not a number",
        Status::Withdrawn => "no setting: withdrawn",
        Status::Contradicted => "no setting: contradicted",
    }
}

/// Letters of a cell, fewer than the 32767 that ECMA-376 allows so that an apostrophe never is one too many.
const MOST_LETTERS: usize = 16_000;

/// A text for a cell: no control letters, no more than a cell holds.
///
/// A text cell is no formula in any spreadsheet, but one that is saved as CSV and opened again would be: so it has the same
/// apostrophe as in our own CSV.
pub(super) fn safe(words: &str) -> String {
    let clean = |c: char| if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') { ' ' } else { c };
    let mut cleaned: String = words.chars().take(MOST_LETTERS).map(clean).collect();
    if words.chars().nth(MOST_LETTERS).is_some() {
        cleaned.push_str(" … (cut)");
    }
    text(&cleaned)
}

/// Height of a row with the title, in points.
pub(super) const TITLE_HEIGHT: f64 = 24.0;

/// Writes words, whoever they are from.
pub(super) fn write(sheet: &mut Worksheet, at: (u32, u16), words: &str, format: &Format) -> Result<(), XlsxError> {
    sheet.write_string_with_format(at.0, at.1, safe(words), format).map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_is_longer_than_a_cell_whatever_it_is_made_of() {
        // ECMA-376 counts letters of UTF-16.
        for letters in [";=", "𝛼", "x", "𝛼;="] {
            let cell = safe(&letters.repeat(60_000));
            assert!(cell.encode_utf16().count() <= 32_767 && cell.ends_with(" … (cut)"), "{letters}");
        }
        assert_eq!(safe("a\r\n=2*3\u{1}\u{ffff}"), "a  =2*3  ");
        assert_eq!(safe("=1+1"), "'=1+1");
    }
}
