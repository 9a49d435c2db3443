//! Huffman codes of lossless JPEG, read by table.

use super::damaged;
use super::together::ByCode;
use crate::raw::error::Fault;
use std::collections::VecDeque;
use std::sync::{Arc, OnceLock};

/// Bits of the first table step: codes of real files are rarely longer.
pub(super) const FAST_BITS: u32 = 12;

/// A Huffman table, ready to be looked up.
#[derive(Clone, Debug)]
pub(super) struct Table {
    /// Per code length 1 to 16: the first code beyond it, aligned to 16 bits, and what to add to a code for its value.
    limit: [u32; 17],
    offset: [i32; 17],
    counts: [u8; 16],
    values: Vec<u8>,
    /// For one stream at a time; made when it is first asked for, since most tables serve one tile.
    whole: OnceLock<Whole>,
    /// For several streams at a time.
    pub(super) by_code: ByCode,
}

/// For each [`FAST_BITS`] bits that hold a code and its difference's bits whole: the difference in the upper half, the number of
/// bits in the lower; 0 otherwise.
pub(super) type Whole = Box<[u32; 1 << FAST_BITS]>;

/// A table for one stream at a time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lookup<'a> {
    pub(super) whole: &'a Whole,
    /// For what takes more than one step.
    pub(super) table: &'a Table,
}

/// Tables that were read before: the streams of a picture mostly have the same.
#[derive(Debug, Default)]
pub(crate) struct Known(VecDeque<Arc<Table>>);

impl Known {
    /// The table of these counts and values.
    pub(super) fn table(&mut self, counts: &[u8; 16], values: &[u8]) -> Result<Arc<Table>, Fault> {
        /// A stream has one for each of four components at most, and bodies use two; several streams are open at once.
        const KEPT: usize = 12;
        let is_this = |table: &&Arc<Table>| table.counts == *counts && table.values == values;
        if let Some(table) = self.0.iter().find(is_this) {
            return Ok(Arc::clone(table));
        }
        let table = Arc::new(Table::new(counts, values)?);
        self.0.truncate(KEPT - 1);
        self.0.push_front(Arc::clone(&table));
        Ok(table)
    }
}

impl Table {
    /// From the numbers of codes per length and the values (T.81, annex C and F.2.2.3).
    pub(super) fn new(counts: &[u8; 16], values: &[u8]) -> Result<Self, Fault> {
        /// A difference has 0 to 16 bits in a lossless process (T.81, table H.2).
        const MOST_CATEGORY: u8 = 16;
        if values.iter().any(|value| *value > MOST_CATEGORY) {
            return Err(damaged("a difference of more than 16 bits"));
        }
        let mut limit = [0u32; 17];
        let mut offset = [0i32; 17];
        let (mut code, mut index) = (0u32, 0i32);
        for length in 1..=16u32 {
            let count = u32::from(counts[length as usize - 1]);
            offset[length as usize] = index - code.cast_signed();
            if count > 0 && code + count > 1 << length {
                return Err(damaged("its code table is overfull"));
            }
            code += count;
            index += count.cast_signed();
            limit[length as usize] = code << (16 - length);
            code <<= 1;
        }
        Ok(Self {
            limit,
            offset,
            counts: *counts,
            values: values.to_vec(),
            whole: OnceLock::new(),
            by_code: ByCode::new(counts, values),
        })
    }

    /// Category and length of the code that these bits begin with, the first the most significant.
    pub(super) fn code(&self, bits: u64) -> Option<(u8, u32)> {
        let bits = (bits >> 48) as u32;
        for length in 1..=16 {
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

    /// Made ready for [`super::bits::Bits`].
    pub(super) fn lookup(&self) -> Lookup<'_> {
        let whole = self.whole.get_or_init(|| {
            let mut whole = Box::new([0; 1 << FAST_BITS]);
            for (bits, entry) in (0u32..).zip(&mut whole[..]) {
                if let Some(code) = self.code(u64::from(bits) << (64 - FAST_BITS)) {
                    *entry = whole_entry(bits, code);
                }
            }
            whole
        });
        Lookup { whole, table: self }
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
fn whole_entry(bits: u32, (category, length): (u8, u32)) -> u32 {
    let category = u32::from(category);
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
