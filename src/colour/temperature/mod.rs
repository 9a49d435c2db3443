//! Correlated colour temperature and the distance from the Planckian locus.
//!
//! Three ways in, each for its purpose: [`ohno`] for reports (exact to hundredths of a kelvin, says no where a
//! temperature means nothing), [`robertson`] for the camera iteration, which the Digital Negative specification defines
//! with it (total and continuous), [`planckian`], [`daylight`] and [`with_duv`] for the way back. Distances are Duv:
//! on the CIE 1960 uv diagram, positive above the locus (greenish), negative below (pinkish).

mod locus;
mod ohno;
mod robertson;

pub use locus::{daylight, planckian, with_duv};
pub use ohno::ohno;
pub use robertson::robertson;

use crate::base::units::{Chromaticity, Kelvin};

/// A correlated colour temperature with the distance from the Planckian locus.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Temperature {
    /// Temperature of the nearest black body.
    pub kelvin: Kelvin,
    /// Distance from it in CIE 1960 uv; positive is greenish, negative pinkish.
    pub duv: f64,
}

/// CIE 1960 u, v of a chromaticity (CIE 15:2018, 9.5). `None` when it is not finite or no luminance is left.
fn uv_of(xy: Chromaticity) -> Option<[f64; 2]> {
    let denominator = -2.0 * xy.x + 12.0 * xy.y + 3.0;
    let uv = [4.0 * xy.x / denominator, 6.0 * xy.y / denominator];
    (denominator > 0.0 && uv.iter().all(|value| value.is_finite())).then_some(uv)
}

/// The chromaticity of CIE 1960 u, v.
fn xy_of([u, v]: [f64; 2]) -> Chromaticity {
    let denominator = 2.0 * u - 8.0 * v + 4.0;
    Chromaticity {
        x: 3.0 * u / denominator,
        y: 2.0 * v / denominator,
    }
}
