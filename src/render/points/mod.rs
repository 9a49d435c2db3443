//! Point operations: what happens to a pixel without a look at its neighbours.
//!
//! A plan holds them as a list of plain numbers ([`PointOperation`]). The list folds: products of matrices become one
//! matrix, a gain goes into a matrix across everything that is indifferent to scale, what changes nothing is dropped. It
//! is then made ready once (tables, single precision) and run chunk by chunk of a row, so that all operations of a chunk
//! happen while it is in the first-level cache.
//!
//! Grey stays exactly grey through all of them: each is written as a value plus differences between channels.

pub(crate) mod hue_map;
pub(crate) mod matrix;
pub(crate) mod tone;

use crate::base::matrix::Matrix3;
use crate::colour::camera::HueMap;
use crate::colour::gamut::{Compression, Destination};
use crate::colour::spaces::{RgbSpace, SRGB};
use crate::colour::tint::SpaceTint;
use crate::look::correction::{Curve, Levels, RollOff, Tint};
use crate::render::develop::CHUNK;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// One operation on the three channels of a pixel.
#[derive(Clone, Debug, PartialEq)]
pub enum PointOperation {
    /// Negative channels become 0.
    CutNegative,
    /// A matrix on linear colour.
    Matrix {
        /// The matrix.
        matrix: Matrix3,
        /// What it does, in words.
        meaning: String,
    },
    /// A factor on all channels.
    Gain(f64),
    /// The body's own corrections by hue and saturation, on linear ROMM RGB.
    HueMap(HueMap),
    /// The guard against colours that no light has, on linear AP1.
    CompressGamut(Compression),
    /// Negative channels of this space's linear RGB brought inside.
    MapInto(RgbSpace),
    /// Bright colours go to white.
    RollOff {
        /// How far, and where.
        roll_off: RollOff,
        /// The space of the colours.
        space: RgbSpace,
    },
    /// Colours further from or nearer to grey, on linear sRGB.
    Saturate(f64),
    /// Levels and tone curve on the brightest channel, ratios of channels kept.
    Tone {
        /// Black, middle, white.
        levels: Levels,
        /// The curve.
        curve: Curve,
    },
    /// Shadows and highlights lean to a hue, on display light.
    Tint {
        /// The hues and how much of them.
        tint: Tint,
        /// The space of the colours.
        space: RgbSpace,
    },
}

impl PointOperation {
    /// Whether scaling a pixel before the operation equals scaling it after.
    fn is_indifferent_to_scale(&self) -> bool {
        matches!(
            self,
            Self::CutNegative
                | Self::Matrix { .. }
                | Self::Gain(_)
                | Self::HueMap(_)
                | Self::CompressGamut(_)
                | Self::MapInto(_)
                | Self::Saturate(_)
        )
    }

    /// Whether it changes nothing at all.
    fn is_identity(&self) -> bool {
        match self {
            Self::Gain(gain) => *gain == 1.0,
            Self::Matrix { matrix, .. } => *matrix == Matrix3::IDENTITY,
            Self::RollOff { roll_off, .. } => roll_off.amount == 0.0,
            Self::Saturate(factor) => *factor == 1.0,
            Self::Tint { tint, .. } => tint.is_neutral(),
            _ => false,
        }
    }
}

impl fmt::Display for PointOperation {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CutNegative => write!(to, "negative channels to 0"),
            Self::Matrix { matrix, meaning } => {
                let [r, g, b] = matrix
                    .0
                    .map(|row| format!("{:.4} {:.4} {:.4}", row[0], row[1], row[2]));
                write!(to, "matrix ({meaning}): {r} | {g} | {b}")
            }
            Self::HueMap(map) => {
                let (hues, saturations) = map.sides();
                write!(
                    to,
                    "the body's corrections in ROMM RGB: {hues} hues, {saturations} saturations"
                )
            }
            Self::CompressGamut(compression) => {
                let [c, m, y] = compression.limits();
                write!(
                    to,
                    "gamut guard in AP1: distances of cyan, magenta, yellow up to {c:.3}, {m:.3}, {y:.3}"
                )
            }
            Self::MapInto(space) => {
                write!(to, "map to {}: where a channel is negative", space.name())
            }
            Self::RollOff {
                roll_off: RollOff { amount, start, end },
                ..
            } => write!(
                to,
                "roll-off to white: {amount:.2} between {start:.2} and {end:.2} times diffuse white"
            ),
            Self::Saturate(factor) => write!(
                to,
                "saturation {factor:.3} in Oklab, less on what is saturated already"
            ),
            Self::Tint { tint, .. } => write!(
                to,
                "tint: shadows to {:.0} degrees by {:.2}, highlights to {:.0} degrees by {:.2}",
                tint.shadows.hue,
                tint.shadows.strength,
                tint.highlights.hue,
                tint.highlights.strength
            ),
            Self::Gain(gain) => write!(to, "gain {gain:.4} ({:+.2} stops)", gain.log2()),
            Self::Tone { levels, curve } => {
                write!(
                    to,
                    "levels on the brightest channel: black {:.4}, middle {:.3}, white {:.4}; curve: ",
                    levels.black, levels.middle, levels.white
                )?;
                match curve {
                    Curve::Straight => write!(to, "straight to 1"),
                    Curve::Shoulder { contrast, ceiling } => write!(
                        to,
                        "shoulder, contrast {contrast:.2}, {ceiling:.2} times diffuse white becomes display white"
                    ),
                }
            }
        }
    }
}

/// Folds a list: the same picture from fewer operations.
#[must_use]
pub fn fold(operations: Vec<PointOperation>) -> Vec<PointOperation> {
    let mut folded: Vec<PointOperation> = Vec::new();
    for operation in operations {
        match operation {
            identity if identity.is_identity() => {}
            PointOperation::Gain(gain) => fold_gain(&mut folded, gain),
            PointOperation::Matrix { matrix, meaning } => {
                if let Some(PointOperation::Matrix {
                    matrix: earlier,
                    meaning: earlier_meaning,
                }) = folded.last_mut()
                {
                    *earlier = matrix * *earlier;
                    *earlier_meaning = format!("{earlier_meaning}, {meaning}");
                } else {
                    folded.push(PointOperation::Matrix { matrix, meaning });
                }
            }
            other => folded.push(other),
        }
    }
    folded.retain(|operation| !operation.is_identity());
    folded
}

/// Puts a gain into the nearest earlier matrix that it can reach, or at the end.
fn fold_gain(folded: &mut Vec<PointOperation>, gain: f64) {
    let reachable = folded
        .iter()
        .rev()
        .take_while(|operation| operation.is_indifferent_to_scale())
        .position(|operation| matches!(operation, PointOperation::Matrix { .. }));
    let place = reachable.map(|from_the_end| folded.len() - 1 - from_the_end);
    if let Some(PointOperation::Matrix { matrix, meaning }) =
        place.and_then(|place| folded.get_mut(place))
    {
        *matrix = Matrix3::diagonal([gain; 3]) * *matrix;
        *meaning = format!("{meaning}, gain {gain:.4}");
    } else {
        folded.push(PointOperation::Gain(gain));
    }
}

/// Operations made ready to run: tables and single precision.
#[derive(Clone, Debug)]
pub struct Prepared(Vec<Ready>);

#[derive(Clone, Debug)]
enum Ready {
    Matrix(matrix::Ready),
    CutNegative,
    /// Both, one after the other.
    CutAndMatrix(matrix::Ready),
    Gain(f32),
    HueMap(HueMap),
    CompressGamut(Compression),
    MapInto(Arc<Destination>),
    RollOff(Arc<Destination>, [f32; 3]),
    Saturate(Arc<Destination>, f32),
    Tint(SpaceTint),
    Tone(tone::Ready),
}

/// Working memory of one chunk.
#[derive(Clone, Debug, Default)]
pub(crate) struct ChunkMemory {
    /// The pixels of the chunk that are counted when they are outside the space.
    pub(crate) counted: Range<usize>,
    /// How many were, so far.
    pub(crate) outside: u64,
}

impl Prepared {
    /// Makes a list ready.
    #[must_use]
    pub fn new(operations: &[PointOperation]) -> Self {
        let ready = |operation: &PointOperation| match operation {
            PointOperation::CutNegative => Ready::CutNegative,
            PointOperation::Matrix { matrix, .. } => Ready::Matrix(matrix::Ready::new(matrix)),
            PointOperation::Gain(gain) => Ready::Gain(*gain as f32),
            PointOperation::HueMap(map) => Ready::HueMap(map.clone()),
            PointOperation::CompressGamut(compression) => Ready::CompressGamut(*compression),
            PointOperation::MapInto(space) => Ready::MapInto(Destination::of(space)),
            PointOperation::RollOff {
                roll_off: RollOff { amount, start, end },
                space,
            } => Ready::RollOff(
                Destination::of(space),
                [*amount, *start, *end].map(|value| value as f32),
            ),
            PointOperation::Saturate(factor) => {
                Ready::Saturate(Destination::of(&SRGB), *factor as f32)
            }
            PointOperation::Tint { tint, space } => Ready::Tint(SpaceTint::new(tint, space)),
            PointOperation::Tone { levels, curve } => Ready::Tone(tone::Ready::new(levels, curve)),
        };
        let mut prepared: Vec<Ready> = Vec::new();
        for operation in operations {
            let next = match (prepared.last(), ready(operation)) {
                (Some(Ready::CutNegative), Ready::Matrix(matrix)) => {
                    prepared.pop();
                    Ready::CutAndMatrix(matrix)
                }
                (_, next) => next,
            };
            prepared.push(next);
        }
        Self(prepared)
    }

    /// Runs all operations on any number of pixels, given as red, green and blue of equal length.
    pub fn apply(&self, planes: [&mut [f32]; 3]) {
        let mut memory = ChunkMemory::default();
        let [red, green, blue] = planes;
        let chunks = red.chunks_mut(CHUNK).zip(green.chunks_mut(CHUNK));
        for ((red, green), blue) in chunks.zip(blue.chunks_mut(CHUNK)) {
            self.run([red, green, blue], &mut memory);
        }
    }

    /// Runs all operations on one chunk.
    pub(crate) fn run(&self, [red, green, blue]: [&mut [f32]; 3], memory: &mut ChunkMemory) {
        for operation in &self.0 {
            match operation {
                Ready::CutNegative => matrix::cut_negative(red, green, blue),
                Ready::Matrix(ready) => ready.run(red, green, blue),
                Ready::CutAndMatrix(ready) => ready.run_cut(red, green, blue),
                Ready::Gain(gain) => matrix::scale(*gain, red, green, blue),
                Ready::HueMap(map) => hue_map::correct_hues(map, red, green, blue),
                Ready::CompressGamut(compression) => compression.compress_row(red, green, blue),
                Ready::MapInto(destination) => {
                    let end = memory.counted.end.min(red.len());
                    let start = memory.counted.start.min(end);
                    let pieces = [(0..start, 0), (start..end, 1), (end..red.len(), 0)];
                    for (columns, is_counted) in pieces {
                        let outside = destination.map_row(
                            &mut red[columns.clone()],
                            &mut green[columns.clone()],
                            &mut blue[columns],
                        );
                        memory.outside += is_counted * u64::from(outside);
                    }
                }
                Ready::RollOff(destination, [amount, start, end]) => {
                    destination.roll_off_row([red, green, blue], *amount, *start, *end);
                }
                Ready::Saturate(destination, factor) => {
                    destination.saturate_row([red, green, blue], *factor);
                }
                Ready::Tint(tint) => tint.row(red, green, blue),
                Ready::Tone(ready) => ready.run(red, green, blue),
            }
        }
    }
}

#[cfg(test)]
mod tests;
