//! The row functions of the directional method. All rows of one call are views of equal length on kept rows, which hold every
//! second column: a name's compass point says where the view is shifted to, its number by how many photosites.

use crate::base::kernel::row_kernel;
use crate::render::demosaic::root::Root;

row_kernel! {
    /// Parts a row of light, and its roots, into even and odd columns. The last odd column may be missing: it is dark.
    fn part_row(
        domain: Root,
        row: &[f32],
        even_light: &mut [f32],
        odd_light: &mut [f32],
        even_root: &mut [f32],
        odd_root: &mut [f32],
    ) {
        let (pairs, last) = row.as_chunks::<2>();
        let n = pairs.len();
        let (lights, roots) = ([&mut even_light[..n], &mut odd_light[..n]], [&mut even_root[..n], &mut odd_root[..n]]);
        let ([even_lights, odd_lights], [even_roots, odd_roots]) = (lights, roots);
        for x in 0..n {
            let [even, odd] = pairs[x];
            even_lights[x] = even;
            odd_lights[x] = odd;
            even_roots[x] = domain.of(even);
            odd_roots[x] = domain.of(odd);
        }
        if let Some(&last) = last.first() {
            (even_light[n], even_root[n]) = (last, domain.of(last));
            (odd_light[n], odd_root[n]) = (0.0, 0.0);
        }
    }
}

row_kernel! {
    /// How far each photosite lies from the line through its neighbours, along the row and along the column: plus or minus
    /// the difference of green and the line's other colour, at a site of the other colour and of green.
    /// (1, -2, 2, -2, 1) / 4: the mean of the near neighbours, corrected by the second difference of the own colour
    /// (Hamilton and Adams 1997).
    fn residual_row(
        west2: &[f32], west: &[f32], own: &[f32], east: &[f32], east2: &[f32],
        north2: &[f32], north: &[f32], south: &[f32], south2: &[f32],
        along_row: &mut [f32],
        along_column: &mut [f32],
    ) {
        let n = along_row.len();
        let along_column = &mut along_column[..n];
        let (west2, west, own, east, east2) = (&west2[..n], &west[..n], &own[..n], &east[..n], &east2[..n]);
        let (north2, north, south, south2) = (&north2[..n], &north[..n], &south[..n], &south2[..n]);
        for x in 0..n {
            let c = own[x];
            along_row[x] = 0.5 * (0.5_f32.mul_add(west2[x] + east2[x], c) - (west[x] + east[x]));
            along_column[x] = 0.5 * (0.5_f32.mul_add(north2[x] + south2[x], c) - (north[x] + south[x]));
        }
    }
}

row_kernel! {
    /// How much the residuals change along their own line, over three lines side by side.
    /// `row_*` are residuals along the row of three rows, west and east; `column_*` residuals along the column of the rows
    /// above and below, three columns.
    fn change_row(
        north_west: &[f32], north_east: &[f32],
        west: &[f32], east: &[f32],
        south_west: &[f32], south_east: &[f32],
        column_north_west: &[f32], column_north: &[f32], column_north_east: &[f32],
        column_south_west: &[f32], column_south: &[f32], column_south_east: &[f32],
        along_row: &mut [f32],
        along_column: &mut [f32],
    ) {
        let n = along_row.len();
        let along_column = &mut along_column[..n];
        let (north_west, north_east) = (&north_west[..n], &north_east[..n]);
        let (west, east) = (&west[..n], &east[..n]);
        let (south_west, south_east) = (&south_west[..n], &south_east[..n]);
        let (column_north_west, column_north, column_north_east) =
            (&column_north_west[..n], &column_north[..n], &column_north_east[..n]);
        let (column_south_west, column_south, column_south_east) =
            (&column_south_west[..n], &column_south[..n], &column_south_east[..n]);
        for x in 0..n {
            along_row[x] = (west[x] - east[x]).abs()
                + ((north_west[x] - north_east[x]).abs() + (south_west[x] - south_east[x]).abs());
            along_column[x] = (column_north[x] - column_south[x]).abs()
                + ((column_north_west[x] - column_south_west[x]).abs()
                    + (column_north_east[x] - column_south_east[x]).abs());
        }
    }
}

/// Fourth power of the changes on one side, of four photosites.
#[inline(always)]
fn change(changes: [f32; 4], softness: f32) -> f32 {
    let [a, b, c, d] = changes;
    let sum = ((a + b) + (c + d)) + softness;
    let square = sum * sum;
    square * square
}

/// Weights in the ratio of the inverses of four numbers, without a division: each is the product of the other three.
#[inline(always)]
fn inverse_weights(changes: [f32; 4]) -> [f32; 4] {
    let [a, b, c, d] = changes;
    let (first, second) = (a * b, c * d);
    [b * second, a * second, d * first, c * first]
}

/// The mean of estimates from west, east, north and south, weighed by the inverses of their sides' changes.
#[inline(always)]
fn weighed(estimates: [f32; 4], changes: [f32; 4]) -> f32 {
    let [west, east, north, south] = inverse_weights(changes);
    let all = 1.0 / ((west + east) + (north + south));
    let row = west.mul_add(estimates[0], east * estimates[1]);
    let column = north.mul_add(estimates[2], south * estimates[3]);
    (row + column) * all
}

row_kernel! {
    /// The fourth power of how much the residuals change on one side of a photosite, along the row and along the column: of the
    /// photosite itself and the three east (south) of it. The side west (north) of a photosite is that of the third one
    /// west (north).
    fn side_row(
        along: [&[f32]; 4],
        across: [&[f32]; 4],
        softness: f32,
        along_row: &mut [f32],
        along_column: &mut [f32],
    ) {
        let n = along_row.len();
        let along_column = &mut along_column[..n];
        let h: [&[f32]; 4] = std::array::from_fn(|i| &along[i][..n]);
        let v: [&[f32]; 4] = std::array::from_fn(|i| &across[i][..n]);
        for x in 0..n {
            along_row[x] = change([h[0][x], h[1][x], h[2][x], h[3][x]], softness);
            along_column[x] = change([v[0][x], v[1][x], v[2][x], v[3][x]], softness);
        }
    }
}

row_kernel! {
    /// The share of the row's direction at photosites of green, from the changes on their sides west, east, north and south.
    fn share_row(sides: [&[f32]; 4], share: &mut [f32]) {
        let n = share.len();
        let sides = sides.map(|side| &side[..n]);
        for x in 0..n {
            let [west, east, north, south] = inverse_weights([sides[0][x], sides[1][x], sides[2][x], sides[3][x]]);
            let along = west + east;
            share[x] = along / (along + (north + south));
        }
    }
}

row_kernel! {
    /// Green minus the own colour at photosites of red or blue, and green. The sides are those west, east, north and south;
    /// residuals along the row go from as many west to as many east, those along the column from north to south.
    fn difference_row(
        sides: [&[f32]; 4],
        residuals_along: [&[f32]; 5],
        residuals: [&[f32]; 5],
        own: &[f32],
        difference: &mut [f32],
        green: &mut [f32],
    ) {
        let n = difference.len();
        let (own, green) = (&own[..n], &mut green[..n]);
        let sides = sides.map(|side| &side[..n]);
        let row = residuals_along.map(|row| &row[..n]);
        let column = residuals.map(|row| &row[..n]);
        for x in 0..n {
            let changes = [sides[0][x], sides[1][x], sides[2][x], sides[3][x]];
            // Weights 4, 3, 1 eighths; residuals of green photosites have the opposite sign.
            let mean = |own: f32, near: f32, far: f32| {
                near.mul_add(0.375, own.mul_add(-0.5, -0.125 * far))
            };
            let estimates = [
                mean(row[2][x], row[1][x], row[0][x]),
                mean(row[2][x], row[3][x], row[4][x]),
                mean(column[2][x], column[1][x], column[0][x]),
                mean(column[2][x], column[3][x], column[4][x]),
            ];
            difference[x] = weighed(estimates, changes);
            green[x] = own[x] + difference[x];
        }
    }
}

/// Share of green's own fine detail at photosites of red and blue that the steady estimate keeps; the rest is the mean of
/// the four greens around. Less noise comes through, and less detail: an eighth given up costs 0.1 dB less than all of
/// the detail in noise of ISO 6400, and gains 0.15 dB (measured).
const DETAIL: f32 = 0.875;

row_kernel! {
    /// The same for noisy light: estimates are plain means of five residuals on each side, and a part of the detail is left
    /// out. `greens` are the roots west, east, north and south; `own` the root itself.
    fn steady_difference_row(
        sides: [&[f32]; 4],
        residuals_along: [&[f32]; 9],
        residuals: [&[f32]; 9],
        greens: [&[f32]; 4],
        own: &[f32],
        difference: &mut [f32],
        green: &mut [f32],
    ) {
        let n = difference.len();
        let (own, green) = (&own[..n], &mut green[..n]);
        let [sides, greens] = [sides, greens].map(|rows| rows.map(|row| &row[..n]));
        let row = residuals_along.map(|row| &row[..n]);
        let column = residuals.map(|row| &row[..n]);
        for x in 0..n {
            let changes = [sides[0][x], sides[1][x], sides[2][x], sides[3][x]];
            // Residuals of green photosites have the opposite sign.
            let mean = |own: f32, near: [f32; 4]| {
                let [first, second, third, fourth] = near;
                0.2 * ((first + third) - (own + (second + fourth)))
            };
            let estimates = [
                mean(row[4][x], [row[3][x], row[2][x], row[1][x], row[0][x]]),
                mean(row[4][x], [row[5][x], row[6][x], row[7][x], row[8][x]]),
                mean(column[4][x], [column[3][x], column[2][x], column[1][x], column[0][x]]),
                mean(column[4][x], [column[5][x], column[6][x], column[7][x], column[8][x]]),
            ];
            let estimate = weighed(estimates, changes);
            let around = 0.25 * ((greens[0][x] + greens[1][x]) + (greens[2][x] + greens[3][x]));
            let plain = around - own[x];
            difference[x] = DETAIL.mul_add(estimate - plain, plain);
            green[x] = own[x] + difference[x];
        }
    }
}

row_kernel! {
    /// The difference of the third colour at photosites of red or blue, from its four diagonal neighbours of that colour.
    /// Each counts by the inverse square of how much the differences change on its diagonal, beyond it and across the
    /// photosite, and how much green does on the way to the next photosite of the own colour. Rows go north-west, north-east,
    /// south-west, south-east: differences next to the photosite, those three rows and columns away, and greens two away.
    fn opposite_row(
        near: [&[f32]; 4],
        far: [&[f32]; 4],
        greens: [&[f32]; 4],
        own: &[f32],
        softness: f32,
        opposite: &mut [f32],
    ) {
        let n = opposite.len();
        let [near, far, greens] = [near, far, greens].map(|rows| rows.map(|row| &row[..n]));
        let ([nw, ne, sw, se], own) = (near, &own[..n]);
        for x in 0..n {
            let change = |across: f32, side: usize| {
                let beyond = (near[side][x] - far[side][x]).abs();
                let change = across + (beyond + ((own[x] - greens[side][x]).abs() + softness));
                change * change
            };
            let falling = (nw[x] - se[x]).abs();
            let rising = (ne[x] - sw[x]).abs();
            let weights = inverse_weights([
                change(falling, 0),
                change(rising, 1),
                change(rising, 2),
                change(falling, 3),
            ]);
            let north = weights[0].mul_add(nw[x], weights[1] * ne[x]);
            let south = weights[2].mul_add(sw[x], weights[3] * se[x]);
            let all = (weights[0] + weights[1]) + (weights[2] + weights[3]);
            opposite[x] = (north + south) / all;
        }
    }
}

/// What a row's photosites of green hold: their light and root, the share of the row's direction, and west, east, north and
/// south of them the differences of green from the row's own colour and from the third.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AtGreen<'a> {
    pub(crate) light: &'a [f32],
    pub(crate) root: &'a [f32],
    pub(crate) share: &'a [f32],
    pub(crate) differences: [&'a [f32]; 4],
    pub(crate) opposites: [&'a [f32]; 4],
}

/// What its photosites of red or blue hold: their light, green's root, and its difference from the third colour.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AtColour<'a> {
    pub(crate) light: &'a [f32],
    pub(crate) green: &'a [f32],
    pub(crate) opposite: &'a [f32],
}

row_kernel! {
    /// An even number of pixels in three colours of light, in pairs of a photosite of green and one of red or blue; which is
    /// first, `is_green_first` says.
    fn colour_row(
        domain: Root,
        is_green_first: bool,
        at_green: AtGreen<'_>,
        at_colour: AtColour<'_>,
        colour: &mut [f32],
        green: &mut [f32],
        other: &mut [f32],
    ) {
        if is_green_first {
            colour_pairs::<true>(domain, at_green, at_colour, [colour, green, other]);
        } else {
            colour_pairs::<false>(domain, at_green, at_colour, [colour, green, other]);
        }
    }
}

#[inline(always)]
fn colour_pairs<const IS_GREEN_FIRST: bool>(
    domain: Root,
    at_green: AtGreen<'_>,
    at_colour: AtColour<'_>,
    [colour, green, other]: [&mut [f32]; 3],
) {
    let colours = colour.as_chunks_mut::<2>().0;
    let n = colours.len();
    let greens = &mut green.as_chunks_mut::<2>().0[..n];
    let others = &mut other.as_chunks_mut::<2>().0[..n];
    let (light, root) = (&at_green.light[..n], &at_green.root[..n]);
    let share = &at_green.share[..n];
    let [own_west, own_east, own_north, own_south] = at_green.differences.map(|row| &row[..n]);
    let [cross_west, cross_east, cross_north, cross_south] =
        at_green.opposites.map(|row| &row[..n]);
    let (counted, green_root) = (&at_colour.light[..n], &at_colour.green[..n]);
    let cross = &at_colour.opposite[..n];
    let pair = |at_green: f32, at_colour: f32| {
        if IS_GREEN_FIRST {
            [at_green, at_colour]
        } else {
            [at_colour, at_green]
        }
    };
    for x in 0..n {
        let mix = |sides: f32, ends: f32| 0.5 * (sides - ends).mul_add(share[x], ends);
        let own_mixed = mix(own_west[x] + own_east[x], cross_north[x] + cross_south[x]);
        let other_mixed = mix(cross_west[x] + cross_east[x], own_north[x] + own_south[x]);
        let green = green_root[x];
        colours[x] = pair(domain.light(root[x] - own_mixed), counted[x]);
        greens[x] = pair(light[x], domain.light(green));
        others[x] = pair(
            domain.light(root[x] - other_mixed),
            domain.light(green - cross[x]),
        );
    }
}

#[cfg(test)]
mod tests;
