//! A decoded raw file in memory.

use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::colour::camera::CameraColour;
use crate::raw::facts::Facts;

/// One exposure, decoded, nothing corrected yet.
#[derive(Clone, Debug)]
pub struct Frame {
    /// When and how it was taken.
    pub facts: Facts,
    /// What the sensor counted.
    pub mosaic: Mosaic,
    /// How the body sees colour.
    pub colour: CameraColour,
    /// What the reader found odd and settled, for the frame's report: two sources that disagree, opcodes left out.
    pub notes: Vec<String>,
}

/// The counts of the sensor's active area, with the levels that give them a meaning.
#[derive(Clone, Debug)]
pub struct Mosaic {
    /// Counts of the active area. For [`Layout::Linear`] each row holds red, green and blue of each pixel in turn, so
    /// it is three times as wide as [`Mosaic::width`].
    pub counts: Plane<u16>,
    /// Which colour each photosite counts.
    pub layout: Layout,
    /// Counts of no light.
    pub black: BlackLevels,
    /// Counts of a full photosite for red, green, blue; above the black level.
    pub white: [f32; 3],
    /// The part of the active area that makes the picture (the default crop), in photosites of the active area.
    pub crop: Rect,
}

/// Colour of a photosite: index into red, green, blue.
pub type Channel = u8;

/// A 6 x 6 pattern as bodies have it, for tests.
#[cfg(test)]
pub(crate) const EXAMPLE_SIX_BY_SIX: [[Channel; 6]; 6] = [
    [1, 1, 0, 1, 1, 2],
    [1, 1, 2, 1, 1, 0],
    [2, 0, 1, 0, 2, 1],
    [1, 1, 2, 1, 1, 0],
    [1, 1, 0, 1, 1, 2],
    [0, 2, 1, 2, 0, 1],
];

/// Which colour each photosite counts, phases counted from the first photosite of the active area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    /// A 2 x 2 pattern with green on one diagonal: `pattern[row % 2][column % 2]`.
    Bayer([[Channel; 2]; 2]),
    /// A 6 x 6 pattern: `pattern[row % 6][column % 6]`.
    XTrans([[Channel; 6]; 6]),
    /// All three colours at each pixel.
    Linear,
}

/// Counts of no light: a small repeating pattern, with deviations by column and row where the file has them.
#[derive(Clone, Debug, PartialEq)]
pub struct BlackLevels {
    /// Rows of the pattern, at least 1.
    pub rows: usize,
    /// Columns of the pattern, at least 1.
    pub columns: usize,
    /// `rows * columns * channels` levels in counts, where channels is 3 for [`Layout::Linear`] and 1 otherwise.
    pub pattern: Vec<f32>,
    /// Added in each column of the active area; empty for none (DNG BlackLevelDeltaH).
    pub column_deviation: Vec<f32>,
    /// Added in each row of the active area; empty for none (DNG BlackLevelDeltaV).
    pub row_deviation: Vec<f32>,
}

impl BlackLevels {
    /// One level everywhere, for a layout with `channels` values a pixel.
    #[must_use]
    pub fn flat(level: f32, channels: usize) -> Self {
        let pattern = vec![level; channels];
        Self {
            rows: 1,
            columns: 1,
            pattern,
            column_deviation: Vec::new(),
            row_deviation: Vec::new(),
        }
    }

    /// The level at pixel column `x`, row `y`, value `channel` of the pixel (0 for a mosaic).
    #[must_use]
    pub fn at(&self, x: usize, y: usize, channel: usize) -> f32 {
        let channels = self.pattern.len() / (self.rows * self.columns);
        let cell = (y % self.rows) * self.columns + x % self.columns;
        self.pattern[cell * channels + channel]
            + self.column_deviation.get(x).copied().unwrap_or(0.0)
            + self.row_deviation.get(y).copied().unwrap_or(0.0)
    }
}

impl Mosaic {
    /// Pixels in a row of the active area.
    #[must_use]
    pub fn width(&self) -> usize {
        self.counts.width() / self.values_per_pixel()
    }

    /// Rows of the active area.
    #[must_use]
    pub fn height(&self) -> usize {
        self.counts.height()
    }

    /// 3 for [`Layout::Linear`], 1 for a mosaic.
    #[must_use]
    pub fn values_per_pixel(&self) -> usize {
        if self.layout == Layout::Linear { 3 } else { 1 }
    }

    /// The colour counted at column `x` of the counts plane, row `y`.
    #[must_use]
    pub fn channel_at(&self, x: usize, y: usize) -> usize {
        match &self.layout {
            Layout::Bayer(pattern) => usize::from(pattern[y % 2][x % 2]),
            Layout::XTrans(pattern) => usize::from(pattern[y % 6][x % 6]),
            Layout::Linear => x % 3,
        }
    }
}
