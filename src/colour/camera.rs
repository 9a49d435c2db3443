//! How a body sees colour: the matrices of the Digital Negative specification, chapter "Mapping Camera Color Space to
//! CIE XYZ Space".

use crate::base::matrix::Matrix3;
use crate::base::units::Kelvin;
use serde::{Deserialize, Serialize};

/// A body's camera colour: up to three calibrations under known lights.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraColour {
    /// At least one; sorted by temperature, coolest number first.
    pub calibrations: Vec<Calibration>,
    /// Gain per channel that the body applied before the counts (DNG AnalogBalance); all 1 by default.
    pub analog_balance: [f64; 3],
    /// What the body's automatic took for neutral: camera RGB of grey, green scaled to 1. `None` when unknown.
    pub as_shot_neutral: Option<[f64; 3]>,
}

/// Matrices measured under one light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Temperature of the calibration light; `None` when the source does not say (then it serves for every light).
    pub temperature: Option<Kelvin>,
    /// CIE XYZ to reference camera RGB (DNG ColorMatrix).
    pub colour_matrix: Matrix3,
    /// Reference camera to this very body (DNG CameraCalibration); identity by default.
    pub camera_calibration: Matrix3,
    /// White-balanced camera RGB to XYZ under D50 (DNG ForwardMatrix), where the file has one.
    pub forward_matrix: Option<Matrix3>,
}
