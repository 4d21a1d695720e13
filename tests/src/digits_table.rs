//! The table of digits reached, kept in `tests/digits.md` and written by the test that reaches them.

use std::fmt::Write;

use crate::reference::top;

/// Digits reached on one set.
#[derive(Debug, Clone)]
pub struct Reached {
    /// Name of the set.
    pub set: &'static str,
    /// The certified start, 1 or 2, where the set has any.
    pub start: Option<usize>,
    /// Digits of the worst coefficient (of the sum of squares between groups, for an analysis of variance).
    pub coefficients: f64,
    /// Digits of the worst standard error (of the residual standard deviation, for means).
    pub standard_errors: Option<f64>,
    /// Digits of the residual sum of squares.
    pub sum_of_squares: Option<f64>,
    /// Digits that data rounded to doubles allow: coefficients, standard errors.
    pub limits: Option<[f64; 2]>,
    /// Condition with columns of length 1.
    pub condition: f64,
}

const HEAD: &str = "# Digits against certified values

Written by `cargo test -p meltlaw-tests --test reference_nist` with `UPDATE_DIGITS=1`; the same test fails where this
file no longer says what it reaches. Digits are −log₁₀ of the relative error against 22-digit solutions of the sets
of NIST StRD (`datasets/reference/nist_strd/README.md`), of the worst coefficient and standard error, 16 at most;
in brackets what data rounded to doubles allow (Filip: 7.6 and 7.6 by exact arithmetic on the powers as rounded
here, once each; its condition leaves no more than 7 digits in general). The condition is that of the derivatives with columns of length 1.
For means the second figure is that of the standard deviation, for analyses of variance (SiRstv, SmLs, AtmWtAg) the
first is that of the sum of squares between groups.
";

/// How far a figure may be from the kept one: 0.1 digit where it was written, with its rounding; a digit where
/// another mathematical library or processor may round the last bit of an exponential otherwise.
const TOLERANCE: f64 = if cfg!(all(target_os = "linux", target_arch = "x86_64")) { 0.101 } else { 1.0 };

/// Compares with the kept file, or writes it where `UPDATE_DIGITS` is set.
///
/// # Panics
/// Where the file is missing or says something else.
pub fn hold_against_kept(groups: &[(&str, Vec<Reached>)]) {
    let table = written(groups);
    let file = top().join("tests/digits.md");
    if std::env::var_os("UPDATE_DIGITS").is_some() {
        std::fs::write(&file, &table).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        return;
    }
    let kept = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    if let Some((kept, now)) = first_difference(&kept, &table) {
        panic!("tests/digits.md says\n{kept}\nnow it is\n{now}\nUPDATE_DIGITS=1 writes it again");
    }
}

fn written(groups: &[(&str, Vec<Reached>)]) -> String {
    let mut out = HEAD.to_owned();
    for (title, rows) in groups {
        let _ = write!(
            out,
            "\n## {title}\n\n| set | start | coefficients | standard errors | residual sum of squares | condition |\n|---|---|---|---|---|---|\n"
        );
        for r in rows {
            let start = r.start.map_or("–".to_owned(), |s| s.to_string());
            let figure = |digits: Option<f64>, limit: Option<f64>| {
                let limit = limit.map_or(String::new(), |l| format!(" ({l:.1})"));
                digits.map_or("–".to_owned(), |d| format!("{d:.1}{limit}"))
            };
            let _ = writeln!(
                out,
                "| {} | {start} | {} | {} | {} | {:.1e} |",
                r.set,
                figure(Some(r.coefficients), r.limits.map(|l| l[0])),
                figure(r.standard_errors, r.limits.map(|l| l[1])),
                figure(r.sum_of_squares, None),
                r.condition
            );
        }
        let least = rows.iter().map(|r| r.coefficients).fold(f64::INFINITY, f64::min);
        let _ = writeln!(out, "\nFewest: {least:.1}.");
    }
    out
}

/// The first line in which two tables differ by more than the tolerance in a figure, or in anything else.
fn first_difference(kept: &str, now: &str) -> Option<(String, String)> {
    let same = |a: &str, b: &str| match (a.parse::<f64>(), b.parse::<f64>()) {
        // Conditions are written to two digits.
        (Ok(a), Ok(b)) if a.abs() < 17.0 && b.abs() < 17.0 => (a - b).abs() <= TOLERANCE,
        (Ok(a), Ok(b)) => (a / b - 1.0).abs() < 0.11,
        _ => a == b,
    };
    let words = |line: &str| {
        line.replace(['(', ')'], "").split_whitespace().map(|w| w.trim_end_matches('.').to_owned()).collect::<Vec<_>>()
    };
    let (mut kept_lines, mut lines) = (kept.lines(), now.lines());
    loop {
        match (kept_lines.next(), lines.next()) {
            (None, None) => return None,
            (a, b) => {
                let (a, b) = (a.unwrap_or(""), b.unwrap_or(""));
                let (left, right) = (words(a), words(b));
                if left.len() != right.len() || left.iter().zip(&right).any(|(a, b)| !same(a, b)) {
                    return Some((a.to_owned(), b.to_owned()));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_may_round_otherwise_but_not_change() {
        let table = |digits: f64| {
            let row = Reached {
                set: "A",
                start: None,
                coefficients: digits,
                standard_errors: None,
                sum_of_squares: None,
                limits: None,
                condition: 5.2e9,
            };
            written(&[("B", vec![row])])
        };
        assert!(first_difference(&table(12.34), &table(12.36)).is_none());
        assert!(first_difference(&table(12.3), &table(10.2)).is_some());
        assert!(first_difference(&table(12.3), &table(12.3).replace("5.2e9", "6.2e9")).is_some());
    }
}
