//! Manual pages, made from the same arguments as the help.

use clap::CommandFactory;
use meltlaw_files::{Inputs, WriteError, write_file};

use super::{TOOL, refuse};
use crate::arguments::{Arguments, ManArguments};
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::path_as_typed;

/// `meltlaw man DIR`.
pub(crate) fn run(arguments: &ManArguments, output: &mut Output) -> Result<Exit, Failure> {
    let folder = &arguments.folder;
    let pages = pages();
    let inputs = Inputs::default();
    std::fs::create_dir_all(folder).map_err(|source| WriteError::Refused { path: folder.clone(), source })?;
    refuse(pages.iter().map(|(name, _)| folder.join(name)), arguments.force, &inputs)?;
    for (name, page) in &pages {
        write_file(&folder.join(name), page, arguments.force, &inputs)?;
    }
    output.text(&format!("{}: {} pages", folder.display(), pages.len()));
    output.next(&format!("man {}", path_as_typed(&folder.join("meltlaw.1"))));
    let names: Vec<&String> = pages.iter().map(|(name, _)| name).collect();
    output.json(&serde_json::json!({ "out": folder.display().to_string(), "files": names }));
    Ok(Exit::Done)
}

/// Name and text of each page: the program's, then one for each command.
fn pages() -> Vec<(String, Vec<u8>)> {
    let mut program = Arguments::command().disable_help_subcommand(true);
    // Gives each command its name with the program's before it.
    program.build();
    std::iter::once(&program).chain(program.get_subcommands()).map(page).collect()
}

fn page(command: &clap::Command) -> (String, Vec<u8>) {
    let page = clap_mangen::Man::new(command.clone()).source(TOOL).manual("meltlaw");
    let mut text = Vec::new();
    page.render(&mut text).expect("writing to memory");
    (page.get_filename(), text)
}
