//! Tiles summed as counts: whole numbers, added down a tile's rows column by column, and then across its columns.
//!
//! Black is subtracted and the range divided by once a tile instead of once a photosite, which [`super::reduce`] does where black
//! does not repeat with the colour pattern. These sums are exact; those lose what single precision loses.

use super::{Tile, rows_of};
use crate::base::kernel::row_kernel;
use crate::raw::photosites::{CLIPPED, Photosites};

/// Limits that are laid out side by side: whole periods of every pattern, and whole vectors.
const LIMITS: usize = 96;
/// Columns that are summed together.
const VECTOR: usize = 32;
/// Sides of tiles that the sums hold: clipped photosites are counted in 8 bits, counts of a whole tile added in 32.
const LARGEST: usize = 255;

/// Sums tiles, one row of them after another.
pub(super) struct CountedTiles<'a> {
    photosites: &'a Photosites<'a>,
    side: usize,
    /// The rows of the colour pattern.
    rows: Vec<PatternRow>,
}

/// One row of the colour pattern.
struct PatternRow {
    /// What counts mean at its places in turn.
    sites: Vec<Site>,
    /// The sites' limits, over and over.
    limits: [u16; LIMITS],
    /// Sums of counts in each column of the picture, down the rows that are summed together.
    sums: Vec<u32>,
    /// Clipped photosites among them.
    clipped: Vec<u8>,
}

/// What counts mean at one place of the colour pattern.
struct Site {
    channel: usize,
    black: f64,
    scale: f64,
    /// The greatest count that is not clipped.
    limit: u16,
}

impl<'a> CountedTiles<'a> {
    /// Sums tiles of `side` pixels, `columns` in a row. `None` where black does not repeat with the colour pattern, or levels are such
    /// that even a photosite without light counts as clipped.
    pub(super) fn new(photosites: &'a Photosites, side: usize, columns: usize) -> Option<Self> {
        let period = photosites.period();
        if !photosites.black_repeats_within(period) || side > LARGEST {
            return None;
        }
        let width = columns * side * photosites.values_per_pixel();
        let rows = (0..period)
            .map(|y| PatternRow::new(photosites, y, width))
            .collect::<Option<Vec<PatternRow>>>()?;
        Some(Self {
            photosites,
            side,
            rows,
        })
    }

    /// Sums one row of tiles. Returns the number of photosites of each colour in a tile.
    pub(super) fn sum(&mut self, tile_y: usize, tiles: &mut [Tile]) -> [u32; 3] {
        tiles.fill(Tile::default());
        let (mut count, period) = ([0; 3], self.rows.len());
        let values = self.side * self.photosites.values_per_pixel();
        for (phase, row) in self.rows.iter_mut().enumerate() {
            let together: Vec<&[u16]> = rows_of(tile_y, self.side, period)
                .filter(|y| y % period == phase)
                .map(|y| self.photosites.counts(y, row.sums.len()))
                .collect();
            sum_columns(&together, &row.limits, &mut row.sums, &mut row.clipped);
            let (sites, height) = (row.sites.len(), together.len() as u32);
            for site in &row.sites {
                count[site.channel] += (values / sites) as u32 * height;
            }
            match sites {
                2 => row.add_to::<2>(values, height, tiles),
                3 => row.add_to::<3>(values, height, tiles),
                _ => row.add_to::<6>(values, height, tiles),
            }
        }
        count
    }
}

impl PatternRow {
    fn new(photosites: &Photosites, y: usize, width: usize) -> Option<Self> {
        let channels = photosites.channels(y);
        let levels = photosites.levels(y, 0, channels.len())?;
        let sites = channels
            .iter()
            .zip(levels.black.iter().zip(&levels.scales))
            .map(|(&channel, (&black, &scale))| {
                // As many counts as are not clipped, from 0 up.
                let unclipped = partition(|count| (f32::from(count) - black) * scale < CLIPPED);
                Some(Site {
                    channel,
                    black: f64::from(black),
                    scale: f64::from(scale),
                    limit: u16::try_from(unclipped.checked_sub(1)?).ok()?,
                })
            })
            .collect::<Option<Vec<Site>>>()?;
        let mut limits = [0; LIMITS];
        for (limit, site) in limits.iter_mut().zip(sites.iter().cycle()) {
            *limit = site.limit;
        }
        Some(Self {
            sites,
            limits,
            sums: vec![0; width],
            clipped: vec![0; width],
        })
    }

    /// Adds what stands in the columns to their tiles, each of so many values across. `N` is the number of sites.
    fn add_to<const N: usize>(&self, values: usize, height: u32, tiles: &mut [Tile]) {
        let count = f64::from((values / N) as u32 * height);
        let Some(sites) = self.sites.as_array::<N>() else {
            return;
        };
        for (tile, sums) in tiles.iter_mut().zip(self.sums.chunks_exact(values)) {
            let mut sum = [0_u32; N];
            for period in sums.as_chunks::<N>().0 {
                for (sum, count) in sum.iter_mut().zip(period) {
                    *sum += count;
                }
            }
            for (site, sum) in sites.iter().zip(sum) {
                tile.sum[site.channel] += (f64::from(sum) - count * site.black) * site.scale;
            }
        }
        if self.clipped.iter().fold(0, |all, clipped| all | clipped) == 0 {
            return;
        }
        for (tile, clipped) in tiles.iter_mut().zip(self.clipped.chunks_exact(values)) {
            for period in clipped.as_chunks::<N>().0 {
                for (site, clipped) in self.sites.iter().zip(period) {
                    tile.clipped[site.channel] += u32::from(*clipped);
                }
            }
        }
    }
}

/// How many numbers of 16 bits, from 0 up, a condition holds for; it does not hold again after it did not.
fn partition(holds: impl Fn(u16) -> bool) -> usize {
    let (mut from, mut to) = (0, 1 << u16::BITS);
    while from < to {
        let middle = (from + to) / 2;
        if u16::try_from(middle).is_ok_and(&holds) {
            from = middle + 1;
        } else {
            to = middle;
        }
    }
    from
}

row_kernel! {
    /// Sums rows of counts column by column, and numbers those beyond the limits, which repeat along the rows.
    fn sum_columns(rows: &[&[u16]], limits: &[u16; LIMITS], sums: &mut [u32], clipped: &mut [u8]) {
        let (sums, rest) = sums.as_chunks_mut::<VECTOR>();
        let (clipped, rest_clipped) = clipped.as_chunks_mut::<VECTOR>();
        let mut from = 0;
        for (sums, clipped) in sums.iter_mut().zip(clipped) {
            let limits = &limits[from % LIMITS..][..VECTOR];
            let (mut sum, mut beyond) = ([0; VECTOR], [0; VECTOR]);
            for row in rows {
                let counts = row[from..from + VECTOR].iter().zip(limits);
                let columns = sum.iter_mut().zip(&mut beyond);
                for ((sum, beyond), (&count, &limit)) in columns.zip(counts) {
                    *sum += u32::from(count);
                    *beyond += u8::from(count > limit);
                }
            }
            (*sums, *clipped) = (sum, beyond);
            from += VECTOR;
        }
        for (at, (sum, clipped)) in rest.iter_mut().zip(rest_clipped).enumerate() {
            let limit = limits[(from + at) % LIMITS];
            *sum = rows.iter().map(|row| u32::from(row[from + at])).sum();
            *clipped = rows.iter().map(|row| u8::from(row[from + at] > limit)).sum();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{sum_fractions, tile_side};
    use super::*;
    use crate::base::geometry::Rect;
    use crate::base::plane::Plane;
    use crate::raw::frame::{BlackLevels, EXAMPLE_SIX_BY_SIX, Layout, Mosaic};

    /// Counts without order between black and a little above white; a prime multiplier, so that swapped places show.
    fn mosaic(layout: Layout, width: usize, height: usize, black: BlackLevels) -> Mosaic {
        let values = if layout == Layout::Linear { 3 } else { 1 };
        let counts = (0..width * height * values)
            .map(|at| (at * 7919 % 4093) as u16)
            .collect();
        Mosaic {
            counts: Plane::from_values(width * values, height, counts).expect("sizes fit"),
            layout,
            black,
            white: [4000.0, 4050.0, 3900.5],
            // Not at the sensor's corner, so that phases are shifted.
            crop: Rect {
                left: 1,
                top: 1,
                width: width - 1,
                height: height - 1,
            },
        }
    }

    #[test]
    fn sums_of_counts_are_sums_of_fractions() {
        let of_four = BlackLevels {
            rows: 2,
            columns: 2,
            pattern: vec![60.0, 61.25, 62.0, 70.0],
            column_deviation: Vec::new(),
            row_deviation: Vec::new(),
        };
        // One tile of one period, odd sizes, and tiles of several periods, of which every other one is read.
        for (width, height) in [(7, 8), (95, 14), (2703, 35)] {
            for (layout, black) in [
                (Layout::Bayer([[0, 1], [1, 2]]), of_four.clone()),
                (Layout::Bayer([[1, 2], [0, 1]]), BlackLevels::flat(64.0, 1)),
                (Layout::XTrans(EXAMPLE_SIX_BY_SIX), of_four.clone()),
                (Layout::Linear, BlackLevels::flat(64.0, 3)),
            ] {
                let mosaic = mosaic(layout, width, height, black);
                let photosites = Photosites::new(&mosaic);
                let side = tile_side(photosites.width(), photosites.period());
                let columns = photosites.width() / side;
                let mut counted =
                    CountedTiles::new(&photosites, side, columns).expect("black repeats");
                let mut found = vec![Tile::default(); columns];
                let mut expected = found.clone();
                for tile_y in 0..photosites.height() / side {
                    assert_eq!(
                        counted.sum(tile_y, &mut found),
                        sum_fractions(&photosites, side, tile_y, &mut expected)
                    );
                    for (found, expected) in found.iter().zip(&expected) {
                        assert_eq!(found.clipped, expected.clipped, "{layout:?}");
                        for (found, expected) in found.sum.iter().zip(expected.sum) {
                            // Each fraction is rounded to single precision.
                            assert!(
                                (found - expected).abs() <= 1e-6 * expected.abs() + 1e-7,
                                "{layout:?} {found} {expected}"
                            );
                        }
                    }
                }
                assert!(expected.iter().any(|tile| tile.clipped != [0; 3]) || width < 20);
            }
        }
    }

    #[test]
    fn black_that_does_not_repeat_with_the_pattern_is_not_summed_as_counts() {
        let of_three = BlackLevels {
            rows: 1,
            columns: 3,
            pattern: vec![60.0, 61.0, 62.0],
            column_deviation: Vec::new(),
            row_deviation: Vec::new(),
        };
        let by_rows = BlackLevels {
            row_deviation: vec![1.0; 14],
            ..BlackLevels::flat(64.0, 1)
        };
        for black in [of_three, by_rows] {
            let mosaic = mosaic(Layout::Bayer([[0, 1], [1, 2]]), 20, 14, black);
            assert!(CountedTiles::new(&Photosites::new(&mosaic), 2, 9).is_none());
        }
    }

    type SumColumns = fn(&[&[u16]], &[u16; LIMITS], &mut [u32], &mut [u8]);

    #[test]
    fn all_copies_of_the_kernel_are_one() {
        let mut limits = [0; LIMITS];
        for (at, limit) in limits.iter_mut().enumerate() {
            *limit = [40_000, 50_000, 30_000][at % 3];
        }
        for width in [0, 1, 31, 32, 33, 95, 96, 97, 251] {
            let counts: Vec<Vec<u16>> = (0..5_usize)
                .map(|y| {
                    (0..width)
                        .map(|x| ((x + y * 31) * 7919 % 65_521) as u16)
                        .collect()
                })
                .collect();
            let rows: Vec<&[u16]> = counts.iter().map(Vec::as_slice).collect();
            let of = |kernel: SumColumns| {
                let (mut sums, mut clipped) = (vec![0; width], vec![0; width]);
                kernel(&rows, &limits, &mut sums, &mut clipped);
                (sums, clipped)
            };
            let levels = sum_columns::levels();
            for (name, kernel) in &levels {
                assert_eq!(of(*kernel), of(levels[0].1), "{name} at {width}");
            }
        }
    }
}
