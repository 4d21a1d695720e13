//! Logs in every form give the row of their samples; what cannot be read says why.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;
use std::sync::atomic::AtomicU64;

use meltlaw::reduce::{ReduceSettings, Reduced, Reducer};
use meltlaw::trials::{Column, Trial, Trials};
use meltlaw::virtual_bench::{Log, LogTruth};
use meltlaw_files::{
    DecimalMark, Inputs, LogOptions, LogOutcome, LogRequest, LogTable, NamedLog, NumberKind, ReducedLog, WhereItStands,
    log_trials, reduce_log,
};
use polars::prelude::{Column as PolarsColumn, DataFrame, DataType, ParquetCompression, ParquetWriter, TimeUnit};

const RATE: f64 = 20_000.0;

struct Bench {
    folder: tempfile::TempDir,
    log: Log,
}

impl Bench {
    fn new() -> Self {
        let truth = LogTruth { sample_rate_hz: RATE, arc_s: 2.5, ..LogTruth::default() };
        let mut log = truth.log(5, 0);
        // As a text holds them, so that every form holds the same numbers.
        for x in log.current.iter_mut().chain(&mut log.voltage) {
            *x = format!("{x:.4}").parse().unwrap();
        }
        Self { folder: tempfile::tempdir().unwrap(), log }
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    }

    fn directly(&self) -> Reduced {
        directly(&self.log.current, &self.log.voltage)
    }

    /// `time,current,voltage` rows.
    fn text(&self, separator: char, mark: char, end: &str) -> String {
        let mut text = String::new();
        for (k, (i, u)) in self.log.current.iter().zip(&self.log.voltage).enumerate() {
            let row = format!("{:.5}\t{i:.4}\t{u:.4}", k as f64 / RATE);
            let row = row.replace('.', &mark.to_string()).replace('\t', &separator.to_string());
            let _ = write!(text, "{row}{end}");
        }
        text
    }
}

fn directly(current: &[f32], voltage: &[f32]) -> Reduced {
    let mut reducer = Reducer::new(ReduceSettings::usual(RATE));
    reducer.push(current, voltage);
    reducer.finish().unwrap()
}

fn read(path: &std::path::Path, request: &LogRequest) -> Result<Reduced, String> {
    reduce_log(path, request, &AtomicU64::new(0)).map_err(|f| f.to_string())
}

fn columns(pairs: &[(&str, &str)]) -> LogRequest {
    let columns = pairs.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
    LogRequest { columns, ..LogRequest::default() }
}

#[track_caller]
fn same(found: &Reduced, wanted: &Reduced) {
    assert_eq!(format!("{found:?}"), format!("{wanted:?}"));
}

#[test]
fn texts_of_every_kind_give_the_row_of_their_samples() {
    let bench = Bench::new();
    let wanted = bench.directly();
    let usual = LogRequest::default();
    let plain = bench.file("a.csv", format!("time_s,current_a,voltage_v\n{}", bench.text(',', '.', "\n")));
    for threads in [1, 2, 5] {
        same(&read(&plain, &LogRequest { threads, ..LogRequest::default() }).unwrap(), &wanted);
    }
    let windows = bench.file(
        "b.csv",
        format!("\u{feff}recorder\r\n\r\ntime_s;current_a;voltage_v\r\ns;A;V\r\n{}", bench.text(';', ',', "\r\n")),
    );
    same(&read(&windows, &usual).unwrap(), &wanted);
    let stated = LogRequest { decimal: Some(DecimalMark::Comma), ..LogRequest::default() };
    same(&read(&windows, &stated).unwrap(), &wanted);
    let tabs = bench.file("c.txt", format!("t\tI\tU\n{}", bench.text('\t', '.', "\n").trim_end()));
    same(&read(&tabs, &columns(&[("time", "t"), ("current", "I"), ("voltage", "U")])).unwrap(), &wanted);
    // Without a time: by the stated rate. Other units, exponents, quotes, columns between.
    let mut odd = String::from("note,\"u_mv\",x,current_ka\n");
    for (i, u) in bench.log.current.iter().zip(&bench.log.voltage) {
        let _ = writeln!(odd, "ok,\"{:e}\",,{:.7}", f64::from(*u) * 1e3, f64::from(*i) * 1e-3);
    }
    let odd = bench.file("d.csv", odd);
    let request = LogRequest { sample_rate_hz: Some(RATE), ..columns(&[("voltage_mv", "u_mv")]) };
    let found = read(&odd, &request).unwrap();
    let close = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} {b}");
    close(found.current_mean_a.value, wanted.current_mean_a.value);
    close(found.power_mean_w.value, wanted.power_mean_w.value);
    assert_eq!(found.pulsed.unwrap().pulses, wanted.pulsed.as_ref().unwrap().pulses);
}

#[test]
fn bytes_of_every_kind_give_the_row_of_their_samples() {
    let bench = Bench::new();
    let wanted = bench.directly();
    let (i, u) = (&bench.log.current, &bench.log.voltage);
    let rated = |request: LogRequest| LogRequest { sample_rate_hz: Some(RATE), ..request };
    let pairs = i.iter().zip(u);
    let f32s: Vec<u8> = pairs.clone().flat_map(|(i, u)| [i.to_le_bytes(), u.to_le_bytes()].concat()).collect();
    let raw = bench.file("a.bin", &f32s);
    same(&read(&raw, &LogRequest { raw: Some(NumberKind::F32), ..rated(LogRequest::default()) }).unwrap(), &wanted);
    let with_time: Vec<u8> = pairs
        .clone()
        .enumerate()
        .flat_map(|(k, (i, u))| [k as f64 / RATE, f64::from(*u), f64::from(*i)].map(f64::to_le_bytes).concat())
        .collect();
    let doubles = bench.file("b.dat", &with_time);
    let order = columns(&[("time", "1"), ("voltage", "2"), ("current", "3")]);
    same(&read(&doubles, &LogRequest { raw: Some(NumberKind::F64), ..order }).unwrap(), &wanted);
    let header = format!("{{'descr': '<f4', 'fortran_order': False, 'shape': ({}, 2), }}\n", i.len());
    let npy = [&b"\x93NUMPY\x01\x00"[..], &(header.len() as u16).to_le_bytes(), header.as_bytes(), &f32s].concat();
    same(&read(&bench.file("c.npy", &npy), &rated(LogRequest::default())).unwrap(), &wanted);
    let wav = |kind: u16, bits: u16, data: &[u8]| {
        let block = 2 * bits / 8;
        let format = [
            &16_u32.to_le_bytes()[..],
            &kind.to_le_bytes(),
            &2_u16.to_le_bytes(),
            &(RATE as u32).to_le_bytes(),
            &(RATE as u32 * u32::from(block)).to_le_bytes(),
            &block.to_le_bytes(),
            &bits.to_le_bytes(),
        ]
        .concat();
        [
            b"RIFF",
            &(36 + data.len() as u32).to_le_bytes()[..],
            b"WAVEfmt ",
            &format,
            b"data",
            &(data.len() as u32).to_le_bytes(),
            data,
        ]
        .concat()
    };
    same(&read(&bench.file("d.wav", wav(3, 32, &f32s)), &LogRequest::default()).unwrap(), &wanted);
    // Cut on the way: the header promises more. A recorder that does not know the size yet promises all that fits.
    let mut cut = wav(3, 32, &f32s);
    cut.truncate(44 + f32s.len() / 4 * 3);
    let said = |name: &str, bytes: &[u8]| {
        let found = read(&bench.file(name, bytes), &LogRequest::default()).unwrap();
        found.findings.into_iter().find(|f| f.name == "log_cut_short").map(|f| f.seen)
    };
    let seen = said("cut.wav", &cut).unwrap();
    let of = i.len() as f64 / RATE;
    assert_eq!(seen, format!("the header promises {of:.2} s and {:.2} s are there (75 %)", 0.75 * of));
    cut[40..44].copy_from_slice(&u32::MAX.to_le_bytes());
    assert_eq!(said("stopped.wav", &cut), None);
    // Sixteen bits of ± 1000 A and ± 100 V.
    let whole = |x: f32, full: f32| ((x / full * 32_768.0).round() as i16).to_le_bytes();
    let i16s: Vec<u8> = pairs.flat_map(|(i, u)| [whole(*i, 1000.0), whole(*u, 100.0)].concat()).collect();
    let found =
        read(&bench.file("e.wav", wav(1, 16, &i16s)), &LogRequest { scale: [1000.0, 100.0], ..LogRequest::default() });
    let found = found.unwrap();
    // Steps of 0.03 A and 0.003 V, rounded at random: less than a hundredth of that in the mean of 30 000.
    assert!((found.current_mean_a.value - wanted.current_mean_a.value).abs() < 1e-3);
    assert!((found.voltage_mean_v.value - wanted.voltage_mean_v.value).abs() < 1e-4);
}

#[test]
fn parquet_gives_the_row_of_its_samples_group_after_group() {
    let bench = Bench::new();
    let times: Vec<f64> = (0..bench.log.current.len()).map(|k| k as f64 / RATE).collect();
    let mut frame = DataFrame::new_infer_height(vec![
        PolarsColumn::new("voltage_v".into(), &bench.log.voltage),
        PolarsColumn::new("other".into(), &times),
        PolarsColumn::new("time_ms".into(), times.iter().map(|t| 1000.0 * t).collect::<Vec<f64>>()),
        PolarsColumn::new("current_a".into(), &bench.log.current),
    ])
    .unwrap();
    let path = bench.folder.path().join("a.parquet");
    ParquetWriter::new(fs::File::create(&path).unwrap()).with_row_group_size(Some(7_000)).finish(&mut frame).unwrap();
    for threads in [1, 2] {
        same(&read(&path, &LogRequest { threads, ..LogRequest::default() }).unwrap(), &bench.directly());
    }
    let cut = fs::read(&path).unwrap();
    let text = read(&bench.file("b.parquet", &cut[..cut.len() / 2]), &LogRequest::default()).unwrap_err();
    assert!(text.starts_with("b.parquet: found a "), "{text}");
}

#[test]
fn parquet_pages_of_every_kind_give_the_row_of_their_samples() {
    let bench = Bench::new();
    let n = bench.log.current.len();
    // Steps of a recorder, so that whole numbers hold them; the library writes those by a dictionary.
    let steps = |values: &[f32], per: f32| values.iter().map(|v| (v * per).round() as i32).collect::<Vec<i32>>();
    let (amperes, volts) = (steps(&bench.log.current, 4.0), steps(&bench.log.voltage, 64.0));
    let of = |steps: &[i32], per: f64| steps.iter().map(|v| f64::from(*v) / per).collect::<Vec<f64>>();
    let (current, voltage) = (of(&amperes, 4.0), of(&volts, 64.0));
    let singles = |values: &[f64]| values.iter().map(|v| *v as f32).collect::<Vec<f32>>();
    // Dates in microseconds.
    let dates: Vec<i64> = (0..n as i64).map(|k| 1_790_000_000_000_000 + 50 * k).collect();
    let dates =
        PolarsColumn::new("time".into(), dates).cast(&DataType::Datetime(TimeUnit::Microseconds, None)).unwrap();
    let seconds = PolarsColumn::new("time".into(), (0..n).map(|k| k as f64 / RATE).collect::<Vec<f64>>());
    let lost = 20_000..20_030;
    let holed = |values: &[f64]| {
        values.iter().enumerate().map(|(k, v)| (!lost.contains(&k)).then_some(*v as f32)).collect::<Vec<Option<f32>>>()
    };
    let pair = |i: PolarsColumn, u: PolarsColumn| [i.with_name("current_a".into()), u.with_name("voltage_v".into())];
    let column = |values: Vec<f32>| PolarsColumn::new("".into(), values);
    let scaled = LogRequest { scale: [0.25, 1.0 / 64.0], ..LogRequest::default() };
    let usual = LogRequest::default;
    let (whole_i, whole_u) = (singles(&current), singles(&voltage));
    let whole = directly(&whole_i, &whole_u);
    let missing = |values: &[f64]| holed(values).into_iter().map(|v| v.unwrap_or(f32::NAN)).collect::<Vec<f32>>();
    let with_holes = directly(&missing(&current), &missing(&voltage));
    let number = |steps: &[i32]| PolarsColumn::new("".into(), steps);
    let double = |values: &[f64]| PolarsColumn::new("".into(), values);
    for (kind, time, pair, request, wanted) in [
        ("whole numbers, by a dictionary", &seconds, pair(number(&amperes), number(&volts)), scaled.clone(), &whole),
        ("dates and singles", &dates, pair(column(whole_i.clone()), column(whole_u.clone())), usual(), &whole),
        ("doubles", &seconds, pair(double(&current), double(&voltage)), usual(), &whole),
        (
            "singles beside whole numbers",
            &dates,
            pair(column(singles(&of(&amperes, 1.0))), number(&volts)),
            scaled,
            &whole,
        ),
        (
            "numbers that are missing",
            &seconds,
            pair(PolarsColumn::new("".into(), holed(&current)), PolarsColumn::new("".into(), holed(&voltage))),
            usual(),
            &with_holes,
        ),
    ] {
        let [current, voltage] = pair;
        let mut frame = DataFrame::new_infer_height(vec![current, time.clone(), voltage]).unwrap();
        for (page_bytes, group, packed) in [
            (1 << 20, 1 << 20, ParquetCompression::Zstd(None)),
            (3_000, 11_003, ParquetCompression::Snappy),
            (50_000, 30_000, ParquetCompression::Uncompressed),
        ] {
            let path = bench.folder.path().join("a.parquet");
            ParquetWriter::new(fs::File::create(&path).unwrap())
                .with_data_page_size(Some(page_bytes))
                .with_row_group_size(Some(group))
                .with_compression(packed)
                .finish(&mut frame)
                .unwrap();
            for threads in [1, 3] {
                let found = read(&path, &LogRequest { threads, ..request.clone() });
                let found = found.unwrap_or_else(|e| panic!("{kind}, pages of {page_bytes}: {e}"));
                assert_eq!(format!("{found:?}"), format!("{wanted:?}"), "{kind}, pages of {page_bytes}");
            }
        }
    }
}

#[test]
fn channels_that_hold_still_are_averaged_in_the_window_and_fill_the_row() {
    let bench = Bench::new();
    let n = bench.log.current.len();
    // A feed of 6.5 m/min that swings a little, and stands still where no arc burns; a distance that is always the same.
    let feed = |k: usize| {
        if bench.log.current[k] > 20.0 { 6.5 + 0.2 * (k as f64 / 300.0).sin() } else { 6.5 * f64::from(k as u32 % 2) }
    };
    let mut text = String::from("Feed;time_s;current_a;ctwd_mm;voltage_v\n");
    let mut records = Vec::new();
    for (k, (i, u)) in bench.log.current.iter().zip(&bench.log.voltage).enumerate() {
        let _ = writeln!(text, "{:.3};{:.5};{i:.4};18;{u:.4}", feed(k), k as f64 / RATE);
        [*i, *u, feed(k) as f32, 18.0].iter().for_each(|x| records.extend(x.to_le_bytes()));
    }
    let feeds: Vec<f64> = (0..n).map(feed).collect();
    let mut frame = DataFrame::new_infer_height(vec![
        PolarsColumn::new("Feed".into(), &feeds),
        PolarsColumn::new("ctwd_mm".into(), vec![18_i32; n]),
        PolarsColumn::new("voltage_v".into(), &bench.log.voltage),
        PolarsColumn::new("current_a".into(), &bench.log.current),
    ])
    .unwrap();
    let path = bench.folder.path().join("a.parquet");
    ParquetWriter::new(fs::File::create(&path).unwrap()).with_row_group_size(Some(9_000)).finish(&mut frame).unwrap();
    let rated = LogRequest { sample_rate_hz: Some(RATE), ..columns(&[("wire_feed_m_min", "Feed")]) };
    let numbered = columns(&[("current", "1"), ("voltage", "2"), ("wire_feed_m_min", "3"), ("ctwd_mm", "4")]);
    let raw = LogRequest { raw: Some(NumberKind::F32), sample_rate_hz: Some(RATE), ..numbered };
    for (path, request) in [
        (bench.file("a.csv", &text), LogRequest { threads: 2, ..columns(&[("wire_feed_m_min", "Feed")]) }),
        (bench.file("a.f32", &records), raw),
        (path, rated),
    ] {
        let found = read(&path, &request).unwrap();
        let [(feed_name, feed), (distance_name, distance)] = &found.steady[..] else { panic!("{:?}", found.steady) };
        assert_eq!((feed_name.as_str(), distance_name.as_str()), ("wire_feed_m_min", "ctwd_mm"));
        // Seven swings and a part of one: 0.2/(7·2π) at most.
        assert!((feed.value - 6.5).abs() < 0.006, "{}: {feed:?}", path.display());
        assert_eq!(distance.value, 18.0);
        same(&Reduced { steady: Vec::new(), ..found.clone() }, &bench.directly());
        let logs = [ReducedLog {
            trial: "a".to_owned(),
            log: "a".to_owned(),
            options: LogOptions::default(),
            reduced: found.clone(),
        }];
        let (rows, _) = log_trials(&logs, None);
        assert_eq!(rows.rows[0].get(Column::WireFeed), Some(feed.value));
        let mut stated = Trial::new("a", 0, 1);
        stated.set(Column::WireFeed, Some(6.4));
        let (rows, _) = log_trials(&logs, Some(&Trials { rows: vec![stated], ..Trials::default() }));
        assert_eq!(rows.rows[0].get(Column::WireFeed), Some(6.4), "what the user states stands");
        assert_eq!(rows.rows[0].get(Column::Ctwd), Some(18.0));
    }
}

#[test]
fn probes_are_scaled_turned_round_and_laid_on_each_other() {
    let bench = Bench::new();
    let wanted = bench.directly();
    // Volts of a probe of −100 A/V with 2 A of offset; the voltage comes three samples late.
    let mut text = String::from("time_s,current_a,voltage_v\n");
    for k in 0..bench.log.current.len() {
        let u = bench.log.voltage[k.saturating_sub(3)];
        let i = (f64::from(bench.log.current[k]) - 2.0) / -100.0;
        let _ = writeln!(text, "{:.5},{i:.8},{u:.4}", k as f64 / RATE);
    }
    let path = bench.file("probe.csv", text);
    let request =
        LogRequest { scale: [-100.0, 1.0], offset: [2.0, 0.0], delay_us: [0.0, 150.0], ..LogRequest::default() };
    let found = read(&path, &request).unwrap();
    assert!((found.power_mean_w.value / wanted.power_mean_w.value - 1.0).abs() < 1e-5, "{found:?}");
    assert_eq!(found.findings, wanted.findings);
    let apart = read(&path, &LogRequest { delay_us: [0.0, 0.0], ..request }).unwrap();
    assert!(apart.findings.iter().any(|f| f.name == "channels_apart"), "{:?}", apart.findings);
}

#[test]
fn samples_lost_in_a_text_are_found_where_they_are() {
    let bench = Bench::new();
    let rows = bench.text(',', '.', "\n");
    let kept: Vec<&str> =
        rows.lines().enumerate().filter(|(k, _)| !(30_011..30_029).contains(k)).map(|(_, l)| l).collect();
    let path = bench.file("holes.csv", format!("time_s,current_a,voltage_v\n{}\n", kept.join("\n")));
    let found = read(&path, &LogRequest::default()).unwrap();
    let said = found.findings.iter().find(|f| f.name == "samples_missing").unwrap();
    assert!(said.seen.starts_with("18 samples"), "{}", said.seen);
    assert_eq!(found.samples, bench.log.current.len() as u64);
}

#[test]
fn what_cannot_be_read_names_row_and_column_and_what_to_do() {
    let bench = Bench::new();
    let usual = LogRequest::default();
    let header = "time_s,current_a,voltage_v\n";
    let rows = bench.text(',', '.', "\n");
    let of = |name: &str, text: &str| read(&bench.file(name, text), &usual).unwrap_err();
    let with = |at: usize, row: &str| {
        let mut lines: Vec<&str> = rows.lines().collect();
        lines[at] = row;
        format!("{header}{}\n", lines.join("\n"))
    };
    assert_eq!(of("a.csv", ""), "a.csv: found an empty file, needed a log; export it again");
    assert!(of("b.csv", header).contains("found a header and no row below it"));
    let bad = of("c.csv", &with(40_000, "2.0,12 A,20"));
    assert_eq!(
        bad,
        "c.csv, row 40002, column current_a: found '12 A', needed a number; mend the cell, or cut the log there"
    );
    let few = of("d.csv", &with(7, "0.00035,1"));
    assert!(few.starts_with("d.csv, row 9: found '0.00035,1', needed as many columns"), "{few}");
    let back = of("e.csv", &with(50, "0.001,1,2"));
    assert!(back.starts_with("e.csv, row 52, column time_s: found 0.001 s after 0.00245 s"), "{back}");
    assert!(of("f.csv", &format!("{header}0,1,2\n")).contains("found 1 rows with a time"));
    assert!(of("g.csv", &format!("{header}{}", "1,2,3\n".repeat(50))).contains("the same time in every row"));
    assert!(of("h.csv", &rows).contains("no header with both current and voltage"));
    assert!(of("i.csv", "current_a,voltage_v\n1,2\n").contains("no column of time"));
    assert!(of("j.csv", &format!("{header}{}", "9".repeat(2 << 20))).contains("a line of more than"));
    assert!(of("k.xyz", "1").contains("ends in '.xyz'"));
    let none = read(&bench.folder.path().join("none.csv"), &usual).unwrap_err();
    assert!(none.contains("cannot be read"), "{none}");
    assert!(read(bench.folder.path(), &usual).unwrap_err().contains("no ordinary file"));
    // A row that the end cuts short is no fault.
    let cut = format!("{header}{rows}");
    assert!(read(&bench.file("l.csv", &cut[..cut.len() - 9]), &usual).is_ok());
    // Headers that promise more than there is.
    let absurd = "{'descr': '<f8', 'fortran_order': False, 'shape': (9223372036854775808, 2), }\n";
    let npy = [&b"\x93NUMPY\x01\x00"[..], &(absurd.len() as u16).to_le_bytes(), absurd.as_bytes(), &[0; 64]].concat();
    let rated = LogRequest { sample_rate_hz: Some(RATE), ..LogRequest::default() };
    let text = read(&bench.file("m.npy", npy), &rated).unwrap_err();
    assert!(text.contains("promises 9223372036854775808 rows"), "{text}");
    for bytes in
        [&b"RIFF"[..], b"RIFF\xff\xff\xff\xffWAVEfmt \x10\x00\x00\x00", b"RIFF\x00\x00\x00\x00WAVEjunk\xff\xff\xff\xff"]
    {
        assert!(read(&bench.file("n.wav", bytes), &usual).unwrap_err().contains("n.wav: found "), "{bytes:?}");
    }
    let raw = LogRequest { raw: Some(NumberKind::I16), ..rated };
    assert!(read(&bench.file("o.bin", [1, 0, 2, 0]), &raw).unwrap_err().contains("found 1 samples, needed a weld"));
}

/// Logs by their stems, with nothing stated for any of them.
fn named(paths: &[PathBuf]) -> Vec<NamedLog> {
    let trial = |path: &PathBuf| path.file_stem().unwrap().to_string_lossy().into_owned();
    paths.iter().map(|p| NamedLog { trial: trial(p), path: p.clone(), options: LogOptions::default() }).collect()
}

fn open(table: &std::path::Path, where_it_stands: WhereItStands) -> LogTable {
    LogTable::open(table, where_it_stands, Inputs::default()).unwrap()
}

#[test]
fn a_stopped_run_goes_on_and_rows_meet_what_stands_beside_them() {
    let bench = Bench::new();
    let rows = bench.text(',', '.', "\n");
    let text = format!("time_s,current_a,voltage_v\n{rows}");
    let logs = [bench.file("w1.csv", &text), bench.file("w2.csv", "broken"), bench.file("w3.csv", &text)];
    let table = bench.folder.path().join("t.csv");
    let request = LogRequest { threads: 2, ..LogRequest::default() };
    let logs = named(&logs);
    // Stopped before the table is written.
    let outcomes = open(&table, WhereItStands::Refuse).reduce(&logs, &request, |_| {}).unwrap();
    assert_eq!(outcomes.iter().map(|o| o.reduced().is_some()).collect::<Vec<_>>(), [true, false, true]);
    let journal = bench.folder.path().join("t.csv.part");
    assert!(journal.exists() && !table.exists());
    // The second is mended; the others are not read again, not even from a torn journal and under another request.
    fs::write(&logs[1].path, &text).unwrap();
    let kept = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, format!("{kept}{{\"log\":\"w9")).unwrap();
    let anew = LogTable::open(&table, WhereItStands::Refuse, Inputs::default()).unwrap_err().to_string();
    assert!(anew.contains("holds what a stopped run has reduced; give --resume"), "{anew}");
    let mut going_on = open(&table, WhereItStands::GoOn);
    let turned = LogRequest { scale: [2.0, 1.0], ..request.clone() };
    let again = going_on.reduce(&logs, &turned, |_| {}).unwrap();
    assert_eq!(format!("{:?}", again[0]), format!("{:?}", outcomes[0]));
    let mean = |outcome: &LogOutcome| outcome.reduced().unwrap().current_mean_a.value;
    assert!((mean(&again[1]) / mean(&again[0]) - 2.0).abs() < 1e-6, "what is typed now is for what is read now");
    let reduced: Vec<ReducedLog> = logs
        .iter()
        .zip(&again)
        .map(|(log, outcome)| ReducedLog {
            trial: log.trial.clone(),
            log: log.shown(),
            options: LogOptions::of(&request),
            reduced: outcome.reduced().unwrap().clone(),
        })
        .collect();
    assert_eq!(going_on.write(&log_trials(&reduced, None).0, None, &[]).unwrap(), 3);
    assert!(!journal.exists(), "everything stands in the table");
    // What stands beside a log completes its row.
    let mut one = Trial::new("w1", 0, 2).with(Column::WireFeed, 6.5).with(Column::Pulses, 150.0);
    one.other = vec!["Anna".to_owned()];
    let lost = Trial::new("w7", 0, 3);
    let beside = Trials { rows: vec![one, lost], other_columns: vec!["welder".to_owned()], ..Trials::default() };
    let first = ReducedLog { log: "logs/w1.csv".to_owned(), ..reduced[0].clone() };
    let (trials, unanswered) = log_trials(&[first], Some(&beside));
    let row = &trials.rows[0];
    assert_eq!(unanswered, ["w7"]);
    assert_eq!((row.get(Column::WireFeed), row.get(Column::Pulses)), (Some(6.5), Some(150.0)), "a user's count stays");
    assert!(row.get(Column::PulseCurrent).is_some() && row.stated_se(Column::PulseCurrent).is_some());
    assert_eq!((row.other[0].as_str(), row.other[1].as_str()), ("Anna", "logs/w1.csv"));
}

#[test]
fn a_row_of_another_log_a_foreign_file_and_a_second_run_are_left_alone() {
    let bench = Bench::new();
    let at = |name: &str| bench.folder.path().join(name);
    let refused =
        |where_it_stands| LogTable::open(&at("t.csv"), where_it_stands, Inputs::default()).unwrap_err().to_string();
    bench.file("t.csv.part", "half a download");
    let foreign = refused(WhereItStands::Replace);
    assert!(foreign.contains("t.csv.part: holds something else than what a stopped run leaves"), "{foreign}");
    fs::remove_file(at("t.csv.part")).unwrap();
    bench.file("t.csv", "trial;current_mean_a;log\nw1;150;w1.csv\n");
    let text = refused(WhereItStands::GoOn);
    assert!(text.contains("t.csv: holds no table with a column 'trial' between commas"), "{text}");
    assert!(!at("t.csv.part").exists(), "nothing is left of a run that did not begin");
    bench.file("t.csv", "trial,current_mean_a,log\nw1,150,day1/w1.csv\n");
    fs::create_dir(at("day1")).unwrap();
    let cell = bench.file("day1/w1.csv", "x").display().to_string();
    bench.file("t.csv", format!("trial,current_mean_a,log\nw1,150,{cell}\n"));
    let other = named(&[bench.file("w1.csv", "x")]);
    let mut table = open(&at("t.csv"), WhereItStands::GoOn);
    let taken = table.reduce(&other, &LogRequest::default(), |_| {}).unwrap_err().to_string();
    assert!(taken.contains("holds a row 'w1' of") && taken.contains("rename the log"), "{taken}");
    if cfg!(unix) {
        assert!(refused(WhereItStands::GoOn).contains("another run"), "two runs would lose each other's rows");
    }
}

#[test]
fn numbers_of_another_kind_and_one_column_for_two_are_refused_with_what_to_do() {
    let bench = Bench::new();
    let pairs = || bench.log.current.iter().zip(&bench.log.voltage);
    let f32s: Vec<u8> = pairs().flat_map(|(i, u)| [i.to_le_bytes(), u.to_le_bytes()].concat()).collect();
    let rated = LogRequest { sample_rate_hz: Some(RATE), ..LogRequest::default() };
    let raw = bench.file("a.f32", &f32s);
    for kind in [NumberKind::I32, NumberKind::I16, NumberKind::F64] {
        let wrong = read(&raw, &LogRequest { raw: Some(kind), ..rated.clone() });
        let text = wrong.unwrap_err();
        assert!(text.starts_with("a.f32: found ") && text.contains("needed "), "{kind:?}: {text}");
    }
    let whole = read(&raw, &LogRequest { raw: Some(NumberKind::I32), ..rated.clone() }).unwrap_err();
    assert!(
        whole.contains("found an RMS current of 1.1") && whole.contains("needed at most 5000 A; check how"),
        "{whole}"
    );
    // Volts that are millivolts.
    let text = format!("time_s,current_a,voltage_v\n{}", bench.text(',', '.', "\n"));
    let path = bench.file("b.csv", &text);
    let thousand = read(&path, &LogRequest { scale: [1.0, 1000.0], ..LogRequest::default() }).unwrap_err();
    assert!(thousand.contains("found a mean voltage of") && thousand.contains("at most 500 V"), "{thousand}");
    let turned = read(&path, &LogRequest { invert: [false, true], ..LogRequest::default() }).unwrap_err();
    assert!(
        turned.contains("a mean voltage of -") && turned.contains("write invert = voltage into the row"),
        "{turned}"
    );
    // One column for two, in every form of file.
    let one = [("current", "1"), ("voltage", "1")];
    let same = |path: &std::path::Path, request: LogRequest| {
        let text = read(path, &request).unwrap_err();
        assert!(text.contains("found one column for both current and voltage, needed a column of its own"), "{text}");
    };
    same(&raw, LogRequest { raw: Some(NumberKind::F32), ..LogRequest { sample_rate_hz: Some(RATE), ..columns(&one) } });
    same(&path, LogRequest { sample_rate_hz: Some(RATE), ..columns(&one) });
    same(&path, columns(&[("current", "voltage_v")]));
    let twice = read(&path, &columns(&[("current", "current_a"), ("current_ka", "voltage_v")])).unwrap_err();
    assert!(twice.contains("found both current and current_ka, needed one column for each"), "{twice}");
}

#[test]
fn a_channel_that_shows_nothing_of_the_weld_is_named() {
    let bench = Bench::new();
    let with = |name: &str, voltage: &dyn Fn(usize) -> f32| {
        let mut text = String::from("time_s,current_a,voltage_v\n");
        for (k, i) in bench.log.current.iter().enumerate() {
            let _ = writeln!(text, "{:.5},{i:.4},{:.4}", k as f64 / RATE, voltage(k));
        }
        let found = read(&bench.file(name, text), &LogRequest::default()).unwrap();
        found.findings.iter().map(|f| format!("{}: {}", f.name, f.seen)).collect::<Vec<_>>().join("\n")
    };
    let constant = with("a.csv", &|_| 25.0);
    assert!(constant.contains("voltage_constant: every sample of the voltage in the window reads 25 V"), "{constant}");
    let dead = with("b.csv", &|k| (k % 3) as f32 * 0.001);
    assert!(dead.contains("voltage_absent: the mean voltage is 0.001 V while the arc burns"), "{dead}");
    let usual = directly(&bench.log.current, &bench.log.voltage);
    assert!(usual.findings.iter().all(|f| !f.name.contains("constant") && !f.name.contains("absent")));
}

#[test]
#[cfg(unix)]
fn pipes_devices_and_files_that_are_only_said_to_be_large_are_refused_at_once() {
    let bench = Bench::new();
    let at = |name: &str| bench.folder.path().join(name);
    let made = std::process::Command::new("mkfifo").arg(at("pipe.csv")).status().unwrap();
    assert!(made.success());
    std::os::unix::fs::symlink("/dev/zero", at("zero.f32")).unwrap();
    let sparse = fs::File::create(at("sparse.f32")).unwrap();
    let raw = LogRequest { raw: Some(NumberKind::F32), sample_rate_hz: Some(RATE), ..LogRequest::default() };
    for name in ["pipe.csv", "zero.f32"] {
        let text = read(&at(name), &raw).unwrap_err();
        assert!(text.contains("something that is no ordinary file"), "{text}");
    }
    // Where the disk can hold so large a file at all.
    if sparse.set_len(1_000_000_000_000).is_ok() {
        let text = read(&at("sparse.f32"), &raw).unwrap_err();
        assert!(text.contains("found a file of 1000 GB, needed at most 32 GB; cut out the weld"), "{text}");
    }
}
