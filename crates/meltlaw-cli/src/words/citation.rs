//! A citation in words: tool, data, methods, sources, cautions.

use meltlaw_files::Citation;

use crate::told::Told;

/// Everything but the BibTeX entries.
pub(crate) fn citation_lines(citation: &Citation) -> Vec<Told> {
    let (tool, data) = (&citation.tool, &citation.data);
    let mut told = vec![
        Told::heading(citation.name.clone()),
        Told::new(
            "  made by  ",
            format!("{}: {} ({}, {})", tool.made_by, tool.title, tool.authors.join(", "), tool.license),
        ),
        Told::new("  study    ", format!("{}  {}", data.study.sha256, data.study.file)),
    ];
    told.extend(data.inputs.iter().map(|input| Told::new("  trials   ", format!("{}  {}", input.sha256, input.file))));
    told.extend([
        Told::new("  result   ", format!("{}  manifest.json", data.manifest)),
        Told::line("  (SHA-256; manifest.json lists every file of the result with its own)"),
        Told::line(""),
        Told::heading("methods of this result"),
    ]);
    told.extend(citation.methods.iter().map(|method| {
        let sources =
            if method.sources.is_empty() { String::new() } else { format!(" [{}]", method.sources.join(", ")) };
        Told::new("  ", format!("{}: {}{sources}", method.used_in.join(", ").replace('_', " "), method.words))
    }));
    if !citation.references.is_empty() {
        told.extend([Told::line(""), Told::heading("sources")]);
        told.extend(citation.references.iter().map(|r| Told::new(format!("  [{}] ", r.key), r.text())));
    }
    told.extend([
        Told::line(""),
        Told::line("a line is a starting point: qualify the procedure under the code that applies"),
    ]);
    told
}
