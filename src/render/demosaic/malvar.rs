//! Gradient-corrected linear interpolation (Malvar, He and Cutler, ICASSP 2004), with the kernels as Getreuer prints
//! them ("Malvar-He-Cutler Linear Image Demosaicking", Image Processing On Line 1, 2011): gains α = 1/2, β = 5/8,
//! γ = 3/4 on the Laplacian of the colour that was counted, added to the bilinear estimate.
//!
//! All four kernels are evaluated at every photosite and the two that fit are kept: twice the arithmetic of a loop that
//! branches by parity, in a loop that fills whole vectors.

use crate::render::kernel::row_kernel;

/// Rows and columns to each side that the kernels look at.
pub(crate) const REACH: usize = 2;

row_kernel! {
    /// One row from five. The five rows are longer by [`REACH`] on both sides than the three that are made. `colour` is
    /// the row's own colour besides green, `other` the third one; green stands at columns of parity `green_at`.
    fn malvar_row(
        above2: &[f32],
        above1: &[f32],
        own: &[f32],
        below1: &[f32],
        below2: &[f32],
        green_at: usize,
        colour: &mut [f32],
        green: &mut [f32],
        other: &mut [f32],
    ) {
        let length = colour.len();
        let (green, other) = (&mut green[..length], &mut other[..length]);
        let north2 = &above2[2..2 + length];
        let (north_west, north, north_east) =
            (&above1[1..1 + length], &above1[2..2 + length], &above1[3..3 + length]);
        let (west2, west, centre) = (&own[..length], &own[1..1 + length], &own[2..2 + length]);
        let (east, east2) = (&own[3..3 + length], &own[4..4 + length]);
        let (south_west, south, south_east) =
            (&below1[1..1 + length], &below1[2..2 + length], &below1[3..3 + length]);
        let south2 = &below2[2..2 + length];
        for x in 0..length {
            let c = centre[x];
            let sides = west[x] + east[x];
            let ends = north[x] + south[x];
            let corners = (north_west[x] + north_east[x]) + (south_west[x] + south_east[x]);
            let far_sides = west2[x] + east2[x];
            let far_ends = north2[x] + south2[x];
            // Laplacian of the counted colour over its neighbours of the same colour, two photosites away.
            let laplacian = 4.0 * c - (far_sides + far_ends);
            // Green at red or blue: α / 4 = 1/8.
            let green_here = 0.25 * (sides + ends) + 0.125 * laplacian;
            // Red at blue or blue at red: γ / 4 = 3/16.
            let opposite = 0.25 * corners + 0.1875 * laplacian;
            // At green, the colour beside it and the colour above it: β / 5 = 1/8.
            let around = 4.0 * c - corners;
            let along = 0.5 * sides
                + 0.125 * ((2.0 * c - far_sides) + around - (c - 0.5 * far_ends));
            let across = 0.5 * ends
                + 0.125 * ((2.0 * c - far_ends) + around - (c - 0.5 * far_sides));
            let is_green = x % 2 == green_at;
            colour[x] = if is_green { along } else { c };
            green[x] = if is_green { c } else { green_here };
            other[x] = if is_green { across } else { opposite };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&malvar_row::levels(), |kernel, length| {
            let rows = [0, 1, 2, 3, 4].map(|seed| unordered_row(seed, length + 2 * REACH));
            let mut made = Vec::new();
            for green_at in [0, 1] {
                let mut out = [0, 1, 2].map(|_| vec![0.0; length]);
                let [colour, green, other] = &mut out;
                kernel(
                    &rows[0], &rows[1], &rows[2], &rows[3], &rows[4], green_at, colour, green,
                    other,
                );
                made.extend(out.concat());
            }
            made
        });
    }

    /// The kernels as Getreuer prints them (figure 2 of "Malvar-He-Cutler Linear Image Demosaicking", Image Processing On
    /// Line 1, 2011, 227-238), times 8.
    #[test]
    fn an_impulse_brings_out_the_published_kernels() {
        const GREEN: [[f32; 5]; 5] = [
            [0.0, 0.0, -1.0, 0.0, 0.0],
            [0.0, 0.0, 2.0, 0.0, 0.0],
            [-1.0, 2.0, 4.0, 2.0, -1.0],
            [0.0, 0.0, 2.0, 0.0, 0.0],
            [0.0, 0.0, -1.0, 0.0, 0.0],
        ];
        const ALONG: [[f32; 5]; 5] = [
            [0.0, 0.0, 0.5, 0.0, 0.0],
            [0.0, -1.0, 0.0, -1.0, 0.0],
            [-1.0, 4.0, 5.0, 4.0, -1.0],
            [0.0, -1.0, 0.0, -1.0, 0.0],
            [0.0, 0.0, 0.5, 0.0, 0.0],
        ];
        const OPPOSITE: [[f32; 5]; 5] = [
            [0.0, 0.0, -1.5, 0.0, 0.0],
            [0.0, 2.0, 0.0, 2.0, 0.0],
            [-1.5, 0.0, 6.0, 0.0, -1.5],
            [0.0, 2.0, 0.0, 2.0, 0.0],
            [0.0, 0.0, -1.5, 0.0, 0.0],
        ];
        for row in 0..5 {
            for column in 0..5 {
                let mut rows = [[0.0f32; 5]; 5];
                rows[row][column] = 8.0;
                let run = |green_at| {
                    let mut out = [[0.0f32]; 3];
                    let [colour, green, other] = &mut out;
                    malvar_row(
                        &rows[0], &rows[1], &rows[2], &rows[3], &rows[4], green_at, colour, green,
                        other,
                    );
                    out.map(|[value]| value)
                };
                let centre = if (row, column) == (2, 2) { 8.0 } else { 0.0 };
                assert_eq!(run(1), [centre, GREEN[row][column], OPPOSITE[row][column]]);
                assert_eq!(run(0), [ALONG[row][column], centre, ALONG[column][row]]);
            }
        }
    }
}
