//! Schemas of the files.

use meltlaw_files::{SchemaOf, schema};

use crate::arguments::{SchemaArguments, SchemaWord};
use crate::failure::{Exit, Failure};
use crate::output::Output;

/// `meltlaw schema laws|line|study|trials`.
pub(crate) fn run(arguments: &SchemaArguments, output: &mut Output) -> Result<Exit, Failure> {
    let of = match arguments.of {
        SchemaWord::Laws => SchemaOf::Laws,
        SchemaWord::Line => SchemaOf::Line,
        SchemaWord::Study => SchemaOf::Study,
        SchemaWord::Trials => SchemaOf::Trials,
    };
    output.always(&serde_json::to_string_pretty(&schema(of)).expect("a schema is plain data"));
    Ok(Exit::Done)
}
