//! Tables as labs have them: other encodings, marks between thousands, rows that are no trials, units by factor, columns
//! in a second file, words of other languages, and trials that the study leaves out.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use std::fs;

use meltlaw::factors::Factor;
use meltlaw::trials::{Column, Origin, Trial, Trials};
use meltlaw_files::{ReadStudy, read_study, trials_csv};

const STUDY: &str = "[wire]\nmaterial = \"carbon-steel\"\ndiameter_mm = 1.2\n[bench]\nctwd_mm = 18\n\
    [line]\nwire_feed_m_min = [3, 9]\n[[trials]]\nfile = \"t.csv\"\n";

/// A study with one table `t.csv`, further keys of it, and further files.
fn study(table: impl AsRef<[u8]>, keys: &str, files: &[(&str, &str)]) -> ReadStudy {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("study.toml"), format!("{STUDY}{keys}")).unwrap();
    fs::write(folder.path().join("t.csv"), table).unwrap();
    for (name, text) in files {
        fs::write(folder.path().join(name), text).unwrap();
    }
    read_study(folder.path()).unwrap()
}

fn trials(table: impl AsRef<[u8]>, keys: &str) -> Trials {
    study(table, keys, &[]).trials
}

#[test]
fn a_table_of_a_western_spreadsheet_reads_with_its_encoding() {
    let bytes = b"trial;tp [\xB5s];note\nB01;2300;Gr\xFC\xDFe\n";
    let keys = "encoding = \"windows-1252\"\ncolumns = { pulse_time_us = \"tp [µs]\" }\n";
    let read = trials(bytes, keys);
    assert_eq!((read.rows[0].get(Column::PulseTime), read.rows[0].note.as_str()), (Some(2.3), "Grüße"));
    let wide: Vec<u8> = "\u{feff}trial,note\nB01,é\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(trials(wide, "encoding = \"utf-16le\"\n").rows[0].note, "é");
}

#[test]
fn stated_marks_between_thousands_are_no_part_of_a_number() {
    let read = trials("trial;power_mean_w;voltage_mean_v\nB01;3.587,5;24,66\nB02;4.601;25,2\n", "thousands = \".\"\n");
    assert_eq!(read.rows[0].get(Column::PowerMean), Some(3587.5));
    assert_eq!(read.rows[1].get(Column::PowerMean), Some(4601.0));
    assert_eq!(read.rows[0].get(Column::VoltageMean), Some(24.66));
}

#[test]
fn only_the_rows_that_the_study_asks_for_are_read() {
    let table = "trial,ctwd_mm\nlimits,18\n,mm\nB01,17\nB02,19\nmean,18,of,both\n";
    let read = trials(table, "units_row = 3\nrows = [4, 5]\n");
    assert_eq!(read.rows.iter().map(|t| t.name.as_str()).collect::<Vec<_>>(), ["B01", "B02"]);
    assert_eq!(read.reading_notes, ["t.csv: row 3 holds units and was skipped"]);
}

#[test]
fn a_stated_factor_brings_numbers_to_the_named_unit_and_settles_the_heading() {
    let keys = "columns = { power_mean_w = \"P [kW]\" }\nscale = { power_mean_w = 1000.0 }\n";
    let read = trials("trial,P [kW]\n,kW\nB01,3.58\n", keys);
    assert_eq!(read.rows[0].get(Column::PowerMean), Some(3580.0));
    assert!(read.reading_notes[0].contains("were multiplied by 1000, as the study states"), "{:?}", read.reading_notes);
}

#[test]
fn a_first_row_of_numbers_is_no_row_of_units_and_a_dash_is_no_unit() {
    assert_eq!(trials("trial,run_order\nB01,1\nB02,2\n", "").rows.len(), 2);
    let read = trials("trial,ctwd_mm,power_mean_w,pulses\n,mm,-,1\nB01,18,,3\n", "units_row = 2\n");
    assert_eq!(read.rows.len(), 1);
}

#[test]
fn a_unit_outside_the_rows_asked_for_is_still_held_against_its_column() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("study.toml"), format!("{STUDY}rows = [3, 3]\n")).unwrap();
    fs::write(folder.path().join("t.csv"), "trial,ctwd_mm\n,in\nB01,0.7\n").unwrap();
    let said = read_study(folder.path()).unwrap_err().to_string();
    assert!(said.contains("row 2, column ctwd_mm: found the unit \"in\" in the row of units"), "{said}");
}

#[test]
fn a_second_table_adds_its_columns_to_the_trials_of_the_first() {
    let keys = "[[trials]]\nfile = \"counts.csv\"\njoin = \"trial\"\n";
    let counts = "trial,pulses_with_one_drop,camera,note\nB02,140,left,second\n";
    let read = study("trial,ctwd_mm,note\nB01,18,\nB02,19,first\n", keys, &[("counts.csv", counts)]).trials;
    assert_eq!(read.rows.len(), 2);
    assert_eq!((read.rows[0].get(Column::OneDrop), read.rows[1].get(Column::OneDrop)), (None, Some(140.0)));
    assert_eq!((read.rows[1].get(Column::Ctwd), read.rows[1].note.as_str()), (Some(19.0), "first; second"));
    assert_eq!(
        (read.other_columns.as_slice(), read.rows[1].other[0].as_str()),
        (["camera".to_owned()].as_slice(), "left")
    );
    assert!(read.has(Column::OneDrop));
    let sources: Vec<_> = read.sources.iter().map(|s| (s.file.as_str(), s.joined.join(" "))).collect();
    assert_eq!(sources, [("t.csv", String::new()), ("counts.csv", "B02".to_owned())]);
}

#[test]
fn factors_origin_and_what_was_asked_for_come_back_from_the_written_table() {
    let table = "trial,wire_feed_m_min,asked_wire_feed_in_min,displayed_current_a,day,spool,station,block,origin\n\
        B01,6.1,240,150,2026-11-12,S1,2,plate 1,\nB02,6.2,,,2026-11-13,S1,2,plate 1,simulated\n";
    let read = trials(table, "");
    let written = trials_csv("s", &read, &[]);
    for read in [read, trials(written, "")] {
        let first: &Trial = &read.rows[0];
        assert_eq!(first.asked(Column::WireFeed), Some(6.096));
        assert_eq!(first.get(Column::DisplayedCurrent), Some(150.0));
        let levels = Factor::ALL.map(|factor| first.level(factor));
        assert_eq!(levels, [Some("2026-11-12"), Some("S1"), Some("2"), Some("plate 1")]);
        assert_eq!((first.origin, read.rows[1].origin), (Origin::Measured, Origin::Simulated));
        assert!(read.reading_notes.iter().any(|n| n.contains("(asked_…) is kept and never fitted")));
    }
}

#[test]
fn a_table_says_in_its_own_language_what_to_use() {
    let read = trials("trial,use\na,Ja\nb,nein\nc,SÍ\nd,0\ne,\n", "");
    assert_eq!(read.rows.iter().map(|t| t.use_it).collect::<Vec<_>>(), [true, false, true, false, true]);
    let noted = trials("trial,use,note\na,no,wire slipped\n", "").reading_notes;
    assert_eq!(noted, ["trial a is left out (use = no): wire slipped"]);
    let ticked = trials("trial,use\na,x\nb,\n", "");
    assert_eq!(ticked.rows.iter().map(|t| t.use_it).collect::<Vec<_>>(), [true, false]);
    assert_eq!(ticked.reading_notes, ["t.csv: rows to use are ticked; rows without a tick are left out"]);
}

#[test]
fn the_study_leaves_trials_out_without_a_change_of_the_table() {
    let keys = "[[leave_out]]\ntrials = [\"B02\"]\nreason = \"wire slipped\"\n";
    let read = trials("trial,ctwd_mm\nB01,18\nB02,19\n", keys);
    assert_eq!((read.rows[0].use_it, read.rows[1].use_it), (true, false));
    assert_eq!(read.reading_notes, ["trial B02 is left out by the study: wire slipped"]);
    assert!(trials_csv("s", &read, &[]).contains("B02,19,pulsed,no,left out by the study: wire slipped,t.csv,3"));
}
