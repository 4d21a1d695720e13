//! `trials.csv`: the rows as understood, in contract units, each with its way back. It reads back as a
//! trial table.

use meltlaw::factors::Factor;
use meltlaw::trials::{Column, Mode, Origin, Trial, Trials};

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
    let factors: Vec<Factor> = trials.factors().collect();
    table.row(header(trials, &columns, &factors));
    for trial in &trials.rows {
        table.row(row(trials, &columns, &factors, trial));
    }
    table.into_csv()
}

/// A number of a trial.
#[derive(Clone, Copy)]
enum Kept {
    Value(Column),
    Error(Column),
    Asked(Column),
}

impl Kept {
    fn name(self) -> String {
        match self {
            Self::Value(column) => column.name().to_owned(),
            Self::Error(column) => format!("{}_se", column.name()),
            Self::Asked(column) => column.asked_name(),
        }
    }

    fn of(self, trial: &Trial) -> Option<f64> {
        match self {
            Self::Value(column) => trial.get(column),
            Self::Error(column) => trial.stated_se(column),
            Self::Asked(column) => trial.asked(column),
        }
    }
}

/// Columns in the order of the contract, those that a sheet asked for after the measured ones.
fn columns_of(trials: &Trials) -> Vec<Kept> {
    let any = |kept: Kept| trials.rows.iter().any(|t| kept.of(t).is_some());
    let mut columns = Vec::new();
    for &column in Column::ALL {
        // A column that is there but blank is kept: it is another thing than no column.
        if trials.has(column) || any(Kept::Value(column)) {
            columns.push(Kept::Value(column));
        }
        columns.extend(Some(Kept::Error(column)).filter(|kept| any(*kept)));
    }
    columns.extend(Column::ALL.iter().map(|&column| Kept::Asked(column)).filter(|kept| any(*kept)));
    columns
}

fn header(trials: &Trials, columns: &[Kept], factors: &[Factor]) -> Vec<String> {
    let mut names = vec!["trial".to_owned()];
    names.extend(columns.iter().map(|kept| kept.name()));
    names.push("mode".to_owned());
    names.extend(factors.iter().map(|factor| factor.name().to_owned()));
    if has_simulated(trials) {
        names.push("origin".to_owned());
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

fn row(trials: &Trials, columns: &[Kept], factors: &[Factor], trial: &Trial) -> Vec<String> {
    let mut cells = vec![text(&trial.name)];
    cells.extend(columns.iter().map(|kept| number(kept.of(trial))));
    cells.push(Mode::word(trial.mode).to_owned());
    cells.extend(factors.iter().map(|&factor| text(trial.level(factor).unwrap_or_default())));
    if has_simulated(trials) {
        cells.push(Origin::word(trial.origin).to_owned());
    }
    cells.push(if trial.use_it { "yes" } else { "no" }.to_owned());
    cells.push(text(&note(trial)));
    let others = trial.other.iter().map(String::as_str).chain(std::iter::repeat(""));
    cells.extend(others.take(trials.other_columns.len()).map(text));
    cells.push(trials.sources.get(trial.source).map(|source| text(&source.file)).unwrap_or_default());
    cells.push(trial.row.to_string());
    cells
}

/// The remark, with the reason for which the study leaves the trial out.
fn note(trial: &Trial) -> String {
    let reason = trial.left_out.as_ref().map(|reason| format!("left out by the study: {reason}"));
    let note = Some(trial.note.clone()).filter(|note| !note.is_empty());
    note.into_iter().chain(reason).collect::<Vec<_>>().join("; ")
}

fn has_simulated(trials: &Trials) -> bool {
    trials.rows.iter().any(|trial| trial.origin == Origin::Simulated)
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
        second.set_level(Factor::Block, Some("Monday".to_owned()));
        second.use_it = false;
        second.other = vec!["-0.5".to_owned()];
        Trials {
            rows: vec![first, second],
            sources: vec![TrialSource {
                file: "tables/trials.csv".to_owned(),
                sha256: String::new(),
                read_as: String::new(),
                rows: 2,
                ..TrialSource::default()
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
    fn what_was_asked_for_and_why_a_trial_is_left_out_is_written_back() {
        let mut trial = Trial::new("B01", 0, 2).with(Column::WireFeed, 6.1);
        trial.set_asked(Column::WireFeed, Some(6.0));
        trial.set_level(Factor::Day, Some("2026-11-12".to_owned()));
        trial.set_level(Factor::Station, Some("2".to_owned()));
        trial.origin = Origin::Simulated;
        trial.note = "late".to_owned();
        trial.leave_out("wire slipped");
        let trials = Trials { rows: vec![trial], ..Trials::default() };
        assert!(trials_csv("s", &trials, &[]).ends_with(
            "trial,wire_feed_m_min,asked_wire_feed_m_min,mode,day,station,origin,use,note,source_file,source_row\n\
             B01,6.1,6,pulsed,2026-11-12,2,simulated,no,late; left out by the study: wire slipped,,2\n"
        ));
    }

    #[test]
    fn no_trials_give_a_header() {
        let csv = trials_csv("empty", &Trials::default(), &[]);
        assert!(csv.ends_with("trial,mode,use,note,source_file,source_row\n"));
    }
}
