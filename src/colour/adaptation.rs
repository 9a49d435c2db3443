//! Chromatic adaptation: the colour that looks under one white as a given colour does under another.
//!
//! Full von Kries adaptation M⁻¹ diag(M d / M s) M in two response spaces. Bradford is what ICC profiles and camera
//! matrices are defined with; CAT16 gives fewer negative values over large distances (a blue wash under tungsten).

use crate::base::matrix::Matrix3;
use crate::base::units::Chromaticity;

/// Bradford responses (Lam 1985; ICC.1:2022, Annex E).
const BRADFORD: Matrix3 = Matrix3([
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
]);

/// CAT16 responses (Li, Li, Wang, Zu, Luo, Cui, Melgosa, Brill, Pointer 2017, Color Research and Application 42:703).
const CAT16: Matrix3 = Matrix3([
    [0.401_288, 0.650_173, -0.051_461],
    [-0.250_268, 1.204_414, 0.045_854],
    [-0.002_079, 0.048_952, 0.953_127],
]);

/// The white of the ICC's profile connection space: D50 as ICC.1:2010, 7.2.16 rounds it, which differs from CIE D50 in
/// the fourth digit. Forward matrices of raw files map white to it too.
pub const D50_OF_PROFILES: [f64; 3] = [0.9642, 1.0, 0.8249];

/// Bradford adaptation of XYZ from one white to another, both of unit luminance. The whites must be plausible
/// ([`Chromaticity::is_plausible_white`]); otherwise the result is not finite.
#[must_use]
pub fn bradford(from: Chromaticity, to: Chromaticity) -> Matrix3 {
    between(&BRADFORD, from.to_xyz(), to.to_xyz())
}

/// CAT16 adaptation (full) of XYZ from one white to another, both of unit luminance. Whites as for [`bradford`].
#[must_use]
pub fn cat16(from: Chromaticity, to: Chromaticity) -> Matrix3 {
    between(&CAT16, from.to_xyz(), to.to_xyz())
}

/// Bradford's responses to XYZ as shares of those to a white: that white gives (1, 1, 1). The white must be plausible
/// ([`Chromaticity::is_plausible_white`]); otherwise the result is not finite.
#[must_use]
pub fn bradford_responses(white: Chromaticity) -> Matrix3 {
    let own = BRADFORD.apply(white.to_xyz());
    Matrix3::diagonal(own.map(|response| 1.0 / response)) * BRADFORD
}

/// Bradford adaptation between whites that are given as tristimulus values, such as the ICC's rounded D50.
#[must_use]
pub fn bradford_xyz(from: [f64; 3], to: [f64; 3]) -> Matrix3 {
    between(&BRADFORD, from, to)
}

fn between(responses: &Matrix3, from: [f64; 3], to: [f64; 3]) -> Matrix3 {
    let source = responses.apply(from);
    let target = responses.apply(to);
    let gains = [0, 1, 2].map(|channel| target[channel] / source[channel]);
    regular_inverse(responses) * Matrix3::diagonal(gains) * *responses
}

#[expect(
    clippy::expect_used,
    reason = "called with the two constants above, and tests use both"
)]
fn regular_inverse(responses: &Matrix3) -> Matrix3 {
    responses
        .inverse()
        .expect("the published response matrices are regular")
}
