//! Sums by bin, gathered for every tile of a frame: found by a hash of a few instructions, and put in order once at the end.
//!
//! An ordered map would look up a hundred thousand tiles a frame through its levels; which took longer than what is summed.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// Bits of a bin's number along one axis: logarithms of doubles by the width of a bin stay far below.
const BITS: u32 = 21;

/// Sums by bin of `N` numbers, up to three.
#[derive(Clone, Debug)]
pub(crate) struct Bins<const N: usize, T>(HashMap<u64, T, BuildHasherDefault<Spread>>);

impl<const N: usize, T: Default> Bins<N, T> {
    /// No bins.
    pub(crate) fn new() -> Self {
        Self(HashMap::default())
    }

    /// The sum of the bin in which values lie, bins being so wide along every axis as its width says.
    pub(crate) fn at(&mut self, values: [f64; N], widths: [f64; N]) -> &mut T {
        const MIDDLE: f64 = (1_u32 << (BITS - 1)) as f64;
        let mut key = 0;
        for (value, width) in values.iter().zip(widths) {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "bins are counted from far below the least, and cut off upwards is rounded down"
            )]
            let bin = (value / width + MIDDLE) as u64;
            key = (key << BITS) | bin.min((1 << BITS) - 1);
        }
        self.0.entry(key).or_default()
    }

    /// The sums, in the order of their bins.
    pub(crate) fn in_order(self) -> impl Iterator<Item = T> {
        let mut sums: Vec<(u64, T)> = self.0.into_iter().collect();
        sums.sort_unstable_by_key(|(key, _)| *key);
        sums.into_iter().map(|(_, sum)| sum)
    }
}

/// Spreads keys over 64 bits: a product with a large odd number (2^64 by the golden ratio; Knuth, The Art of Computer Programming 3,
/// section 6.4), its halves laid over each other.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Spread(u64);

impl Hasher for Spread {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u64(&mut self, key: u64) {
        let product = (self.0 ^ key).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        self.0 = product ^ (product >> 32);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn bins_come_out_as_an_ordered_map_has_them() {
        let widths = [0.05, 0.2, 0.1];
        let mut bins = Bins::<3, f64>::new();
        let mut ordered = BTreeMap::<[i64; 3], f64>::new();
        for at in 0..5000_u32 {
            let part = |factor: u32, range: f64| f64::from(at * factor % 1009) / 1009.0 * range;
            let values = [
                part(7919, 9.0) - 4.0,
                part(251, 2.0) - 1.0,
                part(31, 12.0) - 12.0,
            ];
            *bins.at(values, widths) += f64::from(at);
            let key = [0, 1, 2].map(|axis| (values[axis] / widths[axis]).floor() as i64);
            *ordered.entry(key).or_default() += f64::from(at);
        }
        assert!(ordered.len() > 1000);
        let found: Vec<f64> = bins.in_order().collect();
        assert_eq!(found, ordered.into_values().collect::<Vec<f64>>());
    }
}
