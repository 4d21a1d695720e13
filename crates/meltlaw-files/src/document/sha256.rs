//! SHA-256 in lower-case hexadecimal, of bytes, files and documents.

use std::io::{self, Read};

use serde_json::{Map, Value};
use sha2::{Digest, Sha256};

use super::canonical::canonical;

/// SHA-256 of bytes, lower-case hexadecimal.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// SHA-256 of everything a reader gives, without holding it in memory.
///
/// # Errors
/// What the reader says.
pub fn sha256_hex_of_reader(mut reader: impl Read) -> io::Result<String> {
    let mut hasher = Sha256::new();
    let mut buffer = vec![0; 1 << 16];
    loop {
        match reader.read(&mut buffer) {
            Ok(0) => return Ok(hex(&hasher.finalize())),
            Ok(n) => hasher.update(&buffer[..n]),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
}

/// The checksum of a document: SHA-256 of the RFC 8785 form without its member `checksum`.
pub fn checksum(document: &Map<String, Value>) -> String {
    let mut without = document.clone();
    without.shift_remove("checksum");
    sha256_hex(canonical(&Value::Object(without)).as_bytes())
}

fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    bytes.iter().flat_map(|b| [DIGITS[usize::from(b >> 4)], DIGITS[usize::from(b & 15)]]).map(char::from).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use super::*;

    #[test]
    fn three_letters_have_the_published_hash() {
        // FIPS 180-4, example "abc" (from memory).
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256_hex(b"abc"), abc);
        assert_eq!(sha256_hex_of_reader(&b"abc"[..]).unwrap(), abc);
    }

    #[test]
    fn files_of_an_independent_script_carry_the_checksum_that_we_compute() {
        for file in ["laws.json", "line.json"] {
            let path = format!("{}/../../datasets/worked_example/{file}", env!("CARGO_MANIFEST_DIR"));
            let value: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
            let document = value.as_object().unwrap();
            assert_eq!(checksum(document), document["checksum"].as_str().unwrap(), "{file}");
        }
    }
}
