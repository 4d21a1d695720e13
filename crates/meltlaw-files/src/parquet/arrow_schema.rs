//! The schema that a writer keeps for itself under `ARROW:schema`: base64 of a FlatBuffers message (Apache Arrow columnar
//! format, `Message.fbs`, `Schema.fbs`). Parts of it may be named from any number of places, so a few hundred bytes can
//! unpack to any size; here it is gone through as the library will and what that takes is counted.

/// Longest schema, as text.
const LONGEST: usize = 4_000_000;
/// Most bytes that it may unpack to.
const MOST_BYTES: usize = 32_000_000;
/// Deepest field.
const DEEPEST: usize = 32;
/// What a field or key takes besides its texts.
const EACH: usize = 128;

/// Whether the schema unpacks to a size that anybody needs. What makes no sense is left to the library, which says so.
pub(super) fn is_small(text: &str) -> bool {
    if text.len() > LONGEST {
        return false;
    }
    let Some(bytes) = from_base64(text.as_bytes()) else { return true };
    let start = if bytes.starts_with(&[0xFF; 4]) { 8 } else { 0 };
    let mut flat = Flat { bytes: bytes.get(start..).unwrap_or_default(), left: MOST_BYTES };
    flat.message().is_some()
}

/// `None` where it is no base64 (RFC 4648, section 4).
fn from_base64(text: &[u8]) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(text.len() / 4 * 3);
    let (mut bits, mut held) = (0_u32, 0);
    for &c in text.iter().take_while(|&&c| c != b'=') {
        let six = match c {
            b'A'..=b'Z' => c - b'A',
            b'a'..=b'z' => c - b'a' + 26,
            b'0'..=b'9' => c - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => return None,
        };
        bits = bits << 6 | u32::from(six);
        held += 6;
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held) as u8);
        }
    }
    Some(bytes)
}

/// Bytes of a FlatBuffers message. `None` of a method that counts: too much; of one that looks: nothing there.
#[derive(Debug)]
struct Flat<'a> {
    bytes: &'a [u8],
    left: usize,
}

impl Flat<'_> {
    fn u32(&self, at: usize) -> Option<usize> {
        let four = self.bytes.get(at..at.checked_add(4)?)?;
        usize::try_from(u32::from_le_bytes(four.try_into().ok()?)).ok()
    }

    /// Where an offset leads.
    fn follow(&self, at: usize) -> Option<usize> {
        at.checked_add(self.u32(at)?).filter(|&to| to < self.bytes.len())
    }

    /// Where a field of a table stands.
    fn field(&self, table: usize, field: usize) -> Option<usize> {
        let back = self.u32(table)? as u32 as i32;
        let vtable = usize::try_from(i64::try_from(table).ok()? - i64::from(back)).ok()?;
        let two = |at: usize| Some(usize::from(u16::from_le_bytes(self.bytes.get(at..at + 2)?.try_into().ok()?)));
        let entry = 4 + 2 * field;
        let offset = (entry + 2 <= two(vtable)?).then(|| two(vtable + entry))??;
        (offset > 0).then_some(table + offset)
    }

    /// The tables of a vector that a field names.
    fn tables(&self, table: usize, field: usize) -> Vec<usize> {
        let vector = self.field(table, field).and_then(|at| self.follow(at));
        let Some((vector, count)) = vector.and_then(|v| Some((v, self.u32(v)?))) else { return Vec::new() };
        let fits = count.min((self.bytes.len() - vector) / 4);
        (0..fits).filter_map(|k| self.follow(vector + 4 + 4 * k)).collect()
    }

    fn spend(&mut self, bytes: usize) -> Option<()> {
        self.left = self.left.checked_sub(bytes)?;
        Some(())
    }

    /// The text that a field names.
    fn text(&mut self, table: usize, field: usize) -> Option<()> {
        let long = self.field(table, field).and_then(|at| self.follow(at)).and_then(|at| self.u32(at));
        self.spend(long.unwrap_or(0).min(self.bytes.len()))
    }

    fn message(&mut self) -> Option<()> {
        // Message.header and Schema.fields, .custom_metadata.
        let schema = self.follow(0).and_then(|message| self.field(message, 2)).and_then(|at| self.follow(at));
        let Some(schema) = schema else { return Some(()) };
        self.keys(schema, 2)?;
        self.fields(schema, 1, 0)
    }

    fn keys(&mut self, table: usize, field: usize) -> Option<()> {
        for pair in self.tables(table, field) {
            self.spend(EACH)?;
            self.text(pair, 0)?;
            self.text(pair, 1)?;
        }
        Some(())
    }

    fn fields(&mut self, table: usize, field: usize, depth: usize) -> Option<()> {
        if depth > DEEPEST {
            return None;
        }
        for field in self.tables(table, field) {
            self.spend(EACH)?;
            // Field.name, .type, .children, .custom_metadata; the longest text of a type is a time zone, and a union
            // lists its members.
            self.text(field, 0)?;
            if let Some(kind) = self.field(field, 3).and_then(|at| self.follow(at)) {
                self.text(kind, 1)?;
            }
            self.keys(field, 6)?;
            self.fields(field, 5, depth + 1)?;
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_is_read_as_published() {
        // RFC 4648, section 10.
        for (text, bytes) in [("", ""), ("Zg==", "f"), ("Zm8=", "fo"), ("Zm9v", "foo"), ("Zm9vYmFy", "foobar")] {
            assert_eq!(from_base64(text.as_bytes()).as_deref(), Some(bytes.as_bytes()));
        }
        assert_eq!(from_base64(b"Zm9v!"), None);
    }

    /// A field whose children are `twice` the next field, over and over, at the end of a message.
    fn nested(levels: u32) -> Vec<u8> {
        // Message at 12: vtable at 4 with three entries, the third at offset 4. Schema likewise with its fields second.
        let mut b: Vec<u8> = Vec::new();
        let word = |b: &mut Vec<u8>, v: u32| b.extend(v.to_le_bytes());
        word(&mut b, 16);
        b.extend([10_u8, 0, 8, 0, 0, 0, 0, 0, 4, 0, 0, 0]);
        // Message: back to its vtable at 4, then its header, which follows at 36 after the schema's vtable.
        word(&mut b, 12);
        word(&mut b, 16);
        b.extend([8_u8, 0, 8, 0, 0, 0, 4, 0, 0, 0, 0, 0]);
        // Schema at 36 with its vtable at 24.
        word(&mut b, 12);
        word(&mut b, 4);
        for level in 0..levels {
            // A vector of two offsets, both to the field behind its own vtable of eight entries (children the sixth).
            word(&mut b, 2);
            word(&mut b, 8 + 16);
            word(&mut b, 4 + 16);
            b.extend([16_u8, 0, 8, 0]);
            b.extend([0_u8; 10]);
            b.extend([if level + 1 < levels { 4_u8 } else { 0 }, 0]);
            word(&mut b, 16);
            word(&mut b, 4);
        }
        b
    }

    #[test]
    fn a_schema_whose_fields_share_their_children_is_counted_as_it_unpacks() {
        let mut flat = Flat { bytes: &nested(4), left: MOST_BYTES };
        assert!(flat.message().is_some());
        // 2 + 4 + 8 + 16 fields, each with names of no length.
        assert_eq!(MOST_BYTES - flat.left, 30 * EACH);
        let mut flat = Flat { bytes: &nested(30), left: MOST_BYTES };
        assert!(flat.message().is_none());
    }
}
