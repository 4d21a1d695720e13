//! The footer of a Parquet file (Apache Parquet format, "File format"; Thrift compact protocol). The library takes room for
//! as many elements as a list claims and calls itself once for each level of the schema, so both are looked at first.

use std::io::{Read, Seek, SeekFrom};

use polars_buffer::Buffer;
use polars_parquet::parquet::read::deserialize_metadata;
use polars_parquet::read::FileMetadata;

use super::arrow_schema;
use crate::read::limits::{DEEPEST_SCHEMA, LARGEST_FOOTER_BYTES};

/// Most elements of a list: no file needs as many columns or groups of rows.
const MOST_LISTED: u64 = 100_000;
/// Deepest struct or list in a footer; statistics and key values lie five deep.
const DEEPEST: usize = 32;
/// Length of the footer and `PAR1`.
const END_BYTES: u64 = 8;
/// Where the schema stands in the footer, and where an element of it counts its children.
const SCHEMA: i64 = 2;
const CHILDREN: i64 = 5;
/// The key under which a writer keeps its own schema.
const ARROW_SCHEMA: &str = "ARROW:schema";

/// What a Parquet file of `length` bytes says of itself.
///
/// # Errors
/// What is wrong with it, in a few words.
pub(crate) fn read_footer(file: &mut (impl Read + Seek), length: u64) -> Result<FileMetadata, String> {
    let mut end = [0; END_BYTES as usize];
    let short = |_| "it is cut short".to_owned();
    file.seek(SeekFrom::Start(length.saturating_sub(END_BYTES))).map_err(short)?;
    file.read_exact(&mut end).map_err(short)?;
    let [a, b, c, d, mark @ ..] = end;
    if &mark != b"PAR1" {
        return Err("it does not end with PAR1, so it is cut short or no Parquet".to_owned());
    }
    let bytes = u64::from(u32::from_le_bytes([a, b, c, d]));
    let there = length - END_BYTES;
    if bytes > there.min(LARGEST_FOOTER_BYTES as u64) {
        return Err(format!("a footer of {bytes} bytes where {there} are there and {LARGEST_FOOTER_BYTES} the most"));
    }
    file.seek(SeekFrom::Start(there - bytes)).map_err(short)?;
    let mut footer = Vec::new();
    file.take(bytes + END_BYTES).read_to_end(&mut footer).map_err(|e| e.to_string())?;
    let mut walk = Walk { bytes: &footer, at: 0, path: Vec::new(), children: Vec::new() };
    walk.structure(0).ok_or("a footer that makes no sense")?;
    if deepest(&walk.children) > DEEPEST_SCHEMA {
        return Err(format!("columns that lie more than {DEEPEST_SCHEMA} deep"));
    }
    let about = deserialize_metadata(Buffer::from(footer)).map_err(|e| e.to_string())?;
    let kept = about.key_value_metadata.iter().flatten().filter(|kept| kept.key == ARROW_SCHEMA);
    if !kept.filter_map(|kept| kept.value.as_deref()).all(arrow_schema::is_small) {
        return Err("a schema of the program that wrote it that unpacks to too much".to_owned());
    }
    Ok(about)
}

/// How many levels the schema has, from the number of children of each element, in the order of the file.
fn deepest(children: &[u64]) -> usize {
    let mut open: Vec<u64> = Vec::new();
    let mut deepest = 0;
    for &count in children {
        while open.last() == Some(&0) {
            open.pop();
        }
        if let Some(left) = open.last_mut() {
            *left -= 1;
        }
        open.push(count);
        deepest = deepest.max(open.len());
    }
    deepest
}

/// Goes through the footer without keeping anything but the numbers of children in the schema.
#[derive(Debug)]
struct Walk<'a> {
    bytes: &'a [u8],
    at: usize,
    /// The fields that lead here; lists do not count.
    path: Vec<i64>,
    children: Vec<u64>,
}

/// `None` everywhere where the bytes end or claim what cannot be.
impl Walk<'_> {
    fn byte(&mut self) -> Option<u8> {
        let byte = *self.bytes.get(self.at)?;
        self.at += 1;
        Some(byte)
    }

    fn varint(&mut self) -> Option<u64> {
        let mut value = 0;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            value |= u64::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                return Some(value);
            }
        }
        None
    }

    fn skip(&mut self, bytes: u64) -> Option<()> {
        self.at =
            usize::try_from(bytes).ok().and_then(|n| self.at.checked_add(n)).filter(|&at| at <= self.bytes.len())?;
        Some(())
    }

    fn structure(&mut self, depth: usize) -> Option<()> {
        if depth > DEEPEST {
            return None;
        }
        if self.path == [SCHEMA] {
            self.children.push(0);
        }
        let mut field = 0_i64;
        loop {
            let head = self.byte()?;
            if head & 0x0F == 0 {
                return Some(());
            }
            field = match i64::from(head >> 4) {
                0 => {
                    let zigzag = self.varint()?;
                    (zigzag >> 1) as i64 ^ -((zigzag & 1) as i64)
                }
                step => field + step,
            };
            self.path.push(field);
            // A truth value is its own type.
            if !matches!(head & 0x0F, 1 | 2) {
                self.value(head & 0x0F, depth)?;
            }
            self.path.pop();
        }
    }

    fn value(&mut self, kind: u8, depth: usize) -> Option<()> {
        match kind {
            1..=3 => self.skip(1),
            4..=6 => {
                let zigzag = self.varint()?;
                if self.path == [SCHEMA, CHILDREN] {
                    *self.children.last_mut()? = zigzag >> 1;
                }
                Some(())
            }
            7 => self.skip(8),
            8 => {
                let long = self.varint()?;
                self.skip(long)
            }
            9 | 10 => self.list(depth),
            12 => self.structure(depth + 1),
            _ => None,
        }
    }

    fn list(&mut self, depth: usize) -> Option<()> {
        let head = self.byte()?;
        let count = match u64::from(head >> 4) {
            15 => self.varint()?,
            few => few,
        };
        if depth > DEEPEST || count > MOST_LISTED {
            return None;
        }
        for _ in 0..count {
            self.value(head & 0x0F, depth + 1)?;
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use std::io::Cursor;

    use super::*;

    fn complaint(footer: &[u8]) -> String {
        let mut file = b"PAR1".to_vec();
        file.extend(footer);
        file.extend((footer.len() as u32).to_le_bytes());
        file.extend(b"PAR1");
        let length = file.len() as u64;
        read_footer(&mut Cursor::new(file), length).unwrap_err()
    }

    #[test]
    fn a_list_that_claims_more_than_a_file_can_hold_is_refused_before_room_is_taken() {
        // Field 2, a list of 2³¹ − 1 structs: seven bytes that ask for hundreds of gigabytes.
        assert_eq!(complaint(&[0x29, 0xFC, 0xFF, 0xFF, 0xFF, 0xFF, 0x07]), "a footer that makes no sense");
        // A list of 100 001 bytes, all there.
        let long = [&[0x19, 0xF3, 0xA1, 0x8D, 0x06][..], &[0; 100_002]].concat();
        assert_eq!(complaint(&long), "a footer that makes no sense");
    }

    #[test]
    fn a_schema_that_nests_without_end_is_refused_before_it_is_built() {
        // Field 2, a list of 200 structs, each with field 4 (its name, empty) and field 5 (one child).
        let mut footer = vec![0x29, 0xFC, 200, 1];
        for _ in 0..200 {
            footer.extend([0x48, 0, 0x15, 2, 0]);
        }
        footer.push(0);
        assert_eq!(complaint(&footer), "columns that lie more than 64 deep");
    }

    #[test]
    fn levels_are_counted_from_the_numbers_of_children() {
        assert_eq!(deepest(&[2, 0, 0]), 2);
        assert_eq!(deepest(&[2, 1, 0, 1, 0]), 3);
        assert_eq!(deepest(&[1, 1, 1, 1, 0]), 5);
        assert_eq!(deepest(&[]), 0);
    }
}
