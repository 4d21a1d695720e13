//! Sound tables damaged at random, from a seed: each reads or is refused by name. `HOSTILE_CASES=100000 cargo test
//! --release -p meltlaw-files --test hostile damaged` goes on for longer.

use meltlaw::statistics::{DrawStream, Purpose};
use polars::prelude::{Column, ParquetCompression};

use crate::make::{parquet, rows_of_shared, shared, workbook};
use crate::message;

fn cases() -> u64 {
    std::env::var("HOSTILE_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(150)
}

/// Bytes changed, taken out, doubled or cut off at up to four places.
fn damage(mut bytes: Vec<u8>, stream: &mut DrawStream) -> Vec<u8> {
    let mut below = |n: usize| ((stream.uniform() * n as f64) as usize).min(n.saturating_sub(1));
    for _ in 0..=below(4) {
        let at = match below(3) {
            0 => below(bytes.len().min(300)),
            1 => bytes.len().saturating_sub(1 + below(600)),
            _ => below(bytes.len()),
        };
        let end = (at + 1 + below(60)).min(bytes.len());
        match below(8) {
            0..=2 if at < bytes.len() => bytes[at] = below(256) as u8,
            3 if at < bytes.len() => bytes[at] ^= 1 << below(8),
            4 => bytes[at.min(end)..end].fill(0xFF),
            5 => drop(bytes.drain(at.min(end)..end)),
            6 => {
                let piece = bytes[at.min(end)..end].to_vec();
                bytes.splice(at.min(end)..at.min(end), piece);
            }
            _ if below(10) == 0 => bytes.truncate(at),
            _ => {}
        }
    }
    bytes
}

fn read_damaged(file: &str, make: impl Fn(u64, &mut DrawStream) -> Vec<u8>) {
    for number in 0..cases() {
        let bytes = make(number, &mut DrawStream::new(19, Purpose::Simulation, number));
        let begun = std::time::Instant::now();
        let _ = message(file, bytes);
        assert!(begun.elapsed().as_secs() < 20, "case {number} of {file} takes {:?}", begun.elapsed());
    }
}

/// One of these, damaged.
fn one_of(seeds: &[Vec<u8>], number: u64, stream: &mut DrawStream) -> Vec<u8> {
    damage(seeds[(number % seeds.len() as u64) as usize].clone(), stream)
}

#[test]
fn damaged_parquet_tables_are_read_or_refused() {
    let names: Vec<String> = (0..300).map(|k| format!("trial {k}")).collect();
    let currents: Vec<Option<f64>> = (0..300).map(|k| (k % 7 != 3).then_some(100.0 + f64::from(k))).collect();
    let columns = || {
        vec![
            Column::new("trial".into(), &names),
            Column::new("current_mean_a".into(), &currents),
            Column::new("run_order".into(), (0..300).collect::<Vec<i32>>()),
            Column::new("note".into(), vec!["one note that is longer than twelve letters"; 300]),
            Column::new("other".into(), vec![true; 300]),
        ]
    };
    let packed = [ParquetCompression::Uncompressed, ParquetCompression::Snappy, ParquetCompression::Zstd(None)];
    let seeds = packed.map(|packed| parquet(columns(), packed));
    read_damaged("t.parquet", |number, stream| one_of(&seeds, number, stream));
}

#[test]
fn damaged_workbooks_are_read_or_refused() {
    let texts = shared("count=\"40\" uniqueCount=\"2\"", "<si><t>x</t></si><si><r><t>y &amp; z</t></r></si>");
    let whole = workbook(&texts, "<cellXfs><xf numFmtId=\"14\"/></cellXfs>", &rows_of_shared(40), &[]);
    let seeds = [whole, as_a_library_writes_it()];
    read_damaged("t.xlsx", |number, stream| {
        if number % 3 == 0 {
            return one_of(&seeds, number, stream);
        }
        // Damage to the elements themselves, packed afterwards.
        let mut damaged = |text: &str| String::from_utf8_lossy(&damage(text.as_bytes().to_vec(), stream)).into_owned();
        let styles = "<numFmts><numFmt numFmtId=\"200\" formatCode=\"yyyy\"/></numFmts><cellXfs><xf numFmtId=\"200\"/></cellXfs>";
        workbook(&damaged(&texts), &damaged(styles), &damaged(&rows_of_shared(10)), &[])
    });
}

/// A workbook as a spreadsheet library writes it.
fn as_a_library_writes_it() -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for (column, name) in ["trial", "current_mean_a", "note"].into_iter().enumerate() {
        sheet.write(0, column as u16, name).unwrap();
    }
    for row in 1..40_u32 {
        sheet.write(row, 0, format!("t{row}")).unwrap();
        sheet.write(row, 1, 100.0 + f64::from(row)).unwrap();
        sheet.write(row, 2, "as before").unwrap();
    }
    book.save_to_buffer().unwrap()
}

#[test]
fn damaged_text_tables_are_read_or_refused() {
    let rows: String = (0..60).map(|k| format!("t{k};{},5;\"a; \"\"b\"\" {k}\"\r\n", 100 + k)).collect();
    let german = format!("# Versuch\r\ntrial;current_mean_a;note\r\n;A;\r\n{rows}");
    let plain: String = (0..60).map(|k| format!("t{k},{k}.5,1e3\n")).collect();
    let seeds = [german.into_bytes(), format!("trial,ctwd_mm,power_mean_w\n{plain}").into_bytes()];
    read_damaged("t.csv", |number, stream| one_of(&seeds, number, stream));
}
