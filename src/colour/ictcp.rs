//! ICtCp with the PQ curve (ITU-R BT.2100-2): a hue ruler that holds for saturated blue, where Oklab's does not.
//!
//! Used by tests and reports to judge gamut mapping; no pixel of a picture passes here.

use crate::base::matrix::Matrix3;

/// BT.2020 RGB to LMS (BT.2100-2, Table 7), in parts of 4096.
const LMS_OF_BT2020: Matrix3 = Matrix3([
    [1688.0 / 4096.0, 2146.0 / 4096.0, 262.0 / 4096.0],
    [683.0 / 4096.0, 2951.0 / 4096.0, 462.0 / 4096.0],
    [99.0 / 4096.0, 309.0 / 4096.0, 3688.0 / 4096.0],
]);

/// PQ-coded LMS to ICtCp (BT.2100-2, Table 7), in parts of 4096.
const ICTCP_OF_LMS: Matrix3 = Matrix3([
    [2048.0 / 4096.0, 2048.0 / 4096.0, 0.0],
    [6610.0 / 4096.0, -13_613.0 / 4096.0, 7003.0 / 4096.0],
    [17_933.0 / 4096.0, -17_390.0 / 4096.0, -543.0 / 4096.0],
]);

/// Luminance of PQ's full signal in cd/m² (SMPTE ST 2084).
const PQ_PEAK: f64 = 10_000.0;

/// ICtCp of linear BT.2020 RGB whose 1.0 is `white_luminance` cd/m². Negative LMS count as 0.
#[must_use]
pub fn ictcp_of_bt2020(rgb: [f64; 3], white_luminance: f64) -> [f64; 3] {
    let lms = LMS_OF_BT2020.apply(rgb);
    ICTCP_OF_LMS.apply(lms.map(|value| pq(value * white_luminance)))
}

/// Hue of an ICtCp colour in degrees, 0 to 360, counted from the Ct (tritan) axis as BT.2124 does.
#[must_use]
pub fn hue([_, ct, cp]: [f64; 3]) -> f64 {
    cp.atan2(ct).to_degrees().rem_euclid(360.0)
}

/// The inverse electro-optical transfer function of SMPTE ST 2084 for a luminance in cd/m².
fn pq(luminance: f64) -> f64 {
    const M1: f64 = 2610.0 / 16_384.0;
    const M2: f64 = 2523.0 / 4096.0 * 128.0;
    const C1: f64 = 3424.0 / 4096.0;
    const C2: f64 = 2413.0 / 4096.0 * 32.0;
    const C3: f64 = 2392.0 / 4096.0 * 32.0;
    let y = (luminance / PQ_PEAK).max(0.0).powf(M1);
    ((C1 + C2 * y) / (1.0 + C3 * y)).powf(M2)
}
