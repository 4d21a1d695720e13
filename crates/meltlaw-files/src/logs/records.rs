//! Logs that hold numbers as bytes, record after record: bare ones, NumPy arrays, WAV.

use std::io::Read;

use meltlaw::reduce::Finding;

use super::ahead::{Making, WAITING, ahead};
use super::clock::Stamp;
use super::text_layout::{CHANNELS, OWN_COLUMN, ROLES, each_its_own, role_of};
use super::{PIECE_BYTES, STAMP_EVERY, Sink, TimePlace, read_up_to};
use crate::read::Fault;

/// How one number is stored, little-endian.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberKind {
    /// IEEE 754 single.
    F32,
    /// IEEE 754 double.
    F64,
    /// Two bytes with sign.
    I16,
    /// Three bytes with sign.
    I24,
    /// Four bytes with sign.
    I32,
}

impl NumberKind {
    const fn bytes(self) -> usize {
        match self {
            Self::I16 => 2,
            Self::I24 => 3,
            Self::F32 | Self::I32 => 4,
            Self::F64 => 8,
        }
    }
}

/// One of time, current and voltage within a record.
#[derive(Debug, Clone, Copy)]
struct Field {
    at: usize,
    kind: NumberKind,
    factor: f64,
}

/// Records of one length.
#[derive(Debug)]
struct Records {
    length: usize,
    /// By role.
    fields: [Option<Field>; CHANNELS],
    /// Bytes of records that the header promises; none where the file's end tells.
    promised: Option<u64>,
}

/// Bare numbers: their order by `--columns` (numbers counting from 1) or current, voltage.
pub(super) fn read_raw(file: impl Read + Send, kind: NumberKind, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let places = places(sink, None)?;
    let needed = places.iter().flatten().map(|(place, _)| place + 1).max().unwrap_or(2);
    let count = sink.request.record_numbers.unwrap_or(needed);
    if count < needed {
        return Err(sink.fault(
            format!("{count} numbers in a record"),
            &format!("{needed} at least"),
            "give more --record-numbers",
        ));
    }
    stream(file, &of_array(places, count, kind, None), sink)
}

fn of_array(
    places: [Option<(usize, f64)>; CHANNELS],
    count: usize,
    kind: NumberKind,
    promised: Option<u64>,
) -> Records {
    let fields = places.map(|p| p.map(|(place, factor)| Field { at: place * kind.bytes(), kind, factor }));
    Records { length: count * kind.bytes(), fields, promised }
}

/// Which number of a record is what: by `--columns`, else (time,) current, voltage by how many there are.
fn places(sink: &Sink<'_>, count: Option<usize>) -> Result<[Option<(usize, f64)>; CHANNELS], Box<Fault>> {
    let mut found = [None; CHANNELS];
    for (ours, theirs) in &sink.request.columns {
        let place = theirs.parse::<usize>().ok().filter(|n| (1..=1000).contains(n));
        let (Some((role, factor)), Some(place)) = (role_of(ours), place) else {
            return Err(sink.fault(
                format!("column {ours}={theirs}"),
                "the number of a column, counting from 1",
                "give for example --columns time=1,current=2,voltage=3",
            ));
        };
        found[role] = Some((place - 1, factor));
    }
    if sink.request.columns.is_empty() {
        let first: &[usize] = if count == Some(3) { &[0, 1, 2] } else { &[1, 2] };
        first.iter().enumerate().for_each(|(place, role)| found[*role] = Some((place, 1.0)));
    }
    for role in [1, 2] {
        if found[role].is_none() {
            return Err(sink.fault(
                format!("no {}", ROLES[role]),
                "current and voltage",
                "give --columns current=…,voltage=… with the numbers of the columns",
            ));
        }
    }
    let [own, action] = OWN_COLUMN;
    each_its_own(&found.map(|p| p.map(|(place, _)| place))).map_err(|found| sink.fault(found, own, action))?;
    if found.iter().flatten().any(|(place, _)| count.is_some_and(|c| *place >= c)) {
        let count = count.unwrap_or(0);
        return Err(sink.fault(format!("{count} columns"), "the columns that were named", "count them from 1"));
    }
    Ok(found)
}

/// A NumPy array of two or three columns of numbers.
pub(super) fn read_npy(mut file: impl Read + Send, length: u64, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let damaged = |sink: &Sink<'_>, what: &str| {
        sink.fault(what, "a NumPy array of numbers with two or three columns", "save it again with numpy.save, C order")
    };
    let mut start = [0_u8; 10];
    if file.read_exact(&mut start).is_err() || !start.starts_with(b"\x93NUMPY") {
        return Err(damaged(sink, "a file that is no NumPy array or was cut short"));
    }
    let mut header_bytes = usize::from(u16::from_le_bytes([start[8], start[9]]));
    let mut before = 10;
    if start[6] >= 2 {
        let mut more = [0_u8; 2];
        if file.read_exact(&mut more).is_err() {
            return Err(damaged(sink, "a file that was cut short"));
        }
        header_bytes += usize::from(u16::from_le_bytes(more)) << 16;
        before += 2;
    }
    if header_bytes > 1 << 16 {
        return Err(damaged(sink, &format!("a header of {header_bytes} bytes")));
    }
    let mut header = vec![0_u8; header_bytes];
    if file.read_exact(&mut header).is_err() {
        return Err(damaged(sink, "a header that was cut short"));
    }
    sink.read(before + header_bytes);
    let header = String::from_utf8_lossy(&header).into_owned();
    let after = |key: &str| header.split_once(&format!("'{key}':")).map(|(_, rest)| rest.trim_start());
    let kind = match after("descr").and_then(|d| d.strip_prefix('\'')).and_then(|d| d.split('\'').next()) {
        Some("<f4" | "=f4") => NumberKind::F32,
        Some("<f8" | "=f8") => NumberKind::F64,
        Some("<i2" | "=i2") => NumberKind::I16,
        Some("<i4" | "=i4") => NumberKind::I32,
        other => return Err(damaged(sink, &format!("numbers of kind '{}'", other.unwrap_or("several")))),
    };
    if after("fortran_order").is_some_and(|f| f.starts_with("True")) {
        return Err(damaged(sink, "an array in Fortran order"));
    }
    let shape: Vec<u64> = after("shape")
        .and_then(|s| s.strip_prefix('('))
        .and_then(|s| s.split(')').next())
        .map(|s| s.split(',').filter_map(|n| n.trim().parse().ok()).collect())
        .unwrap_or_default();
    let [rows, count] = shape[..] else {
        return Err(damaged(sink, &format!("an array of {} dimensions", shape.len())));
    };
    if !(2..=1000).contains(&count) {
        return Err(damaged(sink, &format!("{count} columns")));
    }
    let promised = rows.checked_mul(count * kind.bytes() as u64);
    let there = length.saturating_sub((before + header_bytes) as u64);
    if promised.is_none_or(|p| p > there) {
        let found = format!("a header that promises {rows} rows of {count} where {there} bytes follow");
        return Err(damaged(sink, &found));
    }
    let places = places(sink, Some(count as usize))?;
    stream(file, &of_array(places, count as usize, kind, promised), sink)
}

/// A WAV file: two channels, or those that `--columns` names; full scale of whole numbers is 1.
pub(super) fn read_wav(mut file: impl Read + Send, length: u64, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    let damaged = |sink: &Sink<'_>, what: &str| {
        sink.fault(what, "a WAV file of current and voltage, whole numbers or floats", "export it again, or as CSV")
    };
    let mut start = [0_u8; 12];
    if file.read_exact(&mut start).is_err() || !start.starts_with(b"RIFF") || &start[8..] != b"WAVE" {
        return Err(damaged(sink, "a file that is no WAV or was cut short"));
    }
    let mut before = 12_u64;
    let mut format: Option<(NumberKind, usize, f64, f64)> = None;
    loop {
        let mut head = [0_u8; 8];
        if file.read_exact(&mut head).is_err() {
            return Err(damaged(sink, "no samples in it"));
        }
        before += 8;
        let size = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]]));
        if &head[..4] == b"data" {
            let Some((kind, channels, rate, full)) = format else {
                return Err(damaged(sink, "samples before their format"));
            };
            let there = length.saturating_sub(before);
            // A recorder that was stopped hard leaves 0 or the most that fits here: the file's end tells then.
            let promised = if size == 0 || size > there { there } else { size };
            let bytes_per_s = rate * (channels * kind.bytes()) as f64;
            if size > there && size < UNKNOWN_WAV_BYTES && bytes_per_s > 0.0 {
                sink.findings.push(cut_short(size, there, bytes_per_s));
            }
            let places = places(sink, Some(channels).filter(|c| *c != 3))?;
            let mut records = of_array(places, channels, kind, Some(promised));
            records.fields.iter_mut().flatten().for_each(|f| f.factor /= full);
            sink.read(before as usize);
            if sink.request.sample_rate_hz.is_none() && records.fields[0].is_none() {
                sink.begin(rate)?;
            }
            return stream(file, &records, sink);
        }
        if size > 1 << 20 {
            return Err(damaged(sink, &format!("a part of {size} bytes before the samples")));
        }
        let mut part = vec![0_u8; (size + size % 2) as usize];
        if file.read_exact(&mut part).is_err() {
            return Err(damaged(sink, "a part that was cut short"));
        }
        before += part.len() as u64;
        if &head[..4] == b"fmt " && part.len() >= 16 {
            let two = |k: usize| u16::from_le_bytes([part[k], part[k + 1]]);
            let rate = u32::from_le_bytes([part[4], part[5], part[6], part[7]]);
            // The extensible format tells its kind in the first two bytes of its identifier.
            let tag = if two(0) == 0xfffe && part.len() >= 26 { two(24) } else { two(0) };
            let (kind, full) = match (tag, two(14)) {
                (1, 16) => (NumberKind::I16, 32_768.0),
                (1, 24) => (NumberKind::I24, 8_388_608.0),
                (1, 32) => (NumberKind::I32, 2_147_483_648.0),
                (3, 32) => (NumberKind::F32, 1.0),
                (3, 64) => (NumberKind::F64, 1.0),
                (tag, bits) => return Err(damaged(sink, &format!("samples of kind {tag} with {bits} bits"))),
            };
            let channels = usize::from(two(2));
            if !(2..=64).contains(&channels) {
                return Err(damaged(sink, &format!("{channels} channels")));
            }
            format = Some((kind, channels, f64::from(rate), full));
        }
    }
}

/// Sizes from here on are what a recorder writes that cannot know the size yet.
const UNKNOWN_WAV_BYTES: u64 = 0x7fff_0000;

/// Samples that a header promises and that are not there.
fn cut_short(promised: u64, there: u64, bytes_per_s: f64) -> Finding {
    let seconds = |bytes: u64| bytes as f64 / bytes_per_s;
    Finding {
        name: "log_cut_short".to_owned(),
        seen: format!(
            "the header promises {:.2} s and {:.2} s are there ({:.0} %)",
            seconds(promised),
            seconds(there),
            100.0 * there as f64 / promised as f64
        ),
        action: "copy the log again: the row is of what is there, and its window may end too early".to_owned(),
    }
}

fn stream(mut file: impl Read + Send, records: &Records, sink: &mut Sink<'_>) -> Result<(), Box<Fault>> {
    if !sink.begun() {
        match (sink.request.sample_rate_hz, records.fields[0]) {
            (Some(rate), _) => sink.begin(rate)?,
            (None, Some(_)) => {}
            (None, None) => {
                return Err(sink.fault("no time", "the sample rate", "give --sample-rate-hz, or --columns time=…"));
            }
        }
    }
    sink.clock.single = records.fields[0].is_some_and(|f| f.kind == NumberKind::F32);
    let each = records.length;
    let at_once = (PIECE_BYTES / each).max(1) * each;
    let (Some(i), Some(u)) = (records.fields[1], records.fields[2]) else { return Ok(()) };
    let [as_current, as_voltage] = [sink.request.channel(0, i.factor), sink.request.channel(1, u.factor)];
    let time = records.fields[0].filter(|_| sink.request.sample_rate_hz.is_none());
    let mut left = records.promised.unwrap_or(u64::MAX);
    let making = Making {
        fetch: |batch: &mut Batch| -> std::io::Result<bool> {
            batch.bytes.resize(at_once, 0);
            let most = at_once.min(usize::try_from(left).unwrap_or(usize::MAX));
            batch.read = read_up_to(&mut file, &mut batch.bytes[..most])?;
            left -= batch.read as u64;
            Ok(batch.read >= each)
        },
        work: |batch: &mut Batch| {
            // A last record that was cut short is no sample.
            let whole = &batch.bytes[..batch.read - batch.read % each];
            decode(whole, each, i, as_current, &mut batch.current);
            decode(whole, each, u, as_voltage, &mut batch.voltage);
            Ok(())
        },
    };
    let mut row = 0;
    let mut stamps = Vec::new();
    // One is enough: it takes less time than the reduction.
    ahead([sink.request.threads_beside().min(1), WAITING], making, |batch| {
        let batch = batch.map_err(|e| {
            let why = e.map_or_else(|| "damaged".to_owned(), |e| e.to_string());
            sink.fault(format!("a file that cannot be read ({why})"), "a log", "copy it again")
        })?;
        sink.read(batch.read);
        if records.fields[3..].iter().any(Option::is_some) {
            sink.read_steady_of(batch.current.len(), |k, role| {
                let of = |f: Field| f.kind.read(&batch.bytes[k * each + f.at..]) * f.factor;
                records.fields[role].map_or(f64::NAN, of)
            });
        }
        match time {
            Some(t) => {
                let bytes = &batch.bytes;
                let time = |k: usize| t.kind.read(&bytes[k * each + t.at..]) * t.factor;
                timed(sink, row, time, &mut stamps, &batch.current, &batch.voltage)?;
            }
            None => sink.push(&batch.current, &batch.voltage),
        }
        row += batch.current.len();
        Ok(())
    })
}

/// Some records and what they hold.
#[derive(Debug, Default)]
struct Batch {
    bytes: Vec<u8>,
    read: usize,
    current: Vec<f32>,
    voltage: Vec<f32>,
}

/// First rows whose times tell the sample rate.
pub(super) const TELLING_ROWS: usize = 1 << 16;

/// Samples with the time of each: of every so many at first, of all where those do not come evenly.
pub(super) fn timed(
    sink: &mut Sink<'_>,
    row: usize,
    time: impl Fn(usize) -> f64,
    stamps: &mut Vec<Stamp>,
    current: &[f32],
    voltage: &[f32],
) -> Result<(), Box<Fault>> {
    let place = TimePlace { rows_before: row, column: "time" };
    if !sink.begun() {
        let times: Vec<f64> = (0..current.len().min(TELLING_ROWS)).map(&time).collect();
        sink.begin_by(&times, place)?;
    }
    for every in [STAMP_EVERY, 1] {
        stamps.clear();
        stamps.extend((0..current.len()).step_by(every).map(|k| (k, time(k))));
        if sink.push_timed(stamps, current, voltage, place)? {
            break;
        }
    }
    Ok(())
}

impl NumberKind {
    #[inline(always)]
    fn read(self, bytes: &[u8]) -> f64 {
        match self {
            Self::F32 => f64::from(f32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]])),
            Self::F64 => {
                f64::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3], bytes[4], bytes[5], bytes[6], bytes[7]])
            }
            Self::I16 => f64::from(i16::from_le_bytes([bytes[0], bytes[1]])),
            Self::I24 => f64::from(i32::from_le_bytes([0, bytes[0], bytes[1], bytes[2]]) >> 8),
            Self::I32 => f64::from(i32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]])),
        }
    }
}

fn decode(bytes: &[u8], each: usize, field: Field, [factor, offset]: [f64; 2], out: &mut Vec<f32>) {
    out.clear();
    if field.kind == NumberKind::F32 && factor == 1.0 && offset == 0.0 && each.is_multiple_of(4) {
        let (words, _) = bytes.as_chunks::<4>();
        let place = field.at / 4;
        // Lengths that the compiler knows.
        match each / 4 {
            2 => singles_of::<2>(words, place, out),
            3 => singles_of::<3>(words, place, out),
            4 => singles_of::<4>(words, place, out),
            length => out.extend(words.chunks_exact(length).map(|record| f32::from_le_bytes(record[place]))),
        }
        return;
    }
    let records = bytes.chunks_exact(each);
    match field.kind {
        NumberKind::I16 => out.extend(records.map(|r| (NumberKind::I16.read(&r[field.at..]) * factor + offset) as f32)),
        kind => out.extend(records.map(|r| (kind.read(&r[field.at..]) * factor + offset) as f32)),
    }
}

fn singles_of<const LENGTH: usize>(words: &[[u8; 4]], place: usize, out: &mut Vec<f32>) {
    out.extend(words.as_chunks::<LENGTH>().0.iter().map(|record| f32::from_le_bytes(record[place])));
}
