//! BibTeX entries of a citation.

use super::Citation;
use super::latex::escaped;
use super::references::{Kind, Reference};

/// Tool, result, sources.
pub(super) fn entries(citation: &Citation) -> String {
    let mut entries = vec![tool(citation), result(citation)];
    entries.extend(citation.references.iter().map(source));
    entries.join("\n")
}

/// Fields without text are left out.
fn entry(kind: &str, key: &str, fields: &[(&str, String)]) -> String {
    let mut text = format!("@{kind}{{{key},\n");
    for (name, value) in fields.iter().filter(|(_, value)| !value.is_empty()) {
        text.push_str(&format!("  {name} = {{{value}}},\n"));
    }
    text.push_str("}\n");
    text
}

fn tool(citation: &Citation) -> String {
    let tool = &citation.tool;
    // Double braces: a group is no person with a first name.
    let authors: Vec<String> = tool.authors.iter().map(|author| format!("{{{}}}", escaped(author))).collect();
    let how = format!("Computer program {}, licence {}", escaped(&tool.made_by), escaped(&tool.license));
    entry(
        "misc",
        "meltlaw",
        &[("author", authors.join(" and ")), ("title", format!("{{{}}}", escaped(&tool.title))), ("howpublished", how)],
    )
}

fn result(citation: &Citation) -> String {
    let data = &citation.data;
    let mut hashes = vec![format!("{} SHA-256 {}", data.study.file, data.study.sha256)];
    hashes.extend(data.inputs.iter().map(|input| format!("{} SHA-256 {}", input.file, input.sha256)));
    hashes.push(format!("manifest.json of the result SHA-256 {}", data.manifest));
    let note = format!(
        "Made by {}. {}. A composed line is a starting point: procedures are qualified under the code that applies",
        citation.tool.made_by,
        hashes.join("; ")
    );
    let short = data.manifest.get(..12).unwrap_or(&data.manifest);
    let title = format!("{{{}}}", escaped(&citation.name));
    entry("misc", &format!("result-{short}"), &[("title", title), ("note", escaped(&note))])
}

pub(super) fn source(reference: &Reference) -> String {
    let kind = match reference.kind {
        Kind::Article => "article",
        Kind::Book => "book",
        Kind::Other => "misc",
    };
    let container = match reference.kind {
        Kind::Article => "journal",
        Kind::Book => "publisher",
        Kind::Other => "howpublished",
    };
    let title = reference.title.map(|title| format!("{{{}}}", escaped(title))).unwrap_or_default();
    let note = if reference.from_memory { "bibliographic details from memory" } else { "" };
    entry(
        kind,
        reference.key,
        &[
            ("author", escaped(reference.authors)),
            ("title", title),
            (container, escaped(reference.container)),
            ("volume", reference.volume.to_owned()),
            ("pages", reference.pages.replace('–', "--")),
            ("year", reference.year.to_owned()),
            ("doi", reference.doi.to_owned()),
            ("note", note.to_owned()),
        ],
    )
}
