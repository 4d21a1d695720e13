//! What a command writes on: a terminal or a pipe, how wide, whether bold and colour are wanted, whether a
//! small plot can be drawn. A pipe always gets the same plain text, whatever terminal stands behind it.

use std::io::IsTerminal;

use meltlaw_files::spelt_out;

/// Letters in a line of a pipe or a file.
pub(crate) const PIPE_WIDTH: usize = 100;
/// Longer lines are hard to read, shorter ones hold too few words.
const WIDTHS: [usize; 2] = [40, 100];
/// Columns of a terminal that tells no width.
const USUAL_COLUMNS: usize = 80;
/// A plot in fewer columns shows nothing.
const PLOT_COLUMNS: usize = 60;

/// How to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Screen {
    /// Letters in a line of text.
    pub(crate) width: usize,
    /// Whether bold and colour are written.
    pub(crate) styled: bool,
    /// Whether small plots are drawn.
    pub(crate) plots: bool,
}

impl Screen {
    /// A pipe or a file.
    pub(crate) const PIPE: Self = Self { width: PIPE_WIDTH, styled: false, plots: false };

    /// Of standard output.
    pub(crate) fn of_standard_output(no_color: bool) -> Self {
        let out = std::io::stdout();
        let columns = terminal_size::terminal_size_of(&out).map(|(width, _)| usize::from(width.0));
        Self::decide(out.is_terminal(), columns, no_color, variable)
    }

    /// Of standard error.
    pub(crate) fn of_standard_error(no_color: bool) -> Self {
        let err = std::io::stderr();
        let columns = terminal_size::terminal_size_of(&err).map(|(width, _)| usize::from(width.0));
        Self::decide(err.is_terminal(), columns, no_color, variable)
    }

    /// From what is known of it: `COLUMNS` overrides the measured width, `NO_COLOR` holds where it is not
    /// empty, `TERM=dumb` is a terminal that shows letters only.
    fn decide(
        terminal: bool,
        measured_columns: Option<usize>,
        no_color: bool,
        variable: impl Fn(&str) -> Option<String>,
    ) -> Self {
        if !terminal {
            return Self::PIPE;
        }
        let stated = variable("COLUMNS").and_then(|c| c.trim().parse().ok());
        let columns = stated.or(measured_columns).filter(|c| *c > 0).unwrap_or(USUAL_COLUMNS);
        let dumb = variable("TERM").is_some_and(|t| t == "dumb");
        let plain = no_color || variable("NO_COLOR").is_some_and(|v| !v.is_empty());
        Self {
            width: columns.clamp(WIDTHS[0], WIDTHS[1]),
            styled: !plain && !dumb,
            plots: !dumb && columns >= PLOT_COLUMNS && shows_dots(variable),
        }
    }
}

/// Text from files, names and messages as a terminal may get it: what would move its cursor, change its colours or turn the
/// direction of writing is spelt out. Line ends and tabs stay, since texts are broken at them.
pub(crate) fn harmless(text: &str) -> String {
    text.split_inclusive(['\n', '\t'])
        .map(|piece| {
            let end = piece.len() - usize::from(piece.ends_with(['\n', '\t']));
            spelt_out(&piece[..end]) + &piece[end..]
        })
        .collect()
}

/// Whether letters beyond ASCII can be expected to show: the locale says UTF-8, or a terminal that knows no other.
fn shows_dots(variable: impl Fn(&str) -> Option<String>) -> bool {
    let set = |name: &str| variable(name).filter(|v| !v.is_empty());
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(set);
    let utf8 = locale.is_some_and(|l| {
        let l = l.to_ascii_lowercase();
        l.contains("utf-8") || l.contains("utf8")
    });
    // The newer terminal of Windows sets no locale, but a variable of its own.
    utf8 || set("WT_SESSION").is_some()
}

fn variable(name: &str) -> Option<String> {
    std::env::var(name).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decided(terminal: bool, columns: Option<usize>, no_color: bool, variables: &[(&str, &str)]) -> Screen {
        Screen::decide(terminal, columns, no_color, |name| {
            variables.iter().find(|(known, _)| *known == name).map(|(_, value)| (*value).to_owned())
        })
    }

    const UTF8: (&str, &str) = ("LANG", "en_GB.UTF-8");

    #[test]
    fn a_pipe_is_plain_and_always_as_wide() {
        let screen = decided(false, Some(60), false, &[UTF8, ("COLUMNS", "50"), ("TERM", "xterm")]);
        assert_eq!(screen, Screen::PIPE);
    }

    #[test]
    fn a_terminal_has_its_own_width_within_what_reads_well() {
        let width = |columns, variables: &[_]| decided(true, columns, false, variables).width;
        assert_eq!(width(Some(72), &[]), 72);
        assert_eq!(width(Some(20), &[]), 40);
        assert_eq!(width(Some(300), &[]), 100);
        assert_eq!(width(None, &[]), 80);
        assert_eq!(width(Some(0), &[]), 80);
        assert_eq!(width(Some(72), &[("COLUMNS", "64")]), 64);
        assert_eq!(width(Some(72), &[("COLUMNS", "wide")]), 72);
    }

    #[test]
    fn no_colour_is_a_matter_of_any_text_that_is_not_empty() {
        let styled = |no_color, variables: &[_]| decided(true, Some(80), no_color, variables).styled;
        assert!(styled(false, &[]));
        assert!(styled(false, &[("NO_COLOR", "")]));
        assert!(!styled(false, &[("NO_COLOR", "0")]));
        assert!(!styled(true, &[]));
        assert!(!styled(false, &[("TERM", "dumb")]));
    }

    #[test]
    fn plots_need_room_and_letters_but_no_colour() {
        let plots = |columns, variables: &[_]| decided(true, Some(columns), true, variables).plots;
        assert!(plots(60, &[UTF8]));
        assert!(!plots(59, &[UTF8]));
        assert!(!plots(80, &[UTF8, ("TERM", "dumb")]));
        assert!(!plots(80, &[]));
        // The first that is set and not empty decides.
        assert!(!plots(80, &[("LC_ALL", "C"), UTF8]));
        assert!(plots(80, &[("LC_ALL", ""), ("LC_CTYPE", "C.utf8")]));
        assert!(plots(80, &[("WT_SESSION", "1")]));
    }
}
