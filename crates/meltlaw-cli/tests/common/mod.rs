//! One command run in a folder of its own: standard output, standard error and exit status together.

use std::path::Path;
use std::process::Command;

/// The worked example's table.
pub const TRIALS: &str = include_str!("../../../../datasets/worked_example/trials.csv");

/// A folder with a study.
pub struct Lab(pub tempfile::TempDir);

impl Lab {
    /// A study that reads `trials.csv`, with a few draws.
    pub fn new(trials: &str) -> Self {
        let lab = Self(tempfile::tempdir().unwrap());
        lab.file("trials.csv", trials);
        lab.file("study.toml", STUDY);
        lab
    }

    /// Writes a file into the lab.
    pub fn file(&self, name: &str, text: &str) -> &Self {
        std::fs::write(self.0.path().join(name), text).unwrap();
        self
    }

    /// The study with one text replaced.
    pub fn study_with(&self, from: &str, to: &str) -> &Self {
        assert!(STUDY.contains(from), "{from} is not in the study");
        self.file("study.toml", &STUDY.replace(from, to))
    }

    /// Runs the program in the lab; the folder's path shows as [LAB].
    pub fn run(&self, arguments: &[&str]) -> String {
        self.run_with(arguments, &[("NO_COLOR", "1")])
    }

    /// The same with these variables set.
    pub fn run_with(&self, arguments: &[&str], variables: &[(&str, &str)]) -> String {
        let output = Command::new(env!("CARGO_BIN_EXE_meltlaw"))
            .args(arguments)
            .current_dir(self.path())
            .env_remove("NO_COLOR")
            .envs(variables.iter().copied())
            .output()
            .unwrap();
        let text = |bytes: &[u8]| {
            String::from_utf8_lossy(bytes)
                .replace(&self.path().canonicalize().unwrap().display().to_string(), "[LAB]")
                .replace(&self.path().display().to_string(), "[LAB]")
        };
        format!(
            "exit {}\n--- out\n{}--- err\n{}",
            output.status.code().unwrap_or(-1),
            text(&output.stdout),
            text(&output.stderr)
        )
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        self.0.path()
    }
}

/// The first `rows` trials of the worked example under its header.
pub fn first_rows(rows: usize) -> String {
    TRIALS.lines().take(rows + 1).map(|l| format!("{l}\n")).collect()
}

/// The worked example's table with a column's cells rewritten; notes are left out so that cells hold no
/// separator.
pub fn with_column(column: &str, rewrite: impl Fn(usize, &str) -> String) -> String {
    let header: Vec<&str> = TRIALS.lines().next().unwrap().split(',').collect();
    let at = header.iter().position(|h| *h == column).unwrap();
    let mut out = TRIALS.lines().next().unwrap().to_owned() + "\n";
    for (i, line) in TRIALS.lines().skip(1).enumerate() {
        let mut cells: Vec<String> = line
            .split(',')
            .take(header.len())
            .map(|c| if c.starts_with('"') { String::new() } else { c.to_owned() })
            .collect();
        if let Some(last) = cells.last_mut() {
            *last = String::new();
        }
        cells[at] = rewrite(i, &cells[at]);
        out += &(cells.join(",") + "\n");
    }
    out
}

const STUDY: &str = r#"name = "Lab"

[wire]
designation = "invented wire"
material = "carbon-steel"
diameter_mm = 1.2

[gas]
argon = 92.0
carbon_dioxide = 8.0

[bench]
ctwd_mm = 18.0
arc_length_mm = 4.0
wire_feed_relative_se = 0.004
current_relative_se = 0.008
voltage_se_v = 0.15
ctwd_se_mm = 0.0
arc_length_se_mm = 0.15

[[trials]]
file = "trials.csv"

[source]
background_current_a = [25.0, 150.0]

[line]
wire_feed_m_min = [4.0, 8.0]

[numerics]
draws = 200
"#;
