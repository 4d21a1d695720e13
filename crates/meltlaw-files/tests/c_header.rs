//! The C header, compiled by gcc and g++ at their strictest and asked at a thousand feeds.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

mod exported;

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use exported::{Answer, HOSTILE, NUMBERS, answers, compare, feeds, hostile, lines, long, met};
use meltlaw_files::{ExportError, ExportFormat, LineDocument, export, tables_size};

/// What nobody wrote to.
const UNTOUCHED: u32 = 0x5555_5555;

const STRICT: [&str; 6] = ["-Wall", "-Wextra", "-Wconversion", "-Werror", "-pedantic", "-lm"];

const COMPILERS: [(&str, &str, &str); 8] = [
    ("gcc", "-std=c99", "-O0"),
    ("gcc", "-std=c99", "-O2"),
    ("gcc", "-std=c2x", "-O2"),
    ("g++", "-std=c++98", "-O0"),
    ("g++", "-std=c++98", "-O2"),
    ("g++", "-std=c++17", "-O0"),
    ("g++", "-std=c++17", "-O2"),
    ("g++", "-std=c++2b", "-O2"),
];

fn header(document: &LineDocument, prefix: &str) -> String {
    let bytes = export(document, ExportFormat::CHeader(prefix.parse().unwrap())).unwrap();
    String::from_utf8(bytes).unwrap()
}

/// Compiles a program beside the headers of a folder.
fn compile(folder: &Path, (compiler, standard, optimised): (&str, &str, &str), program: &str) -> Output {
    let language = if compiler == "gcc" { "c" } else { "c++" };
    fs::write(folder.join("main.c"), program).unwrap();
    Command::new(compiler)
        .current_dir(folder)
        .args([standard, optimised, "-x", language, "main.c", "-o", "program"])
        .args(STRICT)
        .output()
        .unwrap_or_else(|e| panic!("{compiler} is needed (Debian: apt-get install gcc g++): {e}"))
}

fn compiled(folder: &Path, with: (&str, &str, &str), program: &str) {
    let output = compile(folder, with, program);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.is_empty(), "{with:?}: {said}");
}

/// What the compiled program prints for some feeds.
fn run(folder: &Path, feeds: &[f32]) -> Vec<String> {
    let mut child = Command::new(folder.join("program")).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let asked: String = feeds.iter().map(|f| format!("{:x}\n", f.to_bits())).collect();
    let mut input = child.stdin.take().unwrap();
    let writer = std::thread::spawn(move || input.write_all(asked.as_bytes()).unwrap());
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    assert!(output.status.success());
    String::from_utf8(output.stdout).unwrap().lines().map(str::to_owned).collect()
}

/// A printed line as an answer; on any status but 0 no number may have been written.
fn answer(line: &str) -> Answer {
    let codes: Vec<u8> = line.split(' ').take(5).map(|w| w.parse().unwrap()).collect();
    let [status, band_status, standing_alone, support, standing] = codes[..] else { panic!("five codes: {line}") };
    assert_eq!((status, standing_alone), (band_status, standing), "{line}");
    let bits: Vec<u32> = line.split(' ').skip(5).map(|w| u32::from_str_radix(w, 16).unwrap()).collect();
    assert_eq!(bits.len(), NUMBERS.len());
    if status != 0 {
        assert!(bits.iter().all(|bits| *bits == UNTOUCHED), "{line}");
        return Answer { status, support, standing, numbers: None };
    }
    let mut numbers = [0.0; NUMBERS.len()];
    for (number, bits) in numbers.iter_mut().zip(&bits) {
        *number = f32::from_bits(*bits);
    }
    Answer { status, support, standing, numbers: Some(numbers) }
}

#[test]
fn every_compiler_agrees_with_the_evaluator_at_a_thousand_feeds() {
    let program = include_str!("exported/main.c");
    for (name, document) in lines() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("line.h"), header(&document, "line")).unwrap();
        let line = &document.body().line;
        let feeds = feeds(line);
        let expected = answers(line, &feeds);
        for with in COMPILERS {
            compiled(folder.path(), with, program);
            let printed = run(folder.path(), &feeds);
            let found: Vec<Answer> = printed[5..].iter().map(|l| answer(l)).collect();
            compare(&format!("{name} {with:?}"), &feeds, &expected, &found);
            assert_eq!(printed[3..5], [document.checksum().to_owned(), "2".to_owned()]);
        }
    }
}

#[test]
fn the_thousand_feeds_meet_every_status_support_and_standing() {
    let document = long();
    let line = &document.body().line;
    let answers = answers(line, &feeds(line));
    assert_eq!(met(&answers, |a| a.status), [0, 1, 2, 3, 4, 5, 6]);
    assert_eq!(met(&answers, |a| a.support), [0, 1, 2, 3]);
    assert_eq!(met(&answers, |a| a.standing), [0, 1, 2, 3, 4]);
}

#[test]
fn the_header_says_how_many_bytes_its_tables_take() {
    // 3 nodes: 1 feed, 7 settings and 6 ends of bands of 4 bytes each and 1 byte of support: 57 bytes a node.
    let text = header(&exported::plain(), "line");
    assert!(text.contains(" * Size: 3 nodes, 171 bytes of tables in read-only memory."), "{}", &text[..3000]);
    let size = tables_size(&exported::plain(), &ExportFormat::CHeader("line".parse().unwrap())).unwrap().unwrap();
    assert_eq!((size.nodes, size.bytes), (3, 171));
}

#[test]
fn whoever_reads_the_header_reads_the_facts_first() {
    let document = long();
    let text = header(&document, "line");
    for fact in ["wire: ", "extended: 3 to 3.9 m/min", "covered: 4.2 to 5.1 m/min", "no setting: 4 to 4.1 m/min"] {
        assert!(text.contains(&format!(" * {fact}")), "{fact}");
    }
    for fact in [
        "do not use: the line was withdrawn from 5.1 to 5.4 m/min",
        "do not use: confirmation welds contradict the line from 7 to 7.33 m/min: do not use it there",
        "carried: 7.33 to 8.2 m/min: the laws were carried to a wire or distance that nobody has welded;",
    ] {
        assert!(text.contains(&format!(" * {fact}")), "{fact}");
    }
    for fact in ["standing: withdrawn, 5.1 to 5.4 m/min; rule: two welds", "caution: Invented data: not for welding."] {
        assert!(text.contains(&format!(" * {fact}")), "{fact}");
    }
    assert!(text.contains(&format!(" * checksum of line.json: {}", document.checksum())));
}

#[test]
fn hostile_text_is_text_and_changes_no_line_of_code() {
    let (tame, hostile) = (long(), hostile(&long()));
    let code = |document: &LineDocument| {
        let text = header(document, "line").replace(&document.checksum()[..12].to_uppercase(), "CHECKSUM");
        let (comment, code) = text.split_once("*/\n").unwrap();
        assert!(comment.starts_with("/*\n") && !comment[2..].contains("/*") && !comment.contains("??"));
        assert!(text.is_ascii() && !text.contains('\r'));
        let theirs = |l: &str| l.starts_with("#define") && (l.contains('"') || l.contains("_CAUTIONS"));
        code.lines().filter(|l| !theirs(l)).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(code(&tame), code(&hostile));

    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("line.h"), header(&hostile, "line")).unwrap();
    compiled(folder.path(), COMPILERS[0], include_str!("exported/main.c"));
    let printed = run(folder.path(), &[]);
    // The compiler reads the very text back, but for letters beyond ASCII and line ends.
    let first = format!("{}{}{}{}{}{}", HOSTILE[0], HOSTILE[1], HOSTILE[2], HOSTILE[3], HOSTILE[4], HOSTILE[5]);
    assert!(printed[0].starts_with(&format!("{first}line #include <injected.h>  END_VAR")), "{}", printed[0]);
    assert!(printed[0].contains("????/? {pragma} // (*(**)*) /*/**/ %s %n $N d u"), "{}", printed[0]);
    assert!(printed[2].ends_with("%s %n $N d u"), "{}", printed[2]);
}

#[test]
fn two_lines_go_into_one_program_under_two_names_and_never_under_one() {
    let folder = tempfile::tempdir().unwrap();
    let write = |file: &str, text: &str| fs::write(folder.path().join(file), text).unwrap();
    write("first.h", &header(&long(), "first"));
    write("second.h", &header(&exported::plain(), "SECOND_prefix_x"));
    write("third.h", &header(&exported::plain(), "first"));
    let both = "#include \"first.h\"\n#include \"second.h\"\nint main(void)\n{\n    first_setting s;\n    \
                SECOND_prefix_x_band b;\n    return first_evaluate(4.5f, &s) + SECOND_prefix_x_check_band(5.0f, &b) + \
                (int)(FIRST_NODES - SECOND_PREFIX_X_NODES);\n}\n";
    let same = "#include \"first.h\"\n#include \"third.h\"\nint main(void) { return 0; }\n";
    for with in COMPILERS {
        compiled(folder.path(), with, both);
        assert!(!compile(folder.path(), with, same).status.success(), "{with:?}");
    }
}

#[test]
fn a_compiler_that_does_not_know_what_is_not_a_number_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("line.h"), header(&long(), "line")).unwrap();
    let output = compile(folder.path(), ("gcc", "-std=c99", "-ffast-math"), include_str!("exported/main.c"));
    assert!(String::from_utf8_lossy(&output.stderr).contains("finite-only mathematics"));
}

#[test]
fn names_are_told_apart_by_every_compiler() {
    let prefix = "a".repeat(32);
    let text = header(&hostile(&long()), &prefix);
    let name = |c: char| !c.is_ascii_alphanumeric() && c != '_';
    let longest = text
        .split("*/\n")
        .skip(1)
        .flat_map(|t| t.split(name))
        .filter(|n| n.to_ascii_lowercase().starts_with(&prefix))
        .max_by_key(|n| n.len())
        .unwrap();
    // C99, 5.2.4.1: 63 significant characters.
    assert!(longest.len() <= 63, "{longest}");
}

#[test]
fn a_line_that_single_precision_does_not_hold_is_refused_with_its_numbers() {
    let refused = |change: fn(&mut meltlaw::line::Line)| {
        let document = exported::changed(change);
        export(&document, ExportFormat::CHeader("line".parse().unwrap())).unwrap_err()
    };
    assert_eq!(
        refused(|line| line.nodes[1].wire_feed_m_min = 4.000_000_01),
        ExportError::NodesMerge { lower_m_min: 4.0, upper_m_min: 4.000_000_01 }
    );
    assert_eq!(
        refused(|line| line.nodes[1].pulse_current_a = 1e39).to_string(),
        "pulse_current_a of the node at 6 m/min is 1000000000000000000000000000000000000000, which single precision does \
         not hold; needed numbers of welding between about 1e-37 and 1e38"
    );
    assert!(matches!(
        refused(|line| line.nodes[1].pulse_frequency_hz = 1e-60),
        ExportError::OutsideSinglePrecision { name: "pulse_frequency_hz", .. }
    ));
    assert!(matches!(
        refused(|line| line.nodes[2].pulse_current_a = 1e15),
        ExportError::OutsideSinglePrecision { name: "current_rms_a", .. }
    ));
    assert!(matches!(
        refused(|line| line.nodes[2].next_weld.power_mean_w[1] = 1e50),
        ExportError::OutsideSinglePrecision { name: "power_mean_w_high", .. }
    ));
    assert_eq!(
        refused(|line| line.unsupported[0].wire_feed_m_min = [9.0, 8.5]),
        ExportError::RangeBackwards { from_m_min: 9.0, to_m_min: 8.5 }
    );
    assert!(matches!(refused(|line| line.nodes.clear()), ExportError::NoSetting { .. }));
}
