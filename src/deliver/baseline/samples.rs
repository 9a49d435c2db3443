//! From rows of bytes to luminance and colour differences, many blocks side by side.
//!
//! A vector holds one sample of many blocks: whatever is done to a block is then done to all of them without moving anything
//! across a vector. Bytes of one channel come that way by themselves, eight of a block in a word.

use super::LANES;
use super::transform::SIDE;
use crate::base::kernel::row_kernel;

/// Columns of a tile.
pub(super) const ACROSS: usize = LANES * SIDE;

/// Samples of blocks side by side: row of the block, column of the block, block.
pub(super) type Tile = [[[f32; LANES]; SIDE]; SIDE];

/// A tile without light.
pub(super) const EMPTY: Tile = [[[0.0; LANES]; SIDE]; SIDE];

row_kernel! {
    /// Pixels to a row of each channel.
    fn part(rgb: &[u8], red: &mut [u8], green: &mut [u8], blue: &mut [u8]) {
        let pixels = rgb.as_chunks::<3>().0.iter();
        for (((pixel, r), g), b) in pixels.zip(red).zip(green).zip(blue) {
            [*r, *g, *b] = *pixel;
        }
    }
}

row_kernel! {
    /// Luminance and both colour differences of eight rows of red, green and blue, all about zero: ITU-T T.871, 7, before rounding.
    fn separate(rows: &[[&[u8; ACROSS]; 3]; SIDE], tiles: &mut [Tile; 3]) {
        let [luminance, blueness, redness] = tiles;
        for (((row, y), cb), cr) in rows.iter().zip(luminance).zip(blueness).zip(redness) {
            let mut words = [[[0_i32; LANES]; 2]; 3];
            for (channel, [left, right]) in row.iter().zip(&mut words) {
                let blocks = channel.as_chunks::<SIDE>().0.iter();
                for ((block, left), right) in blocks.zip(left).zip(right) {
                    let word = u64::from_le_bytes(*block).cast_signed();
                    [*left, *right] = halves(word);
                }
            }
            let [red, green, blue] = &words;
            for column in 0..SIDE {
                let (half, shift) = (column / 4, 8 * (column % 4));
                let (red, green, blue) = (&red[half], &green[half], &blue[half]);
                let (y, cb, cr) = (&mut y[column], &mut cb[column], &mut cr[column]);
                for i in 0..LANES {
                    let [r, g, b] = [red[i], green[i], blue[i]].map(|word| (word >> shift & 255) as f32);
                    y[i] = 0.299 * r + 0.587 * g + 0.114 * b - 128.0;
                    cb[i] = -0.168_735_9 * r - 0.331_264_1 * g + 0.5 * b;
                    cr[i] = 0.5 * r - 0.418_687_6 * g - 0.081_312_41 * b;
                }
            }
        }
    }
}

/// The lower and the upper half of a word.
#[inline(always)]
#[expect(clippy::cast_possible_truncation, reason = "the lower half is meant")]
fn halves(word: i64) -> [i32; 2] {
    [word as i32, (word >> 32) as i32]
}

row_kernel! {
    /// Four samples become one: a tile of a fine component makes a quarter of a coarse one, in rows from `first_row` and in blocks
    /// from `first_block` on.
    fn quarter(fine: &Tile, first_row: usize, first_block: usize, coarse: &mut Tile) {
        for (rows, row) in fine.as_chunks::<2>().0.iter().zip(&mut coarse[first_row..]) {
            for (column, samples) in row.iter_mut().enumerate() {
                // A block of the coarse component stands on two of the fine one, four of its columns on each.
                let (block, left) = (column / 4, column % 4 * 2);
                let [upper, lower] = rows.each_ref().map(|row| [&row[left], &row[left + 1]]);
                for (at, mean) in samples[first_block..][..LANES / 2].iter_mut().enumerate() {
                    let from = 2 * at + block;
                    *mean = 0.25 * (upper[0][from] + upper[1][from]) + 0.25 * (lower[0][from] + lower[1][from]);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::hold_together;

    fn channel(seed: usize) -> [u8; ACROSS] {
        std::array::from_fn(|x| ((x * 89 + seed * 41) % 256) as u8)
    }

    fn separated(
        kernel: fn(&[[&[u8; ACROSS]; 3]; SIDE], &mut [Tile; 3]),
        seed: usize,
    ) -> [Tile; 3] {
        let bytes: [[[u8; ACROSS]; 3]; SIDE] =
            std::array::from_fn(|y| [1, 2, 3].map(|c| channel(seed + 5 * y + c)));
        let rows = bytes.each_ref().map(|row| row.each_ref());
        let mut tiles = [EMPTY; 3];
        kernel(&rows, &mut tiles);
        tiles
    }

    #[test]
    fn colours_are_separated_as_the_standard_says() {
        // T.871, 7: white, black, and corners of the cube, one in each column of a block.
        let corners = [
            ([255, 255, 255], [127.0, 0.0, 0.0]),
            ([0, 0, 0], [-128.0, 0.0, 0.0]),
            ([255, 0, 0], [-51.755, -43.027_65, 127.5]),
            ([0, 0, 255], [-98.93, 127.5, -20.734_66]),
        ];
        let channels: [[u8; ACROSS]; 3] =
            std::array::from_fn(|c| std::array::from_fn(|x| corners[x % 4].0[c]));
        let mut tiles = [EMPTY; 3];
        separate(&[channels.each_ref(); SIDE], &mut tiles);
        for (tile, component) in tiles.iter().zip(0..) {
            for (column, samples) in tile.as_flattened().iter().enumerate() {
                let expected = corners[column % 4].1[component];
                assert!(
                    samples
                        .iter()
                        .all(|found: &f32| (found - expected).abs() < 1e-3)
                );
            }
        }
    }

    #[test]
    fn a_sample_comes_from_its_pixel() {
        let tiles = separated(separate, 4);
        for (y, row) in tiles[0].iter().enumerate() {
            let [red, green, blue] = [1, 2, 3].map(|c| channel(4 + 5 * y + c));
            for x in 0..ACROSS {
                let [r, g, b] = [red[x], green[x], blue[x]].map(f64::from);
                let exact = 0.299 * r + 0.587 * g + 0.114 * b - 128.0;
                assert!((f64::from(row[x % SIDE][x / SIDE]) - exact).abs() < 1e-3);
            }
        }
    }

    #[test]
    fn a_coarse_sample_is_the_mean_of_four() {
        let [fine, ..] = separated(separate, 9);
        let mut coarse = EMPTY;
        quarter(&fine, 4, LANES / 2, &mut coarse);
        for y in 0..SIDE / 2 {
            for x in 0..ACROSS / 2 {
                let sample = |dx: usize, dy: usize| {
                    let x = 2 * x + dx;
                    f64::from(fine[2 * y + dy][x % SIDE][x / SIDE])
                };
                let exact = (sample(0, 0) + sample(1, 0) + sample(0, 1) + sample(1, 1)) / 4.0;
                let found = coarse[4 + y][x % SIDE][LANES / 2 + x / SIDE];
                assert!((f64::from(found) - exact).abs() < 1e-4, "{x} {y}");
            }
        }
        assert_eq!(coarse[..4], EMPTY[..4]);
    }

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&part::levels(), |part, length| {
            let rgb: Vec<u8> = (0..3 * length).map(|at| (at * 89 % 256) as u8).collect();
            let mut rows = [const { Vec::new() }; 3];
            rows.fill(vec![0; length]);
            let [red, green, blue] = &mut rows;
            part(&rgb, red, green, blue);
            rows.concat().into_iter().map(f32::from).collect()
        });
        hold_together(&separate::levels(), |separate, seed| {
            separated(separate, seed)
                .as_flattened()
                .as_flattened()
                .as_flattened()
                .to_vec()
        });
        hold_together(&quarter::levels(), |quarter, seed| {
            let [fine, ..] = separated(separate, seed);
            let mut coarse = EMPTY;
            quarter(&fine, 0, 0, &mut coarse);
            quarter(&fine, 4, LANES / 2, &mut coarse);
            coarse.as_flattened().as_flattened().to_vec()
        });
    }
}
