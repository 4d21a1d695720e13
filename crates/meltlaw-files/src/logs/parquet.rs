//! Parquet logs, one group of rows after another.

use std::fs::File;

use polars::prelude::{Column, DataType, ParallelStrategy, ParquetReader, PolarsError, SerReader};

use super::Sink;
use super::ahead::ahead;
use super::records::timed;
use super::text_layout::{ROLES, role_of};
use crate::read::{Fault, quietly};

/// Rows that are unpacked at once: a larger group of rows is refused.
const MOST_ROWS_AT_ONCE: usize = 4_000_000;
const DAMAGED: &str = "a damaged Parquet file";
const EXPORT: &str = "write it again in groups of at most a million rows, or as CSV";

/// Reads a Parquet log into the sink.
pub(super) fn read_parquet(file: File, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let read = quietly(|| read(file, sink));
    read.unwrap_or_else(|| Err(sink.fault(DAMAGED, "a Parquet log", EXPORT)))
}

fn read(file: File, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let length = file.metadata().map(|m| m.len()).unwrap_or(0);
    let damaged = |sink: &Sink<'_>, e: &PolarsError| {
        let first = e.to_string().lines().next().unwrap_or_default().to_owned();
        sink.fault(format!("a Parquet file that cannot be read ({first})"), "a Parquet log", EXPORT)
    };
    let copy = file.try_clone();
    let copy = copy.map_err(|e| sink.fault(format!("a file that cannot be read ({e})"), "a log", "copy it again"))?;
    let mut reader = ParquetReader::new(copy);
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
    if let Some(rows) = groups.iter().find(|rows| **rows > MOST_ROWS_AT_ONCE) {
        return Err(sink.fault(format!("a group of {rows} rows"), "at most 4 000 000", EXPORT));
    }
    let factor = |role: usize| columns[role].as_ref().map_or(1.0, |(_, f)| *f);
    let strategy = if sink.request.threads > 1 { ParallelStrategy::Columns } else { ParallelStrategy::None };
    let scale = [0, 1].map(|k| [factor(k + 1) * sink.request.scale[k], sink.request.offset[k]]);
    let mut at = 0;
    let mut left = groups.iter().copied();
    let mut unpack = |group: &mut Group| -> Result<bool, PolarsError> {
        let Some(rows) = left.next() else { return Ok(false) };
        let frame = ParquetReader::new(file.try_clone()?)
            .with_columns(Some(wanted.clone()))
            .with_slice(Some((at, rows)))
            .read_parallel(strategy)
            .finish()?;
        at += rows;
        let column = |role: usize| frame.column(columns[role].as_ref().map_or("", |(name, _)| name));
        for (role, samples) in [(1, &mut group.current), (2, &mut group.voltage)] {
            singles(column(role)?, scale[role - 1], samples)?;
        }
        if with_time {
            group.singles = *column(0)?.dtype() == DataType::Float32;
            let times = column(0)?.cast(&DataType::Float64)?;
            group.times.clear();
            group.times.extend(times.f64()?.iter().map(|t| t.unwrap_or(f64::NAN) * factor(0)));
        }
        Ok(true)
    };
    let make = |group: &mut Group| match quietly(|| unpack(group)) {
        Some(unpacked) => unpacked.map_err(Some),
        None => Err(None),
    };
    let mut row = 0;
    let mut stamps = Vec::new();
    ahead(sink.request.threads > 1, 0, make, |group| {
        let group = group.map_err(|e: Option<PolarsError>| match e {
            Some(e) => damaged(sink, &e),
            None => sink.fault(DAMAGED, "a Parquet log", EXPORT),
        })?;
        if with_time {
            sink.clock.single = group.singles;
            timed(sink, row, |k| group.times[k], &mut stamps, &group.current, &group.voltage)?;
        } else {
            sink.push(&group.current, &group.voltage);
        }
        sink.read((length as usize).checked_div(groups.len()).unwrap_or(0));
        row += group.current.len();
        Ok(())
    })
}

/// A group of rows, unpacked.
#[derive(Debug, Default)]
struct Group {
    /// Whether times are singles.
    singles: bool,
    times: Vec<f64>,
    current: Vec<f32>,
    voltage: Vec<f32>,
}

/// A column in A or V; what is missing is no number.
fn singles(column: &Column, [factor, offset]: [f64; 2], out: &mut Vec<f32>) -> Result<(), PolarsError> {
    out.clear();
    let column = column.cast(&DataType::Float32)?;
    let numbers = column.f32()?;
    match numbers.null_count() {
        0 => numbers.downcast_iter().for_each(|part| out.extend_from_slice(part.values())),
        _ => out.extend(numbers.iter().map(|v| v.unwrap_or(f32::NAN))),
    }
    if factor != 1.0 || offset != 0.0 {
        out.iter_mut().for_each(|v| *v = (f64::from(*v) * factor + offset) as f32);
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
