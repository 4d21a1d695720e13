//! No command writes over what it reads, through a link, or into a file named `-`.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use common::{Lab, TRIALS};

/// Every file below a folder with its bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let name = entry.file_name().into_string().unwrap();
        if entry.file_type().unwrap().is_dir() {
            found.extend(files(&entry.path()).into_iter().map(|(path, bytes)| (format!("{name}/{path}"), bytes)));
        } else {
            found.insert(name, fs::read(entry.path()).unwrap());
        }
    }
    found
}

/// A lab with a result in `result`, a second laws file, a log and the table beside it.
fn lab() -> Lab {
    let lab = Lab::new(TRIALS);
    let developed = lab.run(&["develop", ".", "--out", "result"]);
    assert!(developed.starts_with("exit 0"), "{developed}");
    for file in ["laws.json", "line.json"] {
        fs::copy(lab.path().join("result").join(file), lab.path().join(file)).unwrap();
    }
    lab.file("w1.csv", "time_s,current_a,voltage_v\n0,1,2\n");
    lab.file("welds.csv", "trial,wire_feed_m_min\nw1,6.5\n");
    lab
}

/// Each writing command with an `--out` or `--report` at its end, and what it reads.
const COMMANDS: [(&[&str], &[&str]); 10] = [
    (&["fit", ".", "--out"], &["study.toml", "trials.csv"]),
    (&["compose", "laws.json", ".", "--out"], &["laws.json", "study.toml", "trials.csv"]),
    (&["compose", "result/laws.json", ".", "--out", "new.json", "--report"], &["result"]),
    (&["export", "line.json", "--to", "csv", "--out"], &["line.json"]),
    (&["extend", ".", "--ctwd-mm", "19", "--out"], &["study.toml", "trials.csv"]),
    (&["extend", "result", "--ctwd-mm", "19", "--out", "new.json", "--report"], &["result"]),
    (&["compare", "result", "laws.json", "--out"], &["result"]),
    (&["reduce", "w1.csv", "--sidecar", "welds.csv", "--out"], &["w1.csv", "welds.csv"]),
    (&["reduce", "x.csv.part", "--raw", "f32", "--sample-rate-hz", "1000", "--out"], &["x.csv"]),
    (&["reduce", "w1.csv", "--out", "new.csv", "--plots"], &["w1.csv"]),
];

#[test]
fn force_spares_every_file_that_a_command_reads() {
    let lab = lab();
    fs::write(lab.path().join("x.csv.part"), [1; 64]).unwrap();
    let before = files(lab.path());
    for (command, reads) in COMMANDS {
        for read in reads {
            let answer = lab.run(&[command, &[*read, "--force"]].concat());
            assert!(answer.starts_with("exit 1") && answer.contains("this run reads"), "{command:?} {read}: {answer}");
            assert_eq!(files(lab.path()), before, "{command:?} {read}");
        }
    }
    // The numbers of a drawing stand beside it, under a name that nobody typed.
    fs::copy(lab.path().join("line.json"), lab.path().join("line.csv")).unwrap();
    let answer = lab.run(&["compare", "line.csv", "line.json", "--out", "line.svg", "--force"]);
    assert!(answer.starts_with("exit 1") && answer.contains("line.csv: this run reads it"), "{answer}");
    assert!(!lab.path().join("line.svg").exists());
}

#[test]
#[cfg(unix)]
fn neither_hard_links_nor_symbolic_links_lead_to_what_is_read_or_kept() {
    let lab = lab();
    fs::hard_link(lab.path().join("trials.csv"), lab.path().join("hard.csv")).unwrap();
    lab.file("kept.json", "mine");
    for (link, to) in [("soft.json", "kept.json"), ("soft-result", "result")] {
        std::os::unix::fs::symlink(to, lab.path().join(link)).unwrap();
    }
    let before = files(&lab.path().join("result"));
    let hard = lab.run(&["fit", ".", "--out", "hard.csv", "--force"]);
    assert!(hard.starts_with("exit 1") && hard.contains("hard.csv: this run reads it as ./trials.csv"), "{hard}");
    for command in [&["fit", ".", "--out", "soft.json"][..], &["develop", ".", "--out", "soft-result/"]] {
        let answer = lab.run(&[command, &["--force"]].concat());
        assert!(answer.starts_with("exit 1") && answer.contains("is a symbolic link to"), "{answer}");
    }
    assert_eq!(fs::read_to_string(lab.path().join("kept.json")).unwrap(), "mine");
    assert_eq!(files(&lab.path().join("result")), before);
}

#[test]
fn a_dash_for_standard_output_is_refused_and_no_file_gets_its_name() {
    let lab = lab();
    for (command, _) in COMMANDS.iter().filter(|(command, _)| command.last() == Some(&"--out")) {
        let answer = lab.run(&[command, &["-"][..]].concat());
        assert!(answer.starts_with("exit 1"), "{command:?}: {answer}");
        assert!(answer.contains("not written to standard output; give the name of a file"), "{command:?}: {answer}");
    }
    assert!(!lab.path().join("-").exists() && !lab.path().join("-.part").exists());
}

#[test]
fn what_is_made_from_a_result_may_still_replace_what_was_made_before() {
    let lab = lab();
    for command in [
        &["fit", ".", "--out", "laws.json", "--force"][..],
        &["compose", "laws.json", ".", "--out", "line.json", "--report", "result", "--force"],
        &["develop", ".", "--out", "result", "--force"],
        &["report", "result"],
    ] {
        let answer = lab.run(command);
        assert!(answer.starts_with("exit 0"), "{command:?}: {answer}");
    }
}
