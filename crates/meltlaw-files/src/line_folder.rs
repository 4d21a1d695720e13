//! Every line file below a folder. Links are not followed, so no search leaves the folder or goes round; what is not
//! ours is counted, what is ours and cannot be used is named.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::document::LineDocument;
use crate::read::limits::LARGEST_DOCUMENT_BYTES;
use crate::regular_file;
use crate::write::{cause, remedy_for_reading};

/// The member by which a line file is known.
const OURS: &[u8] = b"\"meltlaw-line\"";
/// The format of our files stands at their beginning: of what is too large for a line no more is read.
const BEGINNING: u64 = 4096;

/// Why a folder cannot be searched at all.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{}: {found}; {remedy}", path.display())]
pub struct LineFolderError {
    /// The folder.
    pub path: PathBuf,
    /// What was found.
    pub found: String,
    /// What to do.
    pub remedy: &'static str,
}

/// A line that can be used.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundLine {
    /// Where it lies.
    pub path: PathBuf,
    /// Where the same file lies besides, by its checksum.
    pub copies: Vec<PathBuf>,
    /// The line.
    pub document: LineDocument,
}

/// A file or folder of ours that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DamagedLine {
    /// Where it lies.
    pub path: PathBuf,
    /// What was found and what to do, one line.
    pub reason: String,
}

/// What lies below a folder.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LineFolder {
    /// Lines by path.
    pub lines: Vec<FoundLine>,
    /// Line files that cannot be used and folders that cannot be read, by path.
    pub damaged: Vec<DamagedLine>,
    /// Files that are no line files.
    pub other_files: usize,
    /// Links, which are not followed.
    pub links: usize,
    /// Hidden folders, which are not searched: an old result may wait there to be removed.
    pub hidden_folders: usize,
}

/// Reads every line file below a folder, in the order of the paths.
///
/// # Errors
/// [`LineFolderError`] where the folder itself is missing, no folder or unreadable.
pub fn read_line_folder(folder: &Path) -> Result<LineFolder, LineFolderError> {
    let unreadable = |found: &str, remedy: &'static str| LineFolderError {
        path: folder.to_owned(),
        found: found.to_owned(),
        remedy,
    };
    let refused = |e: &std::io::Error| unreadable(&format!("cannot be read: {}", cause(e)), remedy_for_reading(e));
    match fs::metadata(folder) {
        Ok(about) if about.is_dir() => {}
        Ok(_) => return Err(unreadable("a file was found, a folder was needed", "give the folder in which lines lie")),
        Err(e) => return Err(refused(&e)),
    }
    let mut found = LineFolder::default();
    let mut by_checksum: BTreeMap<String, usize> = BTreeMap::new();
    // A stack of its own: folders may lie deeper than a call may go.
    let mut folders = vec![folder.to_owned()];
    while let Some(here) = folders.pop() {
        let entries = fs::read_dir(&here).and_then(Iterator::collect::<std::io::Result<Vec<_>>>);
        let mut entries = match entries {
            Ok(entries) => entries,
            Err(e) if here == folder => return Err(refused(&e)),
            Err(e) => {
                let reason = format!("the folder cannot be read: {}; {}", cause(&e), remedy_for_reading(&e));
                found.damaged.push(DamagedLine { path: here, reason });
                continue;
            }
        };
        entries.sort_by_key(fs::DirEntry::file_name);
        for entry in entries {
            let path = entry.path();
            // The kind of the entry itself: a link is a link, whatever it points to.
            match entry.file_type() {
                Ok(kind) if kind.is_symlink() => found.links += 1,
                Ok(kind) if kind.is_dir() && is_hidden(&path) => found.hidden_folders += 1,
                Ok(kind) if kind.is_dir() => folders.push(path),
                Ok(kind) if kind.is_file() && may_be_a_line(&path) => file(path, &mut found, &mut by_checksum),
                _ => found.other_files += 1,
            }
        }
    }
    found.lines.sort_by(|a, b| a.path.cmp(&b.path));
    found.damaged.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(found)
}

fn is_hidden(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."))
}

fn may_be_a_line(path: &Path) -> bool {
    !is_hidden(path) && path.extension().is_some_and(|e| e.eq_ignore_ascii_case("json"))
}

fn file(path: PathBuf, found: &mut LineFolder, by_checksum: &mut BTreeMap<String, usize>) {
    let damaged = |reason: String| DamagedLine { path: path.clone(), reason };
    let shown = path.display().to_string();
    let ours = match holds_the_format(&path) {
        Ok(ours) => ours,
        Err(e) => {
            found.damaged.push(damaged(format!("cannot be read: {}; {}", cause(&e), remedy_for_reading(&e))));
            return;
        }
    };
    // A file of this name was meant to be one, whatever became of it.
    if !ours && path.file_name().is_none_or(|name| name != "line.json") {
        found.other_files += 1;
        return;
    }
    match LineDocument::load(&path) {
        Ok(document) => match by_checksum.get(document.checksum()) {
            Some(&first) => found.lines[first].copies.push(path),
            None => {
                by_checksum.insert(document.checksum().to_owned(), found.lines.len());
                found.lines.push(FoundLine { path, copies: Vec::new(), document });
            }
        },
        Err(e) => {
            let reason = e.to_string();
            let reason = reason.strip_prefix(&format!("{shown}: ")).unwrap_or(&reason).replace('\n', " ");
            found.damaged.push(damaged(reason));
        }
    }
}

/// Whether the file says that it is a line; of one that is too large only the beginning is asked.
fn holds_the_format(path: &Path) -> std::io::Result<bool> {
    use std::io::Read;
    let (file, long) = regular_file::open(path, u64::MAX)?;
    let read = if long > LARGEST_DOCUMENT_BYTES { BEGINNING } else { LARGEST_DOCUMENT_BYTES };
    let mut bytes = Vec::new();
    file.take(read).read_to_end(&mut bytes)?;
    Ok(bytes.windows(OURS.len()).any(|w| w == OURS))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    fn example() -> String {
        let path = format!("{}/../../datasets/worked_example/line.json", env!("CARGO_MANIFEST_DIR"));
        fs::read_to_string(path).unwrap()
    }

    fn names(folder: &Path, paths: impl IntoIterator<Item = PathBuf>) -> Vec<String> {
        paths.into_iter().map(|p| p.strip_prefix(folder).unwrap().display().to_string()).collect()
    }

    #[test]
    fn lines_lie_anywhere_under_any_name_and_copies_are_told_once() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        fs::create_dir_all(root.join("b/c/d")).unwrap();
        fs::create_dir_all(root.join(".old")).unwrap();
        fs::write(root.join("b/c/d/thin.JSON"), example()).unwrap();
        fs::write(root.join("line.json"), example()).unwrap();
        fs::write(root.join(".old/line.json"), example()).unwrap();
        fs::write(root.join("b/laws.json"), "{\"format\": \"meltlaw-laws\"}").unwrap();
        fs::write(root.join("b/notes.txt"), "\"meltlaw-line\"").unwrap();
        let found = read_line_folder(root).unwrap();
        assert_eq!(names(root, found.lines.iter().map(|l| l.path.clone())), ["line.json"]);
        assert_eq!(names(root, found.lines[0].copies.clone()), ["b/c/d/thin.JSON"]);
        assert_eq!((found.other_files, found.hidden_folders, found.damaged.len()), (2, 1, 0));
    }

    #[test]
    fn what_is_ours_and_damaged_is_named_and_the_rest_is_counted() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        let text = example();
        let newer = text.replacen("\"format_version\": 2", "\"format_version\": 3", 1);
        assert_ne!(newer, text);
        for (name, content) in [
            ("good.json", text.as_str()),
            ("edited.json", &text.replacen("1.2", "1.3", 1)),
            ("half.json", &text[..text.len() / 2]),
            ("newer.json", &newer),
            ("other.json", "not json at all"),
            ("numbers.json", "[1, 2, 3]"),
        ] {
            fs::write(root.join(name), content).unwrap();
        }
        fs::create_dir(root.join("sub")).unwrap();
        fs::write(root.join("sub/line.json"), b"\xff\xfe\x00").unwrap();
        let large = fs::File::create(root.join("huge.json")).unwrap();
        large.set_len(LARGEST_DOCUMENT_BYTES + 1).unwrap();
        let found = read_line_folder(root).unwrap();
        assert_eq!(names(root, found.lines.iter().map(|l| l.path.clone())), ["good.json"]);
        let damaged = names(root, found.damaged.iter().map(|d| d.path.clone()));
        assert_eq!(damaged, ["edited.json", "half.json", "newer.json", "sub/line.json"]);
        let reason = |n: usize| found.damaged[n].reason.as_str();
        assert!(reason(0).starts_with("the checksum says "), "{}", reason(0));
        assert!(reason(1).starts_with("not readable as JSON"), "{}", reason(1));
        assert!(reason(2).starts_with("format_version is 3, this program reads up to 2"), "{}", reason(2));
        assert!(reason(3).starts_with("byte 0 is not UTF-8"), "{}", reason(3));
        assert_eq!(found.other_files, 3);
    }

    #[test]
    #[cfg(unix)]
    fn links_lead_nowhere() {
        use std::os::unix::fs::symlink;
        let (folder, elsewhere) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let root = folder.path();
        fs::write(elsewhere.path().join("line.json"), example()).unwrap();
        symlink(root, root.join("loop")).unwrap();
        symlink(elsewhere.path(), root.join("out")).unwrap();
        symlink(elsewhere.path().join("line.json"), root.join("line.json")).unwrap();
        symlink(root.join("nothing"), root.join("dangling.json")).unwrap();
        let found = read_line_folder(root).unwrap();
        assert_eq!((found.lines.len(), found.links, found.damaged.len()), (0, 4, 0));
        // The folder asked for may be a link itself.
        symlink(elsewhere.path(), root.join("asked")).unwrap();
        assert_eq!(read_line_folder(&root.join("asked")).unwrap().lines.len(), 1);
    }

    #[test]
    fn a_missing_folder_and_a_file_are_named_with_what_to_do() {
        let folder = tempfile::tempdir().unwrap();
        let complaint = |path: &Path| read_line_folder(path).unwrap_err().to_string();
        assert!(complaint(&folder.path().join("none")).contains("no such file or folder; look at the spelling"));
        let file = folder.path().join("file");
        fs::write(&file, "").unwrap();
        assert!(complaint(&file).contains("a file was found, a folder was needed; give the folder in which lines lie"));
    }
}
