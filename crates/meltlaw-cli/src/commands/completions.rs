//! Completions of a shell, made from the same arguments as the help.

use clap::CommandFactory;

use crate::arguments::{Arguments, CompletionsArguments};
use crate::failure::{Exit, Failure};
use crate::output::Output;

/// `meltlaw completions SHELL`.
pub(crate) fn run(arguments: &CompletionsArguments, output: &mut Output) -> Result<Exit, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut Arguments::command(), "meltlaw", &mut script);
    let script = String::from_utf8_lossy(&script);
    output.verbatim(&script);
    output.json(&serde_json::json!({ "shell": arguments.shell.to_string(), "script": script }));
    Ok(Exit::Done)
}
