//! The one place that writes to the terminal: text for people or one JSON document on standard output,
//! remarks and failures on standard error. A closed pipe ends quietly.

use std::io::Write;

use meltlaw::develop::DevelopError;
use meltlaw_files::spelt_out;
use serde::Serialize;

use crate::failure::Failure;
use crate::screen::{Screen, harmless};
use crate::told::{Told, Tone};
use crate::words::finding_lines;

/// Where a command's answer goes.
#[derive(Debug)]
pub(crate) struct Output {
    /// Whether JSON was asked for.
    json: bool,
    screen: Screen,
    error_screen: Screen,
    lost: bool,
}

impl Output {
    /// For a command with or without `--json` and `--no-color`.
    pub(crate) fn new(json: bool, no_color: bool) -> Self {
        Self {
            json,
            screen: Screen::of_standard_output(no_color),
            error_screen: Screen::of_standard_error(no_color),
            lost: false,
        }
    }

    /// What the answer is written on.
    pub(crate) fn screen(&self) -> Screen {
        self.screen
    }

    /// Something told to people; nothing where JSON was asked for.
    pub(crate) fn tell(&mut self, told: &Told) {
        told.laid_out(self.screen).iter().for_each(|line| self.as_it_is(line));
    }

    /// Several things, in order.
    pub(crate) fn tell_all(&mut self, told: &[Told]) {
        told.iter().for_each(|t| self.tell(t));
    }

    /// A line for people, broken where it is too long for the screen.
    pub(crate) fn text(&mut self, text: &str) {
        self.tell(&Told::line(text));
    }

    /// The lines of a small plot after a blank one; nothing where there is none.
    pub(crate) fn picture(&mut self, lines: &[String]) {
        if !lines.is_empty() {
            self.as_it_is("");
            lines.iter().for_each(|line| self.as_it_is(&harmless(line)));
        }
    }

    /// Text for a machine among text for people: BibTeX. Never broken, whatever the screen.
    pub(crate) fn verbatim(&mut self, text: &str) {
        text.lines().for_each(|line| self.as_it_is(&harmless(line)));
    }

    /// What to do next: the last line of an answer.
    pub(crate) fn next(&mut self, text: &str) {
        self.tell(&Told::new("next: ", text).toned(Tone::Heading));
    }

    fn as_it_is(&mut self, line: &str) {
        if !self.json {
            self.lost |= !put(&mut std::io::stdout().lock(), line);
        }
    }

    /// Whether some of the answer could not be written.
    pub(crate) fn lost(&self) -> bool {
        self.lost
    }

    /// A heading for people.
    pub(crate) fn heading(&mut self, text: &str) {
        self.tell(&Told::heading(text));
    }

    /// The command's answer as one JSON document, where asked for.
    pub(crate) fn json(&mut self, document: &impl Serialize) {
        if self.json {
            let text = serde_json::to_string_pretty(document).expect("our results are plain data");
            let text = escaped(&text);
            self.lost |= !put(&mut std::io::stdout().lock(), &text);
        }
    }

    /// Text on standard output whether JSON was asked for or not: schemas.
    pub(crate) fn always(&mut self, text: &str) {
        self.lost |= !put(&mut std::io::stdout().lock(), text);
    }

    /// A remark on standard error.
    pub(crate) fn remark(&mut self, text: &str) {
        self.remark_all(&[Told::line(text)]);
    }

    /// Several remarks on standard error.
    pub(crate) fn remark_all(&mut self, told: &[Told]) {
        let mut error = std::io::stderr().lock();
        for line in told.iter().flat_map(|t| t.laid_out(self.error_screen)) {
            put(&mut error, &line);
        }
    }

    /// How far a long command is, on a terminal alone: the line is written over by the next.
    pub(crate) fn progress(&mut self, text: &str) {
        if self.error_screen != Screen::PIPE {
            let width = self.error_screen.width.saturating_sub(1);
            let shown: String = harmless(text).chars().take(width).collect();
            let mut error = std::io::stderr().lock();
            // A terminal that is gone is no error of the command.
            let _ = write!(error, "\r{shown:<width$}\r");
            let _ = error.flush();
        }
    }

    /// Why a command did not do its work, on standard error.
    pub(crate) fn failure(&mut self, failure: &Failure) {
        let faults = failure.lines();
        for fault in &faults {
            if self.error_screen == Screen::PIPE {
                // A fault is a line, however long, for those who search in it.
                put(&mut std::io::stderr().lock(), &format!("error: {}", harmless(fault)));
            } else {
                self.remark_all(&[Told::new("error: ", fault.as_str()).toned(Tone::Stop)]);
            }
        }
        let mut told = Vec::new();
        if let Failure::Stopped(DevelopError::Stopped { findings }) = failure {
            told.extend(findings.iter().flat_map(finding_lines));
            let next = "mend these rows, or set use = no with a note, and run the command again";
            told.push(Told::new("next: ", next).toned(Tone::Heading));
        }
        self.remark_all(&told);
        if self.json {
            self.json(&serde_json::json!({ "error": faults }));
        }
    }
}

/// JSON whose texts hold no unseen character: JSON leaves some of those a terminal obeys unescaped.
fn escaped(json: &str) -> String {
    let mut shown = String::with_capacity(json.len());
    for c in json.chars() {
        // Outside of texts JSON of ours holds line ends and visible characters only.
        if c != '\n' && spelt_out(c.encode_utf8(&mut [0; 4])).len() > c.len_utf8() {
            shown.push_str(&format!("\\u{:04x}", u32::from(c)));
        } else {
            shown.push(c);
        }
    }
    shown
}

/// One line. A reader who left (`| head`) is no error; a full disk is.
fn put(to: &mut impl Write, text: &str) -> bool {
    match writeln!(to, "{text}") {
        Ok(()) => true,
        Err(e) => e.kind() == std::io::ErrorKind::BrokenPipe,
    }
}
