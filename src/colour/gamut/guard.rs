//! The guard against negative light: camera colours that a matrix threw out of every gamut.

use super::compression::Compression;
use crate::base::matrix::Matrix3;
use crate::colour::spaces::{AP1, BT2020, WhiteKeepingMatrix, conversion};

/// Takes linear BT.2020 as a body's matrix made it, gives linear BT.2020 inside AP1: no colour of negative luminance, none that
/// no light has. Colours inside the thresholds stay bit for bit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    compression: Compression,
    to_ap1: WhiteKeepingMatrix,
    from_ap1: WhiteKeepingMatrix,
}

impl Guard {
    /// The guard for a body under a white, by its matrix from white-balanced camera RGB to linear BT.2020
    /// ([`crate::colour::camera::CameraColour::to_working`]).
    #[must_use]
    pub fn for_camera(to_working: &Matrix3) -> Self {
        Self::with(Compression::for_camera(to_working))
    }

    /// The guard with a given compression.
    #[must_use]
    pub fn with(compression: Compression) -> Self {
        Self {
            compression,
            to_ap1: WhiteKeepingMatrix::new(&conversion(&BT2020, &AP1)),
            from_ap1: WhiteKeepingMatrix::new(&conversion(&AP1, &BT2020)),
        }
    }

    /// The compression that this guard works with.
    #[must_use]
    pub fn compression(&self) -> &Compression {
        &self.compression
    }

    /// One pixel of linear BT.2020. The plain twin of [`Guard::apply_row`].
    #[must_use]
    pub fn apply(&self, working: [f32; 3]) -> [f32; 3] {
        let ap1 = self.to_ap1.apply(working);
        let compressed = self.compression.compress(ap1);
        if compressed == ap1 {
            working
        } else {
            self.from_ap1.apply(compressed)
        }
    }

    /// A row of linear BT.2020, in place. The three rows have one length; what is beyond the shortest stays.
    pub fn apply_row(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        for ((red, green), blue) in red.iter_mut().zip(green).zip(blue) {
            [*red, *green, *blue] = self.apply([*red, *green, *blue]);
        }
    }
}
