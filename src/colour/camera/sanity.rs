//! Whether a calibration can be what it claims to be.
//!
//! Damaged files and mistaken tables hold matrices that are finite and regular and yet absurd: a picture made with them
//! looks like noise or like nothing, and no later step could tell why.

use super::Calibration;
use crate::base::matrix::Matrix3;
use crate::colour::adaptation::D50_OF_PROFILES;

/// Largest magnitude of an entry of a colour matrix or a camera calibration. Published ones stay below 3.
const LARGEST_ENTRY: f64 = 10.0;
/// Least camera signal of a white of D50 in the darkest channel, relative to the brightest. The least of published matrices
/// is about a tenth (infrared conversions apart).
const LEAST_SHARE: f64 = 0.01;
/// Largest difference of a forward matrix's white from that of D50. Published ones are rounded to four digits.
const WHITE_ERROR: f64 = 0.05;
/// How far a camera calibration's entries may lie from the identity's: bodies of one model differ by a few per cent.
const LARGEST_DEVIATION: f64 = 1.0;

impl Calibration {
    /// The calibration without what is absurd in it, with the name of what was left out.
    ///
    /// # Errors
    /// When its colour matrix is absurd: what is wrong with it.
    pub fn sane(mut self) -> Result<(Self, Option<&'static str>), &'static str> {
        check_colour(&self.colour_matrix)?;
        let mut left_out = None;
        if !is_deviation(&self.camera_calibration) {
            self.camera_calibration = Matrix3::IDENTITY;
            left_out = Some("an absurd camera calibration");
        }
        if self
            .forward_matrix
            .is_some_and(|forward| !is_forward(&forward))
        {
            self.forward_matrix = None;
            left_out = Some("an absurd forward matrix");
        }
        Ok((self, left_out))
    }
}

fn check_colour(matrix: &Matrix3) -> Result<(), &'static str> {
    if !all_within(matrix, LARGEST_ENTRY) {
        return Err("has entries that no sensor has");
    }
    if matrix.inverse().is_none() {
        return Err("is singular");
    }
    let white = matrix.apply(D50_OF_PROFILES);
    let brightest = white[0].max(white[1]).max(white[2]);
    let darkest = white[0].min(white[1]).min(white[2]);
    if darkest > LEAST_SHARE * brightest {
        Ok(())
    } else {
        Err("makes white a colour that no sensor sees")
    }
}

fn is_deviation(matrix: &Matrix3) -> bool {
    let difference = std::array::from_fn(|row| {
        std::array::from_fn(|column| matrix.0[row][column] - Matrix3::IDENTITY.0[row][column])
    });
    all_within(&Matrix3(difference), LARGEST_DEVIATION) && matrix.inverse().is_some()
}

fn is_forward(matrix: &Matrix3) -> bool {
    all_within(matrix, LARGEST_ENTRY)
        && matrix.inverse().is_some()
        && matrix
            .apply([1.0; 3])
            .iter()
            .zip(D50_OF_PROFILES)
            .all(|(found, wanted)| (found - wanted).abs() < WHITE_ERROR)
}

/// No entry beyond a magnitude; a NaN is beyond any.
fn all_within(matrix: &Matrix3, most: f64) -> bool {
    matrix.0.iter().flatten().all(|value| value.abs() <= most)
}

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: Matrix3 = Matrix3([
        [0.82, -0.22, -0.07],
        [-0.49, 1.24, 0.28],
        [-0.10, 0.21, 0.72],
    ]);

    #[test]
    fn a_usual_calibration_is_kept_as_it_is() {
        let usual = Calibration {
            camera_calibration: Matrix3::diagonal([1.02, 1.0, 0.97]),
            forward_matrix: Some(Matrix3([
                [0.62, 0.20, 0.144_2],
                [0.24, 0.70, 0.06],
                [0.01, 0.10, 0.714_9],
            ])),
            ..Calibration::of_matrix(None, USUAL)
        };
        assert_eq!(usual.clone().sane(), Ok((usual, None)));
    }

    #[test]
    fn absurd_matrices_are_refused_or_left_out() {
        let huge = Matrix3(USUAL.0.map(|row| row.map(|value| value * 1e6)));
        let mut negative = USUAL;
        negative.0[1] = negative.0[1].map(|value| -value);
        for absurd in [
            huge,
            negative,
            Matrix3([[0.0; 3]; 3]),
            Matrix3([[f64::NAN; 3]; 3]),
            Matrix3::diagonal([1.0, 1e-6, 1.0]),
        ] {
            assert!(Calibration::of_matrix(None, absurd).sane().is_err());
        }
        let beside = Calibration {
            camera_calibration: Matrix3::diagonal([40.0, 1.0, 1.0]),
            forward_matrix: Some(Matrix3::diagonal([3.0, 1.0, 1.0])),
            ..Calibration::of_matrix(None, USUAL)
        };
        let (kept, left_out) = beside.sane().expect("its colour matrix is usual");
        assert_eq!(kept, Calibration::of_matrix(None, USUAL));
        assert!(left_out.is_some());
    }
}
