//! The greens of a 2 x 2 pattern, a block at a time: only blocks that are asked for are read, and a row of cells in a vector.

use crate::base::kernel::row_kernel;
use crate::light::sharpness::BLOCK;
use crate::light::sharpness::block::Block;
use crate::raw::frame::Layout;
use crate::raw::photosites::Photosites;

/// Green photosites in a cell.
pub(super) const SITES: f64 = 2.0;
/// Photosites across a block, and rows of them.
const ACROSS: usize = 2 * BLOCK;

/// A row of blocks of a 2 x 2 pattern.
pub(super) struct BayerGreens<'a> {
    rows: Vec<&'a [u16]>,
    /// The green photosites of the upper and the lower row of a cell.
    greens: [Green; 2],
}

/// A green photosite of a cell.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Green {
    /// Its column, 0 or 1.
    column: usize,
    black: f32,
    scale: f32,
}

impl<'a> BayerGreens<'a> {
    /// A row of blocks; `None` for other patterns, and where black does not repeat with the pattern.
    pub(super) fn new(photosites: &Photosites<'a>, layout: Layout, block_y: usize) -> Option<Self> {
        if !matches!(layout, Layout::Bayer(_)) || !photosites.black_repeats_within(2) {
            return None;
        }
        let green = |y: usize| {
            let channels = photosites.channels(y);
            let column = channels.iter().position(|&channel| channel == 1)?;
            let levels = photosites.levels(y, 0, channels.len())?;
            Some(Green {
                column,
                black: levels.black[column],
                scale: levels.scales[column],
            })
        };
        let top = block_y * ACROSS;
        let rows = top..top + ACROSS;
        Some(Self {
            rows: rows
                .map(|y| photosites.counts(y, photosites.width()))
                .collect(),
            greens: [green(top)?, green(top + 1)?],
        })
    }

    /// The mean green of each cell of a block.
    pub(super) fn block(&self, block_x: usize) -> Block {
        let mut block = [[0.0; BLOCK]; BLOCK];
        mean_greens(&self.rows, block_x * ACROSS, &self.greens, &mut block);
        block
    }
}

row_kernel! {
    /// The mean green of cells of two photosites by two, from column `from` on.
    fn mean_greens(rows: &[&[u16]], from: usize, greens: &[Green; 2], block: &mut Block) {
        for (cells, rows) in block.iter_mut().zip(rows.as_chunks::<2>().0) {
            for (green, row) in greens.iter().zip(rows) {
                let counts = row[from..from + ACROSS].as_chunks::<2>().0;
                for (cell, pair) in cells.iter_mut().zip(counts) {
                    let count = if green.column == 0 { pair[0] } else { pair[1] };
                    *cell += (f32::from(count) - green.black) * green.scale;
                }
            }
            for cell in cells {
                *cell /= SITES as f32;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geometry::Rect;
    use crate::base::plane::Plane;
    use crate::light::sharpness::Greens;
    use crate::raw::frame::{BlackLevels, Mosaic};

    #[test]
    fn all_copies_of_the_kernel_are_one() {
        let counts: Vec<Vec<u16>> = (0..ACROSS)
            .map(|y| {
                (0..3 * ACROSS)
                    .map(|x| ((y * 7919 + x * 251) % 16_381) as u16)
                    .collect()
            })
            .collect();
        let rows: Vec<&[u16]> = counts.iter().map(Vec::as_slice).collect();
        let green = |column: usize| Green {
            column,
            black: 509.0 + column as f32,
            scale: 1.0 / 15_000.0,
        };
        for greens in [[green(0), green(1)], [green(1), green(0)]] {
            for from in [0, ACROSS, 2 * ACROSS] {
                let of = |kernel: fn(&[&[u16]], usize, &[Green; 2], &mut Block)| {
                    let mut block = [[0.0; BLOCK]; BLOCK];
                    kernel(&rows, from, &greens, &mut block);
                    block
                };
                let levels = mean_greens::levels();
                for (name, kernel) in &levels {
                    assert_eq!(of(*kernel), of(levels[0].1), "{name}");
                }
            }
        }
    }

    /// A block at a time is as the plain way, photosite by photosite, but for the rounding of single precision.
    #[test]
    fn blocks_are_as_the_plain_way_makes_them() {
        let (width, height) = (3 * ACROSS, 2 * ACROSS);
        for pattern in [[[0, 1], [1, 2]], [[1, 2], [0, 1]], [[1, 0], [2, 1]]] {
            let counts = (0..width * height).map(|at| (at * 7919 % 4001 + 90) as u16);
            let mosaic = Mosaic {
                counts: Plane::from_values(width, height, counts.collect()).expect("a full plane"),
                layout: Layout::Bayer(pattern),
                black: BlackLevels::flat(100.0, 1),
                white: [4100.0, 4200.0, 4300.0],
                crop: Rect {
                    left: 0,
                    top: 0,
                    width,
                    height,
                },
            };
            let photosites = Photosites::new(&mosaic);
            for block_y in 0..2 {
                let fast =
                    BayerGreens::new(&photosites, mosaic.layout, block_y).expect("a pattern");
                let plain = Greens::of(&photosites, 2, block_y * BLOCK, 3 * BLOCK);
                assert_eq!(plain.sites, SITES);
                for block_x in 0..3 {
                    let pairs = fast.block(block_x).into_iter().zip(plain.block(block_x));
                    for (fast, plain) in pairs.flat_map(|(fast, plain)| fast.into_iter().zip(plain))
                    {
                        assert!((fast - plain).abs() < 1e-6, "{fast} {plain}");
                    }
                }
            }
        }
    }
}
