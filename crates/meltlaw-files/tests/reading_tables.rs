//! One table in many guises reads as one and the same: six locales of text, XLSX, Parquet. The worked
//! example reads from both of its tables.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use std::fs;
use std::path::{Path, PathBuf};

use meltlaw::trials::{Column, Mode, Trial, Trials};
use meltlaw_files::{DecimalMark, ReadError, Separator, TableRequest, read_study, read_trial_table};

const HEADER: [&str; 9] =
    ["trial", "wire_feed_m_min", "current_mean_a", "ctwd_in", "pulses", "mode", "use", "note", "layer"];
const ROWS: [[&str; 9]; 3] = [
    ["B01", "6.5", "182.25", "0.75", "150", "pulsed", "yes", "first; of all, \"two\"", "a"],
    ["B02", "4.096", "", "0.5", "160", "constant_voltage", "no", "wire slipped", ""],
    ["B03", "12", "1e2", "0.625", "", "", "", "", "c"],
];

/// The table as text: separator, decimal mark, line end, everything in quotation marks or only what needs it.
fn text(separator: &str, mark: &str, end: &str, quote_all: bool) -> String {
    let cell = |c: &str, number: bool| {
        let c = if number { c.replace('.', mark) } else { c.to_owned() };
        if quote_all || c.contains(separator) || c.contains('"') {
            format!("\"{}\"", c.replace('"', "\"\""))
        } else {
            c
        }
    };
    let line = |cells: &[&str], head: bool| {
        cells.iter().enumerate().map(|(i, c)| cell(c, !head && (1..5).contains(&i))).collect::<Vec<_>>().join(separator)
    };
    let lines: Vec<String> =
        std::iter::once(line(&HEADER, true)).chain(ROWS.iter().map(|row| line(row, false))).collect();
    lines.join(end) + end
}

fn read(file: &str, bytes: impl AsRef<[u8]>, change: impl FnOnce(&mut TableRequest)) -> Result<Trials, ReadError> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(file), bytes).unwrap();
    let mut request = TableRequest::of_file(file);
    change(&mut request);
    read_trial_table(folder.path(), &request)
}

/// Everything but how it was read. NaN stands for blank and equals nothing, so trials are compared by text.
fn content(trials: &Trials, file: &str) -> String {
    let mut rows: Vec<Trial> = trials.rows.clone();
    rows.iter_mut().for_each(|trial| trial.row = 0);
    let notes: Vec<_> = trials.reading_notes.iter().map(|n| n.replace(file, "FILE")).collect();
    format!("{rows:?} {:?} {:?} {notes:?}", trials.other_columns, trials.has_column)
}

#[test]
fn the_same_table_from_six_locales_is_the_same() {
    let plain = read("t.csv", text(",", ".", "\n", false), |_| {}).unwrap();
    assert_eq!(plain.rows[0].get(Column::Ctwd).map(f64::to_bits), Some(19.05_f64.to_bits()));
    assert_eq!(plain.rows[0].note, "first; of all, \"two\"");
    assert_eq!(plain.rows[1].get(Column::CurrentMean), None);
    assert_eq!((plain.rows[1].mode, plain.rows[1].use_it), (Mode::ConstantVoltage, false));
    assert_eq!(plain.rows[2].get(Column::CurrentMean), Some(100.0));
    assert_eq!(plain.rows[2].other, ["c"]);
    assert_eq!(plain.rows.iter().map(|t| t.row).collect::<Vec<_>>(), [2, 3, 4]);
    assert_eq!(plain.sources[0].read_as, "comma-separated, decimal point, header in row 1");
    for (bytes, read_as) in [
        (text(";", ",", "\n", false), "semicolon-separated, decimal comma, header in row 1"),
        (text(";", ".", "\n", false), "semicolon-separated, decimal point, header in row 1"),
        (text("\t", ",", "\n", false), "tab-separated, decimal comma, header in row 1"),
        (format!("\u{feff}{}", text(";", ",", "\r\n", false)), "semicolon-separated, decimal comma, header in row 1"),
        (text(",", ",", "\r\n", true), "comma-separated, decimal comma, header in row 1"),
    ] {
        let other = read("t.csv", bytes, |_| {}).unwrap();
        assert_eq!(content(&other, "t.csv"), content(&plain, "t.csv"), "{read_as}");
        assert_eq!(other.sources[0].read_as, read_as);
        assert_eq!(other.sources[0].rows, 3);
    }
}

fn workbook(fill: impl FnOnce(&mut rust_xlsxwriter::Worksheet)) -> Vec<u8> {
    let mut workbook = rust_xlsxwriter::Workbook::new();
    fill(workbook.add_worksheet().set_name("Trials").unwrap());
    workbook.add_worksheet().set_name("Empty").unwrap();
    workbook.save_to_buffer().unwrap()
}

/// Writes the table from a row on (counting from 0).
fn fill(sheet: &mut rust_xlsxwriter::Worksheet, first_row: u32) {
    for (column, head) in (0_u16..).zip(HEADER) {
        sheet.write(first_row, column, head).unwrap();
    }
    for (row, cells) in (first_row + 1..).zip(ROWS) {
        for (column, cell) in (0_u16..).zip(cells) {
            match cell.parse::<f64>() {
                Ok(number) if (1..5).contains(&column) => sheet.write(row, column, number).unwrap(),
                _ => sheet.write(row, column, cell).unwrap(),
            };
        }
    }
}

#[test]
fn a_workbook_reads_as_the_same_table() {
    let plain = read("t.csv", text(",", ".", "\n", false), |_| {}).unwrap();
    let sheet = read("t.xlsx", workbook(|sheet| fill(sheet, 0)), |_| {}).unwrap();
    assert_eq!(content(&sheet, "t.xlsx"), content(&plain, "t.csv"));
    assert_eq!(sheet.sources[0].read_as, "XLSX, sheet \"Trials\", header in row 1");
    let title = workbook(|sheet| {
        sheet.write(0, 0, "Series 17").unwrap();
        sheet.write(1, 3, "of May").unwrap();
        fill(sheet, 2);
    });
    let lower = read("t.xlsx", title, |r| (r.header_row, r.sheet) = (Some(3), Some("Trials".to_owned()))).unwrap();
    assert_eq!(content(&lower, "t.xlsx"), content(&plain, "t.csv"));
    assert_eq!(lower.rows[0].row, 4);
}

fn parquet(frame: &mut polars::prelude::DataFrame) -> Vec<u8> {
    let mut bytes = Vec::new();
    polars::prelude::ParquetWriter::new(&mut bytes).finish(frame).unwrap();
    bytes
}

#[test]
fn parquet_reads_as_the_same_table() {
    use polars::prelude::{Column as PolarsColumn, DataFrame};
    let columns: Vec<PolarsColumn> = HEADER
        .iter()
        .enumerate()
        .map(|(i, head)| {
            let texts = ROWS.map(|row| Some(row[i]).filter(|c| !c.is_empty()));
            match i {
                4 => PolarsColumn::new((*head).into(), texts.map(|c| c.map(|c| c.parse::<i64>().unwrap()))),
                1..4 => PolarsColumn::new((*head).into(), texts.map(|c| c.map(|c| c.parse::<f64>().unwrap()))),
                _ => PolarsColumn::new((*head).into(), texts),
            }
        })
        .collect();
    let bytes = parquet(&mut DataFrame::new(3, columns).unwrap());
    let plain = read("t.csv", text(",", ".", "\n", false), |_| {}).unwrap();
    let table = read("t.parquet", bytes, |_| {}).unwrap();
    assert_eq!(content(&table, "t.parquet"), content(&plain, "t.csv"));
    assert_eq!(table.rows[2].row, 3);
    assert_eq!(table.sources[0].read_as, "Parquet");
}

#[test]
fn parquet_of_other_kinds_is_refused_in_words() {
    use polars::prelude::{Column as PolarsColumn, DataFrame, DataType, TimeUnit};
    let frame = |name: &str| {
        let time =
            PolarsColumn::new(name.into(), [1_i64, 2]).cast(&DataType::Datetime(TimeUnit::Milliseconds, None)).unwrap();
        DataFrame::new(2, vec![PolarsColumn::new("trial".into(), ["a", "b"]), time]).unwrap()
    };
    assert_eq!(
        read("t.parquet", parquet(&mut frame("run_order")), |_| {}).unwrap_err().to_string(),
        "t.parquet, column run_order: found a column of points in time, needed numbers, text or truth values; write the column as one of these"
    );
    let kept = read("t.parquet", parquet(&mut frame("when")), |_| {}).unwrap();
    assert_eq!(kept.rows.len(), 2);
    assert_eq!(kept.reading_notes, ["t.parquet: column \"when\" (points in time) is of a type that is not read"]);
    let whole = parquet(&mut frame("when"));
    for cut in [0, 3, 20, whole.len() - 1] {
        assert_eq!(
            read("t.parquet", &whole[..cut], |_| {}).unwrap_err().to_string(),
            "t.parquet: found a file that is no Parquet or was cut short, needed a Parquet table; write the table again, or as CSV"
        );
    }
}

#[test]
fn parquet_numbers_of_every_width_are_numbers_and_nan_is_none() {
    use polars::prelude::{Column as PolarsColumn, DataFrame, DataType};
    let column = |name: &str, kind: DataType| PolarsColumn::new(name.into(), [1.5, 2.0]).cast(&kind).unwrap();
    let columns = vec![
        PolarsColumn::new("trial".into(), [7_i64, 8]),
        column("pulses", DataType::UInt16),
        column("drops", DataType::Int8),
        column("ctwd_mm", DataType::Float32),
        column("arc_length_mm", DataType::Decimal(10, 2)),
        column("half", DataType::Float16),
        PolarsColumn::new("current_mean_a".into(), [f64::NAN, f64::INFINITY]),
    ];
    let bytes = parquet(&mut DataFrame::new(2, columns).unwrap());
    let cure = "correct the cell, or leave it blank if the value is missing";
    assert_eq!(
        read("t.parquet", bytes, |_| {}).unwrap_err().to_string(),
        format!(
            "t.parquet, row 1, column current_mean_a: found NaN, needed a number in A; {cure}\n\
             t.parquet, row 2, column current_mean_a: found inf, needed a number in A; {cure}"
        )
    );
    let sound = DataFrame::new(
        2,
        vec![
            PolarsColumn::new("trial".into(), [7_i64, 8]),
            column("pulses", DataType::UInt16),
            column("ctwd_mm", DataType::Float32),
            column("arc_length_mm", DataType::Decimal(10, 2)),
            column("half", DataType::Float16),
        ],
    );
    let trials = read("t.parquet", parquet(&mut sound.unwrap()), |_| {}).unwrap();
    assert_eq!(trials.rows[0].name, "7");
    let row = [Column::Pulses, Column::Ctwd, Column::ArcLength].map(|c| trials.rows[0].get(c));
    assert_eq!(row, [Some(1.0), Some(1.5), Some(1.5)]);
    assert_eq!(
        trials.reading_notes,
        ["t.parquet: column \"half\" (half-precision numbers) is of a type that is not read"]
    );
}

#[test]
fn damaged_workbooks_and_parquet_files_end_in_a_message() {
    use polars::prelude::{Column as PolarsColumn, DataFrame};
    let whole_parquet = parquet(
        &mut DataFrame::new(
            2,
            vec![PolarsColumn::new("trial".into(), ["a", "b"]), PolarsColumn::new("ctwd_mm".into(), [1.0, 2.0])],
        )
        .unwrap(),
    );
    let whole_workbook = workbook(|sheet| fill(sheet, 0));
    // Every 7th byte in turn: no panic may leave the reader, whatever it makes of the file.
    for (file, whole) in [("t.parquet", whole_parquet), ("t.xlsx", whole_workbook)] {
        for at in (4..whole.len() - 4).step_by(7) {
            let mut bytes = whole.clone();
            bytes[at] ^= 0xFF;
            let _ = read(file, bytes, |_| {});
        }
    }
}

#[test]
fn tables_join_and_keep_their_way_back() {
    let folder = tempfile::tempdir().unwrap();
    let study = "[wire]\nmaterial = \"aluminium\"\ndiameter_mm = 1.2\n[bench]\nctwd_mm = 18\n[line]\nwire_feed_m_min = [3, 9]\n\
        [[trials]]\nfile = \"./a.csv\"\n[[trials]]\nfile = \"sub/b.xlsx\"\nsheet = \"Trials\"\n";
    fs::write(folder.path().join("study.toml"), study).unwrap();
    fs::write(folder.path().join("a.csv"), "trial,plate,layer\nA1,p,1\n").unwrap();
    fs::create_dir(folder.path().join("sub")).unwrap();
    fs::write(folder.path().join("sub/b.xlsx"), workbook(|sheet| fill(sheet, 0))).unwrap();
    let read = read_study(folder.path()).unwrap();
    assert_eq!((read.file.as_str(), read.folder.as_path()), ("study.toml", folder.path()));
    assert_eq!(read.trials.rows.len(), 4);
    assert_eq!(read.trials.other_columns, ["plate", "layer"]);
    assert_eq!(read.trials.rows[0].other, ["p", "1"]);
    assert_eq!(read.trials.rows[1].other, ["", "a"]);
    assert_eq!(read.trials.sources.iter().map(|s| s.file.as_str()).collect::<Vec<_>>(), ["a.csv", "sub/b.xlsx"]);
    assert_eq!(read.trials.rows.iter().map(|t| t.source).collect::<Vec<_>>(), [0, 1, 1, 1]);
}

#[test]
fn a_row_of_units_is_skipped_where_it_agrees() {
    let table = "trial,wire_feed_m_min,current_mean_a,pulses\n,[m/min],(A),-\na,5.5,180.5,10\n";
    let trials = read("t.csv", table, |_| {}).unwrap();
    assert_eq!(trials.rows.len(), 1);
    assert_eq!(trials.reading_notes, ["t.csv: row 2 holds units and was skipped"]);
    let wrong = "trial,wire_feed_m_min\nx,[in/min]\na,5.5\n";
    assert_eq!(
        read("t.csv", wrong, |_| {}).unwrap_err().to_string(),
        "t.csv, row 2, column wire_feed_m_min: found the unit \"[in/min]\" in the row of units, needed m/min, as the name wire_feed_m_min states; rename the column wire_feed_in_min, or state scale = { wire_feed_m_min = 0.0254 } for this table in the study"
    );
}

#[test]
fn the_stated_marks_win() {
    let trials = read("t.csv", "trial;ctwd_mm\na;1,234\n", |r| r.decimal = Some(DecimalMark::Comma)).unwrap();
    assert_eq!(trials.rows[0].get(Column::Ctwd), Some(1.234));
    let trials = read("t.csv", "trial,ctwd_mm\na,1.234\n", |r| r.decimal = Some(DecimalMark::Point)).unwrap();
    assert_eq!(trials.rows[0].get(Column::Ctwd), Some(1.234));
    let trials = read("t.txt", "trial\tctwd_mm\na\t1,5\n", |r| {
        (r.decimal, r.separator) = (Some(DecimalMark::Comma), Some(Separator::Tab));
    })
    .unwrap();
    assert_eq!(trials.rows[0].get(Column::Ctwd), Some(1.5));
}

fn worked_example(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../datasets/worked_example").join(file)
}

#[test]
fn the_worked_example_reads_from_both_tables() {
    let ours = read_study(&worked_example("study.toml")).unwrap();
    let foreign = read_study(&worked_example("study_foreign.toml")).unwrap();
    assert_eq!((ours.trials.rows.len(), foreign.trials.rows.len()), (40, 40));
    assert_eq!(foreign.trials.sources[0].read_as, "semicolon-separated, decimal comma, header in row 3");
    assert_eq!(ours.trials.has_column, foreign.trials.has_column);
    // Feed in in/min to 0.01: half a digit, 0.005 in/min, is 0.000127 m/min.
    for (a, b) in ours.trials.rows.iter().zip(&foreign.trials.rows) {
        assert_eq!((&a.name, a.use_it, &a.note, a.row + 2), (&b.name, b.use_it, &b.note, b.row));
        for &column in Column::ALL {
            let slack = if column == Column::WireFeed { 0.000_128 } else { 0.0 };
            match (a.get(column), b.get(column)) {
                (Some(x), Some(y)) => assert!((x - y).abs() <= slack, "{} {}: {x} {y}", a.name, column.name()),
                (x, y) => assert_eq!(x, y, "{} {}", a.name, column.name()),
            }
        }
    }
    assert_eq!(ours.trials.rows.iter().filter(|t| !t.use_it).map(|t| t.name.as_str()).collect::<Vec<_>>(), ["B14"]);
    assert_eq!(ours.study.wire, foreign.study.wire);
}
