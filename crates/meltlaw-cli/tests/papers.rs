//! What goes with a result and with the program: citation, data package, completions, manual pages.
#![allow(missing_docs, dead_code, clippy::unwrap_used, unreachable_pub, reason = "tests stop at the first surprise")]
#![allow(clippy::print_stderr, reason = "what was not tried for want of a tool is said")]

mod common;

use std::process::Command;

use common::{Lab, TRIALS, first_rows};
use insta::assert_snapshot;
use meltlaw_files::sha256_hex;
use serde_json::Value;

fn developed() -> Lab {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["develop", "."]).starts_with("exit 0"));
    lab
}

fn read(lab: &Lab, path: &str) -> String {
    std::fs::read_to_string(lab.path().join(path)).unwrap()
}

fn json(lab: &Lab, path: &str) -> Value {
    serde_json::from_str(&read(lab, path)).unwrap()
}

/// Standard output alone.
fn out(answer: &str) -> &str {
    answer.split("--- out\n").nth(1).unwrap().split("--- err").next().unwrap()
}

/// The program's answer with its hashes hidden: they change with every result.
fn without_hashes(answer: &str) -> String {
    let hidden = |word: &str| {
        let digits = word.chars().take_while(char::is_ascii_hexdigit).count();
        if digits == 64 { format!("[SHA-256]{}", &word[64..]) } else { word.to_owned() }
    };
    let line = |line: &str| {
        let line = line.split(' ').map(hidden).collect::<Vec<_>>().join(" ");
        if line.starts_with("@misc{result-") { "@misc{result-[12 of them],".to_owned() } else { line }
    };
    answer.lines().map(line).collect::<Vec<_>>().join("\n")
}

#[test]
fn a_result_is_cited_by_tool_data_methods_and_sources() {
    let lab = developed();
    assert_snapshot!("cite", without_hashes(&lab.run(&["cite", "result"])));
    let citation: Value = serde_json::from_str(out(&lab.run(&["cite", "result", "--json"]))).unwrap();
    assert_eq!(citation["data"]["manifest"], sha256_hex(read(&lab, "result/manifest.json").as_bytes()));
    assert_eq!(citation["data"]["study"]["sha256"], sha256_hex(read(&lab, "study.toml").as_bytes()));
    assert_eq!(citation["data"]["inputs"][0]["sha256"], sha256_hex(TRIALS.as_bytes()));
    let bibtex = lab.run(&["cite", "result", "--bibtex"]);
    assert_eq!(out(&bibtex).trim_end(), citation["bibtex"].as_str().unwrap().trim_end());
    assert!(out(&bibtex).starts_with("@misc{meltlaw,"));
}

#[test]
fn what_is_no_whole_result_is_not_cited() {
    let lab = developed();
    let nothing = lab.run(&["cite", "elsewhere"]);
    assert!(nothing.starts_with("exit 3") && nothing.contains("look at the spelling"), "{nothing}");
    let study = lab.run(&["cite", "."]);
    assert!(study.starts_with("exit 3") && study.contains("give the folder that `meltlaw develop` writes"), "{study}");
    lab.file("result/line.csv", "edited");
    let edited = lab.run(&["cite", "result"]);
    assert!(edited.starts_with("exit 3") && edited.contains("line.csv"), "{edited}");
}

#[test]
fn a_result_in_part_is_cited_too() {
    let lab = Lab::new(&first_rows(3));
    assert!(lab.run(&["develop", "."]).starts_with("exit 4"));
    let answer = lab.run(&["cite", "result"]);
    assert!(answer.starts_with("exit 0") && !answer.contains("mccullagh1980"), "{answer}");
}

#[test]
fn the_data_package_says_what_each_table_holds() {
    let lab = developed();
    let package = json(&lab, "result/datapackage.json");
    let manifest = json(&lab, "result/manifest.json");
    let resources = package["resources"].as_array().unwrap();
    let mut tables = 0;
    for resource in resources {
        let path = resource["path"].as_str().unwrap();
        let text = read(&lab, &format!("result/{path}"));
        assert_eq!(resource["bytes"], text.len(), "{path}");
        assert_eq!(resource["hash"], format!("sha256:{}", manifest["files"][path].as_str().unwrap()), "{path}");
        if resource["type"] == "table" {
            tables += 1;
            fits(resource, &text);
        }
    }
    assert_eq!(manifest["files"]["datapackage.json"], sha256_hex(read(&lab, "result/datapackage.json").as_bytes()));
    let all = manifest["files"].as_object().unwrap().keys().filter(|path| path.ends_with(".csv")).count();
    assert!(tables == all && tables > 20, "{tables} of {all}");
    // Drawn again it is the same file.
    let before = read(&lab, "result/datapackage.json");
    assert!(lab.run(&["report", "result"]).starts_with("exit 0"));
    assert!(read(&lab, "result/datapackage.json") == before);
}

/// The header is the fields, each cell is of its field's type, each number has a unit unless another column says it.
fn fits(resource: &Value, text: &str) {
    let path = resource["path"].as_str().unwrap();
    let fields = resource["schema"]["fields"].as_array().unwrap();
    let header = resource["dialect"]["headerRows"][0].as_u64().unwrap_or(1) as usize;
    let body: String = text.split_inclusive('\n').skip(header - 1).collect();
    let mut rows = body.lines();
    let names: Vec<&str> = fields.iter().map(|f| f["name"].as_str().unwrap()).collect();
    assert_eq!(rows.next().unwrap(), names.join(","), "{path}");
    for field in fields.iter().filter(|f| f["type"] != "string" && f["name"] != "value") {
        assert!(field["unit"].is_string() && field["ucumUnit"].is_string(), "{path}: {field}");
    }
    // Rows with a quoted text are left to the reader of the Data Package standard in tests/run.
    for row in rows.filter(|row| !row.contains('"')) {
        for (field, cell) in fields.iter().zip(row.split(',')).filter(|(_, cell)| !cell.is_empty()) {
            match field["type"].as_str().unwrap() {
                "integer" => assert!(cell.parse::<u64>().is_ok(), "{path}: {cell}"),
                "number" => assert!(cell.parse::<f64>().is_ok(), "{path}: {cell}"),
                _ => {}
            }
        }
    }
}

#[test]
fn bash_completes_commands_and_the_other_shells_have_a_script() {
    let lab = Lab::new(TRIALS);
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let answer = lab.run(&["completions", shell]);
        assert!(answer.starts_with("exit 0") && out(&answer).contains("export"), "{shell}");
    }
    assert!(lab.run(&["completions", "csh"]).starts_with("exit 2"));
    lab.file("meltlaw.bash", out(&lab.run(&["completions", "bash"])));
    let typed = "source ./meltlaw.bash && COMP_WORDS=(meltlaw e) COMP_CWORD=1 && _meltlaw meltlaw e meltlaw && printf '%s\\n' \"${COMPREPLY[@]}\"";
    let bash = Command::new("bash").args(["--noprofile", "--norc", "-euc", typed]).current_dir(lab.path()).output();
    let Ok(bash) = bash else { return eprintln!("bash is not here: its completion was not tried") };
    let offered = String::from_utf8_lossy(&bash.stdout);
    assert!(offered.lines().any(|word| word == "export"), "{offered}{}", String::from_utf8_lossy(&bash.stderr));
    assert!(offered.lines().all(|word| word.starts_with('e')), "{offered}");
}

#[test]
fn each_command_has_a_manual_page_that_groff_reads_without_a_warning() {
    let lab = Lab::new(TRIALS);
    assert!(lab.run(&["man", "man1"]).starts_with("exit 0"));
    assert!(lab.run(&["man", "man1"]).starts_with("exit 1"), "existing pages are not replaced");
    assert!(lab.run(&["man", "man1", "--force"]).starts_with("exit 0"));
    let help = lab.run(&["--help"]);
    let commands = out(&help).split("Commands:\n").nth(1).unwrap().lines().take_while(|line| !line.is_empty());
    let names =
        commands.filter(|l| l.starts_with("  ") && !l.starts_with("   ")).filter_map(|l| l.split_whitespace().next());
    let names: Vec<&str> = names.filter(|name| *name != "help").collect();
    assert!(names.contains(&"export") && names.len() > 10, "{names:?}");
    for name in names.iter().map(|name| format!("meltlaw-{name}.1")).chain(["meltlaw.1".to_owned()]) {
        let page = lab.path().join("man1").join(&name);
        assert!(std::fs::read_to_string(&page).unwrap().contains(".SH NAME"), "{name}");
        let groff = Command::new("groff").args(["-man", "-Tutf8", "-ww"]).arg(&page).output();
        let Ok(groff) = groff else { return eprintln!("groff is not here: the pages were not rendered") };
        assert!(
            groff.status.success() && groff.stderr.is_empty(),
            "{name}: {}",
            String::from_utf8_lossy(&groff.stderr)
        );
        assert!(groff.stdout.len() > 500, "{name}: {}", String::from_utf8_lossy(&groff.stdout));
    }
}
