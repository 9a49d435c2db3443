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
    let (calibration, _) = Calibration::of_matrix(temperature, matrix).sane().ok()?;
    Some(calibration)
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

/// The calibrations of a table that knows more lights, where it agrees with what is known already: `known` otherwise. Two
/// tables may hold two published matrices of one body; then the decoder's own stays alone, as its white balance does.
pub(super) fn widened(known: Vec<Calibration>, other: Vec<Calibration>) -> Vec<Calibration> {
    /// Largest difference of two copies of one published matrix: rounding of the fourth digit.
    const SAME: f64 = 1.5e-4;
    let is_same = |one: &Matrix3, other: &Matrix3| {
        let pairs = one.0.iter().flatten().zip(other.0.iter().flatten());
        pairs
            .into_iter()
            .all(|(one, other)| (one - other).abs() < SAME)
    };
    let agrees = known.iter().all(|known| {
        other
            .iter()
            .any(|other| is_same(&known.colour_matrix, &other.colour_matrix))
    });
    if agrees && other.len() > known.len() {
        sorted(other)
    } else {
        known
    }
}

/// What the decoders' colour of a body needs beside its tables.
///
/// This body of 1999 multiplies red and blue by its white balance before it stores the counts, and states the multipliers
/// as well (measured: the counts of a street in daylight have a grey mean; a raw library that knows the body gives it
/// multipliers of 1). The Digital Negative specification calls that an analogue balance.
pub(super) fn settle_balance(colour: &mut CameraColour, model: &str) {
    const STORES_BALANCED: &str = "NIKON D1";
    if model.trim() == STORES_BALANCED
        && let Some(neutral) = colour.as_shot_neutral
    {
        colour.analog_balance = neutral.map(|value| 1.0 / value);
        colour.as_shot_neutral = Some([1.0; 3]);
    }
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
    use crate::base::units::Kelvin;

    #[test]
    fn multipliers_that_are_no_numbers_give_no_neutral() {
        assert_eq!(neutral([2.0, 1.0, 4.0]), Some([0.5, 1.0, 0.25]));
        assert_eq!(neutral([1024.0, 512.0, 512.0]), Some([0.5, 1.0, 1.0]));
        for bad in [f32::NAN, 0.0, -1.0, f32::INFINITY] {
            assert_eq!(neutral([2.0, bad, 4.0]), None);
        }
    }

    #[test]
    fn another_table_is_believed_where_it_agrees() {
        let one = |kelvin, scale: f64| {
            let rows = [[0.8, -0.2, 0.0], [-0.5, 1.2, 0.3], [-0.1, 0.2, 0.7]];
            let matrix = Matrix3(rows.map(|row| row.map(|value: f64| value * scale)));
            Calibration::of_matrix(Some(Kelvin(kelvin)), matrix)
        };
        let known = vec![one(6500.0, 1.0)];
        let both = vec![one(6500.0, 1.000_01), one(2850.0, 1.1)];
        let kelvins = |calibrations: Vec<Calibration>| -> Vec<_> {
            calibrations.iter().map(|own| own.temperature).collect()
        };
        assert_eq!(
            kelvins(widened(known.clone(), both)),
            [Some(Kelvin(2850.0)), Some(Kelvin(6500.0))]
        );
        let others = vec![one(6500.0, 0.97), one(2850.0, 1.1)];
        assert_eq!(widened(known.clone(), others), known);
        assert_eq!(widened(known.clone(), Vec::new()), known);
    }

    #[test]
    fn counts_that_are_stored_balanced_are_neutral_at_one() {
        let rows = [0.8, -0.2, 0.0, -0.5, 1.2, 0.3, -0.1, 0.2, 0.7];
        let table: Vec<_> = calibration(None, &rows).into_iter().collect();
        let usual = camera_colour(table, [2.0, 1.0, 1.25]).expect("a calibration");
        let mut balanced = usual.clone();
        settle_balance(&mut balanced, "NIKON D1 ");
        // The same white, by other counts.
        let white = |colour: &CameraColour| {
            let neutral = colour.as_shot_neutral.expect("known");
            colour.white_of_neutral(neutral).expect("a light")
        };
        assert_eq!(balanced.as_shot_neutral, Some([1.0; 3]));
        let (one, other) = (white(&usual), white(&balanced));
        assert!((one.x - other.x).abs() < 1e-9 && (one.y - other.y).abs() < 1e-9);
        let mut other_body = usual.clone();
        settle_balance(&mut other_body, "NIKON D1X");
        assert_eq!(other_body, usual);
    }

    #[test]
    fn a_matrix_of_zeros_is_no_calibration() {
        assert!(calibration(None, &[0.0; 9]).is_none());
        assert!(calibration(None, &[f32::NAN; 9]).is_none());
        assert!(calibration(None, &[1.0; 12]).is_none());
    }
}
