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
