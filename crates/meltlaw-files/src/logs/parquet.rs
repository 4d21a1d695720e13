//! Parquet logs, one group of rows after another.

use std::borrow::Cow;
use std::fs::File;
use std::path::Path;

use polars::polars_utils::mmap::MMapSemaphore;
use polars::prelude::{Column, DataType, ParallelStrategy, ParquetReader, PolarsError, SerReader};
use polars_buffer::Buffer;

use super::ahead::{Making, ahead};
use super::parquet_pages::check_pages;
use super::records::timed;
use super::text_layout::{CHANNELS, ROLES, role_of};
use super::{STAMP_EVERY, Sink};
use crate::read::{Fault, quietly};

/// Rows that are unpacked at once: a larger group of rows is refused.
const MOST_ROWS_AT_ONCE: usize = 4_000_000;
const DAMAGED: &str = "a damaged Parquet file";
const EXPORT: &str = "write it again in groups of at most a million rows, or as CSV";

/// Reads a Parquet log into the sink.
pub(super) fn read_parquet(path: &Path, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let read = quietly(|| read(path, sink));
    read.unwrap_or_else(|| Err(sink.fault(DAMAGED, "a Parquet log", EXPORT)))
}

fn read(path: &Path, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let length = path.metadata().map(|m| m.len()).unwrap_or(0);
    let first_line = |e: &PolarsError| e.to_string().lines().next().unwrap_or_default().to_owned();
    let unreadable = |sink: &Sink<'_>, why: &str| {
        sink.fault(format!("a Parquet file that cannot be read ({why})"), "a Parquet log", EXPORT)
    };
    let damaged = |sink: &Sink<'_>, e: &PolarsError| unreadable(sink, &first_line(e));
    let file = File::open(path);
    let file = file.map_err(|e| sink.fault(format!("a file that cannot be read ({e})"), "a log", "copy it again"))?;
    let mut reader = ParquetReader::new(file);
    let names: Vec<String> =
        reader.schema().map_err(|e| damaged(sink, &e))?.iter_names().map(|n| n.to_string()).collect();
    let about = reader.get_metadata().map_err(|e| damaged(sink, &e))?.clone();
    let groups: Vec<usize> = about.row_groups.iter().map(|g| g.num_rows()).collect();
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
    let mut left = groups.iter().enumerate().scan(0, |at, (number, rows)| {
        *at += rows;
        Some((number, *at - rows, *rows))
    });
    let strategy = if sink.request.threads > 1 { ParallelStrategy::Columns } else { ParallelStrategy::None };
    let making = Making {
        fetch: |group: &mut Group| {
            Ok(left.next().is_some_and(|rows| {
                group.rows = rows;
                true
            }))
        },
        work: |group: &mut Group| -> Result<(), String> {
            let (number, first, rows) = group.rows;
            // Opened anew: copies of one file share the place that is read from.
            let file = File::open(path).map_err(|e| e.to_string())?;
            // What is mapped counts as memory: no longer than it takes.
            let whole = Buffer::from_owner(MMapSemaphore::new_from_file(&file).map_err(|e| first_line(&e))?);
            for column in about.row_groups[number].parquet_columns() {
                let name = column.descriptor().path_in_schema.first();
                if name.is_some_and(|name| wanted.iter().any(|w| w == name.as_str())) {
                    check_pages(&whole, column, rows)?;
                }
            }
            drop(whole);
            let unpacked = ParquetReader::new(file)
                .with_columns(Some(wanted.clone()))
                .with_slice(Some((first, rows)))
                .read_parallel(strategy)
                .finish();
            let frame = unpacked.map_err(|e| first_line(&e))?;
            for (role, (column, of)) in columns.iter().zip(&mut group.columns).enumerate() {
                let Some((name, _)) = column.as_ref().filter(|_| role > 0 || with_time) else { continue };
                let column = frame.column(name).map_err(|e| first_line(&e))?;
                group.time_is_single |= role == 0 && *column.dtype() == DataType::Float32;
                let kind = if role == 1 || role == 2 { DataType::Float32 } else { DataType::Float64 };
                *of = Some(column.cast(&kind).map_err(|e| first_line(&e))?.rechunk());
            }
            Ok(())
        },
    };
    let scale = [0, 1].map(|k| [factor(k + 1) * sink.request.scale[k], sink.request.offset[k]]);
    let mut stamps = Vec::new();
    // One group at a time, its columns side by side: as much memory however many there are. Two at once take a tenth less
    // time and up to three times the memory.
    ahead([0, 0], making, |group| {
        let group = group.map_err(|e| match e {
            Some(why) => unreadable(sink, &why),
            None => sink.fault(DAMAGED, "a Parquet log", EXPORT),
        })?;
        let [time, current, voltage, steady @ ..] = &group.columns;
        if steady.iter().any(Option::is_some) {
            for k in (0..group.rows.2).step_by(STAMP_EVERY) {
                let of = |column: &Column| column.f64().ok()?.get(k);
                let values = std::array::from_fn(|role| steady[role].as_ref().and_then(of).unwrap_or(f64::NAN));
                sink.read_steady(sink.samples + k as u64, &values);
            }
        }
        let (Some(current), Some(voltage)) = (current, voltage) else { return Ok(()) };
        let current = singles(current, scale[0]).map_err(|e| damaged(sink, &e))?;
        let voltage = singles(voltage, scale[1]).map_err(|e| damaged(sink, &e))?;
        match time {
            Some(time) => {
                sink.clock.single = group.time_is_single;
                let times = time.f64().map_err(|e| damaged(sink, &e))?;
                let time = |k: usize| times.get(k).unwrap_or(f64::NAN) * factor(0);
                timed(sink, group.rows.1, time, &mut stamps, &current, &voltage)?;
            }
            None => sink.push(&current, &voltage),
        }
        sink.read((length as usize).checked_div(groups.len()).unwrap_or(0));
        *group = Group::default();
        Ok(())
    })
}

/// A group of rows, unpacked.
#[derive(Debug, Default)]
struct Group {
    /// Which group, its first row and how many.
    rows: (usize, usize, usize),
    time_is_single: bool,
    /// By role, each in one piece.
    columns: [Option<Column>; CHANNELS],
}

/// A column in A or V; what is missing is no number.
fn singles(column: &Column, [factor, offset]: [f64; 2]) -> Result<Cow<'_, [f32]>, PolarsError> {
    let numbers = column.f32()?;
    let mut singles = match numbers.cont_slice() {
        Ok(slice) => Cow::Borrowed(slice),
        Err(_) => Cow::Owned(numbers.iter().map(|v| v.unwrap_or(f32::NAN)).collect()),
    };
    if factor != 1.0 || offset != 0.0 {
        singles.to_mut().iter_mut().for_each(|v| *v = (f64::from(*v) * factor + offset) as f32);
    }
    Ok(singles)
}

fn columns(sink: &Sink<'_>, names: &[String]) -> Result<[Option<(String, f64)>; CHANNELS], Box<Fault>> {
    let mut found = [const { None }; CHANNELS];
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
