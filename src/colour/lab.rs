//! CIELAB, for measuring what a person would see.

/// A CIE 1976 L*a*b* colour.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lab {
    /// Lightness L*: 0 black, 100 the white.
    pub lightness: f64,
    /// a*: green (negative) to red.
    pub a: f64,
    /// b*: blue (negative) to yellow.
    pub b: f64,
}

/// CIE 15:2018, 8.2.1.1: below (6/29)³ the cube root is replaced by its tangent's line.
const KNEE: f64 = 216.0 / 24_389.0;
/// Slope of that line: (29/6)² / 3.
const SLOPE: f64 = 841.0 / 108.0;

/// CIELAB of tristimulus values under a white of the same scale (CIE 15:2018, 8.2.1). Negative values follow the
/// straight part, so that a colour outside the spectrum locus still has finite coordinates.
#[must_use]
pub fn lab_of_xyz(xyz: [f64; 3], white_xyz: [f64; 3]) -> Lab {
    let [fx, fy, fz] = [0, 1, 2].map(|index| response(xyz[index] / white_xyz[index]));
    Lab {
        lightness: 116.0 * fy - 16.0,
        a: 500.0 * (fx - fy),
        b: 200.0 * (fy - fz),
    }
}

fn response(share: f64) -> f64 {
    if share > KNEE {
        share.cbrt()
    } else {
        SLOPE * share + 4.0 / 29.0
    }
}
