//! A scan without its stuffed zeros, so that whoever reads its bits can take eight bytes at a time without looking at them.

pub(super) use crate::base::words::WORD;
use crate::base::words::has_255;

/// The most bytes of a scan that is read this way: tiles have some tenths of it.
pub(super) const MOST_BYTES: usize = 1 << 20;

/// Puts the bytes of a scan up to its first marker at the beginning of `bytes`, the zeros after 0xFF taken out, and returns how
/// many there are; what is behind them has no meaning. `None` when the scan is too long. `bytes` has room for [`MOST_BYTES`] and
/// a word.
pub(super) fn unstuff(scan: &[u8], bytes: &mut [u8]) -> Option<usize> {
    let bytes = bytes.get_mut(..MOST_BYTES + WORD)?;
    if scan.len() > MOST_BYTES {
        return None;
    }
    let (mut from, mut to) = (0, 0);
    while let Some(&byte) = scan.get(from) {
        // Mostly there is none in four words.
        let words = scan[from..].first_chunk::<{ 4 * WORD }>();
        if let Some(words) = words.filter(|words| {
            !words
                .as_chunks::<WORD>()
                .0
                .iter()
                .any(|word| has_255(*word))
        }) {
            bytes[to..to + 4 * WORD].copy_from_slice(words);
            (from, to) = (from + 4 * WORD, to + 4 * WORD);
            continue;
        }
        let word = scan[from..].first_chunk::<WORD>();
        if let Some(word) = word.filter(|word| !has_255(**word)) {
            bytes[to..to + WORD].copy_from_slice(word);
            (from, to) = (from + WORD, to + WORD);
            continue;
        }
        bytes[to] = byte;
        if byte != 0xff {
            from += 1;
        } else if scan.get(from + 1) == Some(&0) {
            from += 2;
        } else {
            break;
        }
        to += 1;
    }
    Some(to)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// T.81, B.1.1.5, byte by byte.
    fn plain(scan: &[u8]) -> Vec<u8> {
        let mut found = Vec::new();
        let mut bytes = scan.iter();
        while let Some(&byte) = bytes.next() {
            if byte == 0xff && bytes.next() != Some(&0) {
                break;
            }
            found.push(byte);
        }
        found
    }

    #[test]
    fn stuffed_zeros_and_what_follows_a_marker_are_left_out() {
        let mut bytes = vec![0; MOST_BYTES + WORD];
        // Around a word and two; 255 at every place, stuffed, before a marker, and as the last byte.
        for length in [0, 1, 7, 8, 9, 15, 16, 17, 40] {
            for at in 0..=length {
                for after in [&[][..], &[0], &[0, 0xff, 0], &[0xd9], &[0xff, 0]] {
                    let mut scan: Vec<u8> = (0..length).map(|i| (i * 37 % 251) as u8).collect();
                    let rest = scan.split_off(at);
                    scan.push(0xff);
                    scan.extend(after);
                    scan.extend(rest);
                    let found = unstuff(&scan, &mut bytes).expect("a short scan");
                    assert_eq!(bytes[..found], plain(&scan), "{scan:?}");
                }
            }
        }
    }
}
