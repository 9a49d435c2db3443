//! Demosaic: from one colour a photosite to three colours a pixel.
//!
//! Each method is a row function: a few rows of white-balanced sensor light in, one row of red, green, blue out. Who
//! keeps those rows, and in which bands, is none of a method's business (`crate::render::develop` does that). Rows and
//! columns beyond the border are mirrored: on the border photosite in a pattern of period two, whose phase that keeps, and
//! on the outermost line of symmetry in the 6 x 6 pattern.
//!
//! Grey light gives equal colours exactly: missing colours are what was counted plus differences, and those are 0. What was
//! counted comes through to the last bit.

pub mod directional;
#[cfg(test)]
mod figures;
pub(crate) mod half;
pub(crate) mod root;
pub(crate) mod xtrans;

use crate::raw::frame::Channel;
use directional::Tuning;
use std::fmt;

/// How three colours a pixel are made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Method {
    /// Differences from green in four directions, weighed by how little they change.
    Directional(Tuning),
    /// Two by two photosites make one pixel: red, the mean of both greens, blue. Half the size.
    HalfSize,
    /// For the 6 x 6 pattern: green by direction, red and blue from it, and both once more.
    XTrans {
        /// Offset of the root's domain, in light.
        offset: f32,
    },
    /// Nothing to do: the file has three colours a pixel.
    Linear,
}

impl Method {
    /// Rows of the sensor beyond a pixel's own that the method looks at.
    #[must_use]
    pub fn reach(self) -> usize {
        match self {
            Self::Directional(_) => directional::REACH,
            Self::XTrans { .. } => xtrans::REACH,
            // Its own two rows and columns; the last of an odd number is paired with the one before it.
            Self::HalfSize => half::REACH,
            Self::Linear => 0,
        }
    }

    /// Columns of the sensor beyond a pixel's own that the method asks for.
    #[must_use]
    pub fn columns_reach(self) -> usize {
        match self {
            Self::Directional(_) => directional::COLUMNS_REACH,
            other => other.reach(),
        }
    }

    /// Photosites along one side that make one pixel.
    #[must_use]
    pub fn reduction(self) -> usize {
        if self == Self::HalfSize { 2 } else { 1 }
    }
}

impl fmt::Display for Method {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Directional(tuning) => tuning.fmt(to),
            Self::HalfSize => to.write_str("two by two photosites a pixel"),
            Self::XTrans { offset } => write!(
                to,
                "6 x 6 pattern by direction in three passes, in roots of light plus {offset:.5}"
            ),
            Self::Linear => to.write_str("none needed"),
        }
    }
}

/// What a Bayer row holds: the colour that is not green, and where green stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct BayerRow {
    /// 0 when the row's other colour is red, 2 when it is blue.
    pub(crate) colour: usize,
    /// Parity (0 or 1) of the columns with green.
    pub(crate) green: usize,
}

impl BayerRow {
    /// Row `y` of a pattern, with columns counted from `first_column`.
    pub(crate) fn of(pattern: &[[Channel; 2]; 2], y: usize, first_column: usize) -> Self {
        let row = pattern[y % 2];
        let green = usize::from(row[0] != 1);
        Self {
            colour: usize::from(row[1 - green]),
            green: (green + first_column) % 2,
        }
    }
}
