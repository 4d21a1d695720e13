//! Parquet tables: footers, one text many times, pages that say false things.

use polars::prelude::{Column, ParquetCompression};

use crate::make::{parquet, parquet_of_one_text, parquet_with_footer};
use crate::{message, table};

#[test]
fn a_text_that_stands_in_many_rows_is_counted_each_time() {
    let said = message("t.parquet", parquet_of_one_text(48, 2_000_000)).unwrap();
    assert_eq!(
        said,
        "t.parquet, row 1, column note: found a text of 2000 kB in one cell, needed at most 100 kB; shorten the texts, or leave the column out"
    );
    let said = message("t.parquet", parquet_of_one_text(2000, 90_000)).unwrap();
    assert!(said.starts_with("t.parquet, row 1112, column note: found more than 100000 kB of text"), "{said}");
    assert_eq!(table("t.parquet", parquet_of_one_text(2000, 1000)).unwrap().rows.len(), 2000);
}

#[test]
fn a_footer_that_claims_too_much_is_refused() {
    // A list of 2³¹ − 1 structs in seven bytes; a list of lists of lists; a footer longer than the file; none.
    let deep: Vec<u8> = [0x19].into_iter().chain([0x19; 10_000]).collect();
    for footer in [&[0x29, 0xFC, 0xFF, 0xFF, 0xFF, 0xFF, 0x07][..], &deep, &[], &[0; 100], &[0xFF; 100]] {
        let said = message("t.parquet", parquet_with_footer(footer)).unwrap();
        assert!(said.starts_with("t.parquet: found "), "{said}");
    }
    let mut long = parquet_with_footer(&[0; 10]);
    let at = long.len() - 8;
    long[at..at + 4].copy_from_slice(&u32::MAX.to_le_bytes());
    assert!(message("t.parquet", long).unwrap().contains("a footer of 4294967295 bytes"));
}

#[test]
fn rows_and_columns_without_end_are_refused() {
    let many = Column::new("run_order".into(), vec![1_i32; 300_000]);
    let said = message("t.parquet", parquet(vec![many], ParquetCompression::Zstd(None))).unwrap();
    assert!(said.contains("found 300000 rows of 1 columns"), "{said}");
    let wide = (0..1001).map(|k| Column::new(format!("c{k}").into(), vec![1.0])).collect();
    let said = message("t.parquet", parquet(wide, ParquetCompression::Uncompressed)).unwrap();
    assert!(said.contains("found 1001 columns"), "{said}");
}

#[test]
fn a_table_cut_anywhere_is_refused() {
    let columns = || vec![Column::new("trial".into(), ["a", "b"]), Column::new("ctwd_mm".into(), [18.0, 19.0])];
    let whole = parquet(columns(), ParquetCompression::Uncompressed);
    assert_eq!(table("t.parquet", &whole).unwrap().rows.len(), 2);
    for end in 0..whole.len() {
        assert!(message("t.parquet", &whole[..end]).is_some(), "{end}");
    }
}
