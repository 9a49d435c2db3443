//! The picture part of a mosaic as fractions of the sensor's range, row by row, whatever the layout.
//!
//! One place subtracts black and divides by the range, so that patches, tiles and noise agree on what a count means.

use crate::base::geometry::Rect;
use crate::raw::frame::{Layout, Mosaic};

/// A channel at or above this fraction of its range counts as clipped: sensors leave the straight line shortly below the
/// white level, and white levels are known to a few per cent only (common practice, no source).
pub(crate) const CLIPPED: f32 = 0.97;

/// Reads rows of the picture part of a mosaic as fractions of range.
pub(crate) struct Photosites<'a> {
    mosaic: &'a Mosaic,
    crop: Rect,
    values: usize,
}

impl<'a> Photosites<'a> {
    /// The default crop of a mosaic; where the crop does not fit the counts, all of them.
    pub(crate) fn new(mosaic: &'a Mosaic) -> Self {
        let crop = if mosaic.crop.fits(mosaic.width(), mosaic.height()) {
            mosaic.crop
        } else {
            whole(mosaic)
        };
        Self::of(mosaic, crop)
    }

    /// All of the active area.
    pub(crate) fn of_active_area(mosaic: &'a Mosaic) -> Self {
        Self::of(mosaic, whole(mosaic))
    }

    fn of(mosaic: &'a Mosaic, crop: Rect) -> Self {
        Self {
            mosaic,
            crop,
            values: mosaic.values_per_pixel(),
        }
    }

    /// Pixels in a row of the picture.
    pub(crate) fn width(&self) -> usize {
        self.crop.width
    }

    /// Rows of the picture.
    pub(crate) fn height(&self) -> usize {
        self.crop.height
    }

    /// Values at each pixel: 3 for a linear picture, 1 for a mosaic.
    pub(crate) fn values_per_pixel(&self) -> usize {
        self.values
    }

    /// Least common side of the colour pattern in pixels: 1, 2 or 6.
    pub(crate) fn period(&self) -> usize {
        match self.mosaic.layout {
            Layout::Linear => 1,
            Layout::Bayer(_) => 2,
            Layout::XTrans(_) => 6,
        }
    }

    /// Channels of the values of row `y` (of the picture), one period of the pattern times values per pixel, beginning
    /// at the picture's first column.
    pub(crate) fn channels(&self, y: usize) -> Vec<usize> {
        (0..self.period() * self.values)
            .map(|value| {
                self.mosaic
                    .channel_at(self.crop.left * self.values + value, self.crop.top + y)
            })
            .collect()
    }

    /// The counts of row `y` of the picture, from its first pixel; as many values as are asked for.
    pub(crate) fn counts(&self, y: usize, values: usize) -> &'a [u16] {
        let row = self.mosaic.counts.row(self.crop.top + y);
        &row[self.crop.left * self.values..][..values]
    }

    /// Whether the levels of black repeat with every so many rows and columns of the picture.
    pub(crate) fn black_repeats_within(&self, period: usize) -> bool {
        let black = &self.mosaic.black;
        black.row_deviation.is_empty()
            && black.column_deviation.is_empty()
            && period.is_multiple_of(black.rows)
            && period.is_multiple_of(black.columns)
    }

    /// What the counts of row `y` mean from pixel column `from` on: whole repeats, so many that from each value of the first at least
    /// `least` follow. `None` where columns deviate one by one.
    pub(crate) fn levels(&self, y: usize, from: usize, least: usize) -> Option<Levels> {
        let (values, black) = (self.values, &self.mosaic.black);
        if !black.column_deviation.is_empty() {
            return None;
        }
        let (sensor_y, first) = (self.crop.top + y, self.crop.left + from);
        let channels = self.channels(y);
        let shift = (from % self.period()) * values;
        let repeat = black.columns * self.period() * values;
        let (levels, scales): (Vec<f32>, Vec<f32>) = (0..repeat)
            .map(|at| {
                let level = black.at(first + at / values, sensor_y, at % values);
                let channel = channels[(shift + at) % channels.len()];
                (level, 1.0 / (self.mosaic.white[channel] - level))
            })
            .unzip();
        let repeats = least.div_ceil(repeat) + 1;
        Some(Levels {
            repeat,
            black: levels.repeat(repeats),
            scales: scales.repeat(repeats),
        })
    }

    /// Row `y` of the picture between pixel columns `from` and `to`, as fractions of range, into `row` (its values are
    /// replaced). A count of no light is near 0, a full photosite 1 or a little above.
    pub(crate) fn fractions(&self, y: usize, from: usize, to: usize, row: &mut Vec<f32>) {
        let (values, mosaic) = (self.values, self.mosaic);
        let (sensor_y, first) = (self.crop.top + y, self.crop.left + from);
        let counts = &mosaic.counts.row(sensor_y)[first * values..(self.crop.left + to) * values];
        // The same few numbers repeat along a row unless columns deviate one by one.
        if let Some(levels) = self.levels(y, from, LONG_ENOUGH) {
            row.resize(counts.len(), 0.0);
            scaled(counts, &levels.black, &levels.scales, row);
        } else {
            let channels = self.channels(y);
            let shift = (from % self.period()) * values;
            row.clear();
            row.extend(counts.iter().enumerate().map(|(at, &count)| {
                let level = mosaic.black.at(first + at / values, sensor_y, at % values);
                let channel = channels[(shift + at) % channels.len()];
                (f32::from(count) - level) / (mosaic.white[channel] - level)
            }));
        }
    }
}

/// What counts mean along a row: `(count - black) * scale` is a fraction of the sensor's range.
pub(crate) struct Levels {
    /// The number of values after which they repeat.
    pub(crate) repeat: usize,
    /// Counts of no light.
    pub(crate) black: Vec<f32>,
    /// Fractions of range that one count more is.
    pub(crate) scales: Vec<f32>,
}

/// Photosites whose levels are repeated along a row: enough that the ends of vectors do not count.
const LONG_ENOUGH: usize = 128;

/// Counts less their levels, times their scales, which repeat together along the row.
#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw",
    "x86_64+avx2",
    "aarch64+neon"
))]
fn scaled(counts: &[u16], levels: &[f32], scales: &[f32], row: &mut [f32]) {
    for (row, counts) in row
        .chunks_mut(levels.len())
        .zip(counts.chunks(levels.len()))
    {
        let known = levels.iter().zip(scales);
        for ((value, &count), (level, scale)) in row.iter_mut().zip(counts).zip(known) {
            *value = (f32::from(count) - level) * scale;
        }
    }
}

fn whole(mosaic: &Mosaic) -> Rect {
    Rect {
        left: 0,
        top: 0,
        width: mosaic.width(),
        height: mosaic.height(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::Plane;
    use crate::raw::frame::BlackLevels;

    #[test]
    fn the_repeating_rows_equal_the_value_by_value_ones() {
        // Longer than two of the repeats, and no whole number of them.
        let (width, height) = (301, 7);
        let counts: Vec<u16> = (0..width * height)
            .map(|at| (at * 251 % 4093) as u16)
            .collect();
        let mut mosaic = Mosaic {
            counts: Plane::from_values(width, height, counts).expect("sizes fit"),
            layout: Layout::Bayer([[0, 1], [1, 2]]),
            black: BlackLevels {
                rows: 2,
                columns: 3,
                pattern: vec![60.0, 61.0, 62.0, 70.0, 71.0, 72.0],
                column_deviation: Vec::new(),
                row_deviation: Vec::new(),
            },
            white: [4000.0, 4050.0, 3900.0],
            crop: Rect {
                left: 1,
                top: 1,
                width: 300,
                height: 5,
            },
        };
        let read = |mosaic: &Mosaic| {
            let photosites = Photosites::new(mosaic);
            let mut all = Vec::new();
            let mut row = Vec::new();
            for y in 0..photosites.height() {
                for from in 0..4 {
                    photosites.fractions(y, from, photosites.width(), &mut row);
                    all.extend_from_slice(&row);
                }
            }
            all
        };
        let fast = read(&mosaic);
        mosaic.black.column_deviation = vec![0.0; width];
        let plain = read(&mosaic);
        for (fast, plain) in fast.iter().zip(&plain) {
            // A product with a reciprocal against a quotient: a few units in the last place.
            assert!((fast - plain).abs() < 1e-6);
        }
    }
}
