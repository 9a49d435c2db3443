//! Temperatures of the calibration lights that files name by number.

use crate::base::units::Kelvin;

/// The temperature that a LightSource number of EXIF (2.32, table 9; the Digital Negative's CalibrationIlluminant uses
/// the same) stands for. Fluorescent classes count as the middle of their range; daylight, flash and weather as common
/// practice has it. `None` for unknown, other and not listed.
#[must_use]
pub fn light_source_temperature(number: u16) -> Option<Kelvin> {
    let kelvin = match number {
        // Tungsten; standard light A.
        3 | 17 => 2850.0,
        // ISO studio tungsten.
        24 => 3200.0,
        // D50.
        23 => 5000.0,
        // Daylight, flash, fine weather, standard light B, D55.
        1 | 4 | 9 | 18 | 20 => 5500.0,
        // Cloudy, standard light C, D65.
        10 | 19 | 21 => 6500.0,
        // Shade, D75.
        11 | 22 => 7500.0,
        // Daylight fluorescent, D, 5700 to 7100 K.
        12 => 6400.0,
        // Day white fluorescent, N, 4600 to 5500 K.
        13 => 5050.0,
        // Cool white fluorescent, W, 3800 to 4500 K; and fluorescent without a class.
        2 | 14 => 4150.0,
        // White fluorescent, WW, 3250 to 3800 K.
        15 => 3525.0,
        // Warm white fluorescent, L, 2600 to 3250 K.
        16 => 2925.0,
        _ => return None,
    };
    Some(Kelvin(kelvin))
}
