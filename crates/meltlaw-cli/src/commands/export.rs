//! The line in the forms that other tools load.

use meltlaw_files::{ExportError, ExportFormat, LineDocument, export, write_file};

use crate::arguments::ExportArguments;
use crate::failure::{Exit, Failure};
use crate::output::Output;

/// `meltlaw export LINE.json --to FORMAT --out FILE`.
pub(crate) fn run(arguments: &ExportArguments, output: &mut Output) -> Result<Exit, Failure> {
    let mut format = ExportFormat::from(arguments.to);
    if let Some(prefix) = &arguments.prefix {
        let without = || {
            Failure::Usage(format!("--prefix: {} has no names that it could begin; leave it out", arguments.to.word()))
        };
        format = format.under_name(prefix.clone()).ok_or_else(without)?;
    }
    let document = LineDocument::load(&arguments.line)?;
    let bytes = export(&document, format).map_err(|e| match e {
        ExportError::NameTaken(_) => Failure::Usage(format!("--prefix: {e}")),
        _ => Failure::Mismatch(format!("{}: {e}", arguments.line.display())),
    })?;
    write_file(&arguments.out, &bytes, arguments.force)?;
    let out = arguments.out.display().to_string();
    output.text(&format!("{}: {}", out, arguments.to.what()));
    output.text("a line is a starting point: qualify the procedure under the code that applies");
    output.text(&format!("next: {}", arguments.to.next(&out)));
    output.json(&serde_json::json!({
        "out": out, "to": arguments.to.word(), "bytes": bytes.len(), "checksum": document.checksum(),
        "standing": document.body().line.standing, "cautions": document.cautions(),
    }));
    Ok(Exit::Done)
}
