//! A body's colour matrices, fitted on the 24-patch chart under illuminants A and D65.
//!
//! White-preserving least squares (Finlayson and Drew 1997, "Constrained least-squares regression in color spaces",
//! Journal of Electronic Imaging 6(4)): white-balanced camera RGB goes to XYZ, grey goes exactly to the light's white.
//! Each patch counts by the inverse of its luminance to the 2/3, the slope of CIELAB's lightness, so that dark patches
//! are not forgotten.

use crate::SimulatorError;
use crate::colorimetry::{
    D50_XY, Matrix, apply, bradford, diagonal, inverse, product, white_of, xy_of, xyz,
};
use crate::library::Library;
use crate::spectrum::Spectrum;

/// The four matrices that a DNG holds.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourProfile {
    /// XYZ to camera RGB under illuminant A.
    pub colour_matrix_a: Matrix,
    /// XYZ to camera RGB under illuminant D65.
    pub colour_matrix_d65: Matrix,
    /// White-balanced camera RGB under illuminant A to XYZ of D50.
    pub forward_matrix_a: Matrix,
    /// White-balanced camera RGB under illuminant D65 to XYZ of D50.
    pub forward_matrix_d65: Matrix,
}

/// Camera RGB of a light spectrum.
pub(crate) fn camera_rgb(sensitivities: &[Spectrum; 3], light: &Spectrum) -> [f64; 3] {
    [0, 1, 2].map(|k| sensitivities[k].dot(light))
}

/// Fits all four.
pub(crate) fn fit(
    library: &Library,
    sensitivities: &[Spectrum; 3],
) -> Result<ColourProfile, SimulatorError> {
    let (colour_matrix_a, forward_matrix_a) =
        fit_under(library, sensitivities, &library.light("cie_a")?);
    let (colour_matrix_d65, forward_matrix_d65) =
        fit_under(library, sensitivities, &library.light("cie_d65")?);
    Ok(ColourProfile {
        colour_matrix_a,
        colour_matrix_d65,
        forward_matrix_a,
        forward_matrix_d65,
    })
}

/// Colour and forward matrix under one light.
fn fit_under(
    library: &Library,
    sensitivities: &[Spectrum; 3],
    light: &Spectrum,
) -> (Matrix, Matrix) {
    let light = light.scaled(1.0 / xyz(library, light)[1]);
    let white = xyz(library, &light);
    let neutral = camera_rgb(sensitivities, &light);
    // Weighted normal equations, one set of unknowns a row of the matrix.
    let (mut gram, mut targets) = ([[0.0; 3]; 3], [[0.0; 3]; 3]);
    for (_, reflectance) in library.chart() {
        let reflected = light.times(reflectance);
        let rgb = camera_rgb(sensitivities, &reflected);
        let balanced = [0, 1, 2].map(|k| rgb[k] / neutral[k]);
        let seen = xyz(library, &reflected);
        let weight = 1.0 / libm::pow(seen[1], 4.0 / 3.0);
        for row in 0..3 {
            for column in 0..3 {
                gram[row][column] += weight * balanced[row] * balanced[column];
                targets[row][column] += weight * balanced[column] * seen[row];
            }
        }
    }
    let solve = inverse(&gram);
    let lift = apply(&solve, [1.0; 3]);
    let lift_sum: f64 = lift.iter().sum();
    let to_xyz = [0, 1, 2].map(|row| {
        let free = apply(&solve, targets[row]);
        let missing = white[row] - free.iter().sum::<f64>();
        [0, 1, 2].map(|k| free[k] + lift[k] * missing / lift_sum)
    });
    let forward = product(&bradford(xy_of(white), D50_XY), &to_xyz);
    let colour = inverse(&product(
        &to_xyz,
        &diagonal(neutral.map(|value| 1.0 / value)),
    ));
    // Scaled so that the brightest channel of D50 is 1, as bodies' files have it.
    let of_d50 = apply(&colour, white_of(D50_XY));
    let brightest = of_d50.into_iter().fold(0.0, f64::max);
    (
        colour.map(|row| row.map(|value| value / brightest)),
        forward,
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn grey_is_grey_under_both_lights() {
        let library = Library::load().unwrap();
        let profile = fit(&library, &library.measured_body).unwrap();
        for (name, forward, colour) in [
            ("cie_a", &profile.forward_matrix_a, &profile.colour_matrix_a),
            (
                "cie_d65",
                &profile.forward_matrix_d65,
                &profile.colour_matrix_d65,
            ),
        ] {
            for (found, expected) in apply(forward, [1.0; 3]).into_iter().zip(white_of(D50_XY)) {
                assert!((found - expected).abs() < 1e-9, "{name}");
            }
            let light = library.light(name).unwrap();
            let seen = apply(colour, xyz(&library, &light));
            let counted = camera_rgb(&library.measured_body, &light);
            for k in 0..3 {
                assert!(
                    (seen[k] / seen[1] - counted[k] / counted[1]).abs() < 1e-9,
                    "{name}"
                );
            }
        }
    }
}
