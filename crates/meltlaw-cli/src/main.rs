//! The `meltlaw` command: arguments in, messages and files out. No arithmetic happens here.

#![cfg_attr(test, allow(clippy::unwrap_used, reason = "tests stop at the first surprise"))]

mod arguments;
mod commands;
mod failure;
mod output;
mod words;

use std::process::ExitCode;

use clap::Parser;

use arguments::{Arguments, Command};
use failure::Failure;
use output::Output;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut output = Output::new(arguments.json);
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

/// One line per command.
fn run(command: Command, output: &mut Output) -> Result<failure::Exit, Failure> {
    match command {
        Command::Develop(a) => commands::develop::run(&a, output),
        Command::Check(a) => commands::check::run(&a, output),
        Command::Fit(a) => commands::fit::run(&a, output),
        Command::Compose(a) => commands::compose::run(&a, output),
        Command::At(a) => commands::at::run(&a, output),
        Command::Export(a) => commands::export::run(&a, output),
        Command::Report(a) => commands::report::run(&a, output),
        Command::Demo(a) => commands::demo::run(&a, output),
        Command::Schema(a) => commands::schema::run(&a, output),
    }
}
