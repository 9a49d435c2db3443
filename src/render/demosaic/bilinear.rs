//! Bilinear interpolation: each missing colour is the mean of its nearest neighbours. The plain twin of the
//! gradient-corrected method, which adds a correction to these very means.

use crate::render::kernel::row_kernel;

/// Rows and columns to each side that the method looks at.
pub(crate) const REACH: usize = 1;

row_kernel! {
    /// One row from three, which are longer by [`REACH`] on both sides than the three that are made. `colour` is the
    /// row's own colour besides green, `other` the third one; green stands at columns of parity `green_at`.
    fn bilinear_row(
        above: &[f32],
        own: &[f32],
        below: &[f32],
        green_at: usize,
        colour: &mut [f32],
        green: &mut [f32],
        other: &mut [f32],
    ) {
        let length = colour.len();
        let (green, other) = (&mut green[..length], &mut other[..length]);
        let (north_west, north, north_east) =
            (&above[..length], &above[1..1 + length], &above[2..2 + length]);
        let (west, centre, east) = (&own[..length], &own[1..1 + length], &own[2..2 + length]);
        let (south_west, south, south_east) =
            (&below[..length], &below[1..1 + length], &below[2..2 + length]);
        for x in 0..length {
            let c = centre[x];
            let sides = west[x] + east[x];
            let ends = north[x] + south[x];
            let corners = (north_west[x] + north_east[x]) + (south_west[x] + south_east[x]);
            let is_green = x % 2 == green_at;
            colour[x] = if is_green { 0.5 * sides } else { c };
            green[x] = if is_green { c } else { 0.25 * (sides + ends) };
            other[x] = if is_green { 0.5 * ends } else { 0.25 * corners };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&bilinear_row::levels(), |kernel, length| {
            let rows = [0, 1, 2].map(|seed| unordered_row(seed, length + 2 * REACH));
            let mut made = Vec::new();
            for green_at in [0, 1] {
                let mut out = [0, 1, 2].map(|_| vec![0.0; length]);
                let [colour, green, other] = &mut out;
                kernel(&rows[0], &rows[1], &rows[2], green_at, colour, green, other);
                made.extend(out.concat());
            }
            made
        });
    }
}
