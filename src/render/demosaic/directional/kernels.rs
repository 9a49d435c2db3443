//! The row functions of the directional method. All rows of one call are views of equal length on kept rows: a name's
//! compass point says where the view is shifted to, its number by how many photosites.

use crate::render::demosaic::root::Root;
use crate::render::kernel::row_kernel;

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
            along_row[x] = 0.5 * ((c + 0.5 * (west2[x] + east2[x])) - (west[x] + east[x]));
            along_column[x] = 0.5 * ((c + 0.5 * (north2[x] + south2[x])) - (north[x] + south[x]));
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

row_kernel! {
    /// Green minus the own colour at photosites of red or blue, and the share of the row's direction in it. `changes` and
    /// `residuals` begin three and two photosites west of the first that is made; rows of changes and residuals along the
    /// column go from three and two above to as many below.
    fn difference_row(
        changes: &[f32],
        changes_n3: &[f32], changes_n2: &[f32], changes_n1: &[f32], changes_0: &[f32],
        changes_s1: &[f32], changes_s2: &[f32], changes_s3: &[f32],
        residuals: &[f32],
        residuals_n2: &[f32], residuals_n1: &[f32], residuals_0: &[f32], residuals_s1: &[f32], residuals_s2: &[f32],
        softness: f32,
        difference: &mut [f32],
        share: &mut [f32],
    ) {
        let n = difference.len();
        let share = &mut share[..n];
        let (w3, w2, w1, h0) = (&changes[..n], &changes[1..1 + n], &changes[2..2 + n], &changes[3..3 + n]);
        let (e1, e2, e3) = (&changes[4..4 + n], &changes[5..5 + n], &changes[6..6 + n]);
        let (n3, n2, n1, v0) = (&changes_n3[..n], &changes_n2[..n], &changes_n1[..n], &changes_0[..n]);
        let (s1, s2, s3) = (&changes_s1[..n], &changes_s2[..n], &changes_s3[..n]);
        let (rw2, rw1, rh) = (&residuals[..n], &residuals[1..1 + n], &residuals[2..2 + n]);
        let (re1, re2) = (&residuals[3..3 + n], &residuals[4..4 + n]);
        let (rn2, rn1, rv) = (&residuals_n2[..n], &residuals_n1[..n], &residuals_0[..n]);
        let (rs1, rs2) = (&residuals_s1[..n], &residuals_s2[..n]);
        for x in 0..n {
            let weight = |a: f32, b: f32, c: f32, d: f32| {
                let sum = ((a + b) + (c + d)) + softness;
                let square = sum * sum;
                1.0 / (square * square)
            };
            let west = weight(w3[x], w2[x], w1[x], h0[x]);
            let east = weight(h0[x], e1[x], e2[x], e3[x]);
            let north = weight(n3[x], n2[x], n1[x], v0[x]);
            let south = weight(v0[x], s1[x], s2[x], s3[x]);
            // Residuals of green photosites have the opposite sign. Eighths are exact.
            let mean = |own: f32, near: f32, far: f32| 0.375 * near - 0.5 * own - 0.125 * far;
            let row = west * mean(rh[x], rw1[x], rw2[x]) + east * mean(rh[x], re1[x], re2[x]);
            let column = north * mean(rv[x], rn1[x], rn2[x]) + south * mean(rv[x], rs1[x], rs2[x]);
            let along = west + east;
            let all = 1.0 / (along + (north + south));
            difference[x] = (row + column) * all;
            share[x] = along * all;
        }
    }
}

row_kernel! {
    /// The difference of the third colour at photosites of red or blue, from those of that colour around: the four
    /// diagonal neighbours, corrected by the eight beyond (Pekkucuksen and Altunbasak 2010). Each row begins three
    /// photosites west of the first that is made.
    fn opposite_row(
        north3: &[f32],
        north: &[f32],
        south: &[f32],
        south3: &[f32],
        opposite: &mut [f32],
    ) {
        let n = opposite.len();
        let (far_nw, far_ne) = (&north3[2..2 + n], &north3[4..4 + n]);
        let (nw3, nw, ne, ne3) = (&north[..n], &north[2..2 + n], &north[4..4 + n], &north[6..6 + n]);
        let (sw3, sw, se, se3) = (&south[..n], &south[2..2 + n], &south[4..4 + n], &south[6..6 + n]);
        let (far_sw, far_se) = (&south3[2..2 + n], &south3[4..4 + n]);
        for x in 0..n {
            let near = (nw[x] + ne[x]) + (sw[x] + se[x]);
            let far = ((far_nw[x] + far_ne[x]) + (far_sw[x] + far_se[x]))
                + ((nw3[x] + ne3[x]) + (sw3[x] + se3[x]));
            opposite[x] = 0.25 * near + (1.0 / 32.0) * (2.0 * near - far);
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
        green_at: usize,
        colour: &mut [f32],
        green: &mut [f32],
        other: &mut [f32],
    ) {
        let n = colour.len();
        let (green, other) = (&mut green[..n], &mut other[..n]);
        let (light, roots, share) = (&light[..n], &roots[..n], &share[..n]);
        let (own_west, own, own_east) = (&difference[..n], &difference[1..1 + n], &difference[2..2 + n]);
        let (own_north, own_south) = (&difference_north[..n], &difference_south[..n]);
        let (cross_west, cross, cross_east) = (&opposite[..n], &opposite[1..1 + n], &opposite[2..2 + n]);
        let (cross_north, cross_south) = (&opposite_north[..n], &opposite_south[..n]);
        for x in 0..n {
            let is_green = x % 2 == green_at;
            let c = roots[x];
            let mix = |sides: f32, ends: f32| 0.5 * (ends + (sides - ends) * share[x]);
            let own_mixed = mix(own_west[x] + own_east[x], cross_north[x] + cross_south[x]);
            let other_mixed = mix(cross_west[x] + cross_east[x], own_north[x] + own_south[x]);
            let g = c + own[x];
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
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    /// Rows without order, longer than what is made by `margin`.
    fn rows<const N: usize>(length: usize, margin: usize) -> [Vec<f32>; N] {
        std::array::from_fn(|seed| unordered_row(seed, length + margin))
    }

    #[test]
    fn every_copy_of_the_residuals_gives_the_same_bits() {
        hold_together(&residual_row::levels(), |kernel, length| {
            let r: [_; 9] = rows(length, 0);
            let [mut a, mut b] = rows(length, 0);
            kernel(
                &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], &r[6], &r[7], &r[8], &mut a, &mut b,
            );
            [a, b].concat()
        });
    }

    #[test]
    fn every_copy_of_the_changes_gives_the_same_bits() {
        hold_together(&change_row::levels(), |kernel, length| {
            let r: [_; 12] = rows(length, 0);
            let [mut a, mut b] = rows(length, 0);
            kernel(
                &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], &r[6], &r[7], &r[8], &r[9], &r[10],
                &r[11], &mut a, &mut b,
            );
            [a, b].concat()
        });
    }

    #[test]
    fn every_copy_of_the_differences_gives_the_same_bits() {
        hold_together(&difference_row::levels(), |kernel, length| {
            let r: [_; 14] = rows(length, 6);
            let [mut a, mut b] = rows(length, 0);
            kernel(
                &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], &r[6], &r[7], &r[8], &r[9], &r[10],
                &r[11], &r[12], &r[13], 0.05, &mut a, &mut b,
            );
            [a, b].concat()
        });
    }

    #[test]
    fn every_copy_of_the_opposites_gives_the_same_bits() {
        hold_together(&opposite_row::levels(), |kernel, length| {
            let r: [_; 4] = rows(length, 6);
            let [mut made] = rows(length, 0);
            kernel(&r[0], &r[1], &r[2], &r[3], &mut made);
            made
        });
    }

    #[test]
    fn every_copy_of_the_colours_gives_the_same_bits() {
        hold_together(&colour_row::levels(), |kernel, length| {
            let r: [_; 9] = rows(length, 2);
            let mut made = Vec::new();
            for green_at in [0, 1] {
                let [mut colour, mut green, mut other] = rows(length, 0);
                kernel(
                    Root::new(1e-3),
                    &r[0],
                    &r[1],
                    &r[2],
                    &r[3],
                    &r[4],
                    &r[5],
                    &r[6],
                    &r[7],
                    &r[8],
                    green_at,
                    &mut colour,
                    &mut green,
                    &mut other,
                );
                made.extend([colour, green, other].concat());
            }
            made
        });
    }
}
