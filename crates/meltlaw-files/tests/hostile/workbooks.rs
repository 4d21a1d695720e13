//! Workbooks: claims, bombs, depth, places, texts used many times.

use crate::make::{archive, rows_of_shared, shared, workbook};
use crate::{message, table};

const CURE: &str = "save the table alone as XLSX, or as CSV";

fn sound() -> String {
    shared("count=\"2\" uniqueCount=\"1\"", "<si><t>x</t></si>")
}

#[test]
fn a_plain_workbook_reads() {
    let trials = table("t.xlsx", workbook(&sound(), "", &rows_of_shared(2), &[])).unwrap();
    assert_eq!((trials.rows[1].name.as_str(), trials.rows[1].note.as_str()), ("3", "x"));
}

#[test]
fn a_claim_of_shared_texts_takes_no_memory() {
    let claim = shared("count=\"2\" uniqueCount=\"4294967295\"", "<si><t>x</t></si>");
    assert_eq!(
        message("t.xlsx", workbook(&claim, "", &rows_of_shared(2), &[])).unwrap(),
        format!("t.xlsx: found a workbook with a claim of 4294967295 shared texts, needed at most 2000000; {CURE}")
    );
}

#[test]
fn a_text_that_stands_in_many_cells_is_counted_each_time() {
    let long = |bytes: usize| shared("", &format!("<si><t>{}</t></si>", "x".repeat(bytes)));
    assert_eq!(
        message("t.xlsx", workbook(&long(20_000_000), "", &rows_of_shared(48), &[])).unwrap(),
        format!(
            "t.xlsx: found a workbook with more than 1000000 bytes in one text or tag, needed at most 1000000; {CURE}"
        )
    );
    let pieces = shared("", &format!("<si>{}</si>", "<r><t>xxxxxxxxxx</t></r>".repeat(20_000)));
    assert_eq!(
        message("t.xlsx", workbook(&pieces, "", &rows_of_shared(48), &[])).unwrap(),
        format!(
            "t.xlsx: found a workbook with more than 100000 bytes of text in one cell, needed at most 100000; {CURE}"
        )
    );
    let said = message("t.xlsx", workbook(&long(90_000), "", &rows_of_shared(2000), &[])).unwrap();
    assert!(
        said.starts_with("t.xlsx, cell B1113: found more than 100000 kB of text in the cells so far, needed at most"),
        "{said}"
    );
}

#[test]
fn what_unpacks_to_any_size_is_refused() {
    let spaces = " ".repeat(2_000_000);
    let parts = [("xl/worksheets/sheet1.xml", spaces.as_str())];
    let said = message("t.xlsx", workbook(&sound(), "", "", &parts)).unwrap();
    assert_eq!(
        said,
        format!(
            "t.xlsx: found a workbook with more than 1000000 bytes in one text or tag, needed at most 1000000; {CURE}"
        )
    );
    let names: Vec<String> = (0..10_001).map(|k| format!("p{k}.png")).collect();
    let parts: Vec<(&str, &str)> = names.iter().map(|name| (name.as_str(), "")).collect();
    let said = message("t.xlsx", archive(&parts)).unwrap();
    assert_eq!(said, format!("t.xlsx: found a workbook with more than 10000 parts, needed at most 10000; {CURE}"));
}

#[test]
fn formats_do_not_multiply_what_they_refer_to() {
    let styles = format!(
        "<fonts><font><name val=\"{}\"/></font></fonts><cellXfs>{}</cellXfs>",
        "x".repeat(100_000),
        "<xf fontId=\"0\"/>".repeat(60_000)
    );
    let said = message("t.xlsx", workbook(&sound(), &styles, &rows_of_shared(2), &[])).unwrap();
    assert!(said.contains("more than 64000000 bytes in its cell formats"), "{said}");
    let fonts = format!("<fonts>{}</fonts>", "<font/>".repeat(200_001));
    let said = message("t.xlsx", workbook(&sound(), &fonts, &rows_of_shared(2), &[])).unwrap();
    assert!(said.contains("more than 200000 formats and names"), "{said}");
    // As many as a spreadsheet program writes at most.
    let usual = format!("<cellXfs>{}</cellXfs>", "<xf numFmtId=\"0\" fontId=\"0\"/>".repeat(65_490));
    assert_eq!(message("t.xlsx", workbook(&sound(), &usual, &rows_of_shared(2), &[])), None);
}

#[test]
fn depth_entities_and_hidden_sheets_are_refused() {
    let deep = "<x>".repeat(300);
    let said = message("t.xlsx", workbook(&sound(), "", &deep, &[])).unwrap();
    assert!(said.contains("more than 256 elements within each other"), "{said}");
    let entities = format!("<!DOCTYPE sst [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;\">]>{}", sound());
    let said = message("t.xlsx", workbook(&entities, "", &rows_of_shared(2), &[])).unwrap();
    assert!(said.contains("a document type"), "{said}");
    let hidden =
        "<Relationships><Relationship Id=\"rId1\" Type=\"x/worksheet\" Target=\"media/a.png\"/></Relationships>";
    let parts = [("xl/_rels/workbook.xml.rels", hidden), ("xl/media/a.png", "<worksheet/>")];
    let said = message("t.xlsx", workbook(&sound(), "", "", &parts)).unwrap();
    assert!(said.contains("a sheet in \"media/a.png\""), "{said}");
}

#[test]
fn cells_in_far_corners_and_in_any_order_cost_what_they_hold() {
    let head = "<row r=\"1\"><c r=\"A1\" t=\"str\"><v>trial</v></c></row>";
    let far = format!("{head}<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row>");
    assert!(message("t.xlsx", workbook(&sound(), "", &far, &[])).unwrap().contains("found 16384 columns"));
    let mixed = format!("<row><c r=\"A3\"><v>9</v></c><c r=\"A2\"><v>1</v></c><c r=\"A3\"><v>2</v></c></row>{head}");
    let trials = table("t.xlsx", workbook(&sound(), "", &mixed, &[])).unwrap();
    assert_eq!(trials.rows.iter().map(|t| t.name.as_str()).collect::<Vec<_>>(), ["1", "2"]);
    let rows: String = (1..262_000).map(|k| format!("<row><c r=\"A{k}\"><v>{k}</v></c></row>")).collect();
    assert!(message("t.xlsx", workbook(&sound(), "", &rows, &[])).unwrap().contains("found more rows"));
}

#[test]
fn what_is_no_workbook_is_said_so() {
    assert!(message("t.xlsx", b"").is_some());
    assert!(message("t.xlsx", b"PK\x05\x06").is_some());
    assert!(message("t.xlsx", archive(&[])).is_some());
    assert!(message("t.xlsx", archive(&[("a.txt", "x")])).is_some());
    let whole = workbook(&sound(), "", &rows_of_shared(2), &[]);
    for end in (0..whole.len()).step_by(97) {
        assert!(message("t.xlsx", &whole[..end]).is_some(), "{end}");
    }
}
