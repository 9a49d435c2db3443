//! The 6 x 6 pattern with green at five of nine sites.
//!
//! Green first: where it was not counted, it is the mean of the greens in the 3 x 3 around, nearer ones weighing more.
//! Red and blue then as differences from green, averaged over the 5 x 5 around with weights by distance and added to the
//! pixel's own green: detail that green saw is kept in all three colours. Weights are inverse squared distances (common
//! practice, no source); a direction-seeking method would be sharper at edges and takes this place when it comes.
//! Neighbours beyond the border are left out.

use crate::raw::frame::Channel;

/// Rows and columns to each side that the method looks at, green's own neighbourhood included.
pub(crate) const REACH: usize = COLOUR_REACH + GREEN_REACH;

/// Half the side of the square in which green is sought.
pub(crate) const GREEN_REACH: usize = 1;

/// Half the side of the square in which differences of red and blue from green are sought.
pub(crate) const COLOUR_REACH: usize = 2;

/// A neighbour: rows down, columns right, weight.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Tap {
    down: isize,
    right: isize,
    weight: f32,
}

/// Neighbours for each of the pattern's sites.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Taps {
    /// Where green is counted.
    pattern: [[Channel; 6]; 6],
    /// For each site and each colour, the neighbours of that colour; empty where the site has the colour itself.
    sites: Vec<[Vec<Tap>; 3]>,
}

impl Taps {
    /// The neighbours in a pattern.
    pub(crate) fn new(pattern: &[[Channel; 6]; 6]) -> Self {
        let site = |row: usize, column: usize| {
            [0u8, 1, 2].map(|colour| {
                let reach = if colour == 1 {
                    GREEN_REACH
                } else {
                    COLOUR_REACH
                } as isize;
                let mut taps = Vec::new();
                if pattern[row][column] == colour {
                    return taps;
                }
                for down in -reach..=reach {
                    for right in -reach..=reach {
                        let r = (row as isize + down).rem_euclid(6) as usize;
                        let c = (column as isize + right).rem_euclid(6) as usize;
                        if pattern[r][c] == colour {
                            let weight = 1.0 / (down * down + right * right) as f32;
                            taps.push(Tap {
                                down,
                                right,
                                weight,
                            });
                        }
                    }
                }
                taps
            })
        };
        Self {
            pattern: *pattern,
            sites: (0..36).map(|index| site(index / 6, index % 6)).collect(),
        }
    }

    fn at(&self, x: usize, y: usize, colour: usize) -> &[Tap] {
        &self.sites[(y % 6) * 6 + x % 6][colour]
    }

    fn counts(&self, x: usize, y: usize, colour: usize) -> bool {
        usize::from(self.pattern[y % 6][x % 6]) == colour
    }

    /// Green for one row. `rows(down)` is the sensor row `down` below row `y` (negative: above), `None` beyond the
    /// border. `green[i]` belongs to sensor column `first + i`, and so does index `i` of each row; rows end where the
    /// sensor ends or later.
    pub(crate) fn green_row<'r>(
        &self,
        y: usize,
        first: usize,
        rows: impl Fn(isize) -> Option<&'r [f32]>,
        green: &mut [f32],
    ) {
        let around = [-1, 0, 1].map(&rows);
        let own = around[1].unwrap_or(&[]);
        for (i, value) in green.iter_mut().enumerate() {
            let centre = own[i];
            let taps = self.at(first + i, y, 1);
            *value = weighted(centre, taps, i, |tap, at| {
                around[(tap.down + 1) as usize].and_then(|row| row.get(at).copied())
            });
        }
    }

    /// Red or blue (`colour` 0 or 2) for the columns `first + offset ..` of row `y`, from sensor rows and their greens.
    pub(crate) fn colour_row<'r>(
        &self,
        y: usize,
        first: usize,
        colour: usize,
        rows: impl Fn(isize) -> Option<(&'r [f32], &'r [f32])>,
        offset: usize,
        made: &mut [f32],
    ) {
        let around = [-2, -1, 0, 1, 2].map(&rows);
        let Some((own, own_green)) = around[2] else {
            return;
        };
        for (i, value) in made.iter_mut().enumerate() {
            let i = i + offset;
            if self.counts(first + i, y, colour) {
                *value = own[i];
                continue;
            }
            let taps = self.at(first + i, y, colour);
            let difference = weighted(0.0, taps, i, |tap, at| {
                around[(tap.down + 2) as usize]
                    .and_then(|(row, green)| Some(row.get(at)? - green.get(at)?))
            });
            *value = own_green[i] + difference;
        }
    }
}

/// `centre` plus the weighted mean difference of the neighbours from it; `centre` where there is no neighbour.
fn weighted(
    centre: f32,
    taps: &[Tap],
    i: usize,
    neighbour: impl Fn(&Tap, usize) -> Option<f32>,
) -> f32 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for tap in taps {
        let at = i as isize + tap.right;
        if at < 0 {
            continue;
        }
        if let Some(value) = neighbour(tap, at as usize) {
            sum += tap.weight * (value - centre);
            weights += tap.weight;
        }
    }
    if weights > 0.0 {
        centre + sum / weights
    } else {
        centre
    }
}
