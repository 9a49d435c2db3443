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
//!
//! Rows are kept parted into even and odd columns (`Parted`): what is asked of photosites of green alone, or of red and
//! blue alone, is then made for every second column without a gap.

pub(crate) mod kernels;
mod stages;

use crate::raw::noise::NoiseModel;
use crate::render::demosaic::BayerRow;
use crate::render::demosaic::root::{Root, offset_for};
use crate::render::row::{LINE_VALUES, RgbRow, Row, Window, row_of};
use kernels::{AtColour, AtGreen, colour_row, part_row};
use stages::{half, make_changes, make_differences, make_opposites, make_residuals, make_sides};
use std::fmt;
use std::ops::Range;

/// Rows (and columns) to each side that one stage looks at in the one before it.
const RESIDUAL_REACH: usize = 2;
const CHANGE_REACH: usize = 1;
const SIDE_REACH: usize = 3;
/// Residuals to each side that the differences are smoothed over at most.
const LONG_REACH: usize = 4;
const OPPOSITE_REACH: usize = 3;
const COLOUR_REACH: usize = 1;

/// Rows of residuals before the first row of differences.
const BEFORE_DIFFERENCE: usize = RESIDUAL_REACH + CHANGE_REACH + SIDE_REACH;
/// Rows of light before the first row of opposites.
const BEFORE_OPPOSITE: usize = BEFORE_DIFFERENCE + OPPOSITE_REACH;

/// Rows to each side that the method looks at.
pub(crate) const REACH: usize = BEFORE_OPPOSITE + COLOUR_REACH;

/// Places at each end of a row of even or odd columns of which every stage but the light leaves out the outer ones: as many as
/// any of them looks at and more, so that all of them begin at a line of memory.
const MARGIN: usize = LINE_VALUES;
/// Columns to each side that the method asks for. Those that a stage makes from columns which the one before it left out hold
/// no meaning, and no pixel looks at them.
pub(crate) const COLUMNS_REACH: usize = 4 * LINE_VALUES;
const _: () = assert!(
    2 * MARGIN >= LONG_REACH
        && COLUMNS_REACH >= 2 * MARGIN + REACH
        && COLUMNS_REACH.is_multiple_of(2 * LINE_VALUES)
);
// A kept row's colours are those of the pixel row with its number.
const _: () = assert!(REACH.is_multiple_of(2));

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

/// A row parted into its even and its odd columns.
type Parted = [Row; 2];

/// Two rows that belong together: light and root, or along the row and along the column.
type Pair = [Parted; 2];

/// Difference of green and the own colour, and green, at photosites of red or blue; the share of the row's direction at those
/// of green. Every second column each.
#[derive(Debug)]
struct Differences {
    difference: Row,
    green: Row,
    share: Row,
}

/// The rows that the method keeps. Sensor rows are numbered from the highest one that is ever looked at, so that rows
/// mirrored beyond the border have numbers too.
#[derive(Debug)]
pub(crate) struct Directional {
    domain: Root,
    tuning: Tuning,
    /// Parity of the columns of red or blue in even and in odd rows.
    colour_at: [usize; 2],
    /// A row of the sensor before it is parted.
    sensor: Row,
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
    /// `first` on. `colour_at` is the parity of the columns of red or blue in even and in odd rows.
    pub(crate) fn new(tuning: Tuning, length: usize, first: usize, colour_at: [usize; 2]) -> Self {
        let one = || row_of(length.div_ceil(2));
        let pair = || [[one(), one()], [one(), one()]];
        // Rows from `above` the one that is made to `below` it: no more than are looked at, so that a row is overwritten while a
        // second-level cache still has it.
        let size = |above: usize, below: usize| above + 1 + below;
        let start = |before: usize| first + before;
        let differences = || Differences {
            difference: one(),
            green: one(),
            share: one(),
        };
        Self {
            domain: Root::new(tuning.offset),
            tuning,
            colour_at,
            sensor: row_of(length),
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
                differences,
            ),
            opposites: Window::new(
                size(COLOUR_REACH, COLOUR_REACH),
                start(BEFORE_OPPOSITE),
                one,
            ),
        }
    }

    /// Makes what pixel row `y` needs. `make(row, values)` makes the sensor row that stands `row` below the row
    /// [`REACH`] above the first of the picture.
    pub(crate) fn keep(&mut self, y: usize, mut make: impl FnMut(usize, &mut [f32])) {
        let Self {
            domain,
            tuning,
            colour_at,
            sensor,
            light,
            residuals,
            changes,
            sides,
            differences,
            opposites,
        } = self;
        opposites.fill_to(y + REACH + COLOUR_REACH + 1, |v, opposite| {
            differences.fill_to(v + OPPOSITE_REACH + 1, |v, difference| {
                sides.fill_to(v + 1, |v, side| {
                    changes.fill_to(v + SIDE_REACH + 1, |v, change| {
                        residuals.fill_to(v + CHANGE_REACH + 1, |v, residual| {
                            light.fill_to(v + RESIDUAL_REACH + 1, |v, [light, root]| {
                                make(v, sensor);
                                let ([even_light, odd_light], [even_root, odd_root]) =
                                    (light, root);
                                part_row(
                                    *domain, sensor, even_light, odd_light, even_root, odd_root,
                                );
                            });
                            make_residuals(light, v, residual);
                        });
                        make_changes(residuals, v, change);
                    });
                    make_sides(changes, v, tuning.softness, side);
                });
                let kept = (&*light, &*residuals, &*sides);
                make_differences(kept, v, colour_at[v % 2], tuning.smoothing, difference);
            });
            make_opposites(differences, v, colour_at[v % 2], tuning.softness, opposite);
        });
    }

    /// Makes the columns `chunk` of pixel row `y`, from an even one on, whose photosites are as `kind` says.
    pub(crate) fn row(&self, y: usize, chunk: Range<usize>, kind: BayerRow, row: &mut RgbRow) {
        let [red, green, blue] = row.columns_mut(chunk.clone());
        let (colour, other) = if kind.colour == 0 {
            (red, blue)
        } else {
            (blue, red)
        };
        let start = (COLUMNS_REACH + chunk.start) / 2;
        let is_green_first = self.colour_at[(y + REACH) % 2] == 1;
        let make = |start: usize, [colour, green, other]: [&mut [f32]; 3]| {
            let (at_green, at_colour) = self.at(y, start);
            let domain = self.domain;
            colour_row(
                domain,
                is_green_first,
                at_green,
                at_colour,
                colour,
                green,
                other,
            );
        };
        make(start, [&mut *colour, &mut *green, &mut *other]);
        // The last of an odd number is made with the one beyond it.
        if !chunk.len().is_multiple_of(2) {
            let mut pairs = [[0.0; 2]; 3];
            let [pair_colour, pair_green, pair_other] = &mut pairs;
            make(
                start + chunk.len() / 2,
                [pair_colour, pair_green, pair_other],
            );
            for (plane, [last, _]) in [colour, green, other].into_iter().zip(pairs) {
                if let Some(value) = plane.last_mut() {
                    *value = last;
                }
            }
        }
    }

    /// What the photosites of pixel row `y` hold from place `start` of every second column on: those of green and the others.
    fn at(&self, y: usize, start: usize) -> (AtGreen<'_>, AtColour<'_>) {
        let v = y + REACH;
        let colour_at = self.colour_at[v % 2];
        let green_at = 1 - colour_at;
        let [light, root] = self.light.row(v);
        let [above, own, below] = [v - 1, v, v + 1].map(|v| self.differences.row(v));
        let opposite = [v - 1, v, v + 1].map(|v| &self.opposites.row(v)[..]);
        // West and east of green, in the row's own columns of red or blue.
        let [west, east] = [-1, 1].map(|right| start.saturating_add_signed(half(green_at, right)));
        let at_green = AtGreen {
            light: &light[green_at][start..],
            root: &root[green_at][start..],
            share: &own.share[start..],
            differences: [
                &own.difference[west..],
                &own.difference[east..],
                &above.difference[start..],
                &below.difference[start..],
            ],
            opposites: [
                &opposite[1][west..],
                &opposite[1][east..],
                &opposite[0][start..],
                &opposite[2][start..],
            ],
        };
        let at_colour = AtColour {
            light: &light[colour_at][start..],
            green: &own.green[start..],
            opposite: &opposite[1][start..],
        };
        (at_green, at_colour)
    }
}
