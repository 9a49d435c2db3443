//! Each stage's row, made from the rows that the stage before it keeps.

use super::kernels::{
    change_row, difference_row, opposite_row, residual_row, share_row, side_row,
    steady_difference_row,
};
use super::{Differences, MARGIN, OPPOSITE_REACH, Pair, Parted, SIDE_REACH, Smoothing};
use crate::render::row::{Row, Window};

/// Places that lie between those of a photosite of this parity and the one so many columns to its right, each counted in the
/// columns of its own parity.
pub(super) fn half(parity: usize, right: isize) -> isize {
    (parity as isize + right).div_euclid(2)
}

/// The part of a row of every second column that lies [`MARGIN`] places inside it, shifted to the right by `shift`.
fn inner(row: &[f32], shift: isize) -> &[f32] {
    let start = MARGIN.saturating_add_signed(shift);
    &row[start..row.len() - 2 * MARGIN + start]
}

/// The same, to be made.
fn made(row: &mut [f32]) -> &mut [f32] {
    let end = row.len() - MARGIN;
    &mut row[MARGIN..end]
}

/// For the photosites of one parity, those that lie so many columns to their right.
fn beside(row: &Parted, parity: usize, right: isize) -> &[f32] {
    let column = parity as isize + right;
    inner(&row[column.rem_euclid(2) as usize], column.div_euclid(2))
}

/// Of a row kept along the row, as many photosites to the left of each as to the right of it.
fn along<const N: usize>(row: &Parted, parity: usize) -> [&[f32]; N] {
    std::array::from_fn(|index| beside(row, parity, index as isize - N as isize / 2))
}

/// Of rows kept along the column, as many above each photosite as below it.
fn column<const N: usize>(kept: &Window<Pair>, v: usize, parity: usize) -> [&[f32]; N] {
    std::array::from_fn(|index| inner(&kept.row(v + index - N / 2)[1][parity], 0))
}

pub(super) fn make_residuals(light: &Window<Pair>, v: usize, [row, down]: &mut Pair) {
    for parity in 0..2 {
        let [west2, west, own, east, east2] = along(&light.row(v)[1], parity);
        let [north2, north, _, south, south2] = column(light, v, parity);
        residual_row(
            west2,
            west,
            own,
            east,
            east2,
            north2,
            north,
            south,
            south2,
            made(&mut row[parity]),
            made(&mut down[parity]),
        );
    }
}

pub(super) fn make_changes(residuals: &Window<Pair>, v: usize, [row, down]: &mut Pair) {
    let [north, own, south] = [v - 1, v, v + 1].map(|v| residuals.row(v));
    for parity in 0..2 {
        let [
            [north_west, _, north_east],
            [west, _, east],
            [south_west, _, south_east],
        ] = [north, own, south].map(|kept| along(&kept[0], parity));
        let [column_north_west, column_north, column_north_east] = along(&north[1], parity);
        let [column_south_west, column_south, column_south_east] = along(&south[1], parity);
        change_row(
            north_west,
            north_east,
            west,
            east,
            south_west,
            south_east,
            column_north_west,
            column_north,
            column_north_east,
            column_south_west,
            column_south,
            column_south_east,
            made(&mut row[parity]),
            made(&mut down[parity]),
        );
    }
}

pub(super) fn make_sides(changes: &Window<Pair>, v: usize, softness: f32, [row, down]: &mut Pair) {
    for parity in 0..2 {
        side_row(
            [0, 1, 2, 3].map(|right| beside(&changes.row(v)[0], parity, right)),
            [0, 1, 2, 3].map(|below| inner(&changes.row(v + below)[1][parity], 0)),
            softness,
            made(&mut row[parity]),
            made(&mut down[parity]),
        );
    }
}

pub(super) fn make_differences(
    (light, residuals, sides): (&Window<Pair>, &Window<Pair>, &Window<Pair>),
    v: usize,
    colour_at: usize,
    smoothing: Smoothing,
    differences: &mut Differences,
) {
    // West, east, north and south of the photosites of one parity.
    let sides = |parity: usize| {
        [
            beside(&sides.row(v)[0], parity, -(SIDE_REACH as isize)),
            inner(&sides.row(v)[0][parity], 0),
            inner(&sides.row(v - SIDE_REACH)[1][parity], 0),
            inner(&sides.row(v)[1][parity], 0),
        ]
    };
    let root = &light.row(v)[1];
    let (difference, green) = (
        made(&mut differences.difference),
        made(&mut differences.green),
    );
    match smoothing {
        Smoothing::Short => difference_row(
            sides(colour_at),
            along(&residuals.row(v)[0], colour_at),
            column(residuals, v, colour_at),
            inner(&root[colour_at], 0),
            difference,
            green,
        ),
        Smoothing::Long => {
            let [west, own, east] = along(root, colour_at);
            let [north, _, south] = column(light, v, colour_at);
            steady_difference_row(
                sides(colour_at),
                along(&residuals.row(v)[0], colour_at),
                column(residuals, v, colour_at),
                [west, east, north, south],
                own,
                difference,
                green,
            );
        }
    }
    share_row(sides(1 - colour_at), made(&mut differences.share));
}

/// Softness of the diagonals' weights against that of the sides', whose changes are sums of twelve.
const DIAGONAL_SOFTNESS: f32 = 0.4;

pub(super) fn make_opposites(
    differences: &Window<Differences>,
    v: usize,
    colour_at: usize,
    softness: f32,
    opposite: &mut Row,
) {
    // North-west, north-east, south-west and south-east of each photosite.
    let corners = |of: fn(&Differences) -> &Row, away: isize| {
        [(-away, -away), (-away, away), (away, -away), (away, away)].map(|(down, right)| {
            let row = of(differences.row(v.saturating_add_signed(down)));
            inner(row, half(colour_at, right))
        })
    };
    opposite_row(
        corners(|row| &row.difference, 1),
        corners(|row| &row.difference, OPPOSITE_REACH as isize),
        corners(|row| &row.green, OPPOSITE_REACH as isize - 1),
        inner(&differences.row(v).green, 0),
        DIAGONAL_SOFTNESS * softness,
        made(opposite),
    );
}
