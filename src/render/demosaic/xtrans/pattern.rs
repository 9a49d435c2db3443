//! What the 6 x 6 pattern says about each photosite, laid out in rows for the kernels, and what stands in for photosites
//! beyond the border.

use crate::raw::frame::Channel;

/// Side of the pattern.
pub(crate) const PERIOD: usize = 6;

/// Columns worked on at a time: whole periods, and rows of tables that stay in a second-level cache.
pub(crate) const CHUNK: usize = 170 * PERIOD;

/// Photosites to each side that an estimate along a line looks at.
pub(crate) const LINE_REACH: usize = 2;

/// Photosites to each side over which the estimates' differences are compared.
pub(crate) const COMPARED: usize = 2;

type Pattern = [[Channel; PERIOD]; PERIOD];

/// Numbers for each photosite of a row, by the row's phase. Each has a period of six columns and is as long as a chunk and
/// two periods, so that a chunk may begin at any column and be a few columns wider on both sides.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tables {
    rows: Vec<TableRow>,
}

/// The tables of one row.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct TableRow {
    /// Weights of the five photosites along the row that give green's difference from the own colour; 0 at green ones.
    along_row: [Vec<f32>; 5],
    /// The same along the column.
    along_column: [Vec<f32>; 5],
    /// 1 at photosites of red and of blue, otherwise 0.
    is: [Vec<f32>; 2],
    /// 1 / the number of red and of blue photosites in the square over which differences are compared.
    inverse_count: [Vec<f32>; 2],
}

impl Tables {
    /// The tables of a pattern.
    pub(crate) fn new(pattern: &Pattern) -> Self {
        let at = |row: isize, column: isize| {
            let period = PERIOD as isize;
            pattern[row.rem_euclid(period) as usize][column.rem_euclid(period) as usize]
        };
        let rows = (0..PERIOD as isize).map(|y| {
            let periodic = |value: &dyn Fn(isize) -> f32| -> Vec<f32> {
                (0..(CHUNK + 2 * PERIOD) as isize).map(value).collect()
            };
            let line = |k: usize, x: isize, down: isize, right: isize| {
                let sites = [-2, -1, 0, 1, 2].map(|step| at(y + down * step, x + right * step));
                difference_weights(sites)[k]
            };
            let count = |colour: Channel, x: isize| {
                let half = COMPARED as isize;
                let square = (-half..=half).flat_map(|dy| (-half..=half).map(move |dx| (dy, dx)));
                let sites = square
                    .filter(|(dy, dx)| at(y + dy, x + dx) == colour)
                    .count();
                if sites == 0 { 0.0 } else { 1.0 / sites as f32 }
            };
            TableRow {
                along_row: [0, 1, 2, 3, 4].map(|k| periodic(&|x| line(k, x, 0, 1))),
                along_column: [0, 1, 2, 3, 4].map(|k| periodic(&|x| line(k, x, 1, 0))),
                is: [0, 2].map(|colour| periodic(&|x| f32::from(u8::from(at(y, x) == colour)))),
                inverse_count: [0, 2].map(|colour| periodic(&|x| count(colour, x))),
            }
        });
        Self {
            rows: rows.collect(),
        }
    }

    /// The tables of a row of this phase.
    pub(crate) fn row(&self, phase: usize) -> &TableRow {
        &self.rows[phase % PERIOD]
    }
}

impl TableRow {
    /// Weights along the row and along the column, from a column of this phase on.
    pub(crate) fn lines(&self, phase: usize, length: usize) -> [[&[f32]; 5]; 2] {
        let from = phase % PERIOD;
        [&self.along_row, &self.along_column]
            .map(|line| line.each_ref().map(|row| &row[from..from + length]))
    }

    /// Where red and blue are counted.
    pub(crate) fn is(&self, phase: usize, length: usize) -> [&[f32]; 2] {
        let from = phase % PERIOD;
        self.is.each_ref().map(|row| &row[from..from + length])
    }

    /// 1 / how many of red and of blue are compared.
    pub(crate) fn inverse_count(&self, phase: usize, length: usize) -> [&[f32]; 2] {
        let from = phase % PERIOD;
        self.inverse_count
            .each_ref()
            .map(|row| &row[from..from + length])
    }
}

/// Weights of five photosites in a line that give green at the middle one minus the middle one's own value.
///
/// In this pattern a photosite of red or blue has, in one of its two lines, green on both sides (twice: cubic interpolation
/// through the four), and in the other green on one side, its own colour beyond that, and green two to the other side:
/// half the straight line between the greens, half the near green corrected by half the change of the own colour across it.
fn difference_weights(sites: [Channel; 5]) -> [f32; 5] {
    const GREEN: Channel = 1;
    let [far_before, before, own, after, far_after] = sites;
    if own == GREEN {
        return [0.0; 5];
    }
    let green = |site: Channel| site == GREEN;
    let mirrored = |[a, b, c, d, e]: [f32; 5]| [e, d, c, b, a];
    match (green(before), green(after)) {
        (true, true) if green(far_before) && green(far_after) => {
            [-1.0 / 6.0, 4.0 / 6.0, -1.0, 4.0 / 6.0, -1.0 / 6.0]
        }
        (true, true) => [0.0, 0.5, -1.0, 0.5, 0.0],
        (true, false) => one_sided(own == far_before, green(far_after)),
        (false, true) => mirrored(one_sided(own == far_after, green(far_before))),
        // No line of this pattern: the difference is unknown, none the safest guess.
        (false, false) => [0.0; 5],
    }
}

/// The weights where green is before the photosite only.
fn one_sided(own_beyond: bool, green_far_after: bool) -> [f32; 5] {
    match (own_beyond, green_far_after) {
        (true, true) => [-0.25, 5.0 / 6.0, -0.75, 0.0, 1.0 / 6.0],
        (false, true) => [0.0, 2.0 / 3.0, -1.0, 0.0, 1.0 / 3.0],
        (true, false) => [-0.5, 1.0, -0.5, 0.0, 0.0],
        (false, false) => [0.0, 1.0, -1.0, 0.0, 0.0],
    }
}

/// What stands in for rows or columns beyond the border. The pattern is its own mirror image about the middle of each 3 x 3
/// block, so a row or column beyond the border is mirrored on the outermost such line inside.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct StandIn {
    length: usize,
    /// The lowest and the highest line of symmetry.
    axes: Option<(isize, isize)>,
}

impl StandIn {
    /// For rows when `same(a, b)` says whether row a of the pattern equals row b; for columns likewise.
    pub(crate) fn new(length: usize, same: impl Fn(usize, usize) -> bool) -> Self {
        let is_axis = |axis: usize| {
            (1..PERIOD).all(|k| same((axis + k) % PERIOD, (axis + PERIOD - k) % PERIOD))
        };
        let low = (0..length.min(PERIOD)).find(|&axis| is_axis(axis));
        let high = (length.saturating_sub(PERIOD)..length)
            .rev()
            .find(|&axis| is_axis(axis % PERIOD));
        let axes = low.zip(high).filter(|(low, high)| low < high);
        Self {
            length,
            axes: axes.map(|(low, high)| (low as isize, high as isize)),
        }
    }

    /// The index inside that stands in for `index`.
    pub(crate) fn of(&self, index: isize) -> usize {
        let inside = 0..self.length as isize;
        let mut at = index;
        if let Some((low, high)) = self.axes {
            // Each pair of mirrorings moves by twice the distance of the axes, at least six.
            while !inside.contains(&at) {
                at = 2 * if at < 0 { low } else { high } - at;
            }
        } else if !inside.contains(&at) {
            // A picture too small to hold the pattern, or a pattern of another kind: the right phase if there is one.
            at = at.rem_euclid(PERIOD as isize).min(inside.end - 1);
        }
        at as usize
    }
}

/// The pattern as bodies have it, for tests.
#[cfg(test)]
pub(crate) const SIX_BY_SIX: Pattern = [
    [1, 2, 1, 1, 0, 1],
    [0, 1, 0, 2, 1, 2],
    [1, 2, 1, 1, 0, 1],
    [1, 0, 1, 1, 2, 1],
    [2, 1, 2, 0, 1, 0],
    [1, 0, 1, 1, 2, 1],
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_give_no_difference_for_equal_light() {
        for row in SIX_BY_SIX {
            for x in 0..PERIOD {
                let sites = [4, 5, 6, 7, 8].map(|k| row[(x + k) % PERIOD]);
                let weights = difference_weights(sites);
                assert!(weights.iter().sum::<f32>().abs() < 1e-6, "{sites:?}");
                // And exactly one unit for a green lighter by that.
                let green: f32 = sites
                    .iter()
                    .zip(weights)
                    .filter(|(site, _)| **site == 1)
                    .map(|(_, weight)| weight)
                    .sum();
                let expected = if row[x] == 1 { 0.0 } else { 1.0 };
                assert!((green - expected).abs() < 1e-6, "{sites:?}");
            }
        }
    }

    #[test]
    fn what_stands_in_has_the_colour_of_what_is_missing() {
        for shift in 0..PERIOD {
            let at = |column: isize| {
                let column = (column + shift as isize).rem_euclid(PERIOD as isize) as usize;
                SIX_BY_SIX.map(|row| row[column])
            };
            for length in PERIOD..20 {
                let stand_in = StandIn::new(length, |a, b| at(a as isize) == at(b as isize));
                for index in -15..length as isize + 15 {
                    assert_eq!(at(index), at(stand_in.of(index) as isize));
                }
            }
            for length in 1..PERIOD {
                let stand_in = StandIn::new(length, |a, b| at(a as isize) == at(b as isize));
                assert!((-20..20).all(|index| stand_in.of(index) < length));
            }
        }
    }
}
