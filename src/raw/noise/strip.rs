//! A strip of blocks: the sums from which each block's mean and its variance about a plane follow.
//!
//! Values are summed place by place of the colour pattern, blocks as wide as a vector's load; only then is it asked which colour a
//! place has. Where the sites of a colour lie in a block is the same for all blocks, so that is summed once.

use crate::base::kernel::row_kernel;
use crate::raw::noise::measure::{BLOCK, Sample};
use crate::raw::photosites::{CLIPPED, Levels, Photosites};

/// Fewer sites of a colour than this have no variance about a plane.
const LEAST_SITES: f64 = 8.0;

/// Blocks beside each other.
pub(super) struct Strip {
    /// The first value of each piece of a row, `BLOCK` values long: one for each value a pixel has, block after block.
    starts: Vec<usize>,
    /// What each piece summed up to, by row of the colour pattern.
    sums: Vec<Vec<Sums>>,
    /// By row of the colour pattern, the channels of a block's values.
    channels: Vec<Vec<usize>>,
    grids: [Grid; 3],
}

/// Sums of the values of a piece, each place by itself: values, values times their rows, squares, and the greatest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sums {
    v: [f64; BLOCK],
    vy: [f64; BLOCK],
    vv: [f64; BLOCK],
    greatest: [f32; BLOCK],
}

impl Sums {
    const NONE: Self = Self {
        v: [0.0; BLOCK],
        vy: [0.0; BLOCK],
        vv: [0.0; BLOCK],
        greatest: [f32::NEG_INFINITY; BLOCK],
    };
}

/// Where the sites of one channel lie in a block: their number, and sums of their places and of products of those.
#[derive(Clone, Copy, Debug, Default)]
struct Grid {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

/// Sums of one channel's values in one block.
#[derive(Clone, Copy, Default)]
struct Values {
    v: f64,
    vx: f64,
    vy: f64,
    vv: f64,
    is_clipped: bool,
}

/// A place in a block from its middle, so that sums stay well conditioned.
fn from_middle(place: usize) -> f64 {
    place as f64 - BLOCK as f64 / 2.0
}

impl Strip {
    /// A strip of blocks that begin at these columns, whole blocks from each other and from the picture's edge.
    pub(super) fn new(photosites: &Photosites, lefts: &[usize]) -> Self {
        let values = photosites.values_per_pixel();
        let channels: Vec<Vec<usize>> = (0..photosites.period())
            .map(|y| {
                let pattern = photosites.channels(y);
                pattern.into_iter().cycle().take(BLOCK * values).collect()
            })
            .collect();
        let mut grids = [Grid::default(); 3];
        for y in 0..BLOCK {
            for (at, &channel) in channels[y % channels.len()].iter().enumerate() {
                grids[channel].add(from_middle(at / values), from_middle(y));
            }
        }
        let starts: Vec<usize> = lefts
            .iter()
            .flat_map(|left| (0..values).map(move |piece| left * values + piece * BLOCK))
            .collect();
        Self {
            sums: vec![vec![Sums::NONE; starts.len()]; channels.len()],
            starts,
            channels,
            grids,
        }
    }

    /// Sums the blocks that begin at row `top`.
    pub(super) fn sum(&mut self, photosites: &Photosites, top: usize) {
        let width = photosites.width() * photosites.values_per_pixel();
        let period = self.sums.len();
        let mut row = Vec::new();
        for (phase, sums) in self.sums.iter_mut().enumerate() {
            let rows = (phase..BLOCK).step_by(period);
            let levels = rows.clone().map(|y| photosites.levels(top + y, 0, BLOCK));
            if let Some(levels) = levels.collect::<Option<Vec<_>>>() {
                let rows: Vec<Row<'_>> = rows
                    .zip(&levels)
                    .map(|(y, levels)| Row {
                        y: from_middle(y),
                        counts: photosites.counts(top + y, width),
                        levels,
                    })
                    .collect();
                sum_pieces(&rows, &self.starts, sums);
                continue;
            }
            sums.fill(Sums::NONE);
            for y in rows {
                photosites.fractions(top + y, 0, photosites.width(), &mut row);
                for (sums, &start) in sums.iter_mut().zip(&self.starts) {
                    for (at, &value) in row[start..][..BLOCK].iter().enumerate() {
                        add(sums, at, value, from_middle(y));
                    }
                }
            }
        }
    }

    /// Mean and variance of each channel of each block; none where a site is clipped or there are too few.
    pub(super) fn samples(&self, samples: &mut Vec<Sample>) {
        let values = self.channels[0].len() / BLOCK;
        for block in 0..self.starts.len() / values {
            let mut channels = [Values::default(); 3];
            for (sums, pattern) in self.sums.iter().zip(&self.channels) {
                let pieces = &sums[block * values..][..values];
                for (at, &channel) in pattern.iter().enumerate() {
                    let (piece, at_piece) = (&pieces[at / BLOCK], at % BLOCK);
                    let (of, v) = (&mut channels[channel], piece.v[at_piece]);
                    of.v += v;
                    of.vx += v * from_middle(at / values);
                    of.vy += piece.vy[at_piece];
                    of.vv += piece.vv[at_piece];
                    of.is_clipped |= piece.greatest[at_piece] >= CLIPPED;
                }
            }
            let known = self.grids.iter().zip(&channels);
            samples.extend(known.filter_map(|(grid, values)| grid.sample(values)));
        }
    }
}

impl Grid {
    fn add(&mut self, x: f64, y: f64) {
        self.n += 1.0;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.xy += x * y;
        self.yy += y * y;
    }

    /// Mean of values, and their variance about the plane that fits them best (least squares).
    fn sample(&self, values: &Values) -> Option<Sample> {
        let n = self.n;
        if values.is_clipped || n < LEAST_SITES {
            return None;
        }
        let mean = values.v / n;
        let (sxx, sxy, syy) = (
            self.xx - self.x * self.x / n,
            self.xy - self.x * self.y / n,
            self.yy - self.y * self.y / n,
        );
        let (svx, svy, svv) = (
            values.vx - values.v * self.x / n,
            values.vy - values.v * self.y / n,
            values.vv - values.v * values.v / n,
        );
        let determinant = sxx * syy - sxy * sxy;
        let (slope_x, slope_y) = (
            (svx * syy - svy * sxy) / determinant,
            (svy * sxx - svx * sxy) / determinant,
        );
        let rest = svv - slope_x * svx - slope_y * svy;
        let variance = rest.max(0.0) / (n - 3.0);
        variance.is_finite().then_some(Sample { mean, variance })
    }
}

/// A row of counts.
pub(crate) struct Row<'a> {
    /// Its place in a block, from the middle.
    y: f64,
    counts: &'a [u16],
    levels: &'a Levels,
}

/// Adds one value to the sums of its place.
#[inline(always)]
fn add(sums: &mut Sums, at: usize, value: f32, y: f64) {
    let v = f64::from(value);
    sums.v[at] += v;
    sums.vy[at] += v * y;
    sums.vv[at] += v * v;
    sums.greatest[at] = sums.greatest[at].max(value);
}

row_kernel! {
    /// Sums pieces down rows of counts, piece by piece, so that sums stay in registers.
    fn sum_pieces(rows: &[Row<'_>], starts: &[usize], sums: &mut [Sums]) {
        for (sums, &start) in sums.iter_mut().zip(starts) {
            let mut piece = Sums::NONE;
            for Row { y, counts, levels } in rows {
                let from = start % levels.repeat;
                let (black, scales) = (&levels.black[from..], &levels.scales[from..]);
                let counts = &counts[start..][..BLOCK];
                let (black, scales) = (&black[..BLOCK], &scales[..BLOCK]);
                for at in 0..BLOCK {
                    add(&mut piece, at, (f32::from(counts[at]) - black[at]) * scales[at], *y);
                }
            }
            *sums = piece;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geometry::Rect;
    use crate::base::plane::Plane;
    use crate::raw::frame::{BlackLevels, EXAMPLE_SIX_BY_SIX, Layout, Mosaic};

    fn mosaic(layout: Layout, black: BlackLevels) -> Mosaic {
        let (width, height) = (61, 25);
        let values = if layout == Layout::Linear { 3 } else { 1 };
        let counts = (0..width * height * values)
            .map(|at| (at * 7919 % 3001 + 500) as u16)
            .collect();
        Mosaic {
            counts: Plane::from_values(width * values, height, counts).expect("sizes fit"),
            layout,
            black,
            white: [15_000.0, 15_050.0, 14_900.0],
            crop: Rect {
                left: 0,
                top: 0,
                width,
                height,
            },
        }
    }

    /// Variance about the best plane of a channel of the block at (left, top), site by site, by the normal equations of centred places.
    fn plainly(photosites: &Photosites, left: usize, top: usize, wanted: usize) -> (f64, f64) {
        let values = photosites.values_per_pixel();
        let mut sites = Vec::new();
        let mut row = Vec::new();
        for y in 0..BLOCK {
            photosites.fractions(top + y, left, left + BLOCK, &mut row);
            let channels = photosites.channels(top + y);
            for (at, value) in row.iter().enumerate() {
                if channels[(left * values + at) % channels.len()] == wanted {
                    sites.push(((at / values) as f64, y as f64, f64::from(*value)));
                }
            }
        }
        let n = sites.len() as f64;
        let mean = |of: &dyn Fn(&(f64, f64, f64)) -> f64| sites.iter().map(of).sum::<f64>() / n;
        let (x, y, v) = (mean(&|s| s.0), mean(&|s| s.1), mean(&|s| s.2));
        let (xx, xy, yy) = (
            mean(&|s| (s.0 - x) * (s.0 - x)),
            mean(&|s| (s.0 - x) * (s.1 - y)),
            mean(&|s| (s.1 - y) * (s.1 - y)),
        );
        let (vx, vy) = (
            mean(&|s| (s.2 - v) * (s.0 - x)),
            mean(&|s| (s.2 - v) * (s.1 - y)),
        );
        let determinant = xx * yy - xy * xy;
        let (along, down) = (
            (vx * yy - vy * xy) / determinant,
            (vy * xx - vx * xy) / determinant,
        );
        let rest = mean(&|s| (s.2 - v - along * (s.0 - x) - down * (s.1 - y)).powi(2));
        (v, rest * n / (n - 3.0))
    }

    #[test]
    fn blocks_have_the_variance_of_their_sites_about_a_plane() {
        let by_columns = BlackLevels {
            column_deviation: (0..61).map(|at| (at % 5) as f32).collect(),
            ..BlackLevels::flat(400.0, 1)
        };
        let of_five = BlackLevels {
            rows: 3,
            columns: 5,
            pattern: (0..15).map(|at| 400.0 + at as f32).collect(),
            column_deviation: Vec::new(),
            row_deviation: (0..25).map(|at| (at % 7) as f32).collect(),
        };
        for (layout, black) in [
            (Layout::Bayer([[0, 1], [1, 2]]), BlackLevels::flat(400.0, 1)),
            (Layout::Bayer([[1, 0], [2, 1]]), by_columns),
            (Layout::XTrans(EXAMPLE_SIX_BY_SIX), of_five),
            (Layout::Linear, BlackLevels::flat(400.0, 3)),
        ] {
            let mosaic = mosaic(layout, black);
            let photosites = Photosites::of_active_area(&mosaic);
            let lefts = [0, 12, 48];
            let mut strip = Strip::new(&photosites, &lefts);
            // Twice, so that sums that are not begun anew show.
            for top in [0, 12] {
                strip.sum(&photosites, top);
                let mut samples = Vec::new();
                strip.samples(&mut samples);
                assert_eq!(samples.len(), 9);
                for (at, sample) in samples.iter().enumerate() {
                    let (mean, variance) = plainly(&photosites, lefts[at / 3], top, at % 3);
                    assert!((sample.mean / mean - 1.0).abs() < 1e-12, "{layout:?}");
                    // What sums of squares lose beside centred ones.
                    assert!(
                        (sample.variance / variance - 1.0).abs() < 1e-10,
                        "{layout:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn all_copies_of_the_kernel_are_one() {
        let levels = Levels {
            repeat: 5,
            black: (0..20).map(|at| 400.0 + (at % 5) as f32).collect(),
            scales: (0..20)
                .map(|at| 1.0 / (15_000.0 - (at % 5) as f32))
                .collect(),
        };
        let counts: Vec<u16> = (0..61).map(|at| (at * 7919 % 16_381) as u16).collect();
        let starts = [0, 12, 36, 49];
        let rows = [-5.0, 3.0].map(|y| Row {
            y,
            counts: &counts,
            levels: &levels,
        });
        let of = |kernel: fn(&[Row<'_>], &[usize], &mut [Sums])| {
            let mut sums = [Sums::NONE; 4];
            kernel(&rows, &starts, &mut sums);
            sums
        };
        let copies = sum_pieces::levels();
        for (name, kernel) in &copies {
            assert_eq!(of(*kernel), of(copies[0].1), "{name}");
        }
    }
}
