//! From what a body sees as grey to the chromaticity of the light, and back.

use super::{CameraColour, CameraColourError};
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::temperature::robertson;

/// Where the iteration starts: D50 as the specification rounds it.
const START: Chromaticity = Chromaticity {
    x: 0.3457,
    y: 0.3585,
};
/// Passes after which an iteration that swings between two values is taken to be in their middle.
const PASSES: usize = 30;
/// |Δx| + |Δy| below which the iteration has arrived.
const ARRIVED: f64 = 1e-7;

impl CameraColour {
    /// The white whose neutral is `neutral` (camera RGB of grey in any scale): the Digital Negative specification's
    /// iteration, since the matrix depends on the temperature that is looked for (1.7.1, chapter 6, "Translating Camera
    /// Neutral Coordinates to White Balance xy Coordinates").
    ///
    /// # Errors
    /// When the neutral is not three positive numbers, when a matrix is singular, or when the matrices make it a colour
    /// that no light has (negative luminance).
    pub fn white_of_neutral(&self, neutral: [f64; 3]) -> Result<Chromaticity, CameraColourError> {
        self.iterate(neutral, |_| ())
    }

    /// The iteration; `seen` gets every pass's result.
    pub(super) fn iterate(
        &self,
        neutral: [f64; 3],
        mut seen: impl FnMut(Chromaticity),
    ) -> Result<Chromaticity, CameraColourError> {
        if !neutral
            .iter()
            .all(|value| *value > 0.0 && value.is_finite())
        {
            return Err(CameraColourError::NotANeutral { neutral });
        }
        let mut last = START;
        for pass in 0..PASSES {
            let from_camera = self
                .xyz_to_camera(temperature_of(last)?)
                .inverse()
                .ok_or(CameraColourError::Singular)?;
            let next = Chromaticity::from_xyz(from_camera.apply(neutral))
                .filter(|xy| xy.is_plausible_white())
                .ok_or(CameraColourError::NoLight { neutral })?;
            seen(next);
            if (next.x - last.x).abs() + (next.y - last.y).abs() < ARRIVED {
                return Ok(next);
            }
            last = if pass + 1 == PASSES {
                Chromaticity {
                    x: (last.x + next.x) / 2.0,
                    y: (last.y + next.y) / 2.0,
                }
            } else {
                next
            };
        }
        Ok(last)
    }

    /// What this body sees as grey under a white: camera RGB with green 1.
    ///
    /// # Errors
    /// When the white is no light's chromaticity, or a channel would be dark or negative under it.
    pub fn neutral_of_white(&self, white: Chromaticity) -> Result<[f64; 3], CameraColourError> {
        let camera = self.camera_of_white(white)?;
        Ok(camera.map(|value| value / camera[1]))
    }

    /// Camera RGB of a white of unit luminance, all positive.
    pub(super) fn camera_of_white(
        &self,
        white: Chromaticity,
    ) -> Result<[f64; 3], CameraColourError> {
        if !white.is_plausible_white() {
            return Err(CameraColourError::NotAWhite { white });
        }
        let camera = self
            .xyz_to_camera(temperature_of(white)?)
            .apply(white.to_xyz());
        if camera.iter().all(|value| *value > 0.0 && value.is_finite()) {
            Ok(camera)
        } else {
            Err(CameraColourError::NotAWhite { white })
        }
    }
}

/// The temperature that picks the matrices for a white.
pub(super) fn temperature_of(white: Chromaticity) -> Result<Kelvin, CameraColourError> {
    robertson(white)
        .map(|temperature| temperature.kelvin)
        .ok_or(CameraColourError::NotAWhite { white })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::matrix::Matrix3;
    use crate::colour::camera::Calibration;
    use serde_json::Value;

    fn table() -> Value {
        serde_json::from_str(include_str!("../../../tests/data/dng_dual_illuminant.json"))
            .expect("JSON")
    }

    fn triple(value: &Value) -> [f64; 3] {
        [0, 1, 2].map(|index| value[index].as_f64().expect("a number"))
    }

    fn matrix(value: &Value) -> Matrix3 {
        Matrix3([0, 1, 2].map(|row| triple(&value[row])))
    }

    fn body(calibrations: [(f64, Matrix3); 2]) -> CameraColour {
        CameraColour {
            calibrations: calibrations
                .map(|(kelvin, matrix)| Calibration::of_matrix(Some(Kelvin(kelvin)), matrix))
                .to_vec(),
            analog_balance: [1.0; 3],
            as_shot_neutral: None,
        }
    }

    /// Digital Negative specification 1.7.x, chapter 6; the trace of every pass under ten lights.
    #[test]
    fn every_pass_is_that_of_the_trace() {
        let table = table();
        let camera = body([
            (2850.0, matrix(&table["ColorMatrix1_A"])),
            (6500.0, matrix(&table["ColorMatrix2_D65"])),
        ]);
        for case in table["cases"].as_array().expect("cases") {
            let mut passes = Vec::new();
            camera
                .iterate(triple(&case["AsShotNeutral"]), |xy| passes.push(xy))
                .expect("a light");
            let trace = case["trace"].as_array().expect("a trace");
            assert_eq!(passes.len(), trace.len(), "{}", case["light"]);
            for (found, wanted) in passes.iter().zip(trace) {
                let number = |index: usize| wanted["xy"][index].as_f64().expect("a number");
                // The neutral in the table has six decimals.
                assert!((found.x - number(0)).abs() < 1e-6 && (found.y - number(1)).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn an_iteration_that_swings_ends_in_the_middle() {
        // Under its cool calibration this body takes the neutral for a warm light, and the other way about.
        let camera = body([
            (
                2850.0,
                Matrix3([[1.5, -0.2, -0.1], [-0.5, 1.4, 0.2], [-0.1, 0.2, 0.45]]),
            ),
            (
                6500.0,
                Matrix3([[0.6, -0.1, -0.05], [-0.4, 1.2, 0.25], [-0.1, 0.2, 1.3]]),
            ),
        ]);
        let mut passes = Vec::new();
        let white = camera
            .iterate([0.9, 1.0, 0.9], |xy| passes.push(xy))
            .expect("a light");
        assert_eq!(passes.len(), PASSES);
        let [before, last] = [passes[PASSES - 2], passes[PASSES - 1]];
        assert!((before.x - last.x).abs() > 0.01, "it does not swing");
        assert_eq!(white.x, (before.x + last.x) / 2.0);
        assert_eq!(white.y, (before.y + last.y) / 2.0);
    }
}
