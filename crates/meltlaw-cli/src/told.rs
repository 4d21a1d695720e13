//! One thing told on a screen: how it begins, what it says, how it is to stand out. The screen breaks it
//! into lines; nothing else knows a width.

use crate::screen::{Screen, harmless};

/// Fewer letters beside the beginning are no column any more: the text goes below it.
const LEAST_BESIDE: usize = 24;
/// Letters before a text that stands below its beginning.
const BELOW: usize = 6;

/// A blank at which no line is broken; it is written as a plain one.
pub(crate) const HELD: char = '\u{e000}';

/// How something stands out, besides its words and marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    /// Not at all.
    Plain,
    /// A heading.
    Heading,
    /// Likely wrong or weak.
    Warning,
    /// Nothing goes on before it is mended.
    Stop,
}

impl Tone {
    /// The code that switches it on.
    fn code(self) -> Option<&'static str> {
        match self {
            Self::Plain => None,
            Self::Heading => Some("\u{1b}[1m"),
            Self::Warning => Some("\u{1b}[1;33m"),
            Self::Stop => Some("\u{1b}[1;31m"),
        }
    }
}

/// A beginning, and a text whose lines stand below its first word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Told {
    tone: Tone,
    start: String,
    text: String,
}

impl Told {
    /// A text that begins with `start`.
    pub(crate) fn new(start: impl Into<String>, text: impl Into<String>) -> Self {
        Self { tone: Tone::Plain, start: harmless(&start.into()), text: harmless(&text.into()) }
    }

    /// A line as it is; what does not fit goes below its first letter.
    pub(crate) fn line(line: impl Into<String>) -> Self {
        let line: String = line.into();
        let text = line.trim_start_matches(' ');
        Self::new(&line[..line.len() - text.len()], text)
    }

    /// A heading.
    pub(crate) fn heading(text: impl Into<String>) -> Self {
        Self { tone: Tone::Heading, ..Self::line(text) }
    }

    /// The same, standing out.
    pub(crate) fn toned(self, tone: Tone) -> Self {
        Self { tone, ..self }
    }

    /// Letters of the whole in one line.
    pub(crate) fn letters(&self) -> usize {
        self.start.chars().count() + self.text.chars().count()
    }

    /// In lines of the screen's width, broken between words. A word longer than a line stays whole.
    pub(crate) fn laid_out(&self, screen: Screen) -> Vec<String> {
        // A number stays with what is written about it.
        let text = self.text.replace(" %", &format!("{HELD}%")).replace("± ", &format!("±{HELD}"));
        let text = text.replace(" × ", &format!("{HELD}×{HELD}"));
        let mut lines = broken(&self.start, &text, screen.width);
        lines.iter_mut().filter(|line| line.contains(HELD)).for_each(|line| *line = line.replace(HELD, " "));
        if let (true, Some(code)) = (screen.styled, self.tone.code()) {
            if self.start.trim().is_empty() {
                lines.iter_mut().for_each(|line| *line = format!("{code}{line}\u{1b}[0m"));
            } else if let Some(first) = lines.first_mut() {
                // The first word or two are enough to find it.
                let (start, rest) = first.split_at(self.start.trim_end().len());
                *first = format!("{code}{start}\u{1b}[0m{rest}");
            }
        }
        lines
    }
}

fn broken(start: &str, text: &str, width: usize) -> Vec<String> {
    let indent = start.chars().count();
    if indent + text.chars().count() <= width {
        return vec![format!("{start}{text}").trim_end().to_owned()];
    }
    if indent > BELOW && indent + LEAST_BESIDE > width {
        // Blanks alone need no line of their own.
        let alone = Some(start.trim_end().to_owned()).filter(|s| !s.is_empty());
        return alone.into_iter().chain(broken(&" ".repeat(BELOW), text, width)).collect();
    }
    let mut lines = Vec::new();
    let (mut line, mut letters, mut blanks) = (start.to_owned(), indent, 0);
    // At plain blanks only: a number and its per cent sign stay together. Several blanks hold columns.
    for word in text.split([' ', '\t', '\n']) {
        if word.is_empty() {
            blanks += 1;
            continue;
        }
        let long = word.chars().count();
        if letters > indent && letters + blanks + long > width {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent)));
            letters = indent;
        } else {
            line.push_str(&" ".repeat(blanks));
            letters += blanks;
        }
        line.push_str(word);
        letters += long;
        blanks = 1;
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(told: &Told, width: usize) -> Vec<String> {
        told.laid_out(Screen { width, ..Screen::PIPE })
    }

    #[test]
    fn long_texts_break_between_words_and_below_the_first() {
        let told = Told::new("  do: ", "word ".repeat(30));
        // 6 letters of start and 5 a word less the last space: 19 words reach the hundredth letter.
        let long = lines(&told, 100);
        assert_eq!(long.len(), 2);
        assert!(long.iter().all(|l| l.chars().count() <= 100) && long[1].starts_with("      word"), "{long:?}");
        assert_eq!(lines(&Told::new("a ", ""), 100), ["a"]);
    }

    #[test]
    fn columns_stay_where_they_fit_and_the_rest_keeps_their_edge() {
        assert_eq!(lines(&Told::line("  name     1.5  A"), 40), ["  name     1.5  A"]);
        let told = Told::line("  one      two      three    four     five     six");
        assert_eq!(lines(&told, 40), ["  one      two      three    four", "  five     six"]);
    }

    #[test]
    fn what_has_no_room_beside_its_beginning_goes_below_it() {
        let told = Told::new("  voltage (tip to work)        26.59 V  ", "mean 95 % 26.499 to 26.694");
        assert_eq!(lines(&told, 50), ["  voltage (tip to work)        26.59 V", "      mean 95 % 26.499 to 26.694"]);
        let held = Told::new("  ", format!("mean of a good many 153.5{HELD}to{HELD}161.5"));
        assert_eq!(lines(&held, 30), ["  mean of a good many", "  153.5 to 161.5"]);
        let per_cent = Told::line("one drop at least 93.1 %, 1 × not counted");
        assert_eq!(lines(&per_cent, 22), ["one drop at least", "93.1 %, 1 × not", "counted"]);
        // Words longer than a line stay whole.
        let long = "x".repeat(70);
        assert_eq!(lines(&Told::line(long.clone()), 40), [long]);
    }

    #[test]
    fn what_others_wrote_moves_no_cursor_and_writes_over_nothing() {
        let hostile = "log \u{1b}[2J\u{9b}31m\u{7}\r\u{8}\u{202e}.csv";
        let shown = "log \\u{1b}[2J\\u{9b}31m\\u{7}\\r\\u{8}\\u{202e}.csv";
        let styled = Screen { styled: true, ..Screen::PIPE };
        for told in [Told::new(hostile, hostile), Told::line(hostile), Told::heading(hostile)] {
            let line = told.toned(Tone::Plain).laid_out(styled).concat();
            assert!(line.starts_with(shown) && !line.contains(char::is_control), "{line:?}");
        }
    }

    #[test]
    fn a_warning_stands_out_by_its_first_words_and_only_where_that_is_wanted() {
        let told = Told::new("! warning  ", "few trials").toned(Tone::Warning);
        assert_eq!(told.laid_out(Screen::PIPE), ["! warning  few trials"]);
        let styled = Screen { styled: true, ..Screen::PIPE };
        assert_eq!(told.laid_out(styled), ["\u{1b}[1;33m! warning\u{1b}[0m  few trials"]);
        assert_eq!(Told::heading("line").laid_out(styled), ["\u{1b}[1mline\u{1b}[0m"]);
    }
}
