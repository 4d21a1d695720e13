//! How large a zip archive says it is unpacked, from its central directory alone (PKWARE APPNOTE 6.3,
//! sections 4.3.12 and 4.3.16): asked before anything is unpacked.

/// Sum of the unpacked sizes; `None` where this is no zip archive. Sizes beyond 32 bits count as the
/// largest 32-bit number, which is beyond every limit here anyway.
pub(crate) fn unpacked_size(bytes: &[u8]) -> Option<u64> {
    const END: [u8; 4] = [0x50, 0x4B, 0x05, 0x06];
    const ENTRY: [u8; 4] = [0x50, 0x4B, 0x01, 0x02];
    const END_LENGTH: usize = 22;
    // The end record is followed by a comment of at most 65535 bytes.
    let earliest = bytes.len().saturating_sub(END_LENGTH + 65_535);
    let latest = bytes.len().checked_sub(END_LENGTH)?;
    let end = (earliest..=latest).rev().find(|&at| bytes[at..].starts_with(&END))?;
    let mut at = usize::try_from(u32_at(bytes, end + 16)?).ok()?;
    let mut sum = 0_u64;
    while bytes.get(at..)?.starts_with(&ENTRY) {
        sum += u64::from(u32_at(bytes, at + 24)?);
        let variable: usize = [28, 30, 32].iter().map(|o| u16_at(bytes, at + o)).sum::<Option<usize>>()?;
        at += 46 + variable;
    }
    Some(sum)
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..at + 4).map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]))
}

fn u16_at(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at..at + 2).map(|b| usize::from(u16::from_le_bytes([b[0], b[1]])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_summed_over_the_directory() {
        let entry = |size: u32| {
            let mut entry = vec![0_u8; 46];
            entry[..4].copy_from_slice(&[0x50, 0x4B, 0x01, 0x02]);
            entry[24..28].copy_from_slice(&size.to_le_bytes());
            entry[28] = 1;
            entry.push(b'a');
            entry
        };
        let mut bytes = vec![0_u8; 7];
        bytes.extend(entry(1000));
        bytes.extend(entry(3_000_000_000));
        let mut end = vec![0_u8; 22];
        end[..4].copy_from_slice(&[0x50, 0x4B, 0x05, 0x06]);
        end[16] = 7;
        bytes.extend(end);
        assert_eq!(unpacked_size(&bytes), Some(3_000_001_000));
        assert_eq!(unpacked_size(b"trial,note\n"), None);
        assert_eq!(unpacked_size(b""), None);
        // An end record that points beyond the file.
        let mut lost = vec![0x50, 0x4B, 0x05, 0x06];
        lost.resize(22, 0xFF);
        assert_eq!(unpacked_size(&lost), None);
    }
}
