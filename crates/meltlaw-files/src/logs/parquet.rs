//! Parquet logs, one group of rows after another.

use std::fs::File;

use polars::prelude::{DataType, ParallelStrategy, ParquetReader, PolarsError, SerReader};

use super::Sink;
use super::text_layout::{ROLES, role_of};
use crate::read::{Fault, quietly};

/// Rows that are unpacked at once: a larger group of rows is refused.
const MOST_ROWS_AT_ONCE: usize = 4_000_000;
const EXPORT: &str = "write it again in groups of at most a million rows, or as CSV";

/// Reads a Parquet log into the sink.
pub(super) fn read_parquet(file: File, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let read = quietly(|| read(file, sink));
    read.unwrap_or_else(|| Err(sink.fault("a damaged Parquet file", "a Parquet log", EXPORT)))
}

fn read(file: File, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let length = file.metadata().map(|m| m.len()).unwrap_or(0);
    let damaged = |sink: &Sink<'_>, e: &PolarsError| {
        let first = e.to_string().lines().next().unwrap_or_default().to_owned();
        sink.fault(format!("a Parquet file that cannot be read ({first})"), "a Parquet log", EXPORT)
    };
    let open = |sink: &Sink<'_>| {
        file.try_clone().map_err(|e| sink.fault(format!("a file that cannot be read ({e})"), "a log", "copy it again"))
    };
    let mut reader = ParquetReader::new(open(sink)?);
    let names: Vec<String> =
        reader.schema().map_err(|e| damaged(sink, &e))?.iter_names().map(|n| n.to_string()).collect();
    let groups: Vec<usize> =
        reader.get_metadata().map_err(|e| damaged(sink, &e))?.row_groups.iter().map(|g| g.num_rows()).collect();
    let columns = columns(sink, &names)?;
    if columns[0].is_none() && sink.request.sample_rate_hz.is_none() {
        return Err(sink.fault("no column of time", "a time column or the sample rate", "give --sample-rate-hz"));
    }
    if let Some(rate) = sink.request.sample_rate_hz {
        sink.begin(rate)?;
    }
    let with_time = sink.request.sample_rate_hz.is_none();
    let wanted: Vec<String> = columns
        .iter()
        .enumerate()
        .filter(|(role, _)| *role > 0 || with_time)
        .filter_map(|(_, c)| Some(c.as_ref()?.0.clone()))
        .collect();
    let mut row = 0;
    for rows in groups.iter().copied() {
        if rows > MOST_ROWS_AT_ONCE {
            return Err(sink.fault(format!("a group of {rows} rows"), "at most 4 000 000", EXPORT));
        }
        let frame = ParquetReader::new(open(sink)?)
            .with_columns(Some(wanted.clone()))
            .with_slice(Some((row, rows)))
            .read_parallel(if sink.request.threads > 1 { ParallelStrategy::Columns } else { ParallelStrategy::None })
            .finish()
            .map_err(|e| damaged(sink, &e))?;
        let floats = |role: usize, kind: &DataType| {
            let Some((name, _)) = &columns[role] else { return Ok(None) };
            let column = frame.column(name).and_then(|c| c.cast(kind)).map_err(|e| damaged(sink, &e))?;
            Ok::<_, Box<Fault>>(Some(column))
        };
        let scaled = |role: usize| -> Result<Vec<f32>, Box<Fault>> {
            let Some(column) = floats(role, &DataType::Float32)? else { return Ok(Vec::new()) };
            let factor = columns[role].as_ref().map_or(1.0, |(_, f)| *f) * sink.request.scale[role - 1];
            let offset = sink.request.offset[role - 1];
            let values = column.f32().map_err(|e| damaged(sink, &e))?;
            let plain = factor == 1.0 && offset == 0.0;
            let of = |v: Option<f32>| {
                v.map_or(f32::NAN, |v| if plain { v } else { (f64::from(v) * factor + offset) as f32 })
            };
            Ok(values.iter().map(of).collect())
        };
        let (current, voltage) = (scaled(1)?, scaled(2)?);
        if with_time {
            let Some(column) = floats(0, &DataType::Float64)? else { return Ok(()) };
            sink.clock.single = frame
                .column(columns[0].as_ref().map_or("", |(name, _)| name))
                .is_ok_and(|c| *c.dtype() == DataType::Float32);
            let factor = columns[0].as_ref().map_or(1.0, |(_, f)| *f);
            let times: Vec<f64> =
                column.f64().map_err(|e| damaged(sink, &e))?.iter().map(|t| t.unwrap_or(f64::NAN) * factor).collect();
            super::records::timed(sink, row, &times, &current, &voltage)?;
        } else {
            sink.push(&current, &voltage);
        }
        sink.read((length as usize).checked_div(groups.len()).unwrap_or(0));
        row += rows;
    }
    Ok(())
}

fn columns(sink: &Sink<'_>, names: &[String]) -> Result<[Option<(String, f64)>; 3], Box<Fault>> {
    let mut found = [None, None, None];
    for (ours, theirs) in &sink.request.columns {
        let there = names.iter().find(|n| n.eq_ignore_ascii_case(theirs));
        let (Some((role, factor)), Some(name)) = (role_of(ours), there) else {
            let all = names.join(", ");
            return Err(sink.fault(
                format!("the columns {all}"),
                &format!("'{theirs}'"),
                "name one of these in --columns",
            ));
        };
        found[role] = Some((name.clone(), factor));
    }
    for name in names {
        if let Some((role, factor)) = role_of(&name.to_lowercase()) {
            found[role].get_or_insert((name.clone(), factor));
        }
    }
    for role in [1, 2] {
        if found[role].is_none() {
            let all = names.join(", ");
            return Err(sink.fault(
                format!("the columns {all}"),
                "current_a and voltage_v",
                &format!("name it: --columns {}=…", ROLES[role]),
            ));
        }
    }
    Ok(found)
}
