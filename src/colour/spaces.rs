//! RGB spaces by their primaries and white, and the matrices between them.
//!
//! Matrices are derived from the chromaticities (SMPTE RP 177), not copied from the rounded tables of the standards:
//! the four-digit sRGB matrix of IEC 61966-2-1 and its derived one differ in the fourth digit, and only derived ones
//! invert without loss. Between spaces of different whites the Bradford adaptation stands in between.

use crate::base::matrix::Matrix3;
use crate::base::units::Chromaticity;
use crate::colour::adaptation;

/// An RGB space with linear components. Only the constants of this module exist, so every one has regular matrices.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RgbSpace {
    name: &'static str,
    primaries: [Chromaticity; 3],
    white: Chromaticity,
}

const fn xy(x: f64, y: f64) -> Chromaticity {
    Chromaticity { x, y }
}

/// sRGB: primaries of ITU-R BT.709, white D65 (IEC 61966-2-1:1999).
pub const SRGB: RgbSpace = RgbSpace {
    name: "sRGB",
    primaries: [xy(0.64, 0.33), xy(0.30, 0.60), xy(0.15, 0.06)],
    white: Chromaticity::D65,
};

/// ITU-R BT.2020-2, white D65: the working space. Its primaries are real (monochromatic) lights.
pub const BT2020: RgbSpace = RgbSpace {
    name: "BT.2020",
    primaries: [xy(0.708, 0.292), xy(0.170, 0.797), xy(0.131, 0.046)],
    white: Chromaticity::D65,
};

/// Display P3: primaries of SMPTE RP 431-2, white D65 (SMPTE EG 432-1).
pub const DISPLAY_P3: RgbSpace = RgbSpace {
    name: "Display P3",
    primaries: [xy(0.680, 0.320), xy(0.265, 0.690), xy(0.150, 0.060)],
    white: Chromaticity::D65,
};

/// AP1 primaries under the ACES white near D60 (Academy S-2014-004): the space of the reference gamut compression.
pub const AP1: RgbSpace = RgbSpace {
    name: "AP1",
    primaries: [xy(0.713, 0.293), xy(0.165, 0.830), xy(0.128, 0.044)],
    white: xy(0.321_68, 0.337_67),
};

/// ROMM RGB (ISO 22028-2), white D50: the wide space of prints. Its blue primary is no real light.
pub const ROMM: RgbSpace = RgbSpace {
    name: "ROMM RGB",
    primaries: [xy(0.7347, 0.2653), xy(0.1596, 0.8404), xy(0.0366, 0.0001)],
    white: xy(0.3457, 0.3585),
};

impl RgbSpace {
    /// The name by which standards call the space.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// CIE 1931 chromaticities of red, green and blue.
    #[must_use]
    pub const fn primaries(&self) -> [Chromaticity; 3] {
        self.primaries
    }

    /// CIE 1931 chromaticity of R = G = B.
    #[must_use]
    pub const fn white(&self) -> Chromaticity {
        self.white
    }

    /// Linear RGB to CIE XYZ under the space's own white, white at Y = 1 (SMPTE RP 177-1993).
    #[must_use]
    pub fn to_xyz(&self) -> Matrix3 {
        let columns = Matrix3(self.primaries.map(Chromaticity::to_xyz)).transposed();
        let shares = regular_inverse(&columns).apply(self.white.to_xyz());
        columns * Matrix3::diagonal(shares)
    }

    /// CIE XYZ under the space's own white to linear RGB.
    #[must_use]
    pub fn from_xyz(&self) -> Matrix3 {
        regular_inverse(&self.to_xyz())
    }
}

/// Linear RGB of one space to linear RGB of another; Bradford adaptation where their whites differ.
#[must_use]
pub fn conversion(from: &RgbSpace, to: &RgbSpace) -> Matrix3 {
    if from == to {
        return Matrix3::IDENTITY;
    }
    let adapted = if from.white == to.white {
        from.to_xyz()
    } else {
        adaptation::bradford(from.white, to.white) * from.to_xyz()
    };
    to.from_xyz() * adapted
}

#[expect(
    clippy::expect_used,
    reason = "only this module makes spaces, and a test walks them all"
)]
fn regular_inverse(matrix: &Matrix3) -> Matrix3 {
    matrix
        .inverse()
        .expect("three primaries of a space are never on one line")
}

/// The matrix with every row divided by its sum and the rest of rounding put on one entry, so that the rows of the
/// result sum to 1 exactly (with a middle entry between -1 and 2, as colour matrices have): what should keep white
/// keeps it. `None` when a row's sum is not positive and finite.
#[must_use]
pub fn keep_white(matrix: &Matrix3) -> Option<Matrix3> {
    let mut kept = *matrix;
    for row in &mut kept.0 {
        let sum: f64 = row.iter().sum();
        if !(sum > 0.0 && sum.is_finite()) {
            return None;
        }
        *row = row.map(|value| value / sum);
        // A difference of two numbers within a factor of two is exact (Sterbenz), so one of these leaves no rounding.
        if (0.5..=2.0).contains(&(row[0] + row[1])) {
            row[2] = 1.0 - (row[0] + row[1]);
        } else {
            row[0] = (1.0 - row[2]) - row[1];
        }
    }
    Some(kept)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_space_has_matrices_that_invert_and_keep_white() {
        for space in [SRGB, BT2020, DISPLAY_P3, AP1, ROMM] {
            let product = space.to_xyz() * space.from_xyz();
            for (row, wanted) in product.0.iter().zip(Matrix3::IDENTITY.0) {
                for (value, wanted) in row.iter().zip(wanted) {
                    assert!((value - wanted).abs() < 1e-12, "{}", space.name());
                }
            }
            for other in [SRGB, BT2020, DISPLAY_P3, AP1, ROMM] {
                for value in conversion(&space, &other).apply([1.0; 3]) {
                    assert!(
                        (value - 1.0).abs() < 1e-12,
                        "{} to {}",
                        space.name(),
                        other.name()
                    );
                }
            }
        }
    }

    #[test]
    fn kept_rows_sum_to_one_exactly() {
        let kept = keep_white(&Matrix3([
            [0.7, 0.2, 0.1003],
            [0.31, 0.5, 0.2],
            [-0.1, 0.3, 0.9],
        ]))
        .expect("positive sums");
        assert_eq!(kept.apply([1.0; 3]), [1.0; 3]);
        assert_eq!(keep_white(&Matrix3([[0.0; 3], [1.0; 3], [1.0; 3]])), None);
        assert_eq!(keep_white(&Matrix3::diagonal([f64::NAN, 1.0, 1.0])), None);
    }
}
