//! Temperatures of the calibration lights that files name by number.

use crate::base::units::Kelvin;

/// The temperature that a LightSource number of EXIF 2.32 stands for (the Digital Negative's CalibrationIlluminant uses
/// the same numbers). CIE illuminants have their nominal temperature; fluorescent classes the middle of the range that
/// EXIF gives; daylight, flash and weather what the specification's reference code takes (from memory). `None` for
/// unknown, other, and numbers that are not listed.
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

#[cfg(test)]
mod tests {
    use super::*;

    /// EXIF 2.32, tag LightSource: the classes of fluorescent lamps with their ranges.
    #[test]
    fn fluorescent_classes_lie_in_their_ranges() {
        for (number, range) in [
            (12, 5700.0..=7100.0),
            (13, 4600.0..=5500.0),
            (14, 3800.0..=4500.0),
            (15, 3250.0..=3800.0),
            (16, 2600.0..=3250.0),
        ] {
            let kelvin = light_source_temperature(number).expect("listed");
            assert!(range.contains(&kelvin.0), "{number}");
        }
        for unknown in [0, 5, 8, 25, 255, 65_535] {
            assert_eq!(light_source_temperature(unknown), None);
        }
    }
}
