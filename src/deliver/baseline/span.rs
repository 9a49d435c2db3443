//! A span: the blocks of a band that are transformed side by side and then coded, while they are in the first cache.

use super::LANES;
use super::entropy::{Codes, End};
use super::group::Group;
use super::samples::{ACROSS, EMPTY, Tile, quarter, separate};
use super::scan::Scan;
use super::tables::COEFFICIENTS;
use super::transform::{SIDE, Transform, quantise};
use crate::deliver::wish::ChromaSampling;

/// Most groups of a span: four of luminance, two of colour differences.
const GROUPS: usize = 6;

/// Where a block of a unit of the scan stands.
#[derive(Clone, Copy, Debug)]
struct Place {
    group: usize,
    lane: usize,
    component: usize,
}

/// Works on spans, one after the other.
#[derive(Debug)]
pub(super) struct Span {
    sampling: ChromaSampling,
    /// Of luminance, and of colour differences.
    transforms: [Transform; 2],
    codes: [Codes; 2],
    work: Box<Work>,
    /// The blocks of a whole span in the order of a scan (T.81, A.2.3): unit by unit, in each every component's blocks, from the
    /// left and from the top.
    order: Vec<Place>,
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
        let place = |group, lane, component| Place {
            group,
            lane,
            component,
        };
        let unit = |unit: usize| match sampling {
            ChromaSampling::Full => (0..3).map(|c| place(c, unit, c)).collect::<Vec<_>>(),
            ChromaSampling::Quarter => {
                let luminance = |at: usize| {
                    let (down, across) = (at / 2, 2 * unit + at % 2);
                    place(2 * down + across / LANES, across % LANES, 0)
                };
                let colour = (1..3).map(|c| place(3 + c, unit, c));
                (0..4).map(luminance).chain(colour).collect()
            }
        };
        Self {
            sampling,
            transforms: steps.each_ref().map(Transform::new),
            codes: [Codes::new(0), Codes::new(1)],
            work: Box::new(Work {
                tiles: [EMPTY; 3],
                coarse: [EMPTY; 2],
                groups: [Group::EMPTY; GROUPS],
            }),
            order: (0..LANES).flat_map(unit).collect(),
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

    /// Codes the columns of a band from `left` on, up to `width` of them.
    pub(super) fn code(&mut self, rows: &[[Vec<u8>; 3]], left: usize, width: usize) {
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
        let blocks = self.order.len() / LANES * units;
        code_blocks(
            groups,
            &self.order[..blocks],
            &mut self.before,
            &self.codes,
            &mut self.scan,
        );
    }
}

/// The bytes of a tile: eight rows of columns from `left` on. Beyond what there is stands black, which is never asked for.
fn bytes(rows: &[[Vec<u8>; 3]], left: usize) -> [[&[u8; ACROSS]; 3]; SIDE] {
    const BLACK: &[u8; ACROSS] = &[0; ACROSS];
    let part = |row: usize, channel: usize| {
        let part = rows
            .get(row)
            .and_then(|row| row[channel].get(left..)?.first_chunk());
        part.unwrap_or(BLACK)
    };
    std::array::from_fn(|row| std::array::from_fn(|channel| part(row, channel)))
}

#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+lzcnt+movbe", "aarch64+neon"))]
fn code_blocks(
    groups: &[Group; GROUPS],
    order: &[Place],
    before: &mut [i16; 3],
    codes: &[Codes; 2],
    scan: &mut Scan,
) {
    scan.code(order.len(), |pen| {
        let mut end = End::default();
        for place in order {
            let component = place.component % before.len();
            let Some(group) = groups.get(place.group) else {
                continue;
            };
            end = pen.block(
                end,
                group,
                place.lane,
                &mut before[component],
                &codes[component.min(1)],
            );
        }
        pen.end(end);
    });
}
