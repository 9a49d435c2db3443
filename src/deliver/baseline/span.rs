//! A span: the blocks of a band that are transformed side by side and then coded, while they are in the first cache.

use super::LANES;
use super::entropy::{Codes, End};
use super::group::Group;
use super::samples::{ACROSS, EMPTY, Tile, quarter, separate};
use super::scan::Scan;
use super::tables::COEFFICIENTS;
use super::transform::{SIDE, Transform, quantise};
use crate::deliver::wish::ChromaSampling;
use std::ops::Range;

/// Most rows of a band.
pub(super) const MOST_ROWS: usize = 2 * SIDE;

/// Most groups of a span: four of luminance, two of colour differences.
const GROUPS: usize = 6;

/// Works on spans, one after the other.
#[derive(Debug)]
pub(super) struct Span {
    sampling: ChromaSampling,
    /// Of luminance, and of colour differences.
    transforms: [Transform; 2],
    codes: [Codes; 2],
    work: Box<Work>,
    /// First coefficient of each component's block coded last.
    before: [i16; 3],
    pub(super) scan: Scan,
}

/// What a span is made in.
#[derive(Debug)]
struct Work {
    tiles: [Tile; 3],
    /// The colour differences of a span, when four pixels have one.
    coarse: [Tile; 2],
    groups: [Group; GROUPS],
}

impl Span {
    /// For quantisation tables, rows of the block, of luminance and of colour differences.
    pub(super) fn new(sampling: ChromaSampling, steps: &[[u8; COEFFICIENTS]; 2]) -> Self {
        Self {
            sampling,
            transforms: steps.each_ref().map(Transform::new),
            codes: [Codes::new(0), Codes::new(1)],
            work: Box::new(Work {
                tiles: [EMPTY; 3],
                coarse: [EMPTY; 2],
                groups: [Group::EMPTY; GROUPS],
            }),
            before: [0; 3],
            scan: Scan::default(),
        }
    }

    /// Columns of the picture.
    pub(super) fn width(&self) -> usize {
        LANES * self.unit_side()
    }

    /// Rows of the picture.
    pub(super) fn height(&self) -> usize {
        self.unit_side()
    }

    /// Pixels on a side of a unit of the scan.
    fn unit_side(&self) -> usize {
        match self.sampling {
            ChromaSampling::Full => SIDE,
            ChromaSampling::Quarter => 2 * SIDE,
        }
    }

    /// Codes these columns of a band, span by span; its rows have `width` of them.
    pub(super) fn code_columns(
        &mut self,
        rows: &[[&[u8]; 3]],
        columns: Range<usize>,
        width: usize,
    ) {
        for left in columns.step_by(self.width()) {
            self.code(rows, left, width - left);
        }
    }

    /// Codes the columns of a band from `left` on, up to `width` of them.
    fn code(&mut self, rows: &[[&[u8]; 3]], left: usize, width: usize) {
        let units = width.div_ceil(self.unit_side()).min(LANES);
        let Work {
            tiles,
            coarse,
            groups,
        } = &mut *self.work;
        let [of_luminance, of_colour] = &self.transforms;
        match self.sampling {
            ChromaSampling::Full => {
                separate(&bytes(rows, left), tiles);
                let transforms = [of_luminance, of_colour, of_colour];
                for ((tile, transform), group) in tiles.iter_mut().zip(transforms).zip(&mut *groups)
                {
                    quantise(tile, transform, group);
                }
            }
            ChromaSampling::Quarter => {
                let [luminance @ .., blue, red] = &mut *groups;
                for (at, group) in luminance.iter_mut().enumerate() {
                    let (down, across) = (at / 2, at % 2);
                    separate(&bytes(&rows[down * SIDE..], left + across * ACROSS), tiles);
                    let [y, fine @ ..] = &mut *tiles;
                    quantise(y, of_luminance, group);
                    for (fine, coarse) in fine.iter().zip(&mut *coarse) {
                        quarter(fine, down * SIDE / 2, across * LANES / 2, coarse);
                    }
                }
                for (tile, group) in coarse.iter_mut().zip([blue, red]) {
                    quantise(tile, of_colour, group);
                }
            }
        }
        code_units(
            self.sampling,
            units,
            groups,
            &mut self.before,
            &self.codes,
            &mut self.scan,
        );
    }
}

/// The bytes of a tile: eight rows of columns from `left` on. Beyond what there is stands black, which is never asked for.
fn bytes<'a>(rows: &[[&'a [u8]; 3]], left: usize) -> [[&'a [u8; ACROSS]; 3]; SIDE] {
    const BLACK: &[u8; ACROSS] = &[0; ACROSS];
    let part = |row: usize, channel: usize| {
        let part = rows
            .get(row)
            .and_then(|row| row[channel].get(left..)?.first_chunk());
        part.unwrap_or(BLACK)
    };
    std::array::from_fn(|row| std::array::from_fn(|channel| part(row, channel)))
}

/// The blocks of a span in the order of a scan (T.81, A.2.3): unit by unit, in each every component's blocks, from the left and from
/// the top. Each component's blocks have their own place in the program: a machine guesses better then where one ends.
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+lzcnt+movbe", "aarch64+neon"))]
fn code_units(
    sampling: ChromaSampling,
    units: usize,
    groups: &[Group; GROUPS],
    [y, cb, cr]: &mut [i16; 3],
    [of_luminance, of_colour]: &[Codes; 2],
    scan: &mut Scan,
) {
    match sampling {
        ChromaSampling::Full => {
            let [luminance, blue, red, ..] = groups;
            scan.code(3 * units, |pen| {
                let mut end = End::default();
                for unit in 0..units {
                    end = pen.block(end, luminance, unit, y, of_luminance);
                    end = pen.block(end, blue, unit, cb, of_colour);
                    end = pen.block(end, red, unit, cr, of_colour);
                }
                pen.end(end);
            });
        }
        ChromaSampling::Quarter => {
            let [above_left, above_right, below_left, below_right, blue, red] = groups;
            scan.code(GROUPS * units, |pen| {
                let mut end = End::default();
                for unit in 0..units {
                    let (above, below) = if 2 * unit < LANES {
                        (above_left, below_left)
                    } else {
                        (above_right, below_right)
                    };
                    let left = 2 * unit % LANES;
                    for (group, lane) in [
                        (above, left),
                        (above, left + 1),
                        (below, left),
                        (below, left + 1),
                    ] {
                        end = pen.block(end, group, lane, y, of_luminance);
                    }
                    end = pen.block(end, blue, unit, cb, of_colour);
                    end = pen.block(end, red, unit, cr, of_colour);
                }
                pen.end(end);
            });
        }
    }
}
