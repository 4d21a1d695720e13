//! What the user is told about each kind of bad input, word for word.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use std::fs;
use std::path::Path;

use meltlaw_files::read_study;

const STUDY: &str = "name = \"S\"
[wire]
material = \"carbon-steel\"
diameter_mm = 1.2
[bench]
ctwd_mm = 18
[line]
wire_feed_m_min = [3, 9]
[[trials]]
file = \"t.csv\"
";

/// The message about a study, one fault a line, the folder's own path left out.
fn lines(folder: &Path, study: &Path) -> Vec<String> {
    let message = read_study(study).unwrap_err().to_string().replace(&folder.display().to_string(), "DIR");
    message.lines().map(str::to_owned).collect()
}

/// What is said about a study with one table.
fn of_file(study: &str, file: &str, table: impl AsRef<[u8]>) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("study.toml"), study).unwrap();
    fs::write(folder.path().join(file), table).unwrap();
    lines(folder.path(), folder.path())
}

/// What is said about a text table in a sound study.
fn of_table(table: impl AsRef<[u8]>) -> Vec<String> {
    of_file(STUDY, "t.csv", table)
}

/// What is said about a study file with a sound table.
fn of_study(study: &str) -> Vec<String> {
    of_file(study, "t.csv", "trial\na\n")
}

/// What is said about the study above with one text replaced.
fn changed(from: &str, to: &str) -> Vec<String> {
    assert!(STUDY.contains(from), "nothing to replace");
    of_study(&STUDY.replacen(from, to, 1))
}

/// What is said about a workbook.
fn of_workbook(keys: &str, fill: impl FnOnce(&mut rust_xlsxwriter::Worksheet)) -> Vec<String> {
    let mut workbook = rust_xlsxwriter::Workbook::new();
    fill(workbook.add_worksheet().set_name("Trials").unwrap());
    workbook.add_worksheet().set_name("Empty").unwrap();
    let study = STUDY.replace("t.csv\"", &format!("t.xlsx\"{keys}"));
    of_file(&study, "t.xlsx", workbook.save_to_buffer().unwrap())
}

/// A header, and a sound first trial.
fn start(sheet: &mut rust_xlsxwriter::Worksheet) {
    for (column, head) in (0_u16..).zip(["trial", "wire_feed_m_min", "current_mean_a"]) {
        sheet.write(0, column, head).unwrap();
    }
    sheet.write(1, 0, 1).unwrap();
    sheet.write(1, 1, 6.5).unwrap();
}

#[test]
fn an_empty_file_and_a_lone_header_are_no_tables() {
    assert_eq!(
        of_table(""),
        ["t.csv: found an empty file, needed a header row and a row for each trial; export the table again",]
    );
    assert_eq!(
        of_table("trial,ctwd_mm\n"),
        ["t.csv, row 1: found a header and no row below it, needed a row for each trial; add the trials",]
    );
    assert_eq!(
        of_table("# a comment\n\n"),
        ["t.csv: found nothing but comments, needed a header row and a row for each trial; export the table again",]
    );
}

#[test]
fn every_bad_cell_is_named_with_what_to_do() {
    assert_eq!(
        of_table(
            "trial,current_mean_a,pulses\nB01,NaN,12.5\nB02,inf,-1\nB03,abc,1e999\nB04,12 %,\nB05,2026-11-12,3\nB06,\"182,5\",x\nB07,181.5 A,3\nB08\n"
        ),
        [
            "t.csv, row 2, column current_mean_a: found \"NaN\", needed a number in A; leave the cell blank if the value is missing",
            "t.csv, row 2, column pulses: found \"12.5\", needed a whole number of 0 or more; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 3, column current_mean_a: found \"inf\", needed a number in A; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 3, column pulses: found \"-1\", needed a whole number of 0 or more; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 4, column current_mean_a: found \"abc\", needed a number in A; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 4, column pulses: found \"1e999\", needed a whole number of 0 or more; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 5, column current_mean_a: found \"12 %\", needed a number in A; write the plain number in the column's unit",
            "t.csv, row 6, column current_mean_a: found \"2026-11-12\", needed a number in A; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 7, column current_mean_a: found \"182,5\", needed a number in A; write it with a decimal point, or state decimal = \",\" if the whole file uses commas",
            "t.csv, row 7, column pulses: found \"x\", needed a whole number of 0 or more; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 8, column current_mean_a: found \"181.5 A\", needed a number in A; write the number alone; the column's name carries the unit",
            "t.csv, row 9: found 1 cell, needed 3 cells as in the header (comma-separated); look for a decimal comma, or for quotation marks that a text with a comma lacks or does not close",
        ]
    );
}

#[test]
fn marks_are_decided_once_and_the_rarer_ones_are_the_bad_cells() {
    assert_eq!(
        of_table("trial;current_mean_a;ctwd_mm\nB01;182,5;18\nB02;1.234;18\nB03;175.5;18\nB04;1,5;1\n"),
        [
            "t.csv, row 3, column current_mean_a: found \"1.234\", needed a number in A; write it without marks between the thousands",
            "t.csv, row 4, column current_mean_a: found \"175.5\", needed a number in A; write it with a decimal comma, or state decimal = \".\" if the whole file uses points",
        ]
    );
    assert_eq!(
        of_table("trial,ctwd_mm,current_mean_a\nB01,18,182,5\n"),
        [
            "t.csv, row 2: found 4 cells, needed 3 cells as in the header (comma-separated); look for a decimal comma, or for quotation marks that a text with a comma lacks or does not close",
        ]
    );
    assert_eq!(
        of_table("trial;current_mean_a\nB01;1.234\nB02;2.345\n"),
        [
            "t.csv, row 2, column current_mean_a: found \"1.234\", which may be a fraction or a thousand, and no number that settles it, needed the decimal mark of the file; state decimal = \".\" or decimal = \",\" for this table in the study",
        ]
    );
}

#[test]
fn identifiers_are_there_once_and_on_one_line() {
    assert_eq!(
        of_table("trial,ctwd_mm\nB01,18\nB02,18\nB01,19\n"),
        [
            "t.csv, row 4, column trial: found \"B01\", needed an identifier of its own, as this one stands in t.csv, row 2; rename one of the two",
        ]
    );
    assert_eq!(
        of_table("trial,note\n\"B\n1\",x\n,y\n\u{202E}B2,z\n"),
        [
            "t.csv, row 2, column trial: found \"B\\n1\" with a line break, needed one line of at most 120 characters without control or text direction characters; shorten or correct the identifier",
            "t.csv, row 4, column trial: found a blank cell, needed an identifier; name the trial, or clear the whole row",
            "t.csv, row 5, column trial: found \"\\u{202e}B2\" with the unseen character U+202E, needed one line of at most 120 characters without control or text direction characters; shorten or correct the identifier",
        ]
    );
}

#[test]
fn words_and_standard_errors_are_checked() {
    assert_eq!(
        of_table("trial,mode,use,wire_feed_m_min_se,current_gain_relative_se\nB01,constant current,maybe,-0.1,-1\n"),
        [
            "t.csv, row 2, column mode: found \"constant current\", needed pulsed, constant_current or constant_voltage; write one of them, the nearest is constant_current",
            "t.csv, row 2, column use: found \"maybe\", needed yes or no; write yes or no, or leave it blank for yes",
            "t.csv, row 2, column wire_feed_m_min_se: found \"-0.1\", needed a standard error of 0 or more in m/min; correct the cell, or leave it blank if the value is missing",
            "t.csv, row 2, column current_gain_relative_se: found \"-1\", needed a standard error of 0 or more; correct the cell, or leave it blank if the value is missing",
        ]
    );
}

#[test]
fn headers_name_each_quantity_once_and_the_trial() {
    assert_eq!(
        of_table("trial,Trial\na,b\n"),
        ["t.csv, row 1: found columns trial and Trial, needed each quantity once; rename or remove one",]
    );
    assert_eq!(
        of_table("trial,ctwd_mm,ctwd_in\na,18,0.7\n"),
        ["t.csv, row 1: found columns ctwd_mm and ctwd_in, needed each quantity once; rename or remove one",]
    );
    assert_eq!(
        of_table("ctwd_mm,note\n18,b\n"),
        [
            "t.csv, row 1: found no column trial, needed an identifier for each trial; name the column of identifiers trial, or map it: columns = { trial = \"its name\" }",
        ]
    );
    assert_eq!(
        changed("file = \"t.csv\"", "file = \"t.csv\"\ncolumns = { ctwd_mm = \"Abstand\" }"),
        [
            "t.csv, row 1: found no column \"Abstand\", needed it, as the study maps ctwd_mm to it; correct the study, the nearest is \"trial\"",
        ]
    );
}

#[test]
fn tables_are_files_in_the_folder_of_a_kind_that_is_read() {
    assert_eq!(
        changed("t.csv", "../t.csv"),
        [
            "../t.csv: found a path with .., needed a file in the study's folder or below it; copy the table into the study's folder and name it from there",
        ]
    );
    assert_eq!(
        changed("t.csv", "/t.csv"),
        [
            "/t.csv: found a path from the root, needed a file in the study's folder or below it; copy the table into the study's folder and name it from there",
        ]
    );
    assert_eq!(
        changed("t.csv", "none.csv"),
        ["none.csv: found no such file, needed a file; check the path, which counts from the study's folder",]
    );
    assert_eq!(
        changed("t.csv", "t.ods"),
        ["t.ods: found the extension \"ods\", needed csv, tsv, txt, xlsx or parquet; export the table as one of these",]
    );
    assert_eq!(
        changed("t.csv", "t"),
        ["t: found no extension, needed csv, tsv, txt, xlsx or parquet; export the table as one of these",]
    );
}

#[test]
fn workbooks_name_the_cell() {
    assert_eq!(
        of_workbook("", |sheet| {
            start(sheet);
            sheet.write(2, 0, 1).unwrap();
            sheet.write(2, 1, true).unwrap();
            sheet.write(2, 2, "182,5 A").unwrap();
            let day = rust_xlsxwriter::Format::new().set_num_format("yyyy-mm-dd");
            sheet.write_with_format(11, 1, 46_000, &day).unwrap();
            sheet.write_formula(11, 2, rust_xlsxwriter::Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
        }),
        [
            "t.xlsx, cell B3, column wire_feed_m_min: found TRUE, needed a number in m/min; correct the cell, or leave it blank if the value is missing",
            "t.xlsx, cell C3, column current_mean_a: found \"182,5 A\", needed a number in A; write the number alone; the column's name carries the unit",
            "t.xlsx, cell A12, column trial: found a blank cell, needed an identifier; name the trial, or clear the whole row",
            "t.xlsx, cell B12, column wire_feed_m_min: found 2025-12-09, needed a number in m/min; correct the cell, or leave it blank if the value is missing",
            "t.xlsx, cell C12, column current_mean_a: found #DIV/0!, needed a number in A; correct the cell, or leave it blank if the value is missing",
            "t.xlsx, cell A3, column trial: found \"1\", needed an identifier of its own, as this one stands in t.xlsx, cell A2; rename one of the two",
        ]
    );
    assert_eq!(
        of_workbook("\nsheet = \"trial\"", start),
        [
            "t.xlsx: found no sheet \"trial\", needed a sheet of the workbook; correct sheet in the study, the nearest is \"Trials\"",
        ]
    );
    assert_eq!(
        of_workbook("\nsheet = \"Empty\"", start),
        [
            "t.xlsx: found an empty sheet \"Empty\", needed a header row and a row for each trial; state the sheet in the study, or fill it",
        ]
    );
    assert_eq!(
        of_workbook("\nheader_row = 9", start),
        [
            "t.xlsx: found nothing in row 9 of sheet \"Trials\", needed the header there; correct header_row in the study",
        ]
    );
    assert_eq!(
        of_workbook("\nseparator = \";\"", start),
        ["t.xlsx: found a separator for a workbook, needed none; remove separator from the study",]
    );
    assert_eq!(
        of_file(&STUDY.replace("t.csv", "t.xlsx"), "t.xlsx", "trial,note\n"),
        ["t.xlsx: found a file that is no workbook, needed an XLSX workbook; save the table as XLSX again, or as CSV",]
    );
}

#[test]
fn a_study_that_is_not_there_says_what_to_name() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(
        lines(folder.path(), folder.path()),
        ["DIR/study.toml: found no such file, needed a file; name a study file, or a folder that holds study.toml"]
    );
    assert_eq!(
        lines(folder.path(), &folder.path().join("none.toml")),
        ["DIR/none.toml: found no such file, needed a file; name a study file, or a folder that holds study.toml"]
    );
    fs::write(folder.path().join("study.toml"), b"name = \"\xE4\"").unwrap();
    assert_eq!(
        lines(folder.path(), folder.path()),
        [
            "study.toml, line 1: found byte 8 (counting from 0) that is no UTF-8, needed text in UTF-8; save the file as UTF-8"
        ]
    );
}

#[test]
fn a_study_names_its_material_and_itself_on_one_line() {
    assert_eq!(
        changed("carbon-steel", "carbonsteel"),
        [
            "study.toml, line 3, key wire.material: found \"carbonsteel\", needed one of \"carbon-steel\", \"stainless-steel\", \"aluminium\", \"nickel\", \"copper\"; the nearest is \"carbon-steel\"",
        ]
    );
    assert_eq!(
        changed("name = \"S\"", "name = \"a\\nb\""),
        [
            "study.toml, line 1, key name: found \"a\\nb\" with a line break, needed one line of at most 120 characters without control or text direction characters; shorten or correct it",
        ]
    );
    assert_eq!(
        changed("name = \"S\"", "name = \"\""),
        [
            "study.toml, line 1, key name: found nothing but blanks, needed one line of at most 120 characters without control or text direction characters; shorten or correct it",
        ]
    );
}

#[test]
fn text_that_is_no_toml_is_named_by_line() {
    assert_eq!(
        of_study("[wire\n"),
        [
            "study.toml, line 1: found text that is not TOML (unclosed table, expected `]`), needed key = value; correct the line",
        ]
    );
    assert_eq!(
        changed("ctwd_mm = 18", "ctwd_mm = 18,0"),
        [
            "study.toml, line 6: found text that is not TOML (unexpected key or value, expected newline, `#`), needed key = value; correct the line",
        ]
    );
}

#[test]
fn what_a_study_must_state_is_listed_at_once() {
    assert_eq!(
        of_study(""),
        [
            "study.toml, line 1, key bench.ctwd_mm: found no such key, needed a length from 0.001 to 1000 mm; state it",
            "study.toml, line 1, key line.wire_feed_m_min: found no such key, needed [low, high], each a wire feed from 0.001 to 1000 m/min; state it",
            "study.toml, line 1, key trials: found no such key, needed at least one table of trials; add [[trials]] with file = \"trials.csv\"",
            "study.toml, line 1, key wire.diameter_mm: found no such key, needed a diameter from 0.05 to 20 mm; state it",
            "study.toml, line 1, key wire.material: found no such key, needed one of \"carbon-steel\", \"stainless-steel\", \"aluminium\", \"nickel\", \"copper\"; state it",
        ]
    );
    assert_eq!(
        changed("[[trials]]", "[trials]"),
        ["study.toml, line 9, key trials: found a table, needed a list of tables; write each as [[trials]]",]
    );
}

const FAULTY: &str = "[wire]
material = \"steel\"
diamter_mm = 1.2
density_kg_m3 = 7.85
[gas]
argon = -3
co2 = 8
[bench]
ctwd_mm = \"18,0\"
voltage_se_v = -0.1
voltage_measured_at = \"source\"
[source]
pulse_duty = [0.5, 0.2]
current_a = [500]
[line]
wire_feed_m_min = [9, 3]
step_m_min = 0
[numerics]
confidence = 0.5
draws = 50
seed = -1
[laws]
burn_off = \"linear\"
[prior.burn_of.x]
[[logs]]
columns = { speed = \"v\" }
[clibration]
x = 1
";

#[test]
fn every_fault_of_a_study_is_listed_by_line() {
    assert_eq!(
        of_study(FAULTY),
        [
            "study.toml, line 1, key wire.diameter_mm: found no such key, needed a diameter from 0.05 to 20 mm; state it",
            "study.toml, line 2, key wire.material: found \"steel\", needed one of \"carbon-steel\", \"stainless-steel\", \"aluminium\", \"nickel\", \"copper\"; the nearest is \"carbon-steel\"",
            "study.toml, line 3, key wire.diamter_mm: found an unknown key, needed a known key, the nearest is diameter_mm; correct or remove it",
            "study.toml, line 4, key wire.density_kg_m3: found 7.85, needed a density from 500 to 25000 kg/m3; correct it",
            "study.toml, line 6, key gas.argon: found -3, needed per cent by volume from 0 to 100; correct it",
            "study.toml, line 7, key gas.co2: found an unknown key, needed a known key, the nearest is carbon_dioxide; correct or remove it",
            "study.toml, line 8, key bench.lead_resistance_ohm: found no such key, needed the resistance of the leads, as voltage_measured_at is \"source\"; state it, 0 if the leads do not matter",
            "study.toml, line 9, key bench.ctwd_mm: found \"18,0\", needed a length from 0.001 to 1000 mm; write it without quotation marks, with a decimal point",
            "study.toml, line 10, key bench.voltage_se_v: found -0.1, needed a standard error from 0 to 100 V; correct it",
            "study.toml, line 13, key source.pulse_duty: found [0.5, 0.2], needed [low, high] with low below high, each a number from 0 to 1; correct it",
            "study.toml, line 14, key source.current_a: found [500], needed [low, high] with low below high, each a current from 0 to 1000000 A; correct it",
            "study.toml, line 16, key line.wire_feed_m_min: found [9, 3], needed [low, high] with low below high, each a wire feed from 0.001 to 1000 m/min; correct it",
            "study.toml, line 17, key line.step_m_min: found 0, needed a step from 0.001 to 1000 m/min; correct it",
            "study.toml, line 19, key numerics.confidence: found 0.5, needed a number above 0.5 and at most 0.9999; correct it",
            "study.toml, line 20, key numerics.draws: found 50, needed a whole number from 100 to 1000000; correct it",
            "study.toml, line 21, key numerics.seed: found -1, needed a whole number from 0 to 9223372036854775807; correct it",
            "study.toml, line 23, key laws.burn_off: found \"linear\", needed one of \"proportional\", \"offset\"; the nearest is \"proportional\"",
            "study.toml, line 24, key prior.burn_of: found an unknown key, needed a known key, the nearest is burn_off; correct or remove it",
            "study.toml, line 25, key logs.glob: found no such key, needed which files below the study's folder, such as \"logs/*.csv\"; state it",
            "study.toml, line 26, key logs.columns.speed: found an unknown name, needed one of time, current, voltage, with _ms, _us, _ka, _mv where it is another unit, or wire_feed_m_min, ctwd_mm, extension_mm, arc_length_mm, travel_speed_mm_s, gas_flow_l_min; write ours = \"theirs\", such as current = \"I\"",
            "study.toml, line 27, key clibration: found an unknown key, needed a known key, the nearest is calibration; correct or remove it",
        ]
    );
}

#[test]
fn every_fault_of_stated_knowledge_is_listed() {
    let prior = "[prior.burn_off.beta_per_a2_s]
mean = 5e-5
standard_deviation = 0
[prior.burn_off.offset_mm_per_s]
mean = 1
standard_deviation = 0.1
source = \"a\\nb\"
[prior.burn_off.alpha]
mean = 1
[prior.detachment.steepness]
mean = -8
standard_deviation = 1
source = \" \"
[prior.detachment.one_drop_from_ms]
mean = 3
standard_deviation = 0.1
source = \"last year\"
sd = 1
[prior.detachment.more_drops_from_ms]
mean = 2
standard_deviation = 0.1
source = \"last year\"
[prior.detachment.exponent]
mean = \"2\"
standard_deviation = nan
source = 7
[laws]
arc_voltage = \"current\"
[prior.arc_voltage.gradient_v_per_mm]
mean = 1
standard_deviation = 1
source = \"b\"
[line]";
    let messages = changed("[line]", prior);
    assert_eq!(
        messages,
        [
            "study.toml, line 7, key prior.burn_off.beta_per_a2_s.source: found no such key, needed where the knowledge comes from, in one line; state it",
            "study.toml, line 9, key prior.burn_off.beta_per_a2_s.standard_deviation: found 0, needed a number from 0.000000000001 to 1000000; correct it",
            "study.toml, line 10, key prior.burn_off.offset_mm_per_s: found a prior, needed a coefficient that the form proportional has; remove it, or state burn_off = \"offset\" under [laws]",
            "study.toml, line 13, key prior.burn_off.offset_mm_per_s.source: found \"a\\nb\" with a line break, needed one line of at most 120 characters without control or text direction characters; shorten or correct it",
            "study.toml, line 14, key prior.burn_off.alpha: found an unknown key, needed a known key, the nearest is alpha_mm_per_a_s; correct or remove it",
            "study.toml, line 17, key prior.detachment.steepness.mean: found -8, needed a number from 0.000001 to 1000000; correct it",
            "study.toml, line 19, key prior.detachment.steepness.source: found nothing but blanks, needed one line of at most 120 characters without control or text direction characters; shorten or correct it",
            "study.toml, line 24, key prior.detachment.one_drop_from_ms.sd: found an unknown key, needed a known key, the nearest is source; correct or remove it",
            "study.toml, line 25, key prior.detachment.more_drops_from_ms: found a mean of 2 ms, needed a mean above that of one_drop_from_ms, 3 ms; correct one of the two",
            "study.toml, line 30, key prior.detachment.exponent.mean: found \"2\", needed a number from -1000000 to 1000000; write it without quotation marks, with a decimal point",
            "study.toml, line 31, key prior.detachment.exponent.standard_deviation: found nan, needed a number from 0.000000000001 to 1000000; correct it",
            "study.toml, line 32, key prior.detachment.exponent.source: found 7, needed a text in quotation marks; correct it",
            "study.toml, line 35, key prior.arc_voltage.gradient_v_per_mm: found a prior, needed a coefficient that the form current has; remove it, or state arc_voltage = \"current_arc\" under [laws]",
        ]
    );
}

#[test]
fn tables_and_pins_are_asked_for_without_contradiction() {
    assert_eq!(
        changed(
            "file = \"t.csv\"",
            "file = \"t.csv\"\nheader_row = 0\ndecimal = \";\"\ncolumns = { wire_feed_ipm = \"WFS\" }\n[[trials]]\nfile = \"./t.csv\"\n[[trials]]",
        ),
        [
            "study.toml, line 11, key trials[1].header_row: found 0, needed a whole number from 1 to 1000000; correct it",
            "study.toml, line 12, key trials[1].decimal: found \";\", needed one of \".\", \",\"; choose one",
            "study.toml, line 13, key trials[1].columns.wire_feed_ipm: found an unknown column name, needed one of our column names on the left, the nearest is wire_feed_in_min; write ours = \"theirs\", such as wire_feed_in_min = \"WFS\"",
            "study.toml, line 14, key trials: found \"t.csv\" a second time, needed each table once; remove one",
            "study.toml, line 16, key trials[3].file: found no such key, needed the path of a table below the study's folder; state it",
        ]
    );
    assert_eq!(
        changed(
            "[line]",
            "[line]\npin = [{ wire_feed_m_min = 12.0, pulse_current_a = 400 }, { wire_feed_m_min = 4.0 }]",
        ),
        [
            "study.toml, line 8, key line.pin[1].wire_feed_m_min: found 12, needed a feed inside the line, 3 to 9 m/min; move the pin or widen the line",
            "study.toml, line 8, key line.pin[2].wire_feed_m_min: found nothing pinned, needed pulse_current_a, pulse_time_ms or pulse_frequency_hz; state one or remove the pin",
        ]
    );
    assert_eq!(
        changed("[line]", "[line]\nstep_m_min = 1e-9"),
        ["study.toml, line 8, key line.step_m_min: found 1e-9, needed a step from 0.001 to 1000 m/min; correct it",]
    );
    assert_eq!(
        changed("[line]", "[line]\nstep_m_min = 0.001\ndrop_to_wire_ratio = 2"),
        [
            "study.toml, line 8, key line.step_m_min: found a line of 6001 nodes: 6001 at 0.001 m/min from 3 to 9 m/min, 0 pinned, needed at most 2000 nodes, pins among them; take a longer step, a shorter line or fewer pins",
            "study.toml, line 9, key line.drop_to_wire_ratio: found the ratio 2 with limits [0.8, 1.4], needed a ratio inside its limits; correct one of the two",
        ]
    );
    assert_eq!(
        changed("ctwd_mm = 18", "ctwd_mm = 4\nlead_resistance_ohm = 0.01"),
        [
            "study.toml, line 6, key bench.ctwd_mm: found 4, needed more than the arc length of 4 mm; correct it or arc_length_mm",
            "study.toml, line 7, key bench.lead_resistance_ohm: found a value, needed no lead resistance, as the voltage is measured at the contact tip; remove it or state voltage_measured_at = \"source\"",
        ]
    );
    assert_eq!(
        changed("diameter_mm = 1.2", "diameter_mm = 1.2\nmetal_section_mm2 = 1.3"),
        [
            "study.toml, line 5, key wire.metal_section_mm2: found 1.3, needed at most the whole section π·d²/4 = 1.131 mm2; correct it or diameter_mm",
        ]
    );
}

#[test]
fn keys_of_a_line_to_come_are_checked_as_all_others_are() {
    let keys = "[setup]
polarity = \"plus\"
joint = true
[confirm]
false_accept = 0
[factors.block]
voltage_v = 0.1
[factors.day]
voltage_v = -1
[source]
pulse_time_is = \"flat\"
setting_steps = { pulse_current_a = 0 }
[laws]
discrepancy = \"gaussian\"
[compare]
shared_form = 1
[[leave_out]]
trials = []
[line]";
    assert_eq!(
        changed("[line]", keys),
        [
            "study.toml, line 8, key setup.polarity: found \"plus\", needed one of \"electrode-positive\", \"electrode-negative\", \"unknown\"; the nearest is \"electrode-positive\"",
            "study.toml, line 9, key setup.joint: found true, needed a text in quotation marks; correct it",
            "study.toml, line 11, key confirm.false_accept: found 0, needed a number from 0.000001 to below 1; correct it",
            "study.toml, line 12, key factors.block: found an unknown key, needed a known key, the nearest is spool; correct or remove it",
            "study.toml, line 15, key factors.day.voltage_v: found -1, needed a standard error from 0 to 100 V; correct it",
            "study.toml, line 17, key source.pulse_time_is: found \"flat\", needed one of \"half-height\", \"flat-top\", \"with-rise\"; the nearest is \"flat-top\"",
            "study.toml, line 18, key source.setting_steps.pulse_current_a: found 0, needed a current from 0.0001 to 1000000 A; correct it",
            "study.toml, line 20, key laws.discrepancy: found \"gaussian\", needed \"none\"; the nearest is \"none\"",
            "study.toml, line 22, key compare.shared_form: found 1, needed true or false; correct it",
            "study.toml, line 23, key leave_out.reason: found no such key, needed why these trials take no part, in one line; state it",
            "study.toml, line 24, key leave_out.trials: found an empty list, needed a list of trials, such as [\"B13\"]; name one or remove the entry",
        ]
    );
}

#[test]
fn keys_of_a_table_are_checked_with_the_study() {
    let keys = "file = \"t.csv\"
encoding = \"ansi\"
decimal = \",\"
thousands = \",\"
units_row = 0
rows = [9, 2]
scale = { power = 1000, power_mean_w = 0, note = 2 }
join = \"yes\"";
    assert_eq!(
        changed("file = \"t.csv\"", keys),
        [
            "study.toml, line 11, key trials.encoding: found \"ansi\", needed one of \"utf-8\", \"windows-1252\", \"iso-8859-1\", \"latin-1\", \"utf-16le\", \"utf-16be\"; the nearest is \"latin-1\"",
            "study.toml, line 13, key trials.thousands: found \",\", needed another mark than the decimal comma; correct one of the two",
            "study.toml, line 14, key trials.units_row: found 0, needed a whole number from 1 to 1000000; correct it",
            "study.toml, line 15, key trials.rows: found [9, 2], needed [first, last], whole numbers from 1 to 1000000, the last not before the first; correct it",
            "study.toml, line 16, key trials.scale.note: found an unknown column name, needed one of our columns of numbers, the nearest is note; correct or remove it",
            "study.toml, line 16, key trials.scale.power: found an unknown column name, needed one of our columns of numbers, the nearest is power_mean_w; correct or remove it",
            "study.toml, line 16, key trials.scale.power_mean_w: found 0, needed a factor other than 0; correct it",
            "study.toml, line 17, key trials.join: found \"yes\", needed \"trial\"; the nearest is \"trial\"",
        ]
    );
}

#[test]
fn a_trial_that_no_table_has_cannot_be_left_out() {
    let entry = "[[leave_out]]\ntrials = [\"b\"]\nreason = \"slipped\"\n[[leave_out]]\ntrials = [\"a\", \"b\"]\nreason = \"again\"\n[line]";
    assert_eq!(
        changed("[line]", entry),
        ["study.toml, line 11, key leave_out[2].trials: found \"b\" a second time, needed each trial once; remove one",]
    );
    assert_eq!(
        changed("[line]", "[[leave_out]]\ntrials = [\"b\"]\nreason = \"slipped\"\n[line]"),
        [
            "study.toml, line 8, key leave_out.trials: found \"b\", needed a trial of the tables, the nearest is \"a\"; correct or remove it",
        ]
    );
}

#[test]
fn a_unit_that_contradicts_its_column_is_one_error_whatever_the_number_of_rows() {
    let table =
        "trial,wire_feed_m_min,current_mean_a,P [kW],ctwd_mm\n,m/min,A,kW,mm\nB01,5,150,3.1,18\nB02,6,170,3.6,18\n";
    let mapped = |ours: &str| STUDY.replace("t.csv\"", &format!("t.csv\"\ncolumns = {{ {ours} = \"P [kW]\" }}"));
    assert_eq!(
        of_file(&mapped("power_mean_w"), "t.csv", table),
        [
            "t.csv, row 1, column \"P [kW]\" (power_mean_w): found the unit \"kW\" in the heading, needed W, as the name power_mean_w states; map it as power_mean_kw instead, or state scale = { power_mean_w = 1000 } for this table in the study"
        ]
    );
    let study = STUDY.replace("t.csv\"", "t.csv\"\ncolumns = { power_mean_w = \"P\" }");
    assert_eq!(
        of_file(&study, "t.csv", table.replace("P [kW]", "P")),
        [
            "t.csv, row 2, column \"P\" (power_mean_w): found the unit \"kW\" in the row of units, needed W, as the name power_mean_w states; map it as power_mean_kw instead, or state scale = { power_mean_w = 1000 } for this table in the study"
        ]
    );
    assert_eq!(
        of_table("trial,voltage_mean_v,ctwd_mm\n,A,mm\nB01,25,18\n"),
        [
            "t.csv, row 2, column voltage_mean_v: found the unit \"A\" in the row of units, needed V, as the name voltage_mean_v states; map the column that holds it, or correct the unit; scale = { voltage_mean_v = 1 } says that the numbers are in V"
        ]
    );
}

#[test]
fn a_table_that_joins_names_every_row_without_its_one_trial() {
    let folder = tempfile::tempdir().unwrap();
    let study = format!("{STUDY}[[trials]]\nfile = \"more.csv\"\njoin = \"trial\"\n");
    fs::write(folder.path().join("study.toml"), study).unwrap();
    fs::write(folder.path().join("t.csv"), "trial,ctwd_mm\nB01,18\nB02,18\n").unwrap();
    fs::write(folder.path().join("more.csv"), "trial,pulses,ctwd_mm\nB01,10,17\nB1,20,\nB01,30,\n").unwrap();
    assert_eq!(
        lines(folder.path(), folder.path()),
        [
            "more.csv, row 3, column trial: found \"B1\", needed a trial of another table, the nearest is \"B01\"; correct it or remove the row",
            "more.csv, row 4, column trial: found \"B01\" a second time, needed one row for each trial; remove one of the two rows",
            "more.csv, row 2, column ctwd_mm: found a value of B01 that another table gives as well, needed each value once; remove it here or there",
        ]
    );
}
