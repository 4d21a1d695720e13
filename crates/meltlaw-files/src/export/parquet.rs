//! The table of [`super::csv`] with typed columns. Everything that CSV says in comment lines stands in the file's
//! key-value metadata, as JSON: facts, units with their codes, standing, cautions, provenance, checksum.

use std::sync::Arc;

use meltlaw::node_columns::NODE_COLUMNS;
use meltlaw_line::{Standing, Status, Support};
use polars_arrow::array::{Array, Float64Array, UInt8Array, Utf8ViewArray};
use polars_arrow::datatypes::{ArrowSchema, Field};
use polars_arrow::record_batch::RecordBatchT;
use polars_error::PolarsResult;
use polars_parquet::write::{
    CompressionOptions, Encoding, FileWriter, KeyValue, StatisticsOptions, Version, WriteOptions, row_group_iter,
};
use serde_json::{Value, json};

use super::ExportError;
use super::csv::STATUS_LINE;
use super::facts::facts;
use super::rows::{LineRow, WORD_COLUMNS, line_rows};
use super::units::{unit_of, words_of};
use crate::document::LineDocument;

/// The bytes of the file.
pub(super) fn line_table(document: &LineDocument) -> Result<Vec<u8>, ExportError> {
    let rows = line_rows(&document.body().line);
    written(document, &rows).map_err(|error| ExportError::NotWritten { format: "Parquet", cause: error.to_string() })
}

/// A few kilobytes: what every reader can read is worth more than a few bytes.
fn options() -> WriteOptions {
    WriteOptions {
        statistics: StatisticsOptions::default(),
        version: Version::V1,
        compression: CompressionOptions::Uncompressed,
        data_page_size: None,
    }
}

fn written(document: &LineDocument, rows: &[LineRow<'_>]) -> PolarsResult<Vec<u8>> {
    let mut names = vec!["status"];
    let mut arrays: Vec<Box<dyn Array>> =
        vec![UInt8Array::from_vec(rows.iter().map(|row| row.status.code()).collect()).boxed()];
    for column in NODE_COLUMNS {
        let numbers: Vec<Option<f64>> = rows.iter().map(|row| row.number(column)).collect();
        names.push(column.0);
        arrays.push(Float64Array::from(numbers).boxed());
    }
    let words: Vec<_> = rows.iter().map(LineRow::words).collect();
    for (index, name) in WORD_COLUMNS.iter().enumerate() {
        let texts: Vec<Option<&str>> =
            words.iter().map(|row| Some(row[index].as_str()).filter(|word| !word.is_empty())).collect();
        names.push(name);
        arrays.push(Utf8ViewArray::from_slice(texts).boxed());
    }
    let fields = names.iter().zip(&arrays).map(|(name, array)| Field::new((*name).into(), array.dtype().clone(), true));
    let schema: ArrowSchema = fields.collect();
    let mut writer = FileWriter::try_new(Vec::new(), schema.clone(), options())?;
    let types = writer.parquet_schema().fields().to_vec();
    let encodings = vec![vec![Encoding::Plain]; arrays.len()].into();
    let batch = RecordBatchT::try_new(rows.len(), Arc::new(schema), arrays)?;
    writer.write(rows.len() as u64, row_group_iter(batch, encodings, types, options()))?;
    // With these entries alone: the writer would add a schema whose texts readers of before 2024 do not know, and
    // Parquet's own types say the same.
    let entries = metadata(document).into_iter().map(|(key, value)| KeyValue { key, value: Some(value) }).collect();
    writer.end(Some(entries))?;
    Ok(writer.into_inner())
}

/// Keys and values, all values JSON but the checksum.
fn metadata(document: &LineDocument) -> Vec<(String, String)> {
    let facts: Vec<Value> =
        facts(document).iter().map(|fact| json!({"about": fact.about, "words": fact.words})).collect();
    let entries = [
        ("meltlaw.facts", Value::from(facts)),
        ("meltlaw.columns", columns()),
        ("meltlaw.codes", codes()),
        ("meltlaw.standing", json!(document.body().line.standing)),
        ("meltlaw.cautions", json!(document.cautions())),
        ("meltlaw.provenance", json!(document.provenance())),
    ];
    let mut entries: Vec<(String, String)> =
        entries.into_iter().map(|(key, value)| (key.to_owned(), value.to_string())).collect();
    entries.push(("meltlaw.checksum".to_owned(), document.checksum().to_owned()));
    entries
}

/// Each column of numbers with its unit and meaning in words.
fn columns() -> Value {
    let of = |(name, _): &(&str, _)| {
        let unit = unit_of(name);
        json!({"name": name, "unit": unit.unit, "ucum": unit.ucum, "words": words_of(name)})
    };
    NODE_COLUMNS.iter().map(of).collect()
}

/// What the codes mean, and how rows are read.
fn codes() -> Value {
    fn meanings<T: Copy>(all: &[T], code: fn(T) -> u8, word: fn(T) -> &'static str) -> Value {
        all.iter().map(|&each| (code(each).to_string(), Value::from(word(each)))).collect()
    }
    let mut codes = json!({
        "status": meanings(Status::ALL, Status::code, Status::word),
        "support": meanings(Support::ALL, Support::code, Support::word),
        "standing": meanings(Standing::ALL, Standing::code, Standing::word),
        "rule": STATUS_LINE,
    });
    for of in ["support", "standing"] {
        codes[of]["0"] = Value::from("none");
    }
    codes
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use std::collections::BTreeMap;
    use std::io::Cursor;

    use polars::prelude::{DataType, ParallelStrategy, ParquetReader, SerReader};

    use super::super::examples::{eventful, standing_words};
    use super::*;

    fn reader(bytes: &[u8]) -> ParquetReader<Cursor<Vec<u8>>> {
        ParquetReader::new(Cursor::new(bytes.to_vec())).read_parallel(ParallelStrategy::None)
    }

    fn read_metadata(bytes: &[u8]) -> BTreeMap<String, String> {
        let mut reader = reader(bytes);
        let metadata = reader.get_metadata().unwrap();
        let entries = metadata.key_value_metadata().as_ref().unwrap();
        entries.iter().map(|entry| (entry.key.clone(), entry.value.clone().unwrap_or_default())).collect()
    }

    #[test]
    fn numbers_read_back_to_the_same_bits_with_their_types_and_words_as_they_are() {
        let document = eventful();
        let rows = line_rows(&document.body().line);
        let frame = reader(&line_table(&document).unwrap()).finish().unwrap();
        assert_eq!(frame.height(), rows.len());
        for column in NODE_COLUMNS {
            let found = frame.column(column.0).unwrap();
            assert_eq!(found.dtype(), &DataType::Float64);
            let bits: Vec<Option<u64>> = found.f64().unwrap().iter().map(|v| v.map(f64::to_bits)).collect();
            let meant: Vec<Option<u64>> = rows.iter().map(|row| row.number(column).map(f64::to_bits)).collect();
            assert_eq!(bits, meant, "{}", column.0);
        }
        let status: Vec<u8> = frame.column("status").unwrap().u8().unwrap().iter().flatten().collect();
        assert_eq!(status, [1, 1, 0, 3, 3, 0, 6, 6, 5, 5, 2, 2]);
        for (index, name) in WORD_COLUMNS.iter().enumerate() {
            let found: Vec<String> =
                frame.column(name).unwrap().str().unwrap().iter().map(|v| v.unwrap_or_default().to_owned()).collect();
            let meant: Vec<String> = rows.iter().map(|row| row.words()[index].clone()).collect();
            assert_eq!(found, meant, "{name}");
        }
    }

    #[test]
    fn the_metadata_holds_units_facts_standing_and_the_way_back() {
        let document = eventful();
        let found = read_metadata(&line_table(&document).unwrap());
        assert!(!found.contains_key("ARROW:schema"), "its view of texts is unknown to older readers");
        let json = |key: &str| serde_json::from_str::<Value>(&found[key]).unwrap();
        let columns = json("meltlaw.columns");
        let ucum = |name: &str| columns.as_array().unwrap().iter().find(|c| c["name"] == name).unwrap()["ucum"].clone();
        assert_eq!(
            [ucum("wire_feed_m_min"), ucum("rise_a_per_ms"), ucum("one_drop_probability")],
            ["m/min", "A/ms", "1"]
        );
        assert_eq!(columns.as_array().unwrap().len(), NODE_COLUMNS.len());
        assert_eq!(json("meltlaw.standing"), json!(document.body().line.standing));
        assert_eq!(json("meltlaw.provenance"), json!(document.provenance()));
        assert_eq!(json("meltlaw.cautions"), json!(document.cautions()));
        let codes = json("meltlaw.codes");
        assert_eq!((&codes["status"]["6"], &codes["support"]["0"]), (&json!("contradicted"), &json!("none")));
        assert_eq!(found["meltlaw.checksum"], document.checksum());
        let told = json("meltlaw.facts");
        for (fact, told) in facts(&document).iter().zip(told.as_array().unwrap()) {
            assert_eq!((told["about"].as_str(), told["words"].as_str()), (Some(fact.about), Some(fact.words.as_str())));
        }
        for words in standing_words() {
            assert!(found["meltlaw.facts"].contains(&words), "{words}");
        }
    }

    #[test]
    fn the_same_line_gives_the_same_bytes() {
        assert_eq!(line_table(&eventful()).unwrap(), line_table(&eventful()).unwrap());
    }
}
