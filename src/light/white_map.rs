//! A map of log-chroma that says at a glance what is coloured beyond grey and skin under plausible whites.
//!
//! That is asked of every tile of a frame, and asking each white takes some fifty distances. A distance changes no faster than
//! the place it is taken from moves, so where the middle of a square is farther beyond the limit, or farther within, than the
//! square's corners from its middle, the whole square is decided. Only places in the others ask each white.

use crate::base::kernel::row_kernel;
use crate::light::locus::{OnLocus, is_coloured};

/// Squares to a unit of log-chroma, and what rounding may take from a distance.
const SQUARES: f64 = 32.0;
const ROUNDING: f64 = 1e-9;

/// Plausible whites with the map of what is coloured under them.
#[derive(Clone, Debug)]
pub struct WhiteMap<'a> {
    whites: &'a OnLocus,
    limit: f64,
    grid: Grid,
    squares: Vec<Square>,
}

/// Where the squares lie. Those along the map's edge stand for all that is beyond it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Grid {
    /// The corner of the least log-chroma.
    least: [f64; 2],
    width: usize,
    height: usize,
}

/// What is known of a square.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Square {
    Coloured,
    Plain,
    Divided,
}

impl Grid {
    /// A grid that holds all that lies within `limit` of the whites, and a square more at each edge.
    fn new(whites: &OnLocus, limit: f64) -> Self {
        let margin = limit + 2.0 / SQUARES;
        let ends = whites.range();
        let [width, height] = ends.map(|(least, greatest)| {
            let squares = ((greatest - least + 2.0 * margin) * SQUARES).ceil();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a hundred or so; without whites a single one"
            )]
            let squares = if squares.is_finite() {
                squares as usize
            } else {
                1
            };
            squares
        });
        Self {
            least: ends.map(|(least, _)| {
                if least.is_finite() {
                    least - margin
                } else {
                    0.0
                }
            }),
            width,
            height,
        }
    }

    /// The square in which a log-chroma lies; the first of all for what is not a number.
    #[inline(always)]
    fn square(&self, chroma: [f64; 2]) -> u32 {
        let place = |axis: usize, count: usize| {
            let place = (chroma[axis] - self.least[axis]) * SQUARES;
            place.max(0.0).min((count - 1) as f64).floor()
        };
        let square = place(1, self.height) * self.width as f64 + place(0, self.width);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a square of the grid"
        )]
        let square = square as u32;
        square
    }
}

impl<'a> WhiteMap<'a> {
    /// The map for colours that lie farther than `limit` from grey and skin.
    #[must_use]
    pub fn new(whites: &'a OnLocus, limit: f64) -> Self {
        let grid = Grid::new(whites, limit);
        let corner = 0.5_f64.sqrt() / SQUARES + ROUNDING;
        let squares = (0..grid.width * grid.height)
            .map(|at| {
                let places = [at % grid.width, at / grid.width];
                let middle =
                    [0, 1].map(|axis| grid.least[axis] + (places[axis] as f64 + 0.5) / SQUARES);
                match whites.square_distance(middle).sqrt() {
                    distance if distance > limit + corner => Square::Coloured,
                    distance if distance < limit - corner => Square::Plain,
                    _ => Square::Divided,
                }
            })
            .collect();
        Self {
            whites,
            limit,
            grid,
            squares,
        }
    }

    /// Whether a colour, as log-chroma, lies farther than the limit from what each white makes of grey and skin.
    #[must_use]
    pub fn is_coloured(&self, chroma: [f64; 2]) -> bool {
        self.is_coloured_in(self.grid.square(chroma), chroma)
    }

    fn is_coloured_in(&self, square: u32, chroma: [f64; 2]) -> bool {
        match self.squares[square as usize] {
            Square::Coloured => true,
            Square::Plain => false,
            Square::Divided => is_coloured(chroma, self.whites, self.limit),
        }
    }

    /// The same of many colours, each as logarithms of its channels.
    pub(super) fn are_coloured(&self, logarithms: &[[f64; 3]]) -> Vec<bool> {
        let mut squares = vec![0; logarithms.len()];
        squares_of(&self.grid, logarithms, &mut squares);
        let all = squares.iter().zip(logarithms);
        all.map(|(&square, [red, green, blue])| {
            self.is_coloured_in(square, [red - green, blue - green])
        })
        .collect()
    }
}

row_kernel! {
    /// The square of each colour, given as logarithms of its channels.
    fn squares_of(grid: &Grid, logarithms: &[[f64; 3]], squares: &mut [u32]) {
        for (square, [red, green, blue]) in squares.iter_mut().zip(logarithms) {
            *square = grid.square([red - green, blue - green]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::locus::on_locus;

    #[test]
    fn all_copies_of_the_kernel_are_one() {
        let grid = Grid {
            least: [-2.0, -1.0],
            width: 91,
            height: 70,
        };
        assert_eq!(Grid::new(&on_locus(&[]), 0.35).square([f64::NAN, 3.0]), 0);
        for length in [0, 1, 7, 8, 9, 251] {
            let logarithms: Vec<[f64; 3]> = (0..length)
                .map(|at| [7919, 251, 31].map(|factor| ((at * factor) % 1009) as f64 / 200.0 - 3.0))
                .collect();
            let of = |kernel: fn(&Grid, &[[f64; 3]], &mut [u32])| {
                let mut squares = vec![0; length];
                kernel(&grid, &logarithms, &mut squares);
                squares
            };
            let levels = squares_of::levels();
            for (name, kernel) in &levels {
                assert_eq!(of(*kernel), of(levels[0].1), "{name} at {length}");
            }
        }
    }
}
