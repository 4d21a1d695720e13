//! Text tables in another encoding than UTF-8, decoded as the study states it.

use encoding_rs::{Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::fault::Fault;

/// How the text of a table is encoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TextEncoding {
    /// UTF-8, the default.
    Utf8,
    /// The usual one of Western European spreadsheets.
    Windows1252,
    /// ISO 8859-1.
    Latin1,
    /// UTF-16, low byte first.
    Utf16Le,
    /// UTF-16, high byte first.
    Utf16Be,
}

impl TextEncoding {
    /// The words of the study file.
    pub const WORDS: [&str; 6] = ["utf-8", "windows-1252", "iso-8859-1", "latin-1", "utf-16le", "utf-16be"];

    /// From the word of the study file.
    pub fn from_word(word: &str) -> Option<Self> {
        Some(match word {
            "utf-8" => Self::Utf8,
            "windows-1252" => Self::Windows1252,
            "iso-8859-1" | "latin-1" => Self::Latin1,
            "utf-16le" => Self::Utf16Le,
            "utf-16be" => Self::Utf16Be,
            _ => return None,
        })
    }

    /// The word of the study file.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Windows1252 => "windows-1252",
            Self::Latin1 => "iso-8859-1",
            Self::Utf16Le => "utf-16le",
            Self::Utf16Be => "utf-16be",
        }
    }
}

/// The bytes as UTF-8. A byte order mark that contradicts the stated encoding is a fault.
pub(crate) fn as_utf8(file: &str, bytes: Vec<u8>, stated: Option<TextEncoding>) -> Result<Vec<u8>, Box<Fault>> {
    let Some(stated) = stated.filter(|&e| e != TextEncoding::Utf8) else { return Ok(bytes) };
    let by_mark = Encoding::for_bom(&bytes).map(|(encoding, _)| encoding);
    let encoding = match stated {
        TextEncoding::Utf16Le => UTF_16LE,
        TextEncoding::Utf16Be => UTF_16BE,
        _ => WINDOWS_1252,
    };
    if let Some(marked) = by_mark.filter(|marked| *marked != encoding) {
        let found = format!("a byte order mark of {}", marked.name());
        let needed = format!("text in {}, as the study states", stated.word());
        let action = format!("state encoding = \"{}\"", marked.name().to_lowercase());
        return Err(Fault::of_file(file, found, needed, action).into());
    }
    if stated == TextEncoding::Latin1 {
        return Ok(encoding_rs::mem::decode_latin1(&bytes).into_owned().into_bytes());
    }
    let (text, damaged) = encoding.decode_with_bom_removal(&bytes);
    if damaged {
        let found = format!("bytes that are no {}", stated.word());
        let needed = format!("text in {}, as the study states", stated.word());
        return Err(Fault::of_file(file, found, needed, "correct encoding in the study").into());
    }
    Ok(text.into_owned().into_bytes())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop")]
    use super::*;

    fn decoded(bytes: &[u8], word: &str) -> Result<String, String> {
        let decoded = as_utf8("t.csv", bytes.to_vec(), TextEncoding::from_word(word));
        decoded.map(|b| String::from_utf8(b).unwrap()).map_err(|fault| fault.to_string())
    }

    #[test]
    fn every_stated_encoding_gives_the_same_text() {
        assert_eq!(decoded(b"\xB5m \x80", "windows-1252").unwrap(), "µm €");
        assert_eq!(decoded(b"\xB5m", "iso-8859-1").unwrap(), "µm");
        assert_eq!(decoded(b"\xFF\xFE\xB5\0m\0", "utf-16le").unwrap(), "µm");
        assert_eq!(decoded(b"\0\xB5\0m", "utf-16be").unwrap(), "µm");
        assert_eq!(decoded("µm".as_bytes(), "utf-8").unwrap(), "µm");
        for word in TextEncoding::WORDS {
            assert!(TextEncoding::from_word(word).is_some());
        }
    }

    #[test]
    fn a_byte_order_mark_or_half_a_character_contradicts_the_study() {
        assert_eq!(
            decoded("\u{feff}µm".as_bytes(), "windows-1252").unwrap_err(),
            "t.csv: found a byte order mark of UTF-8, needed text in windows-1252, as the study states; state encoding = \"utf-8\""
        );
        assert_eq!(
            decoded(b"m\0\xB5", "utf-16le").unwrap_err(),
            "t.csv: found bytes that are no utf-16le, needed text in utf-16le, as the study states; correct encoding in the study"
        );
    }
}
