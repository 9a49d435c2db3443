//! Camera colour from the decoders' tables, for files that carry none themselves.

use crate::base::matrix::Matrix3;
use crate::base::units::Kelvin;
use crate::colour::camera::{Calibration, CameraColour};

/// A calibration from a table's matrix: XYZ to camera, row after row.
pub(super) fn calibration(temperature: Option<Kelvin>, rows: &[f32]) -> Option<Calibration> {
    let rows: &[f32; 9] = rows.try_into().ok()?;
    let matrix = Matrix3(std::array::from_fn(|y| {
        std::array::from_fn(|x| f64::from(rows[y * 3 + x]))
    }));
    // A body that a table knows by name only has a matrix of zeros, and some rows are not numbers.
    matrix.inverse()?;
    Some(Calibration::of_matrix(temperature, matrix))
}

/// Calibrations by temperature, coolest number first.
pub(crate) fn sorted(mut calibrations: Vec<Calibration>) -> Vec<Calibration> {
    calibrations.sort_by(|one, other| {
        let kelvin =
            |calibration: &Calibration| calibration.temperature.map_or(0.0, |value| value.0);
        kelvin(one).total_cmp(&kelvin(other))
    });
    calibrations
}

/// The neutral that balance multipliers of red, green, blue stand for: the reciprocals, green scaled to 1. `None` when a
/// multiplier is not a positive number (decoders hand on NaN and zeros).
pub(super) fn neutral(multipliers: [f32; 3]) -> Option<[f64; 3]> {
    multipliers
        .iter()
        .all(|value| value.is_finite() && *value > 0.0)
        .then(|| multipliers.map(|value| f64::from(multipliers[1]) / f64::from(value)))
}

/// Camera colour from calibrations and multipliers.
pub(super) fn camera_colour(
    calibrations: Vec<Calibration>,
    multipliers: [f32; 3],
) -> Option<CameraColour> {
    (!calibrations.is_empty()).then(|| CameraColour {
        calibrations: sorted(calibrations),
        analog_balance: [1.0; 3],
        as_shot_neutral: neutral(multipliers),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn multipliers_that_are_no_numbers_give_no_neutral() {
        assert_eq!(neutral([2.0, 1.0, 4.0]), Some([0.5, 1.0, 0.25]));
        assert_eq!(neutral([1024.0, 512.0, 512.0]), Some([0.5, 1.0, 1.0]));
        for bad in [f32::NAN, 0.0, -1.0, f32::INFINITY] {
            assert_eq!(neutral([2.0, bad, 4.0]), None);
        }
    }

    #[test]
    fn a_matrix_of_zeros_is_no_calibration() {
        assert!(calibration(None, &[0.0; 9]).is_none());
        assert!(calibration(None, &[f32::NAN; 9]).is_none());
        assert!(calibration(None, &[1.0; 12]).is_none());
    }
}
