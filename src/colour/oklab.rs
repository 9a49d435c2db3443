//! Oklab, a perceptual space with cheap arithmetic (Ottosson 2020, "A perceptual color space for image processing").
//!
//! Its hue is not to be trusted for saturated blue (sRGB blue and BT.2020 blue have one dominant wavelength and 19
//! degrees of Oklab hue between them), and means nothing for a colour of negative luminance. Gamut mapping heeds both.

use crate::base::matrix::Matrix3;

/// Linear sRGB to cone responses.
pub const LMS_OF_SRGB: Matrix3 = Matrix3([
    [0.412_221_470_8, 0.536_332_536_3, 0.051_445_992_9],
    [0.211_903_498_2, 0.680_699_545_1, 0.107_396_956_6],
    [0.088_302_461_9, 0.281_718_837_6, 0.629_978_700_5],
]);

/// CIE XYZ (white D65) to cone responses.
const LMS_OF_XYZ: Matrix3 = Matrix3([
    [0.818_933_010_1, 0.361_866_742_4, -0.128_859_713_7],
    [0.032_984_543_6, 0.929_311_871_5, 0.036_145_638_7],
    [0.048_200_301_8, 0.264_366_269_1, 0.633_851_707_0],
]);

/// Cube roots of cone responses to L, a, b.
pub const LAB_OF_ROOTS: Matrix3 = Matrix3([
    [0.210_454_255_3, 0.793_617_785_0, -0.004_072_046_8],
    [1.977_998_495_1, -2.428_592_205_0, 0.450_593_709_9],
    [0.025_904_037_1, 0.782_771_766_2, -0.808_675_766_0],
]);

/// L, a, b to cube roots of cone responses.
pub const ROOTS_OF_LAB: Matrix3 = Matrix3([
    [1.0, 0.396_337_777_4, 0.215_803_757_3],
    [1.0, -0.105_561_345_8, -0.063_854_172_8],
    [1.0, -0.089_484_177_5, -1.291_485_548_0],
]);

/// Cone responses to linear sRGB.
pub const SRGB_OF_LMS: Matrix3 = Matrix3([
    [4.076_741_662_1, -3.307_711_591_3, 0.230_969_929_2],
    [-1.268_438_004_6, 2.609_757_401_1, -0.341_319_396_5],
    [-0.004_196_086_3, -0.703_418_614_7, 1.707_614_701_0],
]);

/// Oklab (L, a, b) of linear sRGB; L is 1 for white at 1.
#[must_use]
pub fn oklab_of_srgb(linear: [f64; 3]) -> [f64; 3] {
    LAB_OF_ROOTS.apply(LMS_OF_SRGB.apply(linear).map(f64::cbrt))
}

/// Oklab (L, a, b) of CIE XYZ under D65.
#[must_use]
pub fn oklab_of_xyz(xyz: [f64; 3]) -> [f64; 3] {
    LAB_OF_ROOTS.apply(LMS_OF_XYZ.apply(xyz).map(f64::cbrt))
}

/// Linear sRGB of Oklab (L, a, b); channels below 0 or above 1 are outside sRGB.
#[must_use]
pub fn srgb_of_oklab(lab: [f64; 3]) -> [f64; 3] {
    SRGB_OF_LMS.apply(ROOTS_OF_LAB.apply(lab).map(|root| root * root * root))
}

/// Hue in degrees, 0 to 360, of Oklab (L, a, b).
#[must_use]
pub fn hue([_, a, b]: [f64; 3]) -> f64 {
    b.atan2(a).to_degrees().rem_euclid(360.0)
}
