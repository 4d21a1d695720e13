//! Parquet logs: page after page of each column, so that neither the file nor a group of rows is ever held whole.

use std::fs::File;
use std::path::Path;

use polars_arrow::datatypes::{ArrowDataType, Field, TimeUnit};
use polars_error::{PolarsError, PolarsResult};
use polars_parquet::read::{ColumnChunkMetadata, RowGroupMetadata, infer_schema};

use super::Sink;
use super::ahead::{Making, ahead};
use super::records::{TELLING_ROWS, timed};
use super::text_layout::{CHANNELS, OWN_COLUMN, ROLES, each_its_own, role_of};
use crate::parquet::{ColumnPages, Plain, RawPage, as_doubles, read_footer};
use crate::read::{Fault, quietly};

const DAMAGED: &str = "a damaged Parquet file";
const EXPORT: &str = "copy it again, write it anew with pages of about a megabyte, or as CSV";

/// Reads a Parquet log into the sink.
pub(super) fn read_parquet(path: &Path, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let read = quietly(|| read(path, sink));
    read.unwrap_or_else(|| Err(sink.fault(DAMAGED, "a Parquet log", EXPORT)))
}

fn read(path: &Path, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let unreadable = |sink: &Sink<'_>, why: &str| {
        sink.fault(format!("a Parquet file that cannot be read ({why})"), "a Parquet log", EXPORT)
    };
    let damaged = |sink: &Sink<'_>, e: &PolarsError| unreadable(sink, &first_line(e));
    let file = File::open(path).and_then(|file| Ok((file.metadata()?.len(), file)));
    let (length, mut file) =
        file.map_err(|e| sink.fault(format!("a file that cannot be read ({e})"), "a log", "copy it again"))?;
    let about = read_footer(&mut file, length).map_err(|why| unreadable(sink, &why))?;
    let schema = infer_schema(&about).map_err(|e| damaged(sink, &e))?;
    let names: Vec<String> = schema.iter_names().map(|n| n.to_string()).collect();
    let columns = columns(sink, &names)?;
    if columns[0].is_none() && sink.request.sample_rate_hz.is_none() {
        return Err(sink.fault("no column of time", "a time column or the sample rate", "give --sample-rate-hz"));
    }
    if let Some(rate) = sink.request.sample_rate_hz {
        sink.begin(rate)?;
    }
    let with_time = sink.request.sample_rate_hz.is_none();
    let mut channels = Vec::new();
    for (role, column) in columns.iter().enumerate().filter(|(role, _)| *role > 0 || with_time) {
        let Some((name, factor)) = column else { continue };
        // Current and voltage are scaled and shifted besides.
        let field = schema.get(name).ok_or_else(|| unreadable(sink, "a column without a kind"))?;
        let ticks = ticks_per_second(field).filter(|_| role == 0);
        let [factor, offset] = match role {
            0 => [ticks.map_or(*factor, |_| 1.0), 0.0],
            1 | 2 => sink.request.channel(role - 1, *factor),
            _ => [*factor, 0.0],
        };
        channels.push(Channel { role, name, field, ticks, factor, offset });
    }
    // Of each group of rows the columns of the channels.
    let mut groups = Vec::new();
    for group in &about.row_groups {
        let of = |channel: &Channel<'_>| {
            let column =
                group.parquet_columns().iter().find(|c| c.descriptor().path_in_schema.iter().eq([channel.name]));
            column.ok_or_else(|| {
                let found = format!("a column '{}' with more than a number in a row", channel.name);
                sink.fault(found, "a number in each row", "name another in --columns, or write it again")
            })
        };
        groups.push(channels.iter().map(of).collect::<Result<Vec<&ColumnChunkMetadata>, _>>()?);
    }
    let all_rows: usize = about.row_groups.iter().map(RowGroupMetadata::num_rows).sum();
    let mut next = 0;
    let mut pages: Vec<ColumnPages> = Vec::new();
    let making = Making {
        fetch: |page: &mut Page| -> Result<bool, String> {
            while !pages.iter().any(ColumnPages::unread) {
                let Some(columns) = groups.get(next) else { return Ok(false) };
                let rows = about.row_groups[next].num_rows();
                pages =
                    columns.iter().map(|column| ColumnPages::new(column, rows, length)).collect::<Result<_, _>>()?;
                next += 1;
            }
            // The column that is furthest behind, so that little waits for the others.
            let behind = pages.iter_mut().enumerate().min_by_key(|(_, pages)| pages.read);
            let Some((channel, pages)) = behind else { return Ok(false) };
            (page.group, page.channel) = (next - 1, channel);
            page.bytes = pages.next(&mut file, &mut page.raw)?;
            Ok(true)
        },
        work: |page: &mut Page| -> Result<(), String> {
            let (column, channel) = (groups[page.group][page.channel], &channels[page.channel]);
            page.numbers.read(&mut page.raw, column, channel).map_err(|e| first_line(&e))
        },
    };
    let mut waiting: [Numbers; CHANNELS] = Default::default();
    let mut stamps = Vec::new();
    // Dates count from the first: a double cannot hold the seconds since 1970 to the microsecond.
    let mut since = 0.0;
    let mut row = 0;
    ahead([sink.request.threads_beside(), 1], making, |page| {
        let page = page.map_err(|e| match e {
            Some(why) => unreadable(sink, &why),
            None => sink.fault(DAMAGED, "a Parquet log", EXPORT),
        })?;
        let role = channels[page.channel].role;
        sink.clock.single |= role == 0 && channels[page.channel].field.dtype == ArrowDataType::Float32;
        sink.read(page.bytes);
        waiting[role].take(&mut page.numbers);
        // As many rows as all columns have.
        let rows = channels.iter().map(|c| waiting[c.role].len()).min().unwrap_or(0);
        // The first tell the sample rate, and the more of them the better.
        if rows == 0 || (!sink.begun() && rows < TELLING_ROWS.min(all_rows)) {
            return Ok(());
        }
        if channels.iter().any(|c| c.role > 2) {
            sink.read_steady_of(rows, |k, role| waiting[role].doubles.get(k).copied().unwrap_or(f64::NAN));
        }
        let [time, current, voltage, ..] = &waiting;
        let (current, voltage) = (&current.singles[..rows], &voltage.singles[..rows]);
        if with_time {
            if row == 0 && channels[0].ticks.is_some() {
                since = Some(time.doubles[0]).filter(|t| t.is_finite()).unwrap_or(0.0);
            }
            let ticks = channels[0].ticks.unwrap_or(1.0);
            timed(sink, row, |k| (time.doubles[k] - since) / ticks, &mut stamps, current, voltage)?;
        } else {
            sink.push(current, voltage);
        }
        row += rows;
        channels.iter().for_each(|c| waiting[c.role].drop_first(rows));
        Ok(())
    })
}

/// What a column of dates, times of day or durations counts in.
fn ticks_per_second(field: &Field) -> Option<f64> {
    use ArrowDataType as A;
    match field.dtype {
        A::Timestamp(unit, _) | A::Duration(unit) | A::Time32(unit) | A::Time64(unit) => Some(match unit {
            TimeUnit::Nanosecond => 1e9,
            TimeUnit::Microsecond => 1e6,
            TimeUnit::Millisecond => 1e3,
            TimeUnit::Second => 1.0,
        }),
        A::Date64 => Some(1e3),
        _ => None,
    }
}

fn first_line(e: &PolarsError) -> String {
    e.to_string().lines().next().unwrap_or_default().to_owned()
}

/// A column and what becomes of its numbers.
#[derive(Debug)]
struct Channel<'a> {
    role: usize,
    name: &'a str,
    field: &'a Field,
    /// Of dates and durations, how many make a second.
    ticks: Option<f64>,
    factor: f64,
    offset: f64,
}

/// A page on its way.
#[derive(Default)]
struct Page {
    raw: RawPage,
    /// Which group of rows and which channel it is of.
    group: usize,
    channel: usize,
    /// Its bytes in the file.
    bytes: usize,
    numbers: Numbers,
}

/// Numbers of a channel: current and voltage are singles, the others doubles.
#[derive(Debug, Default)]
struct Numbers {
    singles: Vec<f32>,
    doubles: Vec<f64>,
}

impl Numbers {
    const fn len(&self) -> usize {
        self.singles.len() + self.doubles.len()
    }

    /// Takes more of them; where nothing waits, without moving them.
    fn take(&mut self, more: &mut Self) {
        fn take<T>(waiting: &mut Vec<T>, more: &mut Vec<T>) {
            if !waiting.is_empty() {
                waiting.append(more);
            } else if !more.is_empty() {
                std::mem::swap(waiting, more);
            }
        }
        take(&mut self.singles, &mut more.singles);
        take(&mut self.doubles, &mut more.doubles);
    }

    fn drop_first(&mut self, rows: usize) {
        self.singles.drain(..rows.min(self.singles.len()));
        self.doubles.drain(..rows.min(self.doubles.len()));
    }

    /// What a page holds of a channel; what is missing is no number.
    fn read(&mut self, page: &mut RawPage, column: &ColumnChunkMetadata, channel: &Channel<'_>) -> PolarsResult<()> {
        self.singles.clear();
        self.doubles.clear();
        let of = |v: f64| v * channel.factor + channel.offset;
        if matches!(channel.role, 1 | 2) {
            match page.plain(column, channel.field) {
                Some(Plain::Singles(v)) => self.singles.extend(v.iter().map(|v| f32::from_le_bytes(*v))),
                Some(Plain::Doubles(v)) => self.singles.extend(v.iter().map(|v| f64::from_le_bytes(*v) as f32)),
                None => {
                    for array in page.unpack(column, channel.field)? {
                        let values = as_doubles(array.as_ref())?;
                        self.singles.extend(values.iter().map(|v| v.map_or(f32::NAN, |v| *v as f32)));
                    }
                }
            }
            if channel.factor != 1.0 || channel.offset != 0.0 {
                self.singles.iter_mut().for_each(|v| *v = of(f64::from(*v)) as f32);
            }
            return Ok(());
        }
        match page.plain(column, channel.field) {
            Some(Plain::Singles(v)) => self.doubles.extend(v.iter().map(|v| of(f64::from(f32::from_le_bytes(*v))))),
            Some(Plain::Doubles(v)) => self.doubles.extend(v.iter().map(|v| of(f64::from_le_bytes(*v)))),
            None => {
                for array in page.unpack(column, channel.field)? {
                    self.doubles.extend(as_doubles(array.as_ref())?.iter().map(|v| of(v.copied().unwrap_or(f64::NAN))));
                }
            }
        }
        Ok(())
    }
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
    let [own, action] = OWN_COLUMN;
    let named = found.each_ref().map(|column| column.as_ref().map(|(name, _)| name));
    each_its_own(&named).map_err(|found| sink.fault(found, own, action))?;
    Ok(found)
}
