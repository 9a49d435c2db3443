//! When and how a frame was taken, as far as its file tells.

use crate::base::geometry::Orientation;
use crate::base::units::Stops;
use serde::{Deserialize, Serialize};

/// Which body took a frame. Two bodies of one model are told apart by serial number where the file has one.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Body {
    /// The maker as the file states it, trimmed.
    pub make: String,
    /// The model as the file states it, trimmed.
    pub model: String,
    /// The body's serial number, where known.
    pub serial: Option<String>,
}

/// When a frame was taken: the body's own clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CaptureTime {
    /// Civil date and time of the body's clock with as many digits of the second as the file has:
    /// `2026-05-09T21:14:03.25`.
    pub civil: jiff::civil::DateTime,
    /// Offset of that clock from UTC in minutes, where the file states it.
    pub offset_minutes: Option<i32>,
}

/// What a file says of its frame. Every field that a file may lack is optional.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// The body.
    pub body: Body,
    /// When the frame was taken.
    pub captured: Option<CaptureTime>,
    /// Exposure time in seconds.
    pub exposure_seconds: Option<f64>,
    /// Aperture as f-number.
    pub f_number: Option<f64>,
    /// ISO speed.
    pub iso: Option<f64>,
    /// Focal length in millimetres.
    pub focal_length_mm: Option<f64>,
    /// Lens model.
    pub lens: Option<String>,
    /// How the stored picture is turned upright.
    pub orientation: Orientation,
    /// Where the frame was taken, degrees north and east, where the file says so. Delivered only when asked for.
    pub position: Option<Position>,
}

/// A place on Earth (EXIF GPSLatitude, GPSLongitude), WGS 84 unless the file says otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Position {
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above sea level.
    pub altitude: Option<f64>,
}

impl Facts {
    /// Relative exposure H = t S / N²: the light that the settings let count, so that two frames of one scene differ by
    /// the ratio of their H (ISO 2720 and the exposure equation of ISO 12232). `None` when a setting is unknown or not
    /// positive.
    #[must_use]
    pub fn relative_exposure(&self) -> Option<f64> {
        let (t, n, s) = (self.exposure_seconds?, self.f_number?, self.iso?);
        let h = t * s / (n * n);
        (t > 0.0 && n > 0.0 && s > 0.0 && h.is_finite()).then_some(h)
    }

    /// Exposure value EV = log2(N²/t), APEX. `None` when a setting is unknown or not positive.
    #[must_use]
    pub fn exposure_value(&self) -> Option<Stops> {
        let (t, n) = (self.exposure_seconds?, self.f_number?);
        Stops::from_factor(n * n / t)
    }
}
