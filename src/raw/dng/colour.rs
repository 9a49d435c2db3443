//! Camera colour from a DNG's tags: up to three calibrations, analogue balance, the neutral as shot.

use super::tags;
use crate::base::matrix::Matrix3;
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::camera::{Calibration, CameraColour, light_source_temperature};
use crate::raw::decoders::colour::sorted;
use crate::raw::error::Fault;
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Tiff};

/// Reads the colour tags. They belong to the first directory; some writers put them beside the picture.
pub(super) fn read<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    places: &[&Directory],
    notes: &mut Vec<String>,
) -> Result<CameraColour, Fault> {
    let numbers = |tag: u16| {
        places
            .iter()
            .find_map(|directory| tiff.numbers_of(directory, tag, 12))
            .filter(|values| values.iter().all(|value| value.is_finite()))
    };
    let matrix = |tag: u16| -> Option<Matrix3> {
        let values: [f64; 9] = numbers(tag)?.try_into().ok()?;
        Some(Matrix3(std::array::from_fn(|y| {
            std::array::from_fn(|x| values[y * 3 + x])
        })))
    };
    let mut calibrations = Vec::new();
    for index in 0..3 {
        let Some(colour_matrix) = matrix(tags::COLOR_MATRIX[index]) else {
            continue;
        };
        if colour_matrix.inverse().is_none() {
            notes.push(format!("colour matrix {} is singular: left out", index + 1));
            continue;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a number of 16 bits; others saturate to an unknown light"
        )]
        let temperature: Option<Kelvin> = numbers(tags::CALIBRATION_ILLUMINANT[index])
            .and_then(|values| light_source_temperature(*values.first()? as u16));
        calibrations.push(Calibration {
            temperature,
            colour_matrix,
            camera_calibration: matrix(tags::CAMERA_CALIBRATION[index])
                .filter(|calibration| calibration.inverse().is_some())
                .unwrap_or(Matrix3::IDENTITY),
            forward_matrix: matrix(tags::FORWARD_MATRIX[index])
                .filter(|forward| forward.inverse().is_some()),
        });
    }
    if calibrations.len() > 1 {
        // Without its light a matrix cannot be blended with another.
        let known = calibrations
            .iter()
            .filter(|calibration| calibration.temperature.is_some())
            .count();
        if known == 0 {
            calibrations.truncate(1);
        } else if known < calibrations.len() {
            calibrations.retain(|calibration| calibration.temperature.is_some());
            notes.push("a colour matrix of an unknown light is left out".into());
        }
    }
    if calibrations.is_empty() {
        return Err(Fault::unsupported("it has no colour matrix"));
    }
    let three = |tag: u16| -> Option<[f64; 3]> {
        let values: [f64; 3] = numbers(tag)?.try_into().ok()?;
        values.iter().all(|value| *value > 0.0).then_some(values)
    };
    let mut colour = CameraColour {
        calibrations: sorted(calibrations),
        analog_balance: three(tags::ANALOG_BALANCE).unwrap_or([1.0; 3]),
        as_shot_neutral: three(tags::AS_SHOT_NEUTRAL)
            .map(|neutral| neutral.map(|value| value / neutral[1])),
    };
    if colour.as_shot_neutral.is_none()
        && let Some(&[x, y]) = numbers(tags::AS_SHOT_WHITE_XY).as_deref()
    {
        let white = Chromaticity { x, y };
        if white.is_plausible_white() {
            colour.as_shot_neutral = colour.neutral_of_white(white).ok();
        }
    }
    Ok(colour)
}
