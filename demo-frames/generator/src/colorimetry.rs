//! What the standard observer sees: XYZ, chromaticity, correlated colour temperature, CIELAB, and adaptation.
//!
//! Written apart from the toolkit that this crate tests, so that one mistake cannot hide in both. Matrices are row
//! major `[[f64; 3]; 3]`.

use crate::library::Library;
use crate::spectrum::Spectrum;

/// A row-major 3 x 3 matrix.
pub type Matrix = [[f64; 3]; 3];

/// CIE xy of illuminant D65 (CIE 015:2018, table 6).
pub const D65_XY: [f64; 2] = [0.3127, 0.3290];
/// CIE xy of D50 as the DNG specification and ICC.1 use it.
pub const D50_XY: [f64; 2] = [0.3457, 0.3585];

/// Second radiation constant c₂ in nm K (CODATA 2018: 1.438776877e-2 m K).
const SECOND_RADIATION_NM_K: f64 = 1.438_776_877e7;

/// Matrix times column.
pub(crate) fn apply(matrix: &Matrix, column: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|row| (0..3).map(|k| matrix[row][k] * column[k]).sum())
}

/// Matrix product.
pub(crate) fn product(left: &Matrix, right: &Matrix) -> Matrix {
    [0, 1, 2]
        .map(|row| [0, 1, 2].map(|column| (0..3).map(|k| left[row][k] * right[k][column]).sum()))
}

/// Diagonal matrix.
pub(crate) fn diagonal(values: [f64; 3]) -> Matrix {
    let mut matrix = [[0.0; 3]; 3];
    for (index, value) in values.into_iter().enumerate() {
        matrix[index][index] = value;
    }
    matrix
}

/// Inverse by the adjugate; not finite for a singular matrix.
pub(crate) fn inverse(m: &Matrix) -> Matrix {
    let minor = |r: usize, c: usize| {
        let (r1, r2, c1, c2) = ((r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3);
        m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]
    };
    let determinant: f64 = (0..3).map(|c| m[0][c] * minor(0, c)).sum();
    [0, 1, 2].map(|r| [0, 1, 2].map(|c| minor(c, r) / determinant))
}

/// XYZ of a light spectrum with the library's observer, unscaled.
pub(crate) fn xyz(library: &Library, light: &Spectrum) -> [f64; 3] {
    [0, 1, 2].map(|k| library.observer[k].dot(light))
}

/// Chromaticity xy of XYZ.
#[must_use]
pub fn xy_of(xyz: [f64; 3]) -> [f64; 2] {
    let sum = xyz[0] + xyz[1] + xyz[2];
    [xyz[0] / sum, xyz[1] / sum]
}

/// XYZ with Y = 1 of a chromaticity.
#[must_use]
pub fn white_of(xy: [f64; 2]) -> [f64; 3] {
    [xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]]
}

/// Black-body radiation, relative, by Planck's law.
pub(crate) fn planckian(kelvin: f64) -> Spectrum {
    Spectrum::from_function(|nanometre| {
        let fifth = nanometre * nanometre * nanometre * nanometre * nanometre;
        1e15 / (fifth * (libm::exp(SECOND_RADIATION_NM_K / (nanometre * kelvin)) - 1.0))
    })
}

/// CIE 1960 uv of xy.
fn uv_of(xy: [f64; 2]) -> [f64; 2] {
    let divisor = -2.0 * xy[0] + 12.0 * xy[1] + 3.0;
    [4.0 * xy[0] / divisor, 6.0 * xy[1] / divisor]
}

/// Correlated colour temperature in kelvin and Duv: the nearest black body in CIE 1960 uv (CIE 015:2018, section 9.5;
/// sign of Duv after ANSI C78.377: positive above the locus), searched from 1000 to 25000 K by golden section on
/// reciprocal temperature.
pub(crate) fn temperature(library: &Library, xy: [f64; 2]) -> (f64, f64) {
    let here = uv_of(xy);
    let locus = |mired: f64| uv_of(xy_of(xyz(library, &planckian(1e6 / mired))));
    let distance = |mired: f64| {
        let there = locus(mired);
        let (du, dv) = (here[0] - there[0], here[1] - there[1]);
        (du * du + dv * dv).sqrt()
    };
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (40.0, 1000.0);
    // The bracket shrinks to 1000 * 0.618^48 = 1e-7 mired.
    for _ in 0..48 {
        let (left, right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if distance(left) < distance(right) {
            high = right;
        } else {
            low = left;
        }
    }
    let mired = (low + high) / 2.0;
    let side = if here[1] >= locus(mired)[1] {
        1.0
    } else {
        -1.0
    };
    (1e6 / mired, side * distance(mired))
}

/// Bradford adaptation of XYZ from one white to another, both xy (Lam 1985; matrix as in ICC.1:2022, annex E).
#[must_use]
pub fn bradford(from: [f64; 2], to: [f64; 2]) -> Matrix {
    const CONES: Matrix = [
        [0.8951, 0.2664, -0.1614],
        [-0.7502, 1.7135, 0.0367],
        [0.0389, -0.0685, 1.0296],
    ];
    let (a, b) = (apply(&CONES, white_of(from)), apply(&CONES, white_of(to)));
    let gains = diagonal([b[0] / a[0], b[1] / a[1], b[2] / a[2]]);
    product(&inverse(&CONES), &product(&gains, &CONES))
}

/// CIELAB of XYZ against a white of Y = 1 (CIE 015:2018, section 8.2.1).
#[must_use]
pub fn lab(xyz: [f64; 3], white: [f64; 3]) -> [f64; 3] {
    let f = |t: f64| {
        if t > 216.0 / 24389.0 {
            libm::cbrt(t)
        } else {
            (24389.0 / 27.0 * t + 16.0) / 116.0
        }
    };
    let [x, y, z] = [0, 1, 2].map(|k| f(xyz[k] / white[k]));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// CIE 015:2018: white of A and D65 over 360 to 830 nm.
    const PUBLISHED: [(&str, [f64; 2]); 2] = [
        ("cie_a", [0.44758, 0.40745]),
        ("cie_d65", [0.31272, 0.32903]),
    ];

    #[test]
    fn tables_integrate_to_the_published_whites() {
        let library = Library::load().unwrap();
        for (name, published) in PUBLISHED {
            let found = xy_of(xyz(&library, &library.light(name).unwrap()));
            for k in 0..2 {
                // 0.0006: what the observer has outside 400 to 700 nm, where the tables end.
                assert!((found[k] - published[k]).abs() < 6e-4, "{name}: {found:?}");
            }
        }
    }

    #[test]
    fn temperature_of_a_black_body_is_its_own() {
        let library = Library::load().unwrap();
        for kelvin in [1800.0, 2856.0, 6500.0, 12000.0] {
            let (found, duv) = temperature(&library, xy_of(xyz(&library, &planckian(kelvin))));
            // A part in a million: rounding in a flat minimum.
            assert!(
                (found / kelvin - 1.0).abs() < 1e-6 && duv.abs() < 1e-6,
                "{kelvin}: {found} {duv}"
            );
        }
    }

    #[test]
    fn temperature_of_d65_is_the_published_one() {
        let library = Library::load().unwrap();
        // 6504 K and Duv 0.0032: CIE 015:2018, with c2 of 1.4388e-2. The observer's ends move the locus by 15 K.
        let (kelvin, duv) = temperature(&library, D65_XY);
        assert!(
            (kelvin - 6504.0).abs() < 20.0 && (duv - 0.0032).abs() < 3e-4,
            "{kelvin} {duv}"
        );
    }

    #[test]
    fn adaptation_moves_white_to_white() {
        let moved = apply(
            &bradford([0.44758, 0.40745], D65_XY),
            white_of([0.44758, 0.40745]),
        );
        for (found, expected) in moved.into_iter().zip(white_of(D65_XY)) {
            assert!((found - expected).abs() < 1e-12);
        }
    }
}
