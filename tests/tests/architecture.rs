//! The arrows between the crates and what stops where.
#![allow(missing_docs, clippy::unwrap_used, reason = "tests stop at the first surprise")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// Normal dependencies named in a crate's manifest.
fn dependencies(name: &str) -> Vec<String> {
    let text = fs::read_to_string(root().join("crates").join(name).join("Cargo.toml")).unwrap();
    text.split("[dependencies]")
        .nth(1)
        .unwrap_or("")
        .split("\n[")
        .next()
        .unwrap()
        .lines()
        .filter_map(|l| l.split(['.', '=', ' ']).next())
        .filter(|n| !n.is_empty() && !n.starts_with('#'))
        .map(str::to_owned)
        .collect()
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn arrows_between_the_crates_point_one_way() {
    let allowed: [(&str, &[&str]); 5] = [
        ("meltlaw-line", &[]),
        ("meltlaw", &["meltlaw-line"]),
        ("meltlaw-files", &["meltlaw", "meltlaw-line"]),
        ("meltlaw-report", &["meltlaw"]),
        ("meltlaw-cli", &["meltlaw", "meltlaw-files", "meltlaw-report"]),
    ];
    for (name, may) in allowed {
        let ours: Vec<String> = dependencies(name).into_iter().filter(|d| d.starts_with("meltlaw")).collect();
        assert!(ours.iter().all(|d| may.contains(&d.as_str())), "{name} depends on {ours:?}, allowed {may:?}");
    }
}

#[test]
fn heavy_libraries_stop_at_the_edge() {
    let edges: [(&str, &[&str]); 2] = [
        ("meltlaw-files", &["polars", "calamine", "csv", "toml", "rust_xlsxwriter"]),
        ("meltlaw-report", &["plotters", "maud"]),
    ];
    for (edge, libraries) in edges {
        for name in ["meltlaw-line", "meltlaw", "meltlaw-files", "meltlaw-report", "meltlaw-cli"] {
            let found = dependencies(name);
            let wrong: Vec<&&str> =
                libraries.iter().filter(|l| name != edge && found.iter().any(|d| d == **l)).collect();
            assert!(wrong.is_empty(), "{name} depends on {wrong:?}, which stop at {edge}");
        }
    }
}

#[test]
fn the_core_touches_neither_disk_nor_clock_nor_terminal() {
    let mut files = Vec::new();
    sources(&root().join("crates/meltlaw/src"), &mut files);
    sources(&root().join("crates/meltlaw-line/src"), &mut files);
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        // Tests below the code may do what the code may not.
        let code = text.split("#[cfg(test)]").next().unwrap();
        for word in ["std::fs", "std::env", "SystemTime", "Instant::", "println!", "HashMap"] {
            assert!(!code.contains(word), "{} uses {word}", file.display());
        }
        let may_call = ["least_squares.rs", "newton.rs"].iter().any(|n| file.ends_with(n));
        assert!(may_call || !code.contains("argmin::"), "{} calls argmin", file.display());
    }
}

#[test]
fn the_top_level_holds_what_it_should() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "CHANGELOG.md",
        "CITATION.cff",
        "crates",
        "datasets",
        "notebooks",
        "tests",
        "target",
        "result",
    ];
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || allowed.contains(&name.as_str()), "{name} stands at the top level");
    }
}

fn every_file(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        // In a second work tree `.git` is a file that holds a path.
        if ["target", "result", ".git", ".venv", "__pycache__", ".ipynb_checkpoints", "node_modules"].contains(&name) {
            continue;
        }
        if path.is_dir() {
            every_file(&path, found);
        } else {
            found.push(path);
        }
    }
}

#[test]
fn no_file_names_a_place_on_one_machine() {
    let places = ["work", "tmp", "home", "root"].map(|top| format!("/{top}/"));
    let mut files = Vec::new();
    every_file(&root(), &mut files);
    assert!(files.len() > 100);
    for file in files {
        // Workbooks and pictures are not text.
        let Ok(text) = fs::read_to_string(&file) else { continue };
        for place in &places {
            assert!(!text.contains(place.as_str()), "{} names a path below {place}", file.display());
        }
    }
}

#[test]
fn the_readme_states_every_caution_that_the_files_carry() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (_, section) = readme.split_once("\n## Cautions\n").unwrap();
    let section = section.split("\n## ").next().unwrap();
    let items = section.split("\n- ").skip(1).map(|item| words(item.split("\n\n").next().unwrap()));
    let (stated, carried): (BTreeSet<String>, BTreeSet<String>) =
        (items.collect(), meltlaw::cautions::cautions(&[]).into_iter().collect());
    assert_eq!(stated, carried);
}
