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
    /// For each [`FAST_BITS`] bits that hold a code and its difference's bits whole: the difference in the upper half, the
    /// number of bits in the lower; 0 otherwise.
    pub(super) whole: Vec<u32>,
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
        let whole = (0u32..)
            .zip(&fast)
            .map(|(bits, entry)| whole_entry(bits, *entry))
            .collect();
        Ok(Self {
            whole,
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

/// The difference that a category's further bits stand for (T.81, table F.1): a first bit of 0 means a negative one, to
/// which 1 - 2^category is added, here without a branch. `category` is 1 to 15.
#[inline(always)]
pub(super) fn extended(bits: i32, category: u32) -> i32 {
    let negative = (bits >> (category - 1)) - 1;
    bits + (negative & (1 - (1 << category)))
}

/// The entry of [`Table::whole`] for [`FAST_BITS`] bits that begin with a code of this category and length.
fn whole_entry(bits: u32, (category, length): (u8, u8)) -> u32 {
    let (category, length) = (u32::from(category), u32::from(length));
    if length + category > FAST_BITS {
        return 0;
    }
    let further = bits >> (FAST_BITS - length - category) & ((1 << category) - 1);
    let difference = if category == 0 {
        0
    } else {
        extended(further.cast_signed(), category)
    };
    difference.cast_unsigned() << 16 | (length + category)
}
