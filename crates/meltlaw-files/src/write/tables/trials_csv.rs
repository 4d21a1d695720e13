//! `trials.csv`: the rows as understood, in contract units, each with its way back. It reads back as a
//! trial table.

use meltlaw::trials::{Column, Mode, Trial, Trials};

use super::cells::{Table, UNITS_LINE, number, text};

/// The trials as CSV: the columns that any row has, the user's other columns, and `source_file` with
/// `source_row`. Comment lines before the header carry the study's name and the cautions.
pub fn trials_csv(name: &str, trials: &Trials, cautions: &[String]) -> String {
    let mut table = Table::default();
    table.comment(&format!("trials: {name}"));
    table.comment(UNITS_LINE);
    table.comment("a blank cell is missing, never zero; source_file and source_row say where a row was read");
    for caution in cautions {
        table.comment(&format!("caution: {caution}"));
    }
    let columns = columns_of(trials);
    table.row(header(trials, &columns));
    for trial in &trials.rows {
        table.row(row(trials, &columns, trial));
    }
    table.into_csv()
}

/// Columns in the order of the contract, each with whether it is a standard error.
fn columns_of(trials: &Trials) -> Vec<(Column, bool)> {
    let any = |has: &dyn Fn(&Trial) -> bool| trials.rows.iter().any(has);
    let mut columns = Vec::new();
    for &column in Column::ALL {
        // A column that is there but blank is kept: it is another thing than no column.
        if trials.has(column) || any(&|t| t.get(column).is_some()) {
            columns.push((column, false));
        }
        if any(&|t| t.stated_se(column).is_some()) {
            columns.push((column, true));
        }
    }
    columns
}

fn header(trials: &Trials, columns: &[(Column, bool)]) -> Vec<String> {
    let mut names = vec!["trial".to_owned()];
    names.extend(columns.iter().map(|&(column, is_se)| match is_se {
        false => column.name().to_owned(),
        true => format!("{}_se", column.name()),
    }));
    names.push("mode".to_owned());
    if has_blocks(trials) {
        names.push("block".to_owned());
    }
    names.extend(["use", "note"].map(str::to_owned));
    let last = ["source_file", "source_row"];
    for other in &trials.other_columns {
        // A table that we wrote before brings its own source_file: both are kept, each under its name.
        let mut name = text(other);
        while last.contains(&name.as_str()) || names.contains(&name) {
            name = format!("earlier_{name}");
        }
        names.push(name);
    }
    names.extend(last.map(str::to_owned));
    names
}

fn row(trials: &Trials, columns: &[(Column, bool)], trial: &Trial) -> Vec<String> {
    let mut cells = vec![text(&trial.name)];
    cells.extend(
        columns.iter().map(|&(column, is_se)| number(if is_se { trial.stated_se(column) } else { trial.get(column) })),
    );
    cells.push(Mode::word(trial.mode).to_owned());
    if has_blocks(trials) {
        cells.push(text(trial.block.as_deref().unwrap_or_default()));
    }
    cells.push(if trial.use_it { "yes" } else { "no" }.to_owned());
    cells.push(text(&trial.note));
    let others = trial.other.iter().map(String::as_str).chain(std::iter::repeat(""));
    cells.extend(others.take(trials.other_columns.len()).map(text));
    cells.push(trials.sources.get(trial.source).map(|source| text(&source.file)).unwrap_or_default());
    cells.push(trial.row.to_string());
    cells
}

fn has_blocks(trials: &Trials) -> bool {
    trials.rows.iter().any(|trial| trial.block.is_some())
}

#[cfg(test)]
mod tests {
    use meltlaw::trials::TrialSource;

    use super::*;

    fn trials() -> Trials {
        let mut first = Trial::new("B01", 0, 2).with(Column::WireFeed, 3.33).with(Column::CurrentMean, 132.4);
        first.set_se(Column::WireFeed, Some(0.01));
        first.note = "wire slipped, \"audibly\"".to_owned();
        first.other = vec!["=HYPERLINK(\"x\")".to_owned(), "old.csv".to_owned()];
        let mut second = Trial::new("-2+3", 0, 3).with(Column::WireFeed, 10.0 * 0.42333);
        second.mode = Mode::ConstantCurrent;
        second.block = Some("Monday".to_owned());
        second.use_it = false;
        second.other = vec!["-0.5".to_owned()];
        Trials {
            rows: vec![first, second],
            sources: vec![TrialSource {
                file: "tables/trials.csv".to_owned(),
                sha256: String::new(),
                read_as: String::new(),
                rows: 2,
            }],
            other_columns: vec!["operator".to_owned(), "source_file".to_owned()],
            has_column: vec![Column::WireFeed, Column::CurrentMean, Column::Ctwd],
            reading_notes: Vec::new(),
        }
    }

    #[test]
    fn rows_stand_in_contract_units_with_their_way_back() {
        let csv = trials_csv("first\nline", &trials(), &["Arc radiation burns.".to_owned()]);
        let lines: Vec<&str> = csv.lines().skip_while(|line| line.starts_with('#')).collect();
        assert_eq!(
            lines,
            [
                "trial,wire_feed_m_min,wire_feed_m_min_se,current_mean_a,ctwd_mm,mode,block,use,note,operator,earlier_source_file,source_file,source_row",
                "B01,3.33,0.01,132.4,,pulsed,,yes,\"wire slipped, \"\"audibly\"\"\",\"'=HYPERLINK(\"\"x\"\")\",old.csv,tables/trials.csv,2",
                "'-2+3,4.2333,,,,constant_current,Monday,no,,-0.5,,tables/trials.csv,3",
            ]
        );
        assert!(csv.starts_with("# trials: first line\n"));
        assert!(csv.contains("# caution: Arc radiation burns.\n"));
    }

    #[test]
    fn no_trials_give_a_header() {
        let csv = trials_csv("empty", &Trials::default(), &[]);
        assert!(csv.ends_with("trial,mode,use,note,source_file,source_row\n"));
    }
}
