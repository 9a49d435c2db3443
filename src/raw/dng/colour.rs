//! Camera colour from a DNG's tags: up to three calibrations, analogue balance, the neutral as shot.

use super::{illuminant, tags};
use crate::base::matrix::Matrix3;
use crate::base::units::Chromaticity;
use crate::colour::camera::{Calibration, CameraColour, HueMap};
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
    let text = |tag: u16| {
        let found = places.iter().find_map(|place| tiff.text_of(place, tag));
        found.unwrap_or_default()
    };
    // A body's own deviation counts only for the profile that it was measured for.
    let is_of_profile =
        text(tags::CAMERA_CALIBRATION_SIGNATURE) == text(tags::PROFILE_CALIBRATION_SIGNATURE);
    if !is_of_profile
        && tags::CAMERA_CALIBRATION
            .iter()
            .any(|tag| numbers(*tag).is_some())
    {
        notes.push("its camera calibration belongs to another profile: left out".into());
    }
    let mut calibrations = Vec::new();
    for index in 0..3 {
        let Some(colour_matrix) = matrix(tags::COLOR_MATRIX[index]) else {
            continue;
        };
        let calibration = Calibration {
            temperature: illuminant::temperature(tiff, places, index),
            camera_calibration: matrix(tags::CAMERA_CALIBRATION[index])
                .filter(|_| is_of_profile)
                .unwrap_or(Matrix3::IDENTITY),
            forward_matrix: matrix(tags::FORWARD_MATRIX[index]),
            hue_map: hue_map(tiff, places, index, notes),
            ..Calibration::of_matrix(None, colour_matrix)
        };
        match calibration.sane() {
            Ok((calibration, left_out)) => {
                notes.extend(left_out.map(|what| format!("{what} {}: left out", index + 1)));
                calibrations.push(calibration);
            }
            Err(why) => notes.push(format!("colour matrix {} {why}: left out", index + 1)),
        }
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
        return Err(Fault::unsupported(match notes.last() {
            Some(note) => format!("it has no colour matrix that can be used ({note})"),
            None => "it has no colour matrix".to_owned(),
        }));
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

/// The table of corrections by hue and saturation that belongs to a calibration.
fn hue_map<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    places: &[&Directory],
    index: usize,
    notes: &mut Vec<String>,
) -> Option<HueMap> {
    /// Numbers of the largest table that is read.
    const MOST_NUMBERS: u32 = 3 * 65_536;
    let numbers = |tag: u16, most: u32| {
        places
            .iter()
            .find_map(|directory| tiff.numbers_of(directory, tag, most))
    };
    let data = tags::PROFILE_HUE_SAT_MAP_DATA[index];
    places.iter().find_map(|directory| directory.entry(data))?;
    let mut left_out = |why: &str| {
        notes.push(format!("hue map {} {why}: left out", index + 1));
        None
    };
    let sides = numbers(tags::PROFILE_HUE_SAT_MAP_DIMS, 3);
    let Some(&[hues, saturations, values]) = sides.as_deref() else {
        return left_out("has no size");
    };
    if values > 1.0 {
        return left_out("depends on brightness");
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "whole numbers; an absurd one saturates and is refused"
    )]
    let map = numbers(data, MOST_NUMBERS).and_then(|entries| {
        let entries: Vec<f32> = entries.into_iter().map(|value| value as f32).collect();
        HueMap::new(hues as usize, saturations as usize, &entries)
    });
    map.or_else(|| left_out("cannot be read or is absurd"))
}
