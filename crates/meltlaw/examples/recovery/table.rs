//! The study's page as Markdown that reads as plain text too.

use std::fmt::Write;

use meltlaw::virtual_bench::{Kind, Reach, Row, SUPPORTED, SupportTally, Tally};

use crate::arguments::Arguments;

/// What the page is and how it is had again.
pub(crate) fn heading(arguments: &Arguments) -> String {
    format!(
        "# Recovery study

Invented laboratories whose laws are known. Written by

    cargo run --release -p meltlaw --example recovery -- {}

meltlaw {}, {} labs of each kind, seed {}.

- *bias*: mean of (estimate - truth)/stated error.
- *80, 95, 99*: per cent of intervals that hold the truth, each interval as the program gives it at that
  confidence. `low` and `high` mark 95 % intervals that miss 94 to 96 % by more than three standard errors of
  the study. 80 and 99 % are tried on every fourth lab.
- *least*: the same at 95 % at the worst of the five feeds.
- *error*: mean stated error over the true spread.
- *width*: mean width of the 95 % interval over that of somebody who knows the
  true errors of all readings, on every fourth lab.
- *open*: per cent of intervals open on one side or both.
- *by support*: a line asked for far beyond the trials, on the first quarter of the labs; per cent of nodes whose 95 %
  interval misses the truth. `refused` are feeds without a node for want of data, as though support went on to the
  whole range beyond. *departing*: the same where the process keeps the laws among the trials only, and beyond
  melts less, by 12 % at twice the distance of the farthest trial, growing with the square.
",
        arguments.typed,
        env!("CARGO_PKG_VERSION"),
        arguments.labs,
        arguments.seed
    )
}

/// One kind of laboratory.
pub(crate) fn section(kind: Kind, tally: &Tally) -> String {
    let mut out = format!("\n## {}\n\n{}.\n\n", kind.name(), kind.about());
    out.push_str("| number                             |  labs |   bias |    80 |    95 |    99 |      | least | error | width | open |\n");
    out.push_str("|------------------------------------|------:|-------:|------:|------:|------:|------|------:|------:|------:|-----:|\n");
    for row in tally.rows() {
        line(&mut out, &row);
    }
    let _ = writeln!(out);
    let _ = writeln!(out, "- not fitted: {}", listed(&tally.unusable(), usize::MAX));
    let _ = writeln!(
        out,
        "- lines without a node {}, with some of the five missing {}",
        per_cent(tally.share(|e| e.nodes == 0)),
        per_cent(tally.share(|e| e.nodes > 0 && e.nodes < 5))
    );
    let _ = writeln!(out, "- form of the voltage law: {}", listed(&tally.voltage_forms(), usize::MAX));
    let _ = writeln!(out, "- labs with any warning: {}", per_cent(tally.warned()));
    let _ = writeln!(out, "- most frequent: {}", listed(&tally.warnings(), 5));
    out
}

/// What `covered` and `extended` are worth.
pub(crate) fn support(tally: &SupportTally) -> String {
    let mut out =
        "\n| by support | nodes | melting rate | one drop | voltage | departing: melting rate | voltage |\n".to_owned();
    out.push_str("|------------|------:|-------------:|---------:|--------:|------------------------:|--------:|\n");
    for reach in Reach::ALL {
        let found: Vec<([f64; 2], usize)> =
            (0..SUPPORTED.len()).map(|quantity| tally.missed(reach, quantity)).collect();
        let [plain, departing] =
            [0, 1].map(|which| found.iter().map(|(m, _)| finite(100.0 * m[which], 1)).collect::<Vec<_>>());
        let _ = writeln!(
            out,
            "| {:10} | {:5} | {:>12} | {:>8} | {:>7} | {:>23} | {:>7} |",
            reach.name(),
            found[0].1,
            plain[0],
            plain[1],
            plain[2],
            departing[0],
            departing[2],
        );
    }
    out
}

fn line(out: &mut String, row: &Row) {
    let mark = match row.outside {
        [true, _] => "low",
        [_, true] => "high",
        _ => "",
    };
    let [c80, c95, c99] = row.coverage.map(|c| finite(100.0 * c, 1));
    let several = row.name.starts_with("line.");
    let least = if several { format!("{:5.1}", 100.0 * row.lowest) } else { "     ".to_owned() };
    let _ = writeln!(
        out,
        "| {:34} | {:5} | {:>6} | {c80:>5} | {c95:>5} | {c99:>5} | {mark:4} | {least} | {:>5} | {:>5} | {:4.0} |",
        row.name,
        row.labs,
        finite(row.bias, 3),
        finite(row.stated_over_spread, 3),
        finite(row.width_over_oracle, 3),
        100.0 * row.open,
    );
}

fn finite(value: f64, digits: usize) -> String {
    if value.is_finite() { format!("{value:.digits$}") } else { "-".to_owned() }
}

pub(crate) fn per_cent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

fn listed(shares: &[(String, f64)], most: usize) -> String {
    if shares.is_empty() {
        return "none".to_owned();
    }
    let words: Vec<String> = shares.iter().take(most).map(|(n, s)| format!("{n} ({})", per_cent(*s))).collect();
    words.join(", ")
}
