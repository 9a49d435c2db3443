//! The directional method for Bayer patterns.
//!
//! After Pekkucuksen and Altunbasak ("Gradient based threshold free color filter array interpolation", ICIP 2010): the
//! difference of green and the other colour is estimated along the row and along the column at every photosite (with the
//! correction of Hamilton and Adams, US patent 5629734, 1997), smoothed towards each of the four sides, and the four are
//! mixed by the inverse fourth power of how much the differences change on that side. Red and blue follow green: their
//! difference from it is interpolated, across green photosites in the direction that the mix preferred. New here are the
//! domain (a square root, `crate::render::demosaic::root`), shorter smoothing, and the fourth power; each was kept because
//! it measured better on the test photographs.
//!
//! Nothing is decided, only weighed, so that noise cannot flip a direction from one pixel to the next.

pub(crate) mod kernels;

use crate::render::demosaic::BayerRow;
use crate::render::demosaic::root::{Root, root_row};
use crate::render::row::{RgbRow, Window};
use kernels::{change_row, colour_row, difference_row, opposite_row, residual_row};
use std::ops::Range;

/// Rows (and columns) to each side that one stage looks at in the one before it.
const RESIDUAL_REACH: usize = 2;
const CHANGE_REACH: usize = 1;
const SIDE_REACH: usize = 3;
const OPPOSITE_REACH: usize = 3;
const COLOUR_REACH: usize = 1;

/// Rows and columns of residuals before the first row of differences.
const BEFORE_DIFFERENCE: usize = RESIDUAL_REACH + CHANGE_REACH + SIDE_REACH;
/// Rows and columns of light before the first row of opposites.
const BEFORE_OPPOSITE: usize = BEFORE_DIFFERENCE + OPPOSITE_REACH;

/// Rows and columns to each side that the method looks at.
pub(crate) const REACH: usize = BEFORE_OPPOSITE + COLOUR_REACH;

/// Numbers of the method.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tuning {
    /// Offset of the root's domain, in light.
    pub(crate) offset: f32,
    /// Added to each side's change before its inverse is taken, in roots: changes far below it decide nothing.
    pub(crate) softness: f32,
}

impl Default for Tuning {
    /// For clean light, as measured on photographs in linear light: smaller offsets gain less than 0.1 dB there, and
    /// softness changes less than that from 0.005 to 0.1.
    fn default() -> Self {
        Self {
            offset: 4e-4,
            softness: 0.05,
        }
    }
}

/// Two rows that belong together: along the row and along the column, or a difference and the share of the row in it.
type Pair = [Vec<f32>; 2];

/// The rows that the method keeps. Sensor rows are numbered from the highest one that is ever looked at, so that rows
/// mirrored beyond the border have numbers too.
#[derive(Debug)]
pub(crate) struct Directional {
    domain: Root,
    softness: f32,
    /// Columns of each row.
    length: usize,
    /// Light and roots.
    light: Window<Pair>,
    residuals: Window<Pair>,
    changes: Window<Pair>,
    differences: Window<Pair>,
    opposites: Window<Vec<f32>>,
}

impl Directional {
    /// Nothing kept yet; rows are `length` long, [`REACH`] columns on both sides included, and pixel rows will be made from
    /// `first` on.
    pub(crate) fn new(tuning: Tuning, length: usize, first: usize) -> Self {
        let one = || vec![0.0; length];
        let pair = || [one(), one()];
        // A window of rows from `reach` above the pixel row that is made to as many below it.
        let size = |reach: usize| 2 * reach + 1;
        let start = |before: usize| first + before;
        Self {
            domain: Root::new(tuning.offset),
            softness: tuning.softness,
            length,
            light: Window::new(size(REACH), start(0), pair),
            residuals: Window::new(size(REACH - RESIDUAL_REACH), start(RESIDUAL_REACH), pair),
            changes: Window::new(
                size(REACH - RESIDUAL_REACH - CHANGE_REACH),
                start(RESIDUAL_REACH + CHANGE_REACH),
                pair,
            ),
            differences: Window::new(
                size(REACH - BEFORE_DIFFERENCE),
                start(BEFORE_DIFFERENCE),
                pair,
            ),
            opposites: Window::new(size(COLOUR_REACH), start(BEFORE_OPPOSITE), one),
        }
    }

    /// Makes what pixel row `y` needs. `sensor(row, values)` makes the sensor row that stands `row` below the row
    /// [`REACH`] above the first of the picture.
    pub(crate) fn keep(&mut self, y: usize, mut sensor: impl FnMut(usize, &mut [f32])) {
        let Self {
            domain,
            softness,
            length,
            light,
            residuals,
            changes,
            differences,
            opposites,
        } = self;
        let length = *length;
        opposites.fill_to(y + REACH + COLOUR_REACH + 1, |v, opposite| {
            differences.fill_to(v + OPPOSITE_REACH + 1, |v, difference| {
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
                make_differences((residuals, changes), v, length, *softness, difference);
            });
            make_opposites(differences, v, length, opposite);
        });
    }

    /// Makes the columns `chunk` of pixel row `y`, whose photosites are as `kind` says.
    pub(crate) fn row(&self, y: usize, chunk: Range<usize>, kind: BayerRow, row: &mut RgbRow) {
        let v = y + REACH;
        let at = REACH + chunk.start..REACH + chunk.end;
        let wide = at.start - COLOUR_REACH..at.end + COLOUR_REACH;
        let [red, green, blue] = row.columns_mut(chunk);
        let (colour, other) = if kind.colour == 0 {
            (red, blue)
        } else {
            (blue, red)
        };
        let [light, root] = self.light.row(v);
        let [difference, share] = self.differences.row(v);
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
            &self.opposites.row(v + 1)[at],
            kind.green,
            colour,
            green,
            other,
        );
    }
}

/// The part of a row that lies `margin` columns inside it, shifted to the right by `shift`.
fn inner(row: &[f32], margin: usize, shift: isize) -> &[f32] {
    let start = margin.saturating_add_signed(shift);
    &row[start..row.len() - 2 * margin + start]
}

fn make_residuals(light: &Window<Pair>, v: usize, length: usize, [row, column]: &mut Pair) {
    let margin = RESIDUAL_REACH;
    let at = |down: isize, right: isize| {
        let [_, root] = light.row(v.saturating_add_signed(down));
        inner(root, margin, right)
    };
    let made = margin..length - margin;
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
    let margin = RESIDUAL_REACH + CHANGE_REACH;
    let at = |which: usize, down: isize, right: isize| {
        inner(
            &residuals.row(v.saturating_add_signed(down))[which],
            margin,
            right,
        )
    };
    let made = margin..length - margin;
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

fn make_differences(
    (residuals, changes): (&Window<Pair>, &Window<Pair>),
    v: usize,
    length: usize,
    softness: f32,
    [difference, share]: &mut Pair,
) {
    let margin = BEFORE_DIFFERENCE;
    let change = |down: isize| {
        let [_, column] = changes.row(v.saturating_add_signed(down));
        inner(column, margin, 0)
    };
    let residual = |down: isize| {
        let [_, column] = residuals.row(v.saturating_add_signed(down));
        inner(column, margin, 0)
    };
    let wide = |row: &'_ [f32], reach: usize| margin - reach..row.len() - margin + reach;
    let changes_along = &changes.row(v)[0];
    let residuals_along = &residuals.row(v)[0];
    let made = margin..length - margin;
    difference_row(
        &changes_along[wide(changes_along, SIDE_REACH)],
        change(-3),
        change(-2),
        change(-1),
        change(0),
        change(1),
        change(2),
        change(3),
        &residuals_along[wide(residuals_along, RESIDUAL_REACH)],
        residual(-2),
        residual(-1),
        residual(0),
        residual(1),
        residual(2),
        softness,
        &mut difference[made.clone()],
        &mut share[made],
    );
}

fn make_opposites(differences: &Window<Pair>, v: usize, length: usize, opposite: &mut [f32]) {
    let margin = BEFORE_OPPOSITE;
    let row = |down: isize| {
        let [difference, _] = differences.row(v.saturating_add_signed(down));
        &difference[margin - OPPOSITE_REACH..length - margin + OPPOSITE_REACH]
    };
    opposite_row(
        row(-3),
        row(-1),
        row(1),
        row(3),
        &mut opposite[margin..length - margin],
    );
}
