//! The one place that writes to the terminal: text for people or one JSON document on standard output,
//! remarks and failures on standard error. A closed pipe ends quietly.

use std::io::{IsTerminal, Write};

use meltlaw::develop::DevelopError;
use serde::Serialize;

use crate::failure::Failure;
use crate::words::finding_lines;

/// Where a command's answer goes.
#[derive(Debug)]
pub(crate) struct Output {
    /// Whether JSON was asked for.
    json: bool,
    styled: bool,
    lost: bool,
}

impl Output {
    /// For a command with or without `--json`.
    pub(crate) fn new(json: bool) -> Self {
        let plain = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        Self { json, styled: !json && !plain && std::io::stdout().is_terminal(), lost: false }
    }

    /// Text for people; nothing where JSON was asked for.
    pub(crate) fn text(&mut self, text: &str) {
        if !self.json {
            self.lost |= !put(&mut std::io::stdout().lock(), text);
        }
    }

    /// Whether some of the answer could not be written.
    pub(crate) fn lost(&self) -> bool {
        self.lost
    }

    /// A heading for people.
    pub(crate) fn heading(&mut self, text: &str) {
        let line = if self.styled { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() };
        self.text(&line);
    }

    /// The command's answer as one JSON document, where asked for.
    pub(crate) fn json(&mut self, document: &impl Serialize) {
        if self.json {
            let text = serde_json::to_string_pretty(document).expect("our results are plain data");
            self.lost |= !put(&mut std::io::stdout().lock(), &text);
        }
    }

    /// Text on standard output whether JSON was asked for or not: schemas.
    pub(crate) fn always(&mut self, text: &str) {
        self.lost |= !put(&mut std::io::stdout().lock(), text);
    }

    /// A remark on standard error.
    pub(crate) fn remark(&mut self, text: &str) {
        put(&mut std::io::stderr().lock(), text);
    }

    /// Why a command did not do its work, on standard error.
    pub(crate) fn failure(&mut self, failure: &Failure) {
        let mut error = std::io::stderr().lock();
        for line in failure.lines() {
            put(&mut error, &format!("error: {line}"));
        }
        if let Failure::Stopped(DevelopError::Stopped { findings }) = failure {
            for finding in findings {
                for line in finding_lines(finding) {
                    put(&mut error, &line);
                }
            }
            put(&mut error, "next: mend these rows, or set use = no with a note, and run the command again");
        }
        drop(error);
        if self.json {
            self.json(&serde_json::json!({ "error": failure.lines() }));
        }
    }
}

/// One line. A reader who left (`| head`) is no error; a full disk is.
fn put(to: &mut impl Write, text: &str) -> bool {
    match writeln!(to, "{text}") {
        Ok(()) => true,
        Err(e) => e.kind() == std::io::ErrorKind::BrokenPipe,
    }
}
