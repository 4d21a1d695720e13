//! What a workbook unpacks to, looked at before it is opened: calamine takes room for as many texts as a workbook claims and
//! bounds nothing. The parts that it reads are unpacked here by the same libraries, element by element, and counted on the
//! way, since what headers say of sizes need not be true. What makes no sense is left to calamine, which says so.

use std::io::{BufReader, Cursor, Read};
use std::rc::Rc;

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

use super::gauge::{Counts, Gauge};
use super::grid::TooMuchText;
use super::limits::{
    DEEPEST_ELEMENT, LARGEST_UNPACKED_BYTES, LONGEST_CELL_BYTES, MOST_FORMATS, MOST_PARTS, MOST_SHARED_TEXTS,
    MOST_TEXT_BYTES,
};
use super::wording::quoted;

/// Longest text or tag.
const LONGEST_PIECE: usize = 1_000_000;
/// Most bytes that cell formats take together: each gets a copy of the names that it refers to.
const MOST_FORMAT_BYTES: usize = 64_000_000;

/// Whether the file ends as zip archives do (PKWARE APPNOTE 6.3, section 4.3.16), with a comment of at most 65535 bytes.
pub(crate) fn is_archive(bytes: &[u8]) -> bool {
    let tail = &bytes[bytes.len().saturating_sub(22 + 65_535)..];
    tail.windows(4).any(|four| four == b"PK\x05\x06")
}

/// What a workbook holds too much of, and how much would do.
pub(crate) fn too_much(bytes: &[u8]) -> Option<TooMuchText> {
    // Each part has an entry in the directory (section 4.3.12); they are counted before the directory is built.
    if bytes.windows(4).filter(|four| *four == b"PK\x01\x02").count() > MOST_PARTS {
        return more("parts", MOST_PARTS);
    }
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let mut book = Book::default();
    for part in 0..archive.len() {
        let Ok(file) = archive.by_index(part) else { continue };
        let Ok(name) = file.name().map(|name| name.replace('\\', "/").to_ascii_lowercase()) else { continue };
        if is_read(&name)
            && let Some(too_much) = book.part(file)
        {
            return Some(too_much);
        }
    }
    None
}

fn more(what: &str, most: usize) -> Option<TooMuchText> {
    Some(TooMuchText { found: format!("more than {most} {what}"), needed: format!("at most {most}") })
}

/// Whether calamine may read a part of this name. Pictures are never unpacked, what other programs keep in a workbook
/// neither.
fn is_read(name: &str) -> bool {
    [".xml", ".rels"].iter().any(|end| name.ends_with(end)) && !name.starts_with("customxml/")
}

/// Counts over all parts.
#[derive(Debug, Default)]
struct Book {
    unpacked: u64,
    formats: usize,
    shared_texts: usize,
    text_bytes: usize,
}

/// Counts in one part.
#[derive(Debug, Default)]
struct Part {
    depth: usize,
    /// Bytes of text since a cell, a shared text or a name began.
    text: Option<usize>,
    cell_formats: usize,
    longest_tag: usize,
}

impl Book {
    fn part(&mut self, file: impl Read) -> Option<TooMuchText> {
        let counts = Rc::new(Counts::default());
        let left = LARGEST_UNPACKED_BYTES.saturating_sub(self.unpacked);
        let mut reader = Reader::from_reader(BufReader::new(Gauge::new(file, Rc::clone(&counts), LONGEST_PIECE, left)));
        // As calamine sets it.
        let config = reader.config_mut();
        config.check_end_names = false;
        config.trim_text(false);
        config.check_comments = false;
        config.expand_empty_elements = true;
        let (mut part, mut buffer) = (Part::default(), Vec::new());
        loop {
            buffer.clear();
            counts.end_piece();
            let found = match reader.read_event_into(&mut buffer) {
                Ok(Event::Start(tag)) => self.start(&mut part, &tag),
                Ok(Event::End(tag)) => {
                    part.depth = part.depth.saturating_sub(1);
                    if holds_text(tag.local_name().as_ref()) {
                        part.text = None;
                    }
                    None
                }
                Ok(Event::Text(text)) => self.text(&mut part, text.len()),
                Ok(Event::CData(text)) => self.text(&mut part, text.len()),
                Ok(Event::GeneralRef(text)) => self.text(&mut part, text.len()),
                Ok(Event::DocType(_)) => {
                    let found = "a document type, by which few bytes may stand for many".to_owned();
                    Some(TooMuchText { found, needed: "none".to_owned() })
                }
                Err(_) if counts.tripped() && counts.all() > left => {
                    let most = LARGEST_UNPACKED_BYTES / 1_000_000;
                    let found = format!("more than {most} MB unpacked");
                    return Some(TooMuchText { found, needed: format!("at most {most} MB") });
                }
                Err(_) if counts.tripped() => return more("bytes in one text or tag", LONGEST_PIECE),
                Ok(Event::Eof) | Err(_) => break,
                Ok(_) => None,
            };
            if found.is_some() {
                return found;
            }
        }
        self.unpacked += counts.all();
        None
    }

    fn start(&mut self, part: &mut Part, tag: &BytesStart<'_>) -> Option<TooMuchText> {
        part.depth += 1;
        if part.depth > DEEPEST_ELEMENT {
            return more("elements within each other", DEEPEST_ELEMENT);
        }
        let name = tag.local_name();
        let name = name.as_ref();
        part.longest_tag = part.longest_tag.max(tag.len());
        if holds_text(name) {
            part.text = Some(0);
        }
        match name {
            "si" => {
                self.shared_texts += 1;
                if self.shared_texts > MOST_SHARED_TEXTS {
                    return more("shared texts", MOST_SHARED_TEXTS);
                }
            }
            "sst" => return claimed_texts(tag),
            "Relationship" => {
                if let Some(target) = hidden_sheet(tag) {
                    let found = format!("a sheet in {}", quoted(&target));
                    return Some(TooMuchText { found, needed: "sheets in parts that end in .xml".to_owned() });
                }
            }
            "xf" => {
                part.cell_formats += 1;
                if part.cell_formats.saturating_mul(part.longest_tag) > MOST_FORMAT_BYTES {
                    return more("bytes in its cell formats", MOST_FORMAT_BYTES);
                }
            }
            _ => {}
        }
        if matches!(name, "xf" | "font" | "fill" | "border" | "numFmt" | "sheet" | "definedName" | "Relationship") {
            self.formats += 1;
            if self.formats > MOST_FORMATS {
                return more("formats and names", MOST_FORMATS);
            }
        }
        None
    }

    fn text(&mut self, part: &mut Part, bytes: usize) -> Option<TooMuchText> {
        let text = part.text.as_mut()?;
        *text += bytes;
        self.text_bytes += bytes;
        if *text > LONGEST_CELL_BYTES {
            return more("bytes of text in one cell", LONGEST_CELL_BYTES);
        }
        if self.text_bytes > MOST_TEXT_BYTES { more("bytes of text", MOST_TEXT_BYTES) } else { None }
    }
}

/// Elements whose text is kept as one.
fn holds_text(name: &str) -> bool {
    matches!(name, "si" | "c" | "definedName")
}

/// Room is taken for as many texts as `uniqueCount` says.
fn claimed_texts(tag: &BytesStart<'_>) -> Option<TooMuchText> {
    let digits = |text: &str| {
        let start = text.find(|c: char| c.is_ascii_digit())?;
        let digits: String = text[start..].chars().take_while(char::is_ascii_digit).collect();
        Some(digits.parse::<u64>().unwrap_or(u64::MAX))
    };
    let claimed = tag.split("uniqueCount").skip(1).filter_map(digits).find(|&n| n > MOST_SHARED_TEXTS as u64)?;
    let found = format!("a claim of {claimed} shared texts");
    Some(TooMuchText { found, needed: format!("at most {MOST_SHARED_TEXTS}") })
}

/// The target of a relation to a sheet or to the workbook itself whose name would keep it from being looked at here.
fn hidden_sheet(tag: &BytesStart<'_>) -> Option<String> {
    let attribute = |name: &str| {
        let mut all = tag.attributes();
        all.with_checks(false)
            .filter_map(Result::ok)
            .filter(|a| a.key.local_name().as_ref() == name)
            .map(|a| a.value.to_ascii_lowercase())
            .last()
    };
    let kind = attribute("Type")?;
    let target = attribute("Target")?;
    let looked_at = target.ends_with(".xml") && !target.contains("customxml");
    (["/worksheet", "/officedocument"].iter().any(|end| kind.ends_with(end)) && !looked_at).then_some(target)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_counted_over_all_parts_as_they_are_unpacked() {
        let mut book = Book { unpacked: LARGEST_UNPACKED_BYTES - 100_000, ..Book::default() };
        let part = "<x> </x>".repeat(10_000);
        assert_eq!(book.part(part.as_bytes()), None);
        let too_much = book.part(part.as_bytes()).map(|too_much| too_much.found);
        assert_eq!(too_much.as_deref(), Some("more than 200 MB unpacked"));
    }

    #[test]
    fn what_makes_no_sense_is_left_to_the_reader() {
        let mut book = Book::default();
        for part in ["", "<", "<a", "</a>", "<a b=\">", "]]>", "&#xD800;", "<!", "<?x", "\u{feff}<a/>"] {
            assert_eq!(book.part(part.as_bytes()), None, "{part}");
        }
    }
}
