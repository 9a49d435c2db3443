//! From white-balanced camera RGB to the working space.

use super::neutral::temperature_of;
use super::{CameraColour, CameraColourError, HueMap};
use crate::base::matrix::Matrix3;
use crate::base::units::Chromaticity;
use crate::colour::adaptation::{D50_OF_PROFILES, bradford, bradford_xyz};
use crate::colour::spaces::{BT2020, keep_white};

impl CameraColour {
    /// The matrix from white-balanced camera RGB (each channel's fraction divided by the neutral of `white`, the neutral's
    /// green being 1) to linear BT.2020 under D65. (1, 1, 1) goes to (1, 1, 1) exactly.
    ///
    /// With forward matrices it is theirs; without, the inverse of the colour matrices and Bradford adaptation from
    /// `white` (Digital Negative specification 1.7.1, chapter 6, "Camera to XYZ (D50) Transform"). A wash that is far from the
    /// calibration lights may come out with negative channels, even with negative luminance: see [`crate::colour::gamut`].
    ///
    /// # Errors
    /// When the white is no light's chromaticity, or a matrix is singular or maps white to black.
    pub fn to_working(&self, white: Chromaticity) -> Result<Matrix3, CameraColourError> {
        let to_xyz_d65 = match self.forward(white)? {
            Some(to_xyz_d50) => {
                bradford_xyz(D50_OF_PROFILES, Chromaticity::D65.to_xyz()) * to_xyz_d50
            }
            None => bradford(white, Chromaticity::D65) * self.inverted(white)?,
        };
        keep_white(&(BT2020.from_xyz() * to_xyz_d65)).ok_or(CameraColourError::Singular)
    }

    /// The body's corrections by hue and saturation under a white, blended as the matrices are; `None` when it has none.
    /// They stand on linear ROMM RGB after the matrix of [`CameraColour::to_working`].
    ///
    /// # Errors
    /// When the white is no light's chromaticity.
    pub fn hue_map(&self, white: Chromaticity) -> Result<Option<HueMap>, CameraColourError> {
        let blend = self.blend(temperature_of(white)?, |calibration| {
            calibration.hue_map.is_some()
        });
        Ok(blend.and_then(|blend| {
            let (first, second) = (
                blend.first.hue_map.as_ref()?,
                blend.second.hue_map.as_ref()?,
            );
            Some(first.blend(second, blend.share.clamp(0.0, 1.0)))
        }))
    }

    /// White-balanced camera RGB to XYZ, white at its own chromaticity with Y = 1, by inverting the colour matrices.
    fn inverted(&self, white: Chromaticity) -> Result<Matrix3, CameraColourError> {
        let camera = self.camera_of_white(white)?;
        let from_camera = self
            .xyz_to_camera(temperature_of(white)?)
            .inverse()
            .ok_or(CameraColourError::Singular)?;
        Ok(from_camera * Matrix3::diagonal(camera))
    }

    /// White-balanced camera RGB to XYZ under D50 by the forward matrices, where the body has them.
    fn forward(&self, white: Chromaticity) -> Result<Option<Matrix3>, CameraColourError> {
        let temperature = temperature_of(white)?;
        let Some(forward) = self
            .blend(temperature, |calibration| {
                calibration.forward_matrix.is_some()
            })
            .map(|blend| {
                blend.of(|calibration| calibration.forward_matrix.unwrap_or(Matrix3::IDENTITY))
            })
        else {
            return Ok(None);
        };
        let Some(blend) = self.blend(temperature, |_| true) else {
            return Ok(None);
        };
        // FM × diag(1 / reference neutral) × (AB × CC)⁻¹ × diag(neutral): the body's own deviation is taken out before.
        let to_reference = self
            .body_of(&blend)
            .inverse()
            .ok_or(CameraColourError::Singular)?;
        let neutral = self.camera_of_white(white)?;
        let reference = to_reference.apply(neutral);
        if !reference
            .iter()
            .all(|value| *value > 0.0 && value.is_finite())
        {
            return Err(CameraColourError::NotAWhite { white });
        }
        Ok(Some(
            forward
                * Matrix3::diagonal(reference.map(|value| 1.0 / value))
                * to_reference
                * Matrix3::diagonal(neutral),
        ))
    }
}
