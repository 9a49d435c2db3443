//! Quantised coefficients of many blocks side by side, and what of them is not zero.

use super::LANES;
use super::tables::COEFFICIENTS;

/// Values from this much below zero to one less above it are small: all but one in a thousand (measured at
/// quality 92).
pub(super) const SMALL: i16 = 64;
/// A run of zeros before a value that is coded with it is shorter than this: T.81, F.1.2.2.1.
pub(super) const RUNS: u32 = 16;

/// The blocks of a tile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Group {
    /// In the order of the file; the first of each block stands in `first`, and here is 0.
    pub(super) coefficients: [[i16; LANES]; COEFFICIENTS],
    pub(super) first: [i16; LANES],
    /// The coefficients that are not zero, a bit each in the order of the file; the first's is not set.
    pub(super) set: [u64; LANES],
    /// Not zero where a value is not small or a run is too long.
    pub(super) unusual: [u32; LANES],
}

impl Group {
    /// Blocks of zeros.
    pub(super) const EMPTY: Self = Self {
        coefficients: [[0; LANES]; COEFFICIENTS],
        first: [0; LANES],
        set: [0; LANES],
        unusual: [0; LANES],
    };

    /// Takes the first coefficients out and sees what is unusual. `set` tells what of `coefficients` is not zero.
    #[inline(always)]
    pub(super) fn settle(&mut self) {
        let [first, others @ ..] = &mut self.coefficients;
        self.first = std::mem::replace(first, [0; LANES]);
        let mut large = [0_i16; LANES];
        for line in others {
            for (large, value) in large.iter_mut().zip(line) {
                *large |= value.wrapping_add(SMALL) & !(2 * SMALL - 1);
            }
        }
        for ((unusual, set), large) in self.unusual.iter_mut().zip(&mut self.set).zip(large) {
            *set &= !1;
            // Bits with one that is set among the sixteen from their own down: with none, a run of sixteen ends there.
            let mut near = *set | 1;
            for step in [1, 2, 4, 8] {
                near |= near << step;
            }
            let far = *set & !(near << 1);
            *unusual = u32::from(large != 0) | u32::from(far != 0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether the block whose coefficients at these places have these values is found unusual.
    fn is_unusual(values: &[(usize, i16)]) -> bool {
        let mut group = Group::EMPTY;
        for &(place, value) in values {
            group.coefficients[place][3] = value;
            group.set[3] |= 1 << place;
        }
        group.settle();
        assert_eq!(
            group.unusual.iter().filter(|&&mark| mark != 0).count(),
            usize::from(group.unusual[3] != 0)
        );
        assert_eq!(group.coefficients[0], [0; LANES]);
        group.unusual[3] != 0
    }

    #[test]
    fn large_values_and_long_runs_are_unusual() {
        // The first coefficient may have any value.
        assert!(!is_unusual(&[]) && !is_unusual(&[(0, 900)]));
        for value in [-64, -1, 1, 63] {
            assert!(!is_unusual(&[(1, value), (16, value)]));
        }
        for value in [-1023, -65, 64, 1023] {
            assert!(is_unusual(&[(1, value)]) && is_unusual(&[(1, 1), (2, value)]));
        }
        // Fifteen zeros before a value, and sixteen.
        for from in 0..=16 {
            assert!(!is_unusual(&[(0, 1), (from, 1), (from + 16, 1)]));
        }
        for from in 0..46 {
            assert!(is_unusual(&[(from, 1), (from + 17, 1)]));
        }
        for chain in 1..32 {
            let all: Vec<(usize, i16)> = (1..=chain)
                .chain([chain + 16])
                .map(|place| (place, 1))
                .collect();
            assert!(!is_unusual(&all), "{chain}");
        }
    }
}
