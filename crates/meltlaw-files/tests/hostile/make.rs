//! Hostile files, each made from a few numbers instead of being kept.

use std::io::{Cursor, Write};

use polars::prelude::{Column, DataFrame, ParquetCompression, ParquetWriter};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const RELATIONS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/KIND" Target="TARGET"/></Relationships>"#;
const MAIN: &str = "xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\"";

/// A zip archive of these parts.
pub fn archive(parts: &[(&str, &str)]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in parts {
        archive.start_file(*name, SimpleFileOptions::default().compression_level(Some(1))).unwrap();
        archive.write_all(text.as_bytes()).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

/// A workbook of one sheet, with what stands in `sst`, `styleSheet` and `sheetData`, and with more parts.
pub fn workbook(shared: &str, styles: &str, rows: &str, more: &[(&str, &str)]) -> Vec<u8> {
    let relation = |kind: &str, target: &str| RELATIONS.replace("KIND", kind).replace("TARGET", target);
    let book = format!(
        "<workbook {MAIN} xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"><sheets><sheet name=\"Trials\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>"
    );
    let (root, sheets) =
        (relation("officeDocument", "xl/workbook.xml"), relation("worksheet", "worksheets/sheet1.xml"));
    let styles = format!("<styleSheet {MAIN}>{styles}</styleSheet>");
    let sheet = format!("<worksheet {MAIN}><sheetData>{rows}</sheetData></worksheet>");
    let mut parts: Vec<(&str, &str)> = vec![
        ("_rels/.rels", &root),
        ("xl/workbook.xml", &book),
        ("xl/_rels/workbook.xml.rels", &sheets),
        ("xl/sharedStrings.xml", shared),
        ("xl/styles.xml", &styles),
        ("xl/worksheets/sheet1.xml", &sheet),
    ];
    parts.retain(|(name, _)| more.iter().all(|(other, _)| other != name));
    parts.extend(more);
    archive(&parts)
}

/// Shared texts, with what the element that holds them says besides.
pub fn shared(says: &str, texts: &str) -> String {
    format!("<sst {MAIN} {says}>{texts}</sst>")
}

/// Rows of a sheet in which each cell is a number of a shared text; row 1 is `trial`, `note`.
pub fn rows_of_shared(rows: usize) -> String {
    let head = "<row r=\"1\"><c r=\"A1\" t=\"inlineStr\"><is><t>trial</t></is></c><c r=\"B1\" t=\"inlineStr\"><is><t>note</t></is></c></row>";
    let row = |k: usize| format!("<row r=\"{k}\"><c r=\"A{k}\"><v>{k}</v></c><c r=\"B{k}\" t=\"s\"><v>0</v></c></row>");
    head.to_owned() + &(2..rows + 2).map(row).collect::<String>()
}

/// A Parquet table of these columns.
pub fn parquet(columns: Vec<Column>, packed: ParquetCompression) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut frame = DataFrame::new_infer_height(columns).unwrap();
    ParquetWriter::new(&mut bytes).with_compression(packed).finish(&mut frame).unwrap();
    bytes
}

/// A Parquet table of `rows` trials whose notes are one text.
pub fn parquet_of_one_text(rows: usize, bytes: usize) -> Vec<u8> {
    let text = "x".repeat(bytes);
    let trials: Vec<String> = (0..rows).map(|k| format!("t{k}")).collect();
    let columns = vec![Column::new("trial".into(), trials), Column::new("note".into(), vec![text.as_str(); rows])];
    parquet(columns, ParquetCompression::Zstd(None))
}

/// A file that ends as Parquet does, with this footer.
pub fn parquet_with_footer(footer: &[u8]) -> Vec<u8> {
    [b"PAR1", footer, &(footer.len() as u32).to_le_bytes(), b"PAR1"].concat()
}
