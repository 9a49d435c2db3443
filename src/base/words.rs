//! Eight bytes at a time.

/// Bytes of a word.
pub const WORD: usize = 8;

/// Whether one of eight bytes is 255, which begins a marker in JPEG streams: the classic test for a zero byte (H. S. Warren, Hacker's
/// Delight, 2nd ed., section 6-1), on the complement.
#[inline(always)]
#[must_use]
pub fn has_255(word: [u8; WORD]) -> bool {
    const LOWEST: u64 = 0x0101_0101_0101_0101;
    const HIGHEST: u64 = 0x8080_8080_8080_8080;
    let word = u64::from_ne_bytes(word);
    (!word).wrapping_sub(LOWEST) & word & HIGHEST != 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_byte_is_seen_and_no_other() {
        for at in 0..WORD {
            for other in [0, 1, 0x7f, 0x80, 0xfe] {
                let mut word = [other; WORD];
                assert!(!has_255(word), "{word:?}");
                word[at] = 255;
                assert!(has_255(word), "{word:?}");
            }
        }
    }
}
