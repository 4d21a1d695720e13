//! What the figures of diagnosis share: a law's trials with their order and block, how they are marked,
//! and names that keep clear of each other.

use std::collections::{BTreeMap, BTreeSet};

use meltlaw::factors::Factor;
use meltlaw::fit::diagnosis::OUTLIER_FAMILY;
use meltlaw::laws::{FittedLaw, TrialDiagnostic};
use meltlaw::statistics::student_t_quantile;
use meltlaw::trials::{Column, Trial, Trials};

use crate::colours::Colour;
use crate::figure::Figure;
use crate::marks::{Align, Frame, Marker, Place, Shape, Stroke};

/// Shape and colour of the first blocks; each pair differs in both, so that grey print keeps them apart.
const BLOCKS: [(Shape, Colour, bool); 8] = [
    (Shape::Circle, Colour::Deep, true),
    (Shape::Square, Colour::Sea, true),
    (Shape::Triangle, Colour::Plum, true),
    (Shape::TriangleDown, Colour::Soft, true),
    (Shape::Circle, Colour::Plum, false),
    (Shape::Square, Colour::Deep, false),
    (Shape::Triangle, Colour::Sea, false),
    (Shape::TriangleDown, Colour::Plum, false),
];

/// A law with its trials as the figures of diagnosis show them.
pub(crate) struct Diagnosed<'a> {
    /// Name of the law in the files.
    pub(crate) name: &'static str,
    pub(crate) law: &'a FittedLaw,
    pub(crate) points: Vec<Point<'a>>,
    /// The factor whose levels the marks tell apart.
    pub(crate) factor: Factor,
    /// Its levels in the order of their marks; empty where there are none to tell apart.
    blocks: Vec<&'a str>,
}

/// A trial against the law with what its row says about when it was welded.
pub(crate) struct Point<'a> {
    pub(crate) diagnostic: &'a TrialDiagnostic,
    /// Place among the law's trials, from 1.
    pub(crate) place: usize,
    row: Option<&'a Trial>,
}

impl<'a> Point<'a> {
    pub(crate) fn trial(&self) -> &'a str {
        &self.diagnostic.trial
    }

    pub(crate) fn read(&self, column: Column) -> Option<f64> {
        self.row?.get(column)
    }

    pub(crate) fn level(&self, factor: Factor) -> Option<&'a str> {
        self.row?.level(factor)
    }

    pub(crate) fn stands_out(&self) -> bool {
        !self.diagnostic.flags.is_empty()
    }
}

impl<'a> Diagnosed<'a> {
    /// `None` where no trial was held against the law.
    pub(crate) fn of(name: &'static str, law: &'a FittedLaw, trials: &'a Trials) -> Option<Self> {
        if law.diagnostics.is_empty() {
            return None;
        }
        let rows: BTreeMap<&str, &Trial> = trials.rows.iter().map(|t| (t.name.as_str(), t)).collect();
        let points: Vec<Point<'a>> = law
            .diagnostics
            .iter()
            .enumerate()
            .map(|(place, diagnostic)| Point {
                diagnostic,
                place: place + 1,
                row: rows.get(diagnostic.trial.as_str()).copied(),
            })
            .collect();
        let levels = |factor| points.iter().filter_map(|p| p.level(factor)).collect::<BTreeSet<&str>>();
        // One factor can be told by marks; blocks first, as they are named for this study alone.
        let told = [Factor::Block, Factor::Day, Factor::Spool, Factor::Station]
            .into_iter()
            .find(|&factor| (2..=BLOCKS.len()).contains(&levels(factor).len()));
        let factor = told.unwrap_or(Factor::Block);
        let blocks = if told.is_some() { levels(factor).into_iter().collect() } else { Vec::new() };
        Some(Self { name, law, points, factor, blocks })
    }

    /// The limit beyond which a clean set of so many trials has a point in two of a thousand sets, as the test of
    /// the outliers uses it.
    pub(crate) fn outlier_limit(&self) -> Option<f64> {
        let degrees = self.law.degrees_of_freedom as f64 - if self.name == "detachment" { 0.0 } else { 1.0 };
        let limit = student_t_quantile(1.0 - OUTLIER_FAMILY / (2.0 * self.points.len() as f64), degrees.max(0.0));
        (degrees >= 1.0 && limit.is_finite()).then_some(limit)
    }

    /// How a trial is drawn: shape by block.
    pub(crate) fn marker(&self, point: &Point<'_>) -> Marker {
        let block = point.level(self.factor).and_then(|name| self.blocks.iter().position(|b| *b == name));
        let (shape, colour, filled) = block.map_or(BLOCKS[0], |place| BLOCKS[place]);
        Marker { shape, radius: 3.8, colour, filled }
    }

    /// The blocks' marks with their names in a row that ends at `right`.
    pub(crate) fn legend(&self, figure: &mut Figure, left: f64, right: f64, height: f64) {
        if self.blocks.is_empty() {
            return;
        }
        let names: Vec<String> = self.blocks.iter().map(|b| shortened(b, 10)).collect();
        let widths: Vec<f64> = names.iter().map(|n| 11.5 * DIGIT_EM * breadth(n) + 24.0).collect();
        let mut at = (right - widths.iter().sum::<f64>()).max(left);
        for (place, (name, width)) in names.into_iter().zip(widths).enumerate() {
            if at + width > right + 8.0 {
                break;
            }
            let (shape, colour, filled) = BLOCKS[place];
            figure.marker((at + 5.0, height), Marker { shape, radius: 3.8, colour, filled });
            figure.text((at + 13.0, height), name, Align::Start, Colour::Soft, 11.5);
            at += width;
        }
    }

    /// What the shapes mean, for the caption.
    pub(crate) fn blocks_in_words(&self) -> String {
        if self.blocks.is_empty() {
            return String::new();
        }
        format!(" Shape and colour tell the {} apart.", self.factor.levels())
    }
}

/// A ring around a trial that stands out.
pub(crate) fn ring(figure: &mut Figure, at: Place) {
    figure.ring(at, 7.5, Stroke::solid(Colour::Rust, 1.8));
}

/// Writes names beside their points where there is room: right, left, above or below, clear of the points
/// and of each other. What finds no room stays out; it stands in the table.
pub(crate) fn write_names(figure: &mut Figure, frame: Frame, points: &[Place], named: &[(Place, String)]) {
    const HEIGHT: f64 = 12.0;
    let mut taken: Vec<[f64; 4]> = points.iter().map(|&(x, y)| [x - 4.0, y - 4.0, x + 4.0, y + 4.0]).collect();
    for ((x, y), name) in named {
        let width = 11.5 * DIGIT_EM * breadth(name);
        let places = [
            (x + 10.0, *y, Align::Start),
            (x - 10.0, *y, Align::End),
            (*x, y - 14.0, Align::Middle),
            (*x, y + 14.0, Align::Middle),
            (x + 8.0, y - 11.0, Align::Start),
            (x + 8.0, y + 11.0, Align::Start),
            (x - 8.0, y - 11.0, Align::End),
            (x - 8.0, y + 11.0, Align::End),
        ];
        let boxed = |(x, y, align): (f64, f64, Align)| {
            let left = match align {
                Align::Start => x,
                Align::Middle => x - width / 2.0,
                Align::End => x - width,
            };
            [left, y - HEIGHT / 2.0, left + width, y + HEIGHT / 2.0]
        };
        let free = |place: &&(f64, f64, Align)| {
            let [left, top, right, bottom] = boxed(**place);
            let inside = left >= frame.left + 1.0
                && right <= frame.right + 2.0
                && top >= frame.top - 2.0
                && bottom <= frame.bottom + 2.0;
            inside && taken.iter().all(|t| right < t[0] || left > t[2] || bottom < t[1] || top > t[3])
        };
        if let Some(&(at_x, at_y, align)) = places.iter().find(free) {
            figure.text((at_x, at_y), name.clone(), align, Colour::Ink, 11.5);
            taken.push(boxed((at_x, at_y, align)));
        }
    }
}

/// Width of a digit over the font size in DejaVu Sans, the widest of the fonts that the page asks for.
pub(crate) const DIGIT_EM: f64 = 0.64;

/// About how many digits a text is wide; names are the user's, and `WWW` takes three times the room of `lll`.
pub(crate) fn breadth(text: &str) -> f64 {
    let of = |letter: char| match letter {
        'f' | 'i' | 'j' | 'l' | 'r' | 't' | 'I' | ' ' | '.' | ',' | ':' | ';' | '|' | '!' | '\'' => 0.6,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '…' => 1.5,
        '<' | '>' | '=' | '+' | '#' | '&' | '~' => 1.3,
        // Scripts whose letters fill a square begin here.
        '\u{2e80}'.. => 1.7,
        other if other.is_uppercase() => 1.2,
        _ => 1.0,
    };
    text.chars().map(of).sum()
}

/// A name cut to what a figure has room for, counted in digits.
pub(crate) fn shortened(name: &str, digits: usize) -> String {
    let room = digits as f64;
    if breadth(name) <= room {
        return name.to_owned();
    }
    let mut short = String::new();
    for letter in name.chars() {
        if breadth(&short) + breadth(letter.encode_utf8(&mut [0; 4])) + breadth("…") > room {
            break;
        }
        short.push(letter);
    }
    short + "…"
}

/// One of three names by law, in the order of the files.
pub(crate) fn by_law(law: &str, names: [&'static str; 3]) -> &'static str {
    match law {
        "burn_off" => names[0],
        "detachment" => names[1],
        _ => names[2],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_cut_by_letters_and_not_by_bytes() {
        assert_eq!(shortened("Öffnung", 7), "Öffnung");
        assert_eq!(shortened("Öffnungen", 7), "Öffnun…");
        // Six digits' room after the mark holds four of the widest letters, ten of the narrowest.
        assert_eq!(shortened(&"W".repeat(120), 8), "WWWW…");
        assert_eq!(shortened(&"l".repeat(120), 8), "llllllllll…");
    }

    #[test]
    fn two_names_at_one_place_do_not_cover_each_other() {
        let mut figure = Figure::new(200.0, 200.0);
        let frame = Frame { left: 0.0, top: 0.0, right: 200.0, bottom: 200.0 };
        let at = (100.0, 100.0);
        write_names(&mut figure, frame, &[at], &[(at, "B01".to_owned()), (at, "B02".to_owned())]);
        let svg = figure.svg("t", "t", "t");
        // Right of the point at 100 + 10, left of it at 100 − 10; drawn at ten times.
        assert!(svg.contains("x=\"1100\"") && svg.contains("x=\"900\""), "{svg}");
    }
}
