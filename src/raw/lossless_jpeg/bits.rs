//! The bits of a lossless JPEG scan: a 64-bit reservoir, filled four bytes at a time where none of them is 0xFF.

use super::huffman::{FAST_BITS, Lookup, Table, extended};

/// The bits of a scan.
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    /// The next bits, the very next one the most significant.
    held: u64,
    /// How many of them are bits of the stream.
    have: u32,
    /// Zero bits put in after the end of the scan.
    made_up: u32,
}

impl<'a> Bits<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            at: 0,
            held: 0,
            have: 0,
            made_up: 0,
        }
    }

    /// At least 32 bits in hand: enough for one code and its difference.
    #[inline(always)]
    fn fill(&mut self) {
        if self.have > 32 {
            return;
        }
        if let Some(next) = self.bytes.get(self.at..self.at + 4) {
            let word = u32::from_be_bytes([next[0], next[1], next[2], next[3]]);
            // No byte of it is 0xFF: the classic test for a zero byte, on the complement.
            let inverse = !word;
            if inverse.wrapping_sub(0x0101_0101) & !inverse & 0x8080_8080 == 0 {
                self.held |= u64::from(word) << (32 - self.have);
                self.have += 32;
                self.at += 4;
                return;
            }
        }
        self.fill_slowly();
    }

    #[cold]
    #[inline(never)]
    fn fill_slowly(&mut self) {
        while self.have <= 48 {
            let byte = match self.bytes.get(self.at) {
                Some(0xff) => match self.bytes.get(self.at + 1) {
                    // A stuffed zero.
                    Some(0) => {
                        self.at += 2;
                        0xff
                    }
                    // A marker: nothing more before it.
                    _ => {
                        self.made_up += 8;
                        0
                    }
                },
                Some(byte) => {
                    self.at += 1;
                    *byte
                }
                None => {
                    self.made_up += 8;
                    0
                }
            };
            self.held |= u64::from(byte) << (56 - self.have);
            self.have += 8;
        }
    }

    #[inline(always)]
    fn take(&mut self, count: u32) {
        self.held <<= count;
        self.have -= count;
    }

    /// Whether bits were used that the stream does not have.
    pub(super) fn is_exhausted(&self) -> bool {
        self.made_up > self.have
    }

    /// The next difference (T.81, H.1.2.2); `None` for a code that no table holds.
    #[inline(always)]
    pub(super) fn difference(&mut self, lookup: Lookup<'_>) -> Option<i32> {
        self.fill();
        let place = (self.held >> (64 - FAST_BITS)) as usize;
        let entry = lookup.whole[place];
        if entry != 0 {
            self.take(entry & 0xffff);
            return Some(entry.cast_signed() >> 16);
        }
        self.long_difference(lookup.table)
    }

    /// A difference whose code and bits do not fit the table of whole ones: the plain way, code first.
    #[inline(never)]
    fn long_difference(&mut self, table: &Table) -> Option<i32> {
        let (category, length) = table.code(self.held)?;
        self.take(length);
        let category = u32::from(category);
        match category {
            0 => Some(0),
            // No further bits: the difference is 32768 itself.
            16 => Some(32_768),
            _ => {
                #[expect(clippy::cast_possible_truncation, reason = "at most 15 bits remain")]
                let bits = (self.held >> (64 - category)) as i32;
                self.take(category);
                Some(extended(bits, category))
            }
        }
    }

    /// Moves behind the next restart marker.
    pub(super) fn restart(&mut self) -> Option<()> {
        self.held = 0;
        self.have = 0;
        self.made_up = 0;
        loop {
            let pair = self.bytes.get(self.at..self.at + 2)?;
            if pair[0] == 0xff && (0xd0..=0xd7).contains(&pair[1]) {
                self.at += 2;
                return Some(());
            }
            // Only padding may stand between: the reservoir may have stopped before a whole byte of it.
            self.at += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_differences_are_those_of_the_plain_way() {
        // Two tables: 17 codes of 5 bits, and codes of 1 to 16 bits.
        let mut even = [0u8; 16];
        even[4] = 17;
        let all: Vec<u8> = (0..17).collect();
        for (counts, values) in [(even, &all[..]), ([1u8; 16], &all[..16])] {
            let table = Table::new(&counts, values).expect("a table");
            for place in 0..1usize << FAST_BITS {
                if table.lookup().whole[place] == 0 {
                    continue;
                }
                let held = (place as u64) << (64 - FAST_BITS);
                let bits = || Bits {
                    bytes: &[],
                    at: 0,
                    held,
                    have: 64,
                    made_up: 0,
                };
                let (mut fast, mut plain) = (bits(), bits());
                assert_eq!(
                    fast.difference(table.lookup()),
                    plain.long_difference(&table),
                    "{place:012b}"
                );
                assert_eq!((fast.held, fast.have), (plain.held, plain.have));
            }
        }
    }
}
