//! The `meltlaw` command: arguments in, messages and files out. No arithmetic happens here.

#![cfg_attr(test, allow(clippy::unwrap_used, reason = "tests stop at the first surprise"))]

mod arguments;
mod commands;
mod failure;
mod output;
mod plot;
mod screen;
mod told;
mod words;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

use arguments::{Arguments, Command};
use failure::Failure;
use output::Output;

fn main() -> ExitCode {
    let arguments = typed();
    let mut output = Output::new(arguments.json, arguments.no_color);
    match run(arguments.command, &mut output) {
        Ok(_) if output.lost() => {
            output.remark("error: standard output could not be written to the end");
            failure::Exit::Other.into()
        }
        Ok(done) => done.into(),
        Err(failure) => {
            output.failure(&failure);
            failure.exit().into()
        }
    }
}

/// What was typed; help and complaints about it are without colour where that was asked for anywhere.
fn typed() -> Arguments {
    let plain = std::env::args_os().any(|a| a == "--no-color");
    let command = Arguments::command().color(if plain { clap::ColorChoice::Never } else { clap::ColorChoice::Auto });
    Arguments::from_arg_matches(&command.get_matches()).unwrap_or_else(|e| e.exit())
}

/// One line per command.
fn run(command: Command, output: &mut Output) -> Result<failure::Exit, Failure> {
    match command {
        Command::Develop(a) => commands::develop::run(&a, output),
        Command::Reduce(a) => commands::reduce::run(&a, output),
        Command::Check(a) => commands::check::run(&a, output),
        Command::Fit(a) => commands::fit::run(&a, output),
        Command::Compose(a) => commands::compose::run(&a, output),
        Command::At(a) => commands::at::run(&a, output),
        Command::Export(a) => commands::export::run(&a, output),
        Command::Compare(a) => commands::compare::run(&a, output),
        Command::Extend(a) => commands::extend::run(&a, output),
        Command::Report(a) => commands::report::run(&a, output),
        Command::Demo(a) => commands::demo::run(&a, output),
        Command::Find(a) => commands::find::run(&a, output),
        Command::Schema(a) => commands::schema::run(&a, output),
        Command::Cite(a) => commands::cite::run(&a, output),
        Command::Completions(a) => commands::completions::run(&a, output),
        Command::Man(a) => commands::man::run(&a, output),
    }
}
