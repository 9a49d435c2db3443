//! A frame in small: tiles of camera RGB, averaged over photosites of each colour.
//!
//! Light is read from these tiles, about 450 across, never from single photosites: noise falls with the tile's area, and
//! everything after is independent of the size and the filter pattern of the sensor. Values are black-subtracted
//! fractions of the sensor's range, before any matrix and any white balance. Tiles lie as the picture is stored; nothing
//! here needs to know which side is up.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

mod counts;

use crate::base::plane::Plane;
use crate::light::reduce::counts::CountedTiles;
use crate::raw::frame::Mosaic;
use crate::raw::noise::{self, NoiseModel};
use crate::raw::photosites::{CLIPPED, Photosites};

/// Tiles across the picture that are aimed at.
const TILES_ACROSS: f64 = 450.0;
/// Of tiles at least this many periods of the pattern high, only every other period's rows are read: what is left holds dozens of
/// photosites of each colour, and reading rows is what metering a large frame costs.
const TALL: usize = 4;

/// A frame in small.
#[derive(Clone, Debug)]
pub struct Reduced {
    /// Mean camera RGB of each tile, fractions of range.
    pub colour: Plane<[f64; 3]>,
    /// Share of each tile, 0 to 1, in which the most clipped channel is clipped.
    pub clipped: Plane<f32>,
    /// The noise of one photosite.
    pub noise: NoiseModel,
    /// Photosites of each colour in a tile, on average.
    pub sites: [f64; 3],
}

impl Reduced {
    /// Variance of the noise of a tile's mean, per channel.
    #[must_use]
    pub fn noise_variance(&self, colour: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|channel| self.noise.variance(colour[channel]) / self.sites[channel])
    }

    /// Tiles in all.
    #[must_use]
    pub fn len(&self) -> usize {
        self.colour.values().len()
    }

    /// Whether the picture is too small for a single tile.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Averages squares of `factor` x `factor` tiles; what does not fill a square at the right and lower edge is left
    /// out.
    #[must_use]
    pub fn coarser(&self, factor: usize) -> Self {
        let (width, height) = (self.colour.width() / factor, self.colour.height() / factor);
        let mut colour = Plane::filled(width, height, [0.0; 3]);
        let mut clipped = Plane::filled(width, height, 0.0_f32);
        let area = (factor * factor) as f64;
        for y in 0..height * factor {
            for x in 0..width * factor {
                let at = y / factor * width + x / factor;
                for (sum, value) in colour.values_mut()[at].iter_mut().zip(self.colour.at(x, y)) {
                    *sum += value / area;
                }
                clipped.values_mut()[at] += self.clipped.at(x, y) / area as f32;
            }
        }
        Self {
            colour,
            clipped,
            noise: self.noise,
            sites: self.sites.map(|sites| sites * area),
        }
    }
}

/// Share of the picture's width and height that its tiles cover, from the left and top: what does not fill a tile at the
/// right and lower edge is left out.
#[must_use]
pub fn covered(mosaic: &Mosaic) -> (f64, f64) {
    let photosites = Photosites::new(mosaic);
    let (width, height) = (photosites.width(), photosites.height());
    let side = tile_side(width, photosites.period());
    let whole = |length: usize| (length / side * side) as f64 / length.max(1) as f64;
    (whole(width), whole(height))
}

/// Reduces the picture part of a mosaic and measures its noise.
#[must_use]
pub fn reduce(mosaic: &Mosaic) -> Reduced {
    let photosites = Photosites::new(mosaic);
    let side = tile_side(photosites.width(), photosites.period());
    let (columns, rows) = (photosites.width() / side, photosites.height() / side);
    let mut colour = Plane::filled(columns, rows, [0.0; 3]);
    let mut clipped = Plane::filled(columns, rows, 0.0_f32);
    let mut tiles = vec![Tile::default(); columns];
    let mut sites = [0.0; 3];
    let mut counted = CountedTiles::new(&photosites, side, columns);
    for tile_y in 0..rows {
        let count = match &mut counted {
            Some(counted) => counted.sum(tile_y, &mut tiles),
            None => sum_fractions(&photosites, side, tile_y, &mut tiles),
        };
        sites = count.map(|count| f64::from(count.max(1)));
        let parts = sites.map(f64::recip);
        let shown = colour.row_mut(tile_y).iter_mut();
        let shown = shown.zip(clipped.row_mut(tile_y));
        for ((colour, clipped), tile) in shown.zip(&tiles) {
            *colour = [0, 1, 2].map(|c| tile.sum[c] * parts[c]);
            *clipped = (0..3)
                .map(|c| tile.clipped[c] as f32 / sites[c] as f32)
                .fold(0.0, f32::max);
        }
    }
    Reduced {
        colour,
        clipped,
        noise: noise::measure(mosaic),
        sites,
    }
}

/// The rows of a row of tiles that are read.
fn rows_of(tile_y: usize, side: usize, period: usize) -> impl Iterator<Item = usize> {
    let skip = if side / period >= TALL { 2 } else { 1 };
    let top = tile_y * side;
    (0..side)
        .filter(move |y| (y / period).is_multiple_of(skip))
        .map(move |y| top + y)
}

/// Sums a row of tiles, photosite by photosite. Returns the number of photosites of each colour in a tile.
fn sum_fractions(
    photosites: &Photosites,
    side: usize,
    tile_y: usize,
    tiles: &mut [Tile],
) -> [u32; 3] {
    let values = side * photosites.values_per_pixel();
    let (mut row, mut count) = (Vec::new(), [0; 3]);
    tiles.fill(Tile::default());
    for y in rows_of(tile_y, side, photosites.period()) {
        photosites.fractions(y, 0, tiles.len() * side, &mut row);
        let channels = photosites.channels(y);
        for (place, &channel) in channels.iter().enumerate() {
            count[channel] += (values / channels.len()) as u32;
            for (tile, row) in tiles.iter_mut().zip(row.chunks_exact(values)) {
                for value in row.iter().skip(place).step_by(channels.len()) {
                    tile.sum[channel] += f64::from(*value);
                    tile.clipped[channel] += u32::from(*value >= CLIPPED);
                }
            }
        }
    }
    count
}

/// Side of a tile in pixels: whole periods of the colour pattern, at least one.
fn tile_side(width: usize, period: usize) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small positive number"
    )]
    let periods = (width as f64 / TILES_ACROSS / period as f64)
        .round()
        .max(1.0) as usize;
    periods * period
}

/// Sums over the photosites of one tile: fractions of range, and numbers of clipped photosites.
#[derive(Clone, Copy, Debug, Default)]
struct Tile {
    sum: [f64; 3],
    clipped: [u32; 3],
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geometry::Rect;
    use crate::raw::frame::{BlackLevels, EXAMPLE_SIX_BY_SIX, Layout};

    fn flat(layout: Layout, width: usize, height: usize) -> Mosaic {
        let values = if layout == Layout::Linear { 3 } else { 1 };
        let mut mosaic = Mosaic {
            counts: Plane::filled(width * values, height, 0),
            layout,
            black: BlackLevels::flat(100.0, values),
            white: [1100.0, 2100.0, 4100.0],
            crop: Rect {
                left: 0,
                top: 0,
                width,
                height,
            },
        };
        for y in 0..height {
            for x in 0..width * values {
                let count = [350, 1100, 3100][mosaic.channel_at(x, y)];
                mosaic.counts.row_mut(y)[x] = count;
            }
        }
        mosaic
    }

    #[test]
    fn a_flat_frame_stays_flat_in_every_layout_and_size() {
        let layouts = [
            Layout::Bayer([[0, 1], [1, 2]]),
            Layout::Bayer([[1, 2], [0, 1]]),
            Layout::XTrans(EXAMPLE_SIX_BY_SIX),
            Layout::Linear,
        ];
        // One pixel, one period of each pattern, odd sizes, and one large enough for tiles of several periods.
        for (width, height) in [(1, 1), (2, 2), (6, 6), (7, 13), (2701, 31)] {
            for layout in layouts {
                let reduced = reduce(&flat(layout, width, height));
                for colour in reduced.colour.values() {
                    for (value, expected) in colour.iter().zip([0.25, 0.5, 0.75]) {
                        // Single precision sums of up to 216 values.
                        assert!(
                            (value - expected).abs() < 1e-5,
                            "{layout:?} {width}x{height}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_clipped_channel_shows_in_its_tiles_only() {
        let mut mosaic = flat(Layout::Bayer([[0, 1], [1, 2]]), 8, 4);
        mosaic.counts.row_mut(0)[0] = 1100;
        let reduced = reduce(&mosaic);
        assert_eq!(reduced.clipped.at(0, 0), 1.0);
        assert!(
            reduced.clipped.values()[1..]
                .iter()
                .all(|&share| share == 0.0)
        );
    }
}
