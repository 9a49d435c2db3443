//! A body's colour as its maker would calibrate it: matrices under illuminants A, D65 and LED-B3 (a phosphor LED of about
//! 4100 K, CIE 015:2018), and corrections by hue and saturation for what they leave.
//!
//! White-preserving least squares (Finlayson and Drew 1997, "Constrained least-squares regression in color spaces",
//! Journal of Electronic Imaging 6(4)): white-balanced camera RGB goes to XYZ, grey goes exactly to the light's white.
//! Each reflectance counts by the inverse of its luminance to the 2/3, the slope of CIELAB's lightness, so that dark ones
//! are not forgotten. The set is that of `training`, never the chart on the stage.

use crate::SimulatorError;
use crate::colorimetry::{
    D50_XY, Matrix, apply, bradford, diagonal, inverse, product, white_of, xy_of, xyz,
};
use crate::hue_map;
use crate::library::Library;
use crate::spectrum::Spectrum;
use crate::training::reflectances;

/// What a DNG holds of one calibration light.
#[derive(Clone, Debug, PartialEq)]
pub struct LightProfile {
    /// XYZ to camera RGB.
    pub colour_matrix: Matrix,
    /// White-balanced camera RGB to XYZ of D50.
    pub forward_matrix: Matrix,
    /// Shift of hue in degrees, factor on saturation, factor on value, by hue and saturation.
    pub hue_map: Vec<f32>,
    /// CIE xy of the light.
    pub white_xy: [f64; 2],
}

/// What a DNG holds of a body's colour.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourProfile {
    /// Under illuminant A.
    pub under_a: LightProfile,
    /// Under illuminant D65.
    pub under_d65: LightProfile,
    /// Under illuminant LED-B3, which has no number in EXIF.
    pub under_led: LightProfile,
}

/// Camera RGB of a light spectrum.
pub(crate) fn camera_rgb(sensitivities: &[Spectrum; 3], light: &Spectrum) -> [f64; 3] {
    [0, 1, 2].map(|k| sensitivities[k].dot(light))
}

/// Fits a body.
pub(crate) fn fit(
    library: &Library,
    sensitivities: &[Spectrum; 3],
) -> Result<ColourProfile, SimulatorError> {
    let training = reflectances(library)?;
    let under = |name: &str| -> Result<LightProfile, SimulatorError> {
        let light = library.light(name)?;
        Ok(fit_under(library, sensitivities, &light, &training))
    };
    Ok(ColourProfile {
        under_a: under("cie_a")?,
        under_d65: under("cie_d65")?,
        under_led: under("cie_led_b3")?,
    })
}

/// Everything under one light.
fn fit_under(
    library: &Library,
    sensitivities: &[Spectrum; 3],
    light: &Spectrum,
    training: &[Spectrum],
) -> LightProfile {
    let light = light.scaled(1.0 / xyz(library, light)[1]);
    let white = xyz(library, &light);
    let neutral = camera_rgb(sensitivities, &light);
    let seen: Vec<([f64; 3], [f64; 3])> = training
        .iter()
        .map(|reflectance| {
            let reflected = light.times(reflectance);
            let rgb = camera_rgb(sensitivities, &reflected);
            let balanced = [0, 1, 2].map(|k| rgb[k] / neutral[k]);
            (balanced, xyz(library, &reflected))
        })
        .collect();
    let to_xyz = white_preserving(&seen, white);
    let to_d50 = bradford(xy_of(white), D50_XY);
    let forward_matrix = product(&to_d50, &to_xyz);
    let colour = inverse(&product(
        &to_xyz,
        &diagonal(neutral.map(|value| 1.0 / value)),
    ));
    // Scaled so that the brightest channel of D50 is 1, as bodies' files have it.
    let of_d50 = apply(&colour, white_of(D50_XY));
    let brightest = of_d50.into_iter().fold(0.0, f64::max);
    let romm = hue_map::to_romm();
    let (found, wanted) = (product(&romm, &forward_matrix), product(&romm, &to_d50));
    let pairs: Vec<_> = seen
        .iter()
        .map(|(balanced, xyz)| (apply(&found, *balanced), apply(&wanted, *xyz)))
        .collect();
    LightProfile {
        colour_matrix: colour.map(|row| row.map(|value| value / brightest)),
        forward_matrix,
        hue_map: hue_map::fit(&pairs),
        white_xy: xy_of(white),
    }
}

/// The matrix from white-balanced camera RGB to XYZ.
fn white_preserving(seen: &[([f64; 3], [f64; 3])], white: [f64; 3]) -> Matrix {
    // Weighted normal equations, one set of unknowns a row of the matrix.
    let (mut gram, mut targets) = ([[0.0; 3]; 3], [[0.0; 3]; 3]);
    for (balanced, xyz) in seen {
        let weight = 1.0 / libm::pow(xyz[1], 4.0 / 3.0);
        for row in 0..3 {
            for column in 0..3 {
                gram[row][column] += weight * balanced[row] * balanced[column];
                targets[row][column] += weight * balanced[column] * xyz[row];
            }
        }
    }
    let solve = inverse(&gram);
    let lift = apply(&solve, [1.0; 3]);
    let lift_sum: f64 = lift.iter().sum();
    [0, 1, 2].map(|row| {
        let free = apply(&solve, targets[row]);
        let missing = white[row] - free.iter().sum::<f64>();
        [0, 1, 2].map(|k| free[k] + lift[k] * missing / lift_sum)
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn grey_is_grey_under_every_light() {
        let library = Library::load().unwrap();
        let profile = fit(&library, &library.measured_body).unwrap();
        for (name, light_profile) in [
            ("cie_a", &profile.under_a),
            ("cie_d65", &profile.under_d65),
            ("cie_led_b3", &profile.under_led),
        ] {
            let (forward, colour) = (&light_profile.forward_matrix, &light_profile.colour_matrix);
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
