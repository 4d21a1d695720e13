//! The line in the forms that other tools load.

use meltlaw_files::{
    ExportError, ExportFormat, Inputs, LARGE_TABLES_BYTES, LineDocument, TablesSize, export, tables_size, write_file,
};

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
    let refused = |e| match e {
        ExportError::NameTaken(_) => Failure::Usage(format!("--prefix: {e}")),
        _ => Failure::Mismatch(format!("{}: {e}", arguments.line.display())),
    };
    let size = tables_size(&document, &format).map_err(refused)?;
    let bytes = export(&document, format).map_err(refused)?;
    write_file(&arguments.out, &bytes, arguments.force, &Inputs::of([&arguments.line]))?;
    if let Some(words) = size.and_then(large_words) {
        output.remark(&words);
    }
    let out = arguments.out.display().to_string();
    output.text(&format!("{}: {}", out, arguments.to.what()));
    output.text("a line is a starting point: qualify the procedure under the code that applies");
    output.text(&format!("next: {}", arguments.to.next(&out)));
    output.json(&serde_json::json!({
        "out": out, "to": arguments.to.word(), "bytes": bytes.len(), "nodes": document.body().line.nodes.len(),
        "tables_bytes": size.map(|size| size.bytes), "checksum": document.checksum(),
        "standing": document.body().line.standing, "cautions": document.cautions(),
    }));
    Ok(Exit::Done)
}

/// What to say of tables that many controllers do not hold.
fn large_words(TablesSize { nodes, bytes }: TablesSize) -> Option<String> {
    (bytes > LARGE_TABLES_BYTES).then(|| {
        format!(
            "! the tables take {bytes} bytes ({nodes} nodes), more than the {LARGE_TABLES_BYTES} that many controllers give to one \
             block; for fewer nodes state a larger step_m_min or interpolation_tolerance under [line] in the study and \
             compose the line again"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_beyond_one_block_of_many_controllers_are_said_to_be_large_and_how_to_get_fewer_nodes() {
        assert_eq!(large_words(TablesSize { nodes: 1149, bytes: LARGE_TABLES_BYTES }), None);
        let words = large_words(TablesSize { nodes: 4855, bytes: 276_735 }).expect("large");
        for told in
            ["276735 bytes (4855 nodes)", "65536", "step_m_min", "interpolation_tolerance", "compose the line again"]
        {
            assert!(words.contains(told), "{words}");
        }
    }
}
