//! Damages small logs at random and reads them: no panic, no hang, no memory beyond a few pieces.
//!
//! `cargo run --release -p meltlaw-files --example fuzz_logs -- --seconds 300`
#![allow(clippy::print_stdout, clippy::expect_used, missing_docs, reason = "a program for people at a bench")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::sync::atomic::AtomicU64;
use std::time::{Duration, Instant};

use meltlaw::statistics::{DrawStream, Purpose};
use meltlaw::virtual_bench::LogTruth;
use meltlaw_files::{LogRequest, NumberKind, reduce_log};
use polars::prelude::{Column, DataFrame, ParquetCompression, ParquetWriter};

/// What a damaged cell may hold.
const TOKENS: [&str; 24] = [
    "",
    "-",
    ".",
    ",",
    ";",
    "\t",
    "\n",
    "\r\n",
    "NaN",
    "1e999",
    "-1e-400",
    "0x10",
    "\"",
    "\u{feff}",
    "9223372036854775808",
    "current_a",
    "time_s",
    "e",
    "1e",
    "--5",
    "1.2.3",
    "\0",
    "'shape': (",
    "data\u{ff}",
];

fn main() {
    let (mut seconds, mut seed) = (60, 1);
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match (argument.as_str(), arguments.next()) {
            ("--seconds", Some(n)) => seconds = n.parse().expect("a number of seconds"),
            ("--seed", Some(n)) => seed = n.parse().expect("a number"),
            (other, _) => panic!("unknown argument {other}: --seconds N, --seed N"),
        }
    }
    let seeds = seeds();
    let folder = tempfile::tempdir().expect("a folder");
    let (begun, mut number) = (Instant::now(), 0_u64);
    let mut outcomes: BTreeMap<String, u64> = BTreeMap::new();
    let mut slowest = Duration::ZERO;
    while begun.elapsed() < Duration::from_secs(seconds) {
        let mut stream = DrawStream::new(seed, Purpose::Simulation, number);
        let (name, bytes, request) = &seeds[(number % seeds.len() as u64) as usize];
        let damaged = damage(bytes.clone(), &mut stream);
        let path = folder.path().join(name);
        fs::write(&path, &damaged).expect("room for a small file");
        let one = Instant::now();
        let outcome = reduce_log(&path, request, &AtomicU64::new(0));
        slowest = slowest.max(one.elapsed());
        let kind = match outcome {
            Ok(r) => {
                assert!(r.current_mean_a.value.is_finite() && r.current_rms_a.value.is_finite(), "case {number}");
                format!("{name} a row")
            }
            Err(fault) => {
                assert!(!fault.found.is_empty() && !fault.action.is_empty(), "case {number}: {fault}");
                format!("{name} refused")
            }
        };
        *outcomes.entry(kind).or_default() += 1;
        number += 1;
    }
    println!("{number} damaged logs in {seconds} s, seed {seed}; slowest {slowest:.1?}");
    for (kind, count) in outcomes {
        println!("{count:9} {kind}");
    }
}

fn seeds() -> Vec<(&'static str, Vec<u8>, LogRequest)> {
    let truth = LogTruth { sample_rate_hz: 2000.0, arc_s: 1.4, before_s: 0.05, after_s: 0.05, ..LogTruth::default() };
    let log = truth.log(1, 0);
    let rows = || log.current.iter().zip(&log.voltage).enumerate();
    let mut plain = String::from("time_s,current_a,voltage_v\n");
    let mut german = String::from("recorder\r\ntime_ms;current_ka;voltage_v\r\nms;kA;V\r\n");
    for (k, (i, u)) in rows() {
        let _ = writeln!(plain, "{:.4},{i:.3},{u:.2}", k as f64 / 2000.0);
        let row = format!("{:.1};{:.6};{u:.2}\r\n", k as f64 / 2.0, i / 1000.0);
        german.push_str(&row.replace('.', ","));
    }
    let f32s: Vec<u8> = rows().flat_map(|(_, (i, u))| [i.to_le_bytes(), u.to_le_bytes()].concat()).collect();
    let header = format!("{{'descr': '<f4', 'fortran_order': False, 'shape': ({}, 2), }}\n", log.current.len());
    let npy = [&b"\x93NUMPY\x01\x00"[..], &(header.len() as u16).to_le_bytes(), header.as_bytes(), &f32s].concat();
    let format =
        [&16_u32.to_le_bytes()[..], &[3, 0, 2, 0], &2000_u32.to_le_bytes(), &16_000_u32.to_le_bytes(), &[8, 0, 32, 0]];
    let wav =
        [&b"RIFF\0\0\0\0WAVEfmt "[..], &format.concat(), b"data", &(f32s.len() as u32).to_le_bytes(), &f32s].concat();
    let column = |name: &str, values: &[f32]| Column::new(name.into(), values);
    let columns = vec![column("current_a", &log.current), column("voltage_v", &log.voltage)];
    let mut frame = DataFrame::new_infer_height(columns).expect("two columns of one length");
    let parquet = [ParquetCompression::Zstd(None), ParquetCompression::Uncompressed].map(|packed| {
        let mut bytes = Vec::new();
        let writer = ParquetWriter::new(&mut bytes).with_compression(packed).with_row_group_size(Some(1000));
        writer.finish(&mut frame).expect("room in memory");
        bytes
    });
    let [packed, unpacked] = parquet;
    // Whole numbers go by a dictionary; some are missing.
    let steps = |name: &str, values: &[f32]| {
        let steps = values.iter().enumerate().map(|(k, v)| (k % 997 != 500).then_some(v.round() as i32));
        Column::new(name.into(), steps.collect::<Vec<Option<i32>>>())
    };
    let times: Vec<f64> = (0..log.current.len()).map(|k| k as f64 / 2000.0).collect();
    let columns =
        vec![Column::new("time_s".into(), times), steps("current_a", &log.current), steps("voltage_v", &log.voltage)];
    let mut frame = DataFrame::new_infer_height(columns).expect("three columns of one length");
    let mut by_dictionary = Vec::new();
    let writer = ParquetWriter::new(&mut by_dictionary).with_compression(ParquetCompression::Snappy);
    writer.with_data_page_size(Some(900)).finish(&mut frame).expect("room in memory");
    let rated = LogRequest { sample_rate_hz: Some(2000.0), cut_ends_s: 0.1, ..LogRequest::default() };
    let timed = LogRequest { sample_rate_hz: None, threads: 2, ..rated.clone() };
    // Fast enough to look for drops.
    let fast = LogTruth { sample_rate_hz: 20_000.0, arc_s: 0.5, drop_sign: [1.5, 0.25], ..truth.clone() }.log(1, 1);
    let pairs = fast.current.iter().zip(&fast.voltage);
    let fast: Vec<u8> = pairs.flat_map(|(i, u)| [i.to_le_bytes(), u.to_le_bytes()].concat()).collect();
    let raw = LogRequest { raw: Some(NumberKind::F32), ..rated.clone() };
    vec![
        ("h.bin", fast, LogRequest { sample_rate_hz: Some(20_000.0), drops: true, ..raw.clone() }),
        ("a.csv", plain.into_bytes(), timed.clone()),
        ("b.csv", german.into_bytes(), timed.clone()),
        ("c.npy", npy, rated.clone()),
        ("d.wav", wav, LogRequest { threads: 1, ..timed.clone() }),
        ("f.parquet", packed, LogRequest { threads: 2, ..rated.clone() }),
        ("g.parquet", unpacked, rated.clone()),
        ("i.parquet", by_dictionary, timed),
        ("e.bin", f32s, raw),
    ]
}

fn damage(mut bytes: Vec<u8>, stream: &mut DrawStream) -> Vec<u8> {
    let mut below = |n: usize| ((stream.uniform() * n as f64) as usize).min(n.saturating_sub(1));
    for _ in 0..=below(4) {
        // Beginnings hold headers: half of the damage goes there.
        let reach = if below(2) == 0 { bytes.len().min(200) } else { bytes.len() };
        let at = below(reach.max(1));
        match below(6) {
            0 if !bytes.is_empty() => bytes[at] = below(256) as u8,
            1 => bytes.truncate(at),
            2 => {
                let token = TOKENS[below(TOKENS.len())].as_bytes();
                let end = (at + below(12)).min(bytes.len());
                bytes.splice(at.min(bytes.len())..end, token.iter().copied());
            }
            3 => {
                let end = (at + below(400)).min(bytes.len());
                let piece = bytes[at.min(end)..end].to_vec();
                let to = below(bytes.len() + 1);
                bytes.splice(to..to, piece);
            }
            4 => {
                let end = (at + below(400)).min(bytes.len());
                bytes.drain(at.min(end)..end);
            }
            _ => {
                for byte in bytes.iter_mut().skip(at).take(8) {
                    *byte = 0xff;
                }
            }
        }
    }
    bytes
}
