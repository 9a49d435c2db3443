//! The directional method for Bayer patterns.
//!
//! After Pekkucuksen and Altunbasak ("Gradient based threshold free color filter array interpolation", ICIP 2010): the
//! difference of green and the other colour is estimated along the row and along the column at every photosite (with the
//! correction of Hamilton and Adams, US patent 5629734, 1997), smoothed towards each of the four sides, and the four are
//! mixed by the inverse fourth power of how much the differences change on that side. Red and blue follow green: their
//! difference from it is interpolated, first between diagonal neighbours by how little it changes on each diagonal, then
//! across green photosites in the direction that the mix of sides preferred. New here are the domain (a square root,
//! `crate::render::demosaic::root`), shorter smoothing, the fourth power and the weighed diagonals; each was kept because it
//! measured better on the test photographs, the diagonals also because they halve the errors at the edges of LED colours.
//!
//! Nothing is decided, only weighed, so that noise cannot flip a direction from one pixel to the next.

pub(crate) mod kernels;

use crate::raw::noise::NoiseModel;
use crate::render::demosaic::BayerRow;
use crate::render::demosaic::root::{Root, offset_for, root_row};
use crate::render::row::{LINE_VALUES, RgbRow, Row, Window, row_of};
use kernels::{
    change_row, colour_row, difference_row, opposite_row, residual_row, side_row,
    steady_difference_row,
};
use std::fmt;
use std::ops::Range;

/// Rows (and columns) to each side that one stage looks at in the one before it.
const RESIDUAL_REACH: usize = 2;
const CHANGE_REACH: usize = 1;
const SIDE_REACH: usize = 3;
/// Residuals that the differences are smoothed over.
const SHORT_REACH: usize = 2;
const LONG_REACH: usize = 4;
const OPPOSITE_REACH: usize = 3;
const COLOUR_REACH: usize = 1;

/// Rows of residuals before the first row of differences.
const BEFORE_DIFFERENCE: usize = RESIDUAL_REACH + CHANGE_REACH + SIDE_REACH;
/// Rows of light before the first row of opposites.
const BEFORE_OPPOSITE: usize = BEFORE_DIFFERENCE + OPPOSITE_REACH;

/// Rows to each side that the method looks at.
pub(crate) const REACH: usize = BEFORE_OPPOSITE + COLOUR_REACH;

/// Columns at each end of a row of which every stage but the light leaves out the outer ones: as many as any of them looks
/// at and more, so that all of them begin at a line of memory.
const MARGIN: usize = LINE_VALUES;
/// Columns to each side that the method asks for. Those that a stage makes from columns which the one before it left out hold
/// no meaning, and no pixel looks at them.
pub(crate) const COLUMNS_REACH: usize = 2 * LINE_VALUES;
const _: () = assert!(
    MARGIN >= LONG_REACH
        && COLUMNS_REACH >= MARGIN + REACH
        && COLUMNS_REACH.is_multiple_of(LINE_VALUES)
);

/// How far the differences are smoothed towards each side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Smoothing {
    /// Over three photosites with falling weights: sharp.
    Short,
    /// Over five with equal weights: colour stays clean in noise.
    Long,
}

/// Numbers of the method.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tuning {
    /// Offset of the root's domain, in light.
    pub offset: f32,
    /// Added to each side's change before its inverse is taken, in roots: changes far below it decide nothing.
    pub softness: f32,
    /// How far differences are smoothed.
    pub smoothing: Smoothing,
}

/// Level of light at which the noise decides how far differences are smoothed: a lit performer in a dark frame, four
/// stops below full.
const DECIDING_LEVEL: f64 = 0.05;
/// Standard deviation of the noise at that level from which on long smoothing serves better. Measured on eleven photographs
/// in simulated noise of ISO 800 to 12800, after the same wavelet shrinkage: the two tie at 0.003 in pictures two stops
/// below full exposure and at 0.0055 at full exposure. Of the fourfold noise, long smoothing takes 0.4 dB more.
const NOISY: f64 = 0.004;

impl Tuning {
    /// For light this noisy. The softness, measured on photographs: in clean light 0.005 to 0.1 changes less than 0.05 dB; it
    /// grows with the noise in roots, which is half the root of the slope wherever photons make it.
    #[must_use]
    pub fn for_noise(noise: NoiseModel) -> Self {
        let smoothing = if noise.variance(DECIDING_LEVEL).sqrt() < NOISY {
            Smoothing::Short
        } else {
            Smoothing::Long
        };
        Self {
            offset: offset_for(noise),
            softness: (0.05 + 6.0 * noise.slope.sqrt()) as f32,
            smoothing,
        }
    }
}

impl fmt::Display for Tuning {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        let smoothing = match self.smoothing {
            Smoothing::Short => "smoothed over three photosites",
            Smoothing::Long => "smoothed over five photosites for noise",
        };
        write!(
            to,
            "differences from green in four directions, {smoothing}, softness {:.3}, in roots of light plus {:.5}",
            self.softness, self.offset
        )
    }
}

/// Two rows that belong together: light and root, or along the row and along the column.
type Pair = [Row; 2];

/// Difference of green and the own colour, the share of the row's direction in it, and green, at photosites of red or blue.
type Differences = [Row; 3];

/// The rows that the method keeps. Sensor rows are numbered from the highest one that is ever looked at, so that rows
/// mirrored beyond the border have numbers too.
#[derive(Debug)]
pub(crate) struct Directional {
    domain: Root,
    tuning: Tuning,
    /// Columns of each row.
    length: usize,
    /// Light and roots.
    light: Window<Pair>,
    residuals: Window<Pair>,
    changes: Window<Pair>,
    sides: Window<Pair>,
    differences: Window<Differences>,
    opposites: Window<Row>,
}

impl Directional {
    /// Nothing kept yet; rows are `length` long, [`COLUMNS_REACH`] columns on both sides included, and pixel rows will be made from
    /// `first` on.
    pub(crate) fn new(tuning: Tuning, length: usize, first: usize) -> Self {
        let one = || row_of(length);
        let pair = || [one(), one()];
        // Rows from `above` the one that is made to `below` it: no more than are looked at, so that a row is overwritten while a
        // second-level cache still has it.
        let size = |above: usize, below: usize| above + 1 + below;
        let start = |before: usize| first + before;
        Self {
            domain: Root::new(tuning.offset),
            tuning,
            length,
            light: Window::new(size(0, REACH), start(0), pair),
            residuals: Window::new(
                size(LONG_REACH, SIDE_REACH + CHANGE_REACH),
                start(RESIDUAL_REACH),
                pair,
            ),
            // Sides are of the own row and those below, those of the row above them three rows further up.
            changes: Window::new(
                size(0, SIDE_REACH),
                start(RESIDUAL_REACH + CHANGE_REACH),
                pair,
            ),
            sides: Window::new(
                size(SIDE_REACH, 0),
                start(RESIDUAL_REACH + CHANGE_REACH),
                pair,
            ),
            differences: Window::new(
                size(OPPOSITE_REACH, OPPOSITE_REACH),
                start(BEFORE_DIFFERENCE),
                || [one(), one(), one()],
            ),
            opposites: Window::new(
                size(COLOUR_REACH, COLOUR_REACH),
                start(BEFORE_OPPOSITE),
                one,
            ),
        }
    }

    /// Makes what pixel row `y` needs. `sensor(row, values)` makes the sensor row that stands `row` below the row
    /// [`REACH`] above the first of the picture.
    pub(crate) fn keep(&mut self, y: usize, mut sensor: impl FnMut(usize, &mut [f32])) {
        let Self {
            domain,
            tuning,
            length,
            light,
            residuals,
            changes,
            sides,
            differences,
            opposites,
        } = self;
        let length = *length;
        opposites.fill_to(y + REACH + COLOUR_REACH + 1, |v, opposite| {
            differences.fill_to(v + OPPOSITE_REACH + 1, |v, difference| {
                sides.fill_to(v + 1, |v, side| {
                    changes.fill_to(v + SIDE_REACH + 1, |v, change| {
                        residuals.fill_to(v + CHANGE_REACH + 1, |v, residual| {
                            light.fill_to(v + RESIDUAL_REACH + 1, |v, [light, root]| {
                                sensor(v, light);
                                root_row(*domain, light, root);
                            });
                            make_residuals(light, v, length, residual);
                        });
                        make_changes(residuals, v, length, change);
                    });
                    make_sides(changes, v, length, tuning.softness, side);
                });
                let kept = (&*light, &*residuals, &*sides);
                make_differences(kept, v, length, *tuning, difference);
            });
            make_opposites(differences, v, length, tuning.softness, opposite);
        });
    }

    /// Makes the columns `chunk` of pixel row `y`, whose photosites are as `kind` says.
    pub(crate) fn row(&self, y: usize, chunk: Range<usize>, kind: BayerRow, row: &mut RgbRow) {
        let v = y + REACH;
        let at = COLUMNS_REACH + chunk.start..COLUMNS_REACH + chunk.end;
        let wide = at.start - COLOUR_REACH..at.end + COLOUR_REACH;
        let [red, green, blue] = row.columns_mut(chunk);
        let (colour, other) = if kind.colour == 0 {
            (red, blue)
        } else {
            (blue, red)
        };
        let [light, root] = self.light.row(v);
        let [difference, share, green_root] = self.differences.row(v);
        colour_row(
            self.domain,
            &light[at.clone()],
            &root[at.clone()],
            &share[at.clone()],
            &difference[wide.clone()],
            &self.differences.row(v - 1)[0][at.clone()],
            &self.differences.row(v + 1)[0][at.clone()],
            &self.opposites.row(v)[wide],
            &self.opposites.row(v - 1)[at.clone()],
            &self.opposites.row(v + 1)[at.clone()],
            &green_root[at],
            kind.green,
            colour,
            green,
            other,
        );
    }
}

/// The part of a row that lies [`MARGIN`] columns inside it, shifted to the right by `shift`.
fn inner(row: &[f32], shift: isize) -> &[f32] {
    let start = MARGIN.saturating_add_signed(shift);
    &row[start..row.len() - 2 * MARGIN + start]
}

/// The row made last, with `reach` columns more on both sides than its inner part.
fn along(kept: &Window<Pair>, v: usize, reach: usize) -> &[f32] {
    let row = &kept.row(v)[0];
    &row[MARGIN - reach..row.len() - MARGIN + reach]
}

/// The inner parts of rows from as many above row `v` as below it.
fn column<const N: usize>(kept: &Window<Pair>, v: usize) -> [&[f32]; N] {
    std::array::from_fn(|index| inner(&kept.row(v + index - N / 2)[1], 0))
}

fn make_residuals(light: &Window<Pair>, v: usize, length: usize, [row, column]: &mut Pair) {
    let at = |down: isize, right: isize| {
        let [_, root] = light.row(v.saturating_add_signed(down));
        inner(root, right)
    };
    let made = MARGIN..length - MARGIN;
    residual_row(
        at(0, -2),
        at(0, -1),
        at(0, 0),
        at(0, 1),
        at(0, 2),
        at(-2, 0),
        at(-1, 0),
        at(1, 0),
        at(2, 0),
        &mut row[made.clone()],
        &mut column[made],
    );
}

fn make_changes(residuals: &Window<Pair>, v: usize, length: usize, [row, column]: &mut Pair) {
    let at = |which: usize, down: isize, right: isize| {
        inner(&residuals.row(v.saturating_add_signed(down))[which], right)
    };
    let made = MARGIN..length - MARGIN;
    change_row(
        at(0, -1, -1),
        at(0, -1, 1),
        at(0, 0, -1),
        at(0, 0, 1),
        at(0, 1, -1),
        at(0, 1, 1),
        at(1, -1, -1),
        at(1, -1, 0),
        at(1, -1, 1),
        at(1, 1, -1),
        at(1, 1, 0),
        at(1, 1, 1),
        &mut row[made.clone()],
        &mut column[made],
    );
}

fn make_sides(
    changes: &Window<Pair>,
    v: usize,
    length: usize,
    softness: f32,
    [row, column]: &mut Pair,
) {
    let made = MARGIN..length - MARGIN;
    side_row(
        &changes.row(v)[0][MARGIN..made.end + SIDE_REACH],
        std::array::from_fn(|down| inner(&changes.row(v + down)[1], 0)),
        softness,
        &mut row[made.clone()],
        &mut column[made],
    );
}

fn make_differences(
    (light, residuals, sides): (&Window<Pair>, &Window<Pair>, &Window<Pair>),
    v: usize,
    length: usize,
    tuning: Tuning,
    [difference, share, green]: &mut Differences,
) {
    let made = MARGIN..length - MARGIN;
    let difference = &mut difference[made.clone()];
    let (share, green) = (&mut share[made.clone()], &mut green[made]);
    let root =
        |down: isize, right: isize| inner(&light.row(v.saturating_add_signed(down))[1], right);
    let sides_along = along(sides, v, SIDE_REACH);
    let sides_column = [v - SIDE_REACH, v].map(|v| inner(&sides.row(v)[1], 0));
    match tuning.smoothing {
        Smoothing::Short => difference_row(
            sides_along,
            sides_column,
            along(residuals, v, SHORT_REACH),
            column(residuals, v),
            root(0, 0),
            difference,
            share,
            green,
        ),
        Smoothing::Long => {
            steady_difference_row(
                sides_along,
                sides_column,
                along(residuals, v, LONG_REACH),
                column(residuals, v),
                [root(0, -1), root(0, 1), root(-1, 0), root(1, 0)],
                root(0, 0),
                difference,
                share,
                green,
            );
        }
    }
}

/// Softness of the diagonals' weights against that of the sides', whose changes are sums of twelve.
const DIAGONAL_SOFTNESS: f32 = 0.4;

fn make_opposites(
    differences: &Window<Differences>,
    v: usize,
    length: usize,
    softness: f32,
    opposite: &mut [f32],
) {
    let wide = |which: usize, down: isize, reach: usize| {
        let row = &differences.row(v.saturating_add_signed(down))[which];
        &row[MARGIN - reach..length - MARGIN + reach]
    };
    let greens = [-2, 0, 2].map(|down| wide(2, down, OPPOSITE_REACH - 1));
    opposite_row(
        [-3, -1, 1, 3].map(|down| wide(0, down, OPPOSITE_REACH)),
        greens,
        DIAGONAL_SOFTNESS * softness,
        &mut opposite[MARGIN..length - MARGIN],
    );
}
