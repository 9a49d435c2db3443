//! The row functions of the directional method. All rows of one call are views of equal length on kept rows: a name's
//! compass point says where the view is shifted to, its number by how many photosites.

use crate::base::kernel::row_kernel;
use crate::render::demosaic::root::Root;

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

/// Estimates from west, east, north and south, weighed by the inverses of their sides' changes: the mean and the share of
/// the row's direction in it.
#[inline(always)]
fn weighed(estimates: [f32; 4], changes: [f32; 4]) -> (f32, f32) {
    let [west, east, north, south] = inverse_weights(changes);
    let along = west + east;
    let all = 1.0 / (along + (north + south));
    let row = west.mul_add(estimates[0], east * estimates[1]);
    let column = north.mul_add(estimates[2], south * estimates[3]);
    ((row + column) * all, along * all)
}

row_kernel! {
    /// The fourth power of how much the residuals change on one side of a photosite, along the row and along the column: of the
    /// photosite itself and the three east (south) of it. The side west (north) of a photosite is that of the third one
    /// west (north). `along` has three more values at its end than is made; `across` are the rows from the own one down.
    fn side_row(
        along: &[f32],
        across: [&[f32]; 4],
        softness: f32,
        along_row: &mut [f32],
        along_column: &mut [f32],
    ) {
        let n = along_row.len();
        let along_column = &mut along_column[..n];
        let h: [&[f32]; 4] = std::array::from_fn(|i| &along[i..i + n]);
        let v: [&[f32]; 4] = std::array::from_fn(|i| &across[i][..n]);
        for x in 0..n {
            along_row[x] = change([h[0][x], h[1][x], h[2][x], h[3][x]], softness);
            along_column[x] = change([v[0][x], v[1][x], v[2][x], v[3][x]], softness);
        }
    }
}

row_kernel! {
    /// Green minus the own colour at photosites of red or blue, the share of the row's direction in it, and green. Rows along the
    /// row begin 3 (sides) and 2 (residuals) photosites west of the first that is made; residuals along the column go from as
    /// many above to as many below, the sides are those of three rows above and of the own.
    fn difference_row(
        sides_along: &[f32],
        sides: [&[f32]; 2],
        residuals_along: &[f32],
        residuals: [&[f32]; 5],
        own: &[f32],
        difference: &mut [f32],
        share: &mut [f32],
        green: &mut [f32],
    ) {
        let n = difference.len();
        let (share, green) = (&mut share[..n], &mut green[..n]);
        let own = &own[..n];
        let (west, east) = (&sides_along[..n], &sides_along[3..3 + n]);
        let [north, south] = sides.map(|row| &row[..n]);
        let row: [&[f32]; 5] = std::array::from_fn(|i| &residuals_along[i..i + n]);
        let column: [&[f32]; 5] = std::array::from_fn(|i| &residuals[i][..n]);
        for x in 0..n {
            let changes = [west[x], east[x], north[x], south[x]];
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
            (difference[x], share[x]) = weighed(estimates, changes);
            green[x] = own[x] + difference[x];
        }
    }
}

/// Share of green's own fine detail at photosites of red and blue that the steady estimate keeps; the rest is the mean of
/// the four greens around. Less noise comes through, and less detail: an eighth given up costs 0.1 dB less than all of
/// the detail in noise of ISO 6400, and gains 0.15 dB (measured).
const DETAIL: f32 = 0.875;

row_kernel! {
    /// The same for noisy light: estimates are plain means of five residuals on each side (so that rows along begin 4
    /// photosites west and those along the column go from 4 above to 4 below), and a part of the detail is left out.
    /// `greens` are the roots west, east, north and south; `own` the root itself.
    fn steady_difference_row(
        sides_along: &[f32],
        sides: [&[f32]; 2],
        residuals_along: &[f32],
        residuals: [&[f32]; 9],
        greens: [&[f32]; 4],
        own: &[f32],
        difference: &mut [f32],
        share: &mut [f32],
        green: &mut [f32],
    ) {
        let n = difference.len();
        let (share, green) = (&mut share[..n], &mut green[..n]);
        let own = &own[..n];
        let (west, east) = (&sides_along[..n], &sides_along[3..3 + n]);
        let [north, south] = sides.map(|row| &row[..n]);
        let row: [&[f32]; 9] = std::array::from_fn(|i| &residuals_along[i..i + n]);
        let column: [&[f32]; 9] = std::array::from_fn(|i| &residuals[i][..n]);
        let greens: [&[f32]; 4] = greens.map(|green| &green[..n]);
        for x in 0..n {
            let changes = [west[x], east[x], north[x], south[x]];
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
            let (estimate, along) = weighed(estimates, changes);
            let around = 0.25 * ((greens[0][x] + greens[1][x]) + (greens[2][x] + greens[3][x]));
            let plain = around - own[x];
            difference[x] = DETAIL.mul_add(estimate - plain, plain);
            share[x] = along;
            green[x] = own[x] + difference[x];
        }
    }
}

row_kernel! {
    /// The difference of the third colour at photosites of red or blue, from its four diagonal neighbours of that colour.
    /// Each counts by the inverse square of how much the differences change on its diagonal, beyond it and across the
    /// photosite, and how much green does on the way to the next photosite of the own colour. Rows of differences are those
    /// three and one above and below, and begin three photosites west of the first that is made; greens are the own row and
    /// those two above and below, and begin two photosites west.
    fn opposite_row(
        differences: [&[f32]; 4],
        greens: [&[f32]; 3],
        softness: f32,
        opposite: &mut [f32],
    ) {
        let n = opposite.len();
        let at = |row: usize, column: usize| &differences[row][column..column + n];
        let (far_nw, far_ne, nw, ne) = (at(0, 0), at(0, 6), at(1, 2), at(1, 4));
        let (sw, se, far_sw, far_se) = (at(2, 2), at(2, 4), at(3, 0), at(3, 6));
        let green = |row: usize, column: usize| &greens[row][column..column + n];
        let (own, green_nw, green_ne) = (green(1, 2), green(0, 0), green(0, 4));
        let (green_sw, green_se) = (green(2, 0), green(2, 4));
        for x in 0..n {
            let change = |across: f32, near: f32, far: f32, green: f32| {
                let change = across + ((near - far).abs() + ((own[x] - green).abs() + softness));
                change * change
            };
            let falling = (nw[x] - se[x]).abs();
            let rising = (ne[x] - sw[x]).abs();
            let weights = inverse_weights([
                change(falling, nw[x], far_nw[x], green_nw[x]),
                change(rising, ne[x], far_ne[x], green_ne[x]),
                change(rising, sw[x], far_sw[x], green_sw[x]),
                change(falling, se[x], far_se[x], green_se[x]),
            ]);
            let north = weights[0].mul_add(nw[x], weights[1] * ne[x]);
            let south = weights[2].mul_add(sw[x], weights[3] * se[x]);
            let all = (weights[0] + weights[1]) + (weights[2] + weights[3]);
            opposite[x] = (north + south) / all;
        }
    }
}

row_kernel! {
    /// One row of light in three colours. `difference` and `opposite` (of this row) begin one photosite west of the first
    /// that is made; green stands at columns of parity `green_at`.
    fn colour_row(
        domain: Root,
        light: &[f32],
        roots: &[f32],
        share: &[f32],
        difference: &[f32],
        difference_north: &[f32],
        difference_south: &[f32],
        opposite: &[f32],
        opposite_north: &[f32],
        opposite_south: &[f32],
        greens: &[f32],
        green_at: usize,
        colour: &mut [f32],
        green: &mut [f32],
        other: &mut [f32],
    ) {
        let n = colour.len();
        let (green, other) = (&mut green[..n], &mut other[..n]);
        let (light, roots, share) = (&light[..n], &roots[..n], &share[..n]);
        let greens = &greens[..n];
        let (own_west, own_east) = (&difference[..n], &difference[2..2 + n]);
        let (own_north, own_south) = (&difference_north[..n], &difference_south[..n]);
        let (cross_west, cross, cross_east) = (&opposite[..n], &opposite[1..1 + n], &opposite[2..2 + n]);
        let (cross_north, cross_south) = (&opposite_north[..n], &opposite_south[..n]);
        for x in 0..n {
            let is_green = x % 2 == green_at;
            let c = roots[x];
            let mix = |sides: f32, ends: f32| 0.5 * (sides - ends).mul_add(share[x], ends);
            let own_mixed = mix(own_west[x] + own_east[x], cross_north[x] + cross_south[x]);
            let other_mixed = mix(cross_west[x] + cross_east[x], own_north[x] + own_south[x]);
            let g = greens[x];
            let colour_root = c - own_mixed;
            let other_root = if is_green { c - other_mixed } else { g - cross[x] };
            let made = domain.light(if is_green { colour_root } else { g });
            colour[x] = if is_green { made } else { light[x] };
            green[x] = if is_green { light[x] } else { made };
            other[x] = domain.light(other_root);
        }
    }
}

#[cfg(test)]
mod tests;
