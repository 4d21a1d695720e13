//! The program as `CITATION.cff` describes it; nothing of that is said a second time here.

use serde::Serialize;

const CITATION_CFF: &str = include_str!("../../../../CITATION.cff");

/// The program that made a result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Tool {
    /// Title of the program.
    pub title: String,
    /// Who wrote it.
    pub authors: Vec<String>,
    /// Its licence, as an SPDX identifier.
    pub license: String,
    /// Name and version as the result states them, such as `meltlaw 0.1.0`.
    pub made_by: String,
}

impl Tool {
    /// The tool with the name and version that a result states.
    pub(super) fn of(made_by: &str) -> Self {
        Self {
            title: top_level("title").unwrap_or_default(),
            authors: authors(),
            license: top_level("license").unwrap_or_default(),
            made_by: made_by.to_owned(),
        }
    }
}

/// The value of a member that stands at the left edge: all that is read of the file, which is ours.
fn top_level(key: &str) -> Option<String> {
    CITATION_CFF.lines().find_map(|line| line.strip_prefix(key)?.strip_prefix(": ").map(unquoted))
}

fn authors() -> Vec<String> {
    let list = CITATION_CFF.lines().skip_while(|line| *line != "authors:").skip(1);
    list.take_while(|line| line.starts_with(' '))
        .filter_map(|l| l.trim().strip_prefix("- name: ").map(unquoted))
        .collect()
}

fn unquoted(text: &str) -> String {
    text.trim().trim_matches('"').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_is_read_and_states_the_version_of_this_program() {
        let tool = Tool::of("meltlaw 9.9.9");
        assert!(tool.title.starts_with("meltlaw: "), "{tool:?}");
        assert_eq!((tool.authors, tool.license.as_str()), (vec!["The meltlaw authors".to_owned()], "MIT"));
        assert_eq!(top_level("version").as_deref(), Some(env!("CARGO_PKG_VERSION")));
    }
}
