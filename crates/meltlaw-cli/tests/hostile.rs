//! What swells: `meltlaw check` on it ends in a message or in peace, in less than 512 MB and without being waited for.
#![cfg(target_os = "linux")]
#![allow(missing_docs, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

#[path = "../../meltlaw-files/tests/hostile/make.rs"]
mod make;

use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use make::{archive, parquet_of_one_text, parquet_with_footer, rows_of_shared, shared, workbook};

/// Most memory that a run may take.
const MOST_KB: u64 = 512_000;
/// Longest wait, for an unoptimised program on a busy machine.
const LONGEST: Duration = Duration::from_secs(120);

const STUDY: &str = "name = \"S\"\n[wire]\nmaterial = \"carbon-steel\"\ndiameter_mm = 1.2\n[bench]\nctwd_mm = 18\n[line]\nwire_feed_m_min = [3, 9]\n[[trials]]\nfile = \"TABLE\"\n";

/// How a run ended.
struct Ended {
    exit: i32,
    says: String,
    peak_kb: u64,
}

fn run(folder: &Path, arguments: &[&str]) -> Ended {
    let says = File::create(folder.join("says.txt")).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_meltlaw"))
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(says.try_clone().unwrap())
        .stderr(says)
        .spawn()
        .unwrap();
    let (begun, mut peak_kb) = (Instant::now(), 0);
    let status = loop {
        let about = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let peak = about.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse().ok());
        peak_kb = peak_kb.max(peak.unwrap_or(0));
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > LONGEST || peak_kb > 4 * MOST_KB {
            child.kill().unwrap();
            break child.wait().unwrap();
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    let says = String::from_utf8_lossy(&fs::read(folder.join("says.txt")).unwrap()).into_owned();
    Ended { exit: status.code().unwrap_or(-1), says, peak_kb }
}

/// Checks a study of one table; what is said must name the table.
fn check(what: &str, table: &str, bytes: &[u8]) -> Ended {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("study.toml"), STUDY.replace("TABLE", table)).unwrap();
    fs::write(folder.path().join(table), bytes).unwrap();
    held(what, table, run(folder.path(), &["check", "."]))
}

fn held(what: &str, named: &str, ended: Ended) -> Ended {
    let Ended { exit, says, peak_kb } = &ended;
    let begin: String = says.chars().take(400).collect();
    assert!([0, 3].contains(exit), "{what}: exit {exit}: {begin}");
    assert!(*peak_kb < MOST_KB, "{what}: {peak_kb} kB: {begin}");
    assert!(says.contains(named) && !says.contains("panicked"), "{what}: {begin}");
    ended
}

#[test]
fn workbooks_stay_within_their_memory() {
    let sound = shared("", "<si><t>x</t></si>");
    let refused = |what: &str, bytes: Vec<u8>| assert_eq!(check(what, "t.xlsx", &bytes).exit, 3, "{what}");
    let claim = shared("uniqueCount=\"4294967295\"", "<si><t>x</t></si>");
    refused("a claim of shared texts", workbook(&claim, "", &rows_of_shared(2), &[]));
    let long = shared("", &format!("<si><t>{}</t></si>", "x".repeat(20_000_000)));
    refused("a text of 20 MB in 48 cells", workbook(&long, "", &rows_of_shared(48), &[]));
    let long = shared("", &format!("<si><t>{}</t></si>", "x".repeat(90_000)));
    refused("a text of 90 kB in 20 000 cells", workbook(&long, "", &rows_of_shared(20_000), &[]));
    let many = shared("", &"<si><t/></si>".repeat(2_100_000));
    refused("shared texts without end", workbook(&many, "", &rows_of_shared(2), &[]));
    let comment = format!("<!--{}-->", "<".repeat(60_000_000));
    refused("a comment of 60 MB", workbook(&sound, "", &comment, &[]));
    let names: Vec<String> = (0..50_000).map(|k| format!("p{k}.xml")).collect();
    refused("parts without end", archive(&names.iter().map(|n| (n.as_str(), "")).collect::<Vec<_>>()));
}

#[test]
fn parquet_tables_stay_within_their_memory() {
    let refused = |what: &str, bytes: Vec<u8>| assert_eq!(check(what, "t.parquet", &bytes).exit, 3, "{what}");
    refused("a text of 6 MB in 48 rows", parquet_of_one_text(48, 6_000_000));
    refused("a text of 90 kB in 2000 rows", parquet_of_one_text(2000, 90_000));
    refused("a list of 2³¹ − 1 in the footer", parquet_with_footer(&[0x29, 0xFC, 0xFF, 0xFF, 0xFF, 0xFF, 0x07]));
    let mut deep = vec![0x29, 0xFC, 0xA0, 0x8D, 0x06];
    (0..100_000).for_each(|_| deep.extend([0x48, 0, 0x15, 2, 0]));
    deep.push(0);
    refused("a schema of 100 000 levels", parquet_with_footer(&deep));
}

#[test]
fn text_tables_and_studies_stay_within_their_memory() {
    let refused = |what: &str, text: String| assert_eq!(check(what, "t.csv", text.as_bytes()).exit, 3, "{what}");
    refused("a cell of 50 MB", format!("trial,note\na,\"{}\"\n", "x".repeat(50_000_000)));
    refused("50 million commas", format!("trial\na{}\n", ",".repeat(50_000_000)));
    refused("50 million commas in the header", format!("trial{}\na\n", ",".repeat(50_000_000)));
    refused("a table of 10 million rows", format!("trial\n{}", "a\n".repeat(10_000_000)));
    refused("a million rows of another length", format!("trial,note\n{}", "a\n".repeat(1_000_000)));
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("t.csv"), "trial\na\n").unwrap();
    for (what, text) in [
        ("arrays of 400 000 levels", format!("a = {}", "[".repeat(400_000))),
        ("keys without end", (0..70_000).map(|k| format!("key_{k} = 1\n")).collect()),
        ("a study of 20 MB", format!("{STUDY}# {}", "x".repeat(20_000_000))),
    ] {
        fs::write(folder.path().join("study.toml"), text).unwrap();
        assert_eq!(held(what, "study.toml", run(folder.path(), &["check", "."])).exit, 3, "{what}");
    }
}
