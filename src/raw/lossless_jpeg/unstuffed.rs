//! A scan without its stuffed zeros, so that whoever reads its bits can take eight bytes at a time without looking at them.

/// The most bytes of a scan that is read this way: tiles have some tenths of it.
pub(super) const MOST_BYTES: usize = 1 << 20;

/// Bytes that are looked at together.
const RUN: usize = 64;

/// Puts the bytes of a scan up to its first marker at the beginning of `bytes`, the zeros after 0xFF taken out, and returns how
/// many there are; what is behind them has no meaning. `None` when the scan is too long, or `bytes` has no room for it.
#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw",
    "x86_64+avx2+bmi1+lzcnt",
    "aarch64+neon"
))]
pub(super) fn unstuff(scan: &[u8], bytes: &mut [u8]) -> Option<usize> {
    if scan.len() > MOST_BYTES || bytes.len() < scan.len() {
        return None;
    }
    let (mut from, mut to) = (0, 0);
    while let Some(run) = scan[from..].first_chunk::<RUN>() {
        // What is behind a 255 is written over.
        bytes[to..to + RUN].copy_from_slice(run);
        let Some(place) = first_255(run) else {
            (from, to) = (from + RUN, to + RUN);
            continue;
        };
        (from, to) = (from + place + 1, to + place + 1);
        if scan.get(from) != Some(&0) {
            return Some(to - 1);
        }
        from += 1;
    }
    while let Some(&byte) = scan.get(from) {
        from += 1;
        if byte == 0xff {
            if scan.get(from) != Some(&0) {
                break;
            }
            from += 1;
        }
        bytes[to] = byte;
        to += 1;
    }
    Some(to)
}

/// Where the first byte of 255 is. Mostly there is none, which vectors tell.
#[inline(always)]
fn first_255(run: &[u8; RUN]) -> Option<usize> {
    let is_any = run
        .iter()
        .fold(false, |is_any, byte| is_any | (*byte == 0xff));
    is_any.then(|| memchr::memchr(0xff, run)).flatten()
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
        let mut bytes = vec![0; MOST_BYTES];
        // Around what is looked at together and twice that; 255 at every place, stuffed, before a marker, and as the last byte.
        for length in [
            0,
            1,
            7,
            RUN - 1,
            RUN,
            RUN + 1,
            2 * RUN - 1,
            2 * RUN,
            2 * RUN + 5,
        ] {
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
