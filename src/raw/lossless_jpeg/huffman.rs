//! Huffman codes of lossless JPEG, read by table.

use super::damaged;
use crate::raw::error::Fault;

/// Bits of the first table step: codes of real files are rarely longer.
pub(super) const FAST_BITS: u32 = 12;
/// Marks a code longer than [`FAST_BITS`].
pub(super) const LONGER: u8 = 0xff;

/// A Huffman table, ready to be looked up.
#[derive(Clone, Debug)]
pub(super) struct Table {
    /// For each [`FAST_BITS`] bits: category and code length, or [`LONGER`].
    pub(super) fast: Vec<(u8, u8)>,
    /// Per code length 1 to 16: the first code beyond it, aligned to 16 bits, and what to add to a code for its value.
    limit: [u32; 17],
    offset: [i32; 17],
    values: Vec<u8>,
}

impl Table {
    /// From the numbers of codes per length and the values (T.81, annex C and F.2.2.3).
    pub(super) fn new(counts: &[u8; 16], values: &[u8]) -> Result<Self, Fault> {
        /// A difference has 0 to 16 bits in a lossless process (T.81, table H.2).
        const MOST_CATEGORY: u8 = 16;
        if values.iter().any(|value| *value > MOST_CATEGORY) {
            return Err(damaged("a difference of more than 16 bits"));
        }
        let mut fast = vec![(0, LONGER); 1 << FAST_BITS];
        let mut limit = [0u32; 17];
        let mut offset = [0i32; 17];
        let (mut code, mut index) = (0u32, 0usize);
        for length in 1..=16u32 {
            let count = usize::from(counts[length as usize - 1]);
            offset[length as usize] = index as i32 - code.cast_signed();
            for _ in 0..count {
                if code >= 1 << length {
                    return Err(damaged("its code table is overfull"));
                }
                let value = values[index];
                if length <= FAST_BITS {
                    let shift = FAST_BITS - length;
                    let from = (code << shift) as usize;
                    for slot in &mut fast[from..from + (1 << shift)] {
                        *slot = (value, length as u8);
                    }
                }
                code += 1;
                index += 1;
            }
            limit[length as usize] = code << (16 - length);
            code <<= 1;
        }
        Ok(Self {
            fast,
            limit,
            offset,
            values: values.to_vec(),
        })
    }

    /// Category and length of a code longer than the fast table's, from the next 16 bits.
    pub(super) fn slow(&self, bits: u32) -> Option<(u8, u32)> {
        for length in FAST_BITS + 1..=16 {
            if bits < self.limit[length as usize] {
                let code = (bits >> (16 - length)).cast_signed();
                let value = self
                    .values
                    .get(usize::try_from(code + self.offset[length as usize]).ok()?)?;
                return Some((*value, length));
            }
        }
        None
    }
}
