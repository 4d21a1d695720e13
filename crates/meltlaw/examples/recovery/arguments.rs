//! What was asked for on the command line.

use std::path::PathBuf;

use meltlaw::virtual_bench::Kind;

/// The command line as meant.
#[derive(Debug, Clone)]
pub(crate) struct Arguments {
    pub(crate) labs: u64,
    pub(crate) kinds: Vec<Kind>,
    pub(crate) seed: u64,
    pub(crate) threads: Option<usize>,
    pub(crate) markdown: Option<PathBuf>,
    /// As typed, for the table's heading; without the file that it is written to.
    pub(crate) typed: String,
}

/// Reads the arguments.
///
/// # Errors
/// A message that says what was found and what was needed.
pub(crate) fn read(arguments: impl Iterator<Item = String>) -> Result<Arguments, String> {
    let mut found =
        Arguments { labs: 2000, kinds: Vec::new(), seed: 1, threads: None, markdown: None, typed: String::new() };
    let mut arguments = arguments;
    while let Some(name) = arguments.next() {
        let mut value = || arguments.next().ok_or_else(|| format!("{name} needs a value"));
        match name.as_str() {
            "--labs" => found.labs = number(&name, &value()?)?,
            "--seed" => found.seed = number(&name, &value()?)?,
            "--threads" => found.threads = Some(number(&name, &value()?)?),
            "--markdown" => found.markdown = Some(PathBuf::from(value()?)),
            "--kind" => {
                let word = value()?;
                found.kinds.push(Kind::from_name(&word).ok_or_else(|| {
                    format!("there is no kind of lab '{word}': the kinds are {}", crate::kind_names())
                })?);
            }
            _ => {
                return Err(format!(
                    "'{name}' is no argument of this program: it takes --labs N, --kind NAME (as often as you like), --seed S, --threads N and --markdown FILE"
                ));
            }
        }
    }
    found.typed = format!("--labs {} --seed {}", found.labs, found.seed);
    for kind in &found.kinds {
        found.typed.push_str(&format!(" --kind {}", kind.name()));
    }
    if found.kinds.is_empty() {
        found.kinds = Kind::ALL.to_vec();
    }
    Ok(found)
}

fn number<T: std::str::FromStr>(name: &str, text: &str) -> Result<T, String> {
    text.parse().map_err(|_| format!("{name} needs a whole number, found '{text}'"))
}
