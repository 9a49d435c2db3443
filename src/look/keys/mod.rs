//! Keys of a venue, by name: the follow spot, the front wash. A look remembers them, so that another night's cues are
//! known by what the light makes of the things on stage.
//!
//! What is remembered is a [`KeyMemory`]: some hundred colours with their weights. In a look file it stands as two texts
//! of numbers, short enough to be looked at, and rounded when a key is remembered, so that what is written is exactly
//! what was carried.

mod read;
mod write;

pub(super) use read::read;
pub(super) use write::write;

use crate::base::units::{Chromaticity, Stops};
use crate::light::sheet::KeyMemory;
use serde::Serialize;

/// A key that a look remembers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Key {
    /// What people call it.
    pub name: String,
    /// Its white.
    pub white: Chromaticity,
    /// How much brighter than the reference's key, exposure settings evened out; `None` when nothing told it.
    pub level: Option<Stops>,
    /// How it is recognised.
    pub memory: KeyMemory,
}

/// Most keys of one look, colours and surfaces of one key: a look file stays a few dozen kilobytes, and a venue has
/// three or four keys.
pub const MOST_KEYS: usize = 16;
/// See [`MOST_KEYS`].
pub const MOST_ENTRIES: usize = 240;

/// Decimal places of colours and levels (natural logarithms: 0.001 is a tenth of a per cent), and significant digits of
/// weights.
const PLACES: usize = 3;
const DIGITS: usize = 3;

impl Key {
    /// A key whose memory is rounded and cut to what a file holds, the weightiest first.
    #[must_use]
    pub fn new(
        name: String,
        white: Chromaticity,
        level: Option<Stops>,
        memory: &KeyMemory,
    ) -> Self {
        let mut palette: Vec<_> = memory
            .palette
            .iter()
            .map(|(colour, weight)| (colour.map(rounded), significant(*weight)))
            .filter(|(colour, weight)| is_finite(colour) && *weight > 0.0 && weight.is_finite())
            .collect();
        palette.sort_by(|a, b| b.1.total_cmp(&a.1));
        palette.truncate(MOST_ENTRIES);
        let mut surfaces: Vec<_> = memory
            .surfaces
            .iter()
            .map(|(colour, level, share)| {
                (colour.map(rounded), rounded(*level), significant(*share))
            })
            .filter(|(colour, level, share)| {
                is_finite(colour) && level.is_finite() && *share > 0.0 && share.is_finite()
            })
            .collect();
        surfaces.sort_by(|a, b| b.2.total_cmp(&a.2));
        surfaces.truncate(MOST_ENTRIES);
        Self {
            name,
            white,
            level,
            memory: KeyMemory { palette, surfaces },
        }
    }
}

fn is_finite(colour: &[f64; 2]) -> bool {
    colour.iter().all(|value| value.is_finite())
}

/// As it is written. Through text, so that both agree to the bit.
fn rounded(value: f64) -> f64 {
    format!("{value:.PLACES$}").parse().unwrap_or(f64::NAN)
}

fn significant(value: f64) -> f64 {
    format!("{value:.DIGITS$e}").parse().unwrap_or(f64::NAN)
}
