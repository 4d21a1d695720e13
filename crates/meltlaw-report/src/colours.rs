//! The colours of figures and page, each with its name in the style sheet.
//!
//! They differ in lightness as well as in hue, so that they stay apart in grey and for readers who see
//! few hues; nothing in a figure rests on colour alone.

use plotters::style::RGBColor;

/// A colour by what it is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Colour {
    /// Text and axes.
    Ink,
    /// Lesser text.
    Soft,
    /// Grid lines.
    Grid,
    /// What everything is drawn on.
    Paper,
    /// First series: the one that matters most.
    Deep,
    /// Second series.
    Rust,
    /// Third series.
    Sea,
    /// Fourth series.
    Plum,
    /// Fifth series; areas only.
    Sand,
}

/// Colour, name in the style sheet, light value, dark value.
type Entry = (Colour, &'static str, (u8, u8, u8), &'static str);

impl Colour {
    /// All colours with the style sheet's names, light values and dark values.
    pub(crate) const TABLE: [Entry; 9] = [
        (Self::Ink, "ink", (0x1c, 0x25, 0x2e), "#e8ecef"),
        (Self::Soft, "soft", (0x56, 0x62, 0x6d), "#a9b4bd"),
        (Self::Grid, "grid", (0xdd, 0xe2, 0xe6), "#3a444d"),
        (Self::Paper, "paper", (0xff, 0xff, 0xff), "#14191e"),
        (Self::Deep, "deep", (0x17, 0x43, 0x7f), "#85b6f2"),
        (Self::Rust, "rust", (0xa3, 0x44, 0x0a), "#f49d59"),
        (Self::Sea, "sea", (0x24, 0x82, 0x77), "#55ccbb"),
        (Self::Plum, "plum", (0x7d, 0x2a, 0x66), "#e590c9"),
        (Self::Sand, "sand", (0xd9, 0xad, 0x3f), "#f0d27c"),
    ];

    /// For plotters.
    pub(crate) fn rgb(self) -> RGBColor {
        let (r, g, b) = Self::TABLE[self as usize].2;
        RGBColor(r, g, b)
    }

    /// As plotters writes it: upper-case hexadecimal.
    fn hex(self) -> String {
        let (r, g, b) = Self::TABLE[self as usize].2;
        format!("#{r:02X}{g:02X}{b:02X}")
    }

    /// The fixed colours of an SVG string exchanged for variables that follow the reader's scheme.
    pub(crate) fn by_variable(svg: &str) -> String {
        Self::TABLE.iter().fold(svg.to_owned(), |text, (colour, name, ..)| {
            text.replace(&format!("\"{}\"", colour.hex()), &format!("\"var(--{name})\""))
        })
    }

    /// The variables for the light and the dark scheme as style sheet declarations.
    pub(crate) fn variables(dark: bool) -> String {
        Self::TABLE
            .iter()
            .map(|(colour, name, _, dark_hex)| {
                format!("--{name}:{};", if dark { (*dark_hex).to_owned() } else { colour.hex().to_lowercase() })
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_stands_in_the_order_of_the_colours() {
        for (place, (colour, ..)) in Colour::TABLE.iter().enumerate() {
            assert_eq!(*colour as usize, place);
        }
    }

    #[test]
    fn series_differ_in_lightness_as_grey() {
        // Relative luminance of the five series colours must not pair up (ITU-R BT.709 weights, linearised).
        let grey = |c: Colour| {
            let (r, g, b) = Colour::TABLE[c as usize].2;
            let linear = |v: u8| (f64::from(v) / 255.0).powf(2.2);
            0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
        };
        let order = [Colour::Deep, Colour::Rust, Colour::Sea, Colour::Sand].map(grey);
        assert!(order.windows(2).all(|w| w[1] > 1.4 * w[0]), "{order:?}");
    }
}
