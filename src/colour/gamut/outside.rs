//! Which colours count as outside the picture's space.

/// A pixel is outside the picture's space when its least channel in that space's linear RGB is below minus this share of its
/// greatest. Less is hardly seen: at this share a colour lies 0.5 to 2 CIEDE2000 from the edge (medians along the six sides
/// of sRGB, measured).
pub const OUTSIDE: f32 = 0.02;
/// And when its greatest channel is at least this share of diffuse white after the gain (which folding has put before the
/// map): in darker ones noise decides, and nobody sees their colour (common practice, no source).
pub const DARKEST_OUTSIDE: f32 = 0.01;

/// Whether a colour of the space's linear RGB is clearly outside.
#[inline(always)]
pub(super) fn is_outside([red, green, blue]: [f32; 3]) -> bool {
    let greatest = red.max(green).max(blue);
    let least = red.min(green).min(blue);
    (least < -OUTSIDE * greatest) & (greatest >= DARKEST_OUTSIDE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_is_what_is_bright_enough_and_clearly_negative() {
        let cases = [
            ([1.0, 0.5, 0.0], false),
            ([1.0, 0.5, -0.019], false),
            ([1.0, 0.5, -0.021], true),
            ([-0.3, -0.2, 0.9], true),
            ([0.009, 0.0, -0.009], false),
            ([0.011, 0.0, -0.009], true),
            ([f32::NAN, -1.0, 1.0], true),
            ([1.0, -1.0, f32::NAN], true),
        ];
        for (colour, wanted) in cases {
            assert_eq!(is_outside(colour), wanted, "{colour:?}");
        }
    }
}
