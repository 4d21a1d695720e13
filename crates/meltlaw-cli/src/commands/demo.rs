//! An invented study to try everything on.

use meltlaw_files::demo;

use crate::arguments::{DemoArguments, DevelopArguments};
use crate::failure::{Exit, Failure};
use crate::output::Output;
use crate::words::{command, path_as_typed};

/// `meltlaw demo DIR`.
pub(crate) fn run(arguments: &DemoArguments, output: &mut Output) -> Result<Exit, Failure> {
    let files = demo::write(&arguments.folder, arguments.force)?;
    output.heading("an invented study, not for welding");
    for file in &files {
        output.text(&format!("  {}", arguments.folder.join(file).display()));
    }
    output.text("");
    if arguments.develop {
        let develop = DevelopArguments { study: arguments.folder.clone(), out: None, force: arguments.force };
        return super::develop::run(&develop, output);
    }
    output.next(&command(format_args!("meltlaw develop {}", path_as_typed(&arguments.folder))));
    output.json(&serde_json::json!({ "out": arguments.folder.display().to_string(), "files": files }));
    Ok(Exit::Done)
}
