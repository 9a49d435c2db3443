//! Filling in what is missing: a pyramid of weighted sums, down and up again.
//!
//! Gortler, Grzeszczuk, Szeliski and Cohen 1996 ("The Lumigraph", SIGGRAPH, "push-pull"): on the way down four cells add
//! up to one; on the way up a cell that has less than full weight of its own takes the rest from the coarser level. Every
//! gap is filled at the scale at which it has neighbours, in a fixed number of operations.

/// Numbers of a cell beside its weight.
pub(super) const FIELDS: usize = 5;

/// A cell: values, and the weight by which they count (and by which sums are already multiplied).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Weighted {
    pub(super) weight: f32,
    pub(super) sums: [f32; FIELDS],
}

/// A level of the pyramid, row after row.
pub(super) struct Level {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) cells: Vec<Weighted>,
}

/// Fills every cell: afterwards each has its values (no longer sums) in `sums`. Where nothing has any weight, 0.
pub(super) fn fill(mut finest: Level) -> Level {
    let mut coarser_levels = Vec::new();
    let mut below = coarser(&finest);
    while below.width * below.height < coarser_levels.last().map_or(usize::MAX, area) {
        let next = coarser(&below);
        coarser_levels.push(below);
        below = next;
    }
    let mut filled: Option<Level> = None;
    while let Some(mut level) = coarser_levels.pop() {
        take_from(&mut level, filled.as_ref());
        filled = Some(level);
    }
    take_from(&mut finest, filled.as_ref());
    finest
}

fn area(level: &Level) -> usize {
    level.width * level.height
}

/// Half the size, rounded up; each cell the sum of up to four.
fn coarser(level: &Level) -> Level {
    let (width, height) = (level.width.div_ceil(2), level.height.div_ceil(2));
    let mut cells = vec![Weighted::default(); width * height];
    for (y, row) in level.cells.chunks_exact(level.width).enumerate() {
        for (x, cell) in row.iter().enumerate() {
            let sum = &mut cells[(y / 2) * width + x / 2];
            sum.weight += cell.weight;
            for (sum, value) in sum.sums.iter_mut().zip(cell.sums) {
                *sum += value;
            }
        }
    }
    Level {
        width,
        height,
        cells,
    }
}

/// Turns sums into values, the missing weight taken from a coarser level that has values already.
fn take_from(level: &mut Level, coarse: Option<&Level>) {
    /// Below this a weight is no weight, and dividing by it no value.
    const LEAST: f32 = 1e-12;
    for (y, row) in level.cells.chunks_exact_mut(level.width).enumerate() {
        for (x, cell) in row.iter_mut().enumerate() {
            let own = cell.weight.min(1.0);
            let per_weight = if cell.weight > LEAST {
                own / cell.weight
            } else {
                0.0
            };
            let rest = match coarse {
                Some(coarse) if own < 1.0 => between(coarse, x, y),
                _ => [0.0; FIELDS],
            };
            // At the top nothing is left to take from: what there is counts whole.
            let (per_weight, missing) = if coarse.is_some() {
                (per_weight, 1.0 - own)
            } else if own > 0.0 {
                (per_weight / own, 0.0)
            } else {
                (0.0, 0.0)
            };
            for (value, rest) in cell.sums.iter_mut().zip(rest) {
                *value = *value * per_weight + rest * missing;
            }
        }
    }
}

/// Bilinear interpolation of a coarser level at a cell of the finer one: three quarters of the nearest coarse cell, a
/// quarter of the next, in each direction.
fn between(coarse: &Level, x: usize, y: usize) -> [f32; FIELDS] {
    let neighbour = |at: usize, length: usize| {
        let near = at / 2;
        let next = if at.is_multiple_of(2) {
            near.saturating_sub(1)
        } else {
            (near + 1).min(length - 1)
        };
        (near, next)
    };
    let (near_x, next_x) = neighbour(x, coarse.width);
    let (near_y, next_y) = neighbour(y, coarse.height);
    let at = |x: usize, y: usize| &coarse.cells[y * coarse.width + x].sums;
    let corners = [
        at(near_x, near_y),
        at(next_x, near_y),
        at(near_x, next_y),
        at(next_x, next_y),
    ];
    std::array::from_fn(|field| {
        let [near, across, down, both] = corners.map(|values| values[field]);
        0.5625 * near + 0.1875 * across + 0.1875 * down + 0.0625 * both
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(width: usize, height: usize, cell: impl Fn(usize, usize) -> Weighted) -> Level {
        Level {
            width,
            height,
            cells: (0..width * height)
                .map(|index| cell(index % width, index / width))
                .collect(),
        }
    }

    fn of(weight: f32, value: f32) -> Weighted {
        Weighted {
            weight,
            sums: [weight * value; FIELDS],
        }
    }

    #[test]
    fn flat_stays_flat_whatever_is_missing() {
        // One cell, one row, one column, odd sides; most of it missing.
        for (width, height) in [(1, 1), (9, 1), (1, 7), (2, 2), (13, 11)] {
            let filled = fill(level(width, height, |x, y| {
                of(if (x * 5 + y * 3) % 7 == 0 { 0.6 } else { 0.0 }, 0.75)
            }));
            for cell in filled.cells {
                for value in cell.sums {
                    assert!((value - 0.75).abs() < 1e-6, "{width} x {height}: {value}");
                }
            }
        }
    }

    #[test]
    fn a_gap_takes_the_colour_of_its_own_side() {
        let filled = fill(level(64, 8, |x, _| {
            let missing = (20..24).contains(&x) || (40..44).contains(&x);
            of(
                if missing { 0.0 } else { 1.0 },
                if x < 32 { -1.0 } else { 1.0 },
            )
        }));
        for (x, cell) in filled.cells[..64].iter().enumerate() {
            let wanted = if x < 32 { -1.0 } else { 1.0 };
            assert!(
                (cell.sums[0] - wanted).abs() < 0.05,
                "{x}: {}",
                cell.sums[0]
            );
        }
    }

    #[test]
    fn nothing_known_is_zero() {
        let filled = fill(level(5, 3, |_, _| Weighted::default()));
        assert!(filled.cells.iter().all(|cell| cell.sums == [0.0; FIELDS]));
    }
}
