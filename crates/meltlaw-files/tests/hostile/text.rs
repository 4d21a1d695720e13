//! Text tables: bytes, numbers, separators, headers, identifiers, size.

use crate::{message, table};

#[test]
fn bytes_that_are_no_text_are_refused_and_odd_text_is_read_or_named() {
    for bytes in [
        &b"\xFF\xFEt\0r\0i\0a\0l\0"[..],
        b"\xFE\xFF\0t\0r",
        b"trial\n\xC3\x28\n",
        b"trial\na\0b\n",
        b"\0\0\0\0",
        b"trial,note\na\x1b[2J,x\n",
        b"trial\n\xED\xA0\x80\n",
        "trial\na\u{202E}b\n".as_bytes(),
        "trial\na\u{2028}b\n".as_bytes(),
    ] {
        assert!(message("t.csv", bytes).is_some(), "{bytes:?}");
    }
    for text in ["\u{feff}trial\na\n", "trial\ra\rb\r", "trial\r\na\r\n", "trial\n\u{a0}a\u{200b}\n", "trial\na"] {
        assert_eq!(message("t.csv", text), None, "{text:?}");
    }
}

#[test]
fn what_is_no_number_is_named_with_its_cell() {
    let many = "9".repeat(400);
    for cell in [
        "1e999",
        "NaN",
        "inf",
        "0x10",
        "١٢",
        "1_000",
        "2026-05-01",
        &many,
        "12 %",
        "12 A",
        "--1",
        "1e",
        ".",
        "+",
        "1..2",
    ] {
        let text = format!("trial,current_mean_a\na,{cell}\nb,1.5\n");
        let said = message("t.csv", &text).unwrap_or_default();
        assert!(said.starts_with("t.csv, row 2, column current_mean_a: found"), "{cell}: {said}");
    }
    assert_eq!(table("t.csv", "trial,current_mean_a\na,-0\n").unwrap().rows[0].name, "a");
}

#[test]
fn rows_of_another_length_and_quotes_without_end_are_named() {
    for text in [
        "trial,note\na;b\n",
        "trial,note\na\n",
        "trial,note\na,b,c\n",
        "trial,note\n\"a,b\nc,d\n",
        "trial,note,note\na,b,c\n",
        "trial,Trial\na,b\n",
        "trial,current_mean_a,current_mean_ka\na,1,1\n",
        ",,,\na,b,c,d\n",
        "\n\n\n",
        "trail\na\n",
        "trial\na\na\n",
        "trial\n\"\"\n,\n \n",
    ] {
        assert!(message("t.csv", text).is_some(), "{text:?}");
    }
}

#[test]
fn a_cell_without_end_is_refused_by_its_row() {
    let text = format!("trial,note\na,\"{}\"\n", "x".repeat(5_000_000));
    assert_eq!(
        message("t.csv", text).unwrap(),
        "t.csv, row 2: found a row of more than 1000 kB, needed at most 1000 kB; look for a quotation mark that is not closed"
    );
    let text = format!("trial,note\na,{}\n", "x".repeat(200_000));
    assert_eq!(
        message("t.csv", text).unwrap(),
        "t.csv, row 2: found a text of 200 kB in one cell, needed at most 100 kB; shorten the texts, or look for a quotation mark that is not closed"
    );
}

#[test]
fn commas_without_end_are_refused_in_the_header_and_below_it() {
    let commas = ",".repeat(5_000_000);
    let needed =
        "found a row of more than 1000 kB, needed at most 1000 kB; look for a quotation mark that is not closed";
    assert_eq!(message("t.csv", format!("trial{commas}\na\n")).unwrap(), format!("t.csv, row 1: {needed}"));
    assert_eq!(message("t.csv", format!("trial\na{commas}\n")).unwrap(), format!("t.csv, row 2: {needed}"));
    let columns: String = (0..1001).map(|k| format!(",c{k}")).collect();
    assert_eq!(
        message("t.csv", format!("trial{columns}\na\n")).unwrap(),
        "t.csv, row 1: found 1002 columns, needed at most 1000; remove what is no table"
    );
    // What a spreadsheet leaves behind a table is no fault.
    assert_eq!(message("t.csv", format!("trial{0}\na{0}\n", ",".repeat(16_383))), None);
}

#[test]
fn more_rows_than_a_table_may_have_are_refused_and_faults_are_not_listed_without_end() {
    let rows: String = (0..250_001).map(|k| format!("t{k}\n")).collect();
    let said = message("t.csv", format!("trial\n{rows}")).unwrap();
    assert_eq!(
        said,
        "t.csv, row 250002: found more rows, needed at most 250000 rows and 5000000 cells; split the table"
    );
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.csv"), format!("trial,note\n{rows}")).unwrap();
    let request = meltlaw_files::TableRequest::of_file("t.csv");
    let error = meltlaw_files::read_trial_table(folder.path(), &request).unwrap_err();
    assert!(error.faults().len() < 10_010, "{} faults", error.faults().len());
}
