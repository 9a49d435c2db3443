//! Plausible whites as one body sees them: along the Planckian and daylight loci, with some green or magenta to either
//! side.
//!
//! A key is nearly white; a wash is not. Both are told apart in the body's own log-chroma, (ln R/G, ln B/G), by the
//! distance from the neutrals of plausible whites, without ever sending a wash through a matrix.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::kernel::row_kernel;
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::camera::CameraColour;
use crate::colour::temperature;
use std::sync::LazyLock;

/// Coolest-looking and warmest-looking plausible key, in mired (a million by kelvin): 9500 K to 2200 K.
const MIRED: (f64, f64) = (105.0, 455.0);
const MIRED_STEP: f64 = 7.0;
/// Distance from the Planckian locus of plausible keys as a body's matrices report it, in CIE 1960 uv. Discharge lamps
/// and LEDs lie within 0.006 (ANSI C78.377 quadrangles, value from memory); matrices fitted to smooth lights report up to 0.013 more.
const DUV: f64 = 0.016;
const DUV_STEP: f64 = 0.004;
/// Standard deviation of Duv of a plausible key, for its weight (a proposal that the tests on simulated shows hold).
const DUV_SPREAD: f64 = 0.008;
/// Temperatures outside this are implausible, with soft ends this many mired wide.
const KELVIN: (f64, f64) = (2000.0, 10_000.0);
const SOFT_END: f64 = 25.0;

/// Distance in log-chroma from plausible greys and skins beyond which a tile is coloured, by its own or by a wash.
pub const COLOURED: f64 = 0.35;

/// Where skin lies from the neutral of the light that falls on it, in (ln R/G, ln B/G): measured spectra of eight groups
/// of people through a camera's sensitivities give +0.36 to +0.43 and -0.16 to -0.26 under daylight and tungsten alike.
pub const SKIN: [f64; 2] = [0.40, -0.21];

/// A plausible white.
#[derive(Clone, Copy, Debug)]
pub struct Candidate {
    /// Its chromaticity.
    pub white: Chromaticity,
    /// The body's (ln R/G, ln B/G) of grey under it.
    pub chroma: [f64; 2],
    /// Whether it lies on the Planckian locus itself.
    pub on_locus: bool,
}

/// The plausible whites whatever the body, with their distances from the Planckian locus: made once, since each takes two sums over
/// a spectrum.
static WHITES: LazyLock<Vec<(Chromaticity, f64)>> = LazyLock::new(|| {
    let steps = |(from, to): (f64, f64), step: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a few dozen steps"
        )]
        let count = ((to - from) / step).round() as usize;
        (0..=count).map(move |at| from + step * at as f64)
    };
    steps(MIRED, MIRED_STEP)
        .flat_map(|mired| steps((-DUV, DUV), DUV_STEP).map(move |duv| (mired, duv)))
        .map(|(mired, duv)| (temperature::with_duv(Kelvin(1e6 / mired), duv), duv))
        .collect()
});

/// The plausible whites of a body; empty when its matrices give no neutral for any.
#[must_use]
pub fn candidates(colour: &CameraColour) -> Vec<Candidate> {
    WHITES
        .iter()
        .filter_map(|&(white, duv)| {
            Some(Candidate {
                white,
                chroma: log_chroma(colour.neutral_of_white(white).ok()?)?,
                on_locus: duv.abs() < DUV_STEP / 2.0,
            })
        })
        .collect()
}

/// (ln R/G, ln B/G); `None` unless all channels are positive and finite.
#[must_use]
pub fn log_chroma(colour: [f64; 3]) -> Option<[f64; 2]> {
    let usable = colour.iter().all(|value| *value > 0.0 && value.is_finite());
    usable.then(|| [(colour[0] / colour[1]).ln(), (colour[2] / colour[1]).ln()])
}

/// The neutral (green = 1) of a log-chroma.
#[must_use]
pub fn neutral_of(chroma: [f64; 2]) -> [f64; 3] {
    [chroma[0].exp(), 1.0, chroma[1].exp()]
}

/// Distance of two log-chromas.
#[must_use]
pub fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    square_distance(a, b).sqrt()
}

/// Square of the distance of two log-chromas. Not the library's hypotenuse: nothing here can overflow, and this runs for
/// every tile and candidate.
#[must_use]
pub fn square_distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    let (red, blue) = (a[0] - b[0], a[1] - b[1]);
    red * red + blue * blue
}

/// How plausible a white is for a key, 0 to 1, by its temperature and its distance from the Planckian locus, which for
/// daylight is not 0 but about +0.003 from 5000 K up.
#[must_use]
pub fn plausibility(white: Chromaticity) -> f64 {
    let Some(found) = temperature::ohno(white) else {
        return 0.0;
    };
    let kelvin = found.kelvin.0;
    let daylight = ((kelvin - 4000.0) / 1000.0).max(0.0).min(1.0) * 0.003;
    let off = (found.duv - daylight) / DUV_SPREAD;
    let mired = 1e6 / kelvin;
    let inside = (mired - 1e6 / KELVIN.1).min(1e6 / KELVIN.0 - mired);
    let soft = (1.0 + inside / SOFT_END).max(0.0).min(1.0);
    (-0.5 * off * off).exp() * soft
}

/// The plausible whites that lie on the Planckian locus itself: what [`is_coloured`] asks. Made once a frame, because that is asked
/// of every tile.
#[derive(Clone, Debug)]
pub struct OnLocus {
    /// Their (ln R/G), and their (ln B/G).
    chromas: [Vec<f64>; 2],
    /// The least and the greatest of what they make of grey and skin.
    lowest: [f64; 2],
    highest: [f64; 2],
}

impl OnLocus {
    /// The least and the greatest (ln R/G), and (ln B/G), of what these whites make of grey and skin.
    #[must_use]
    pub fn range(&self) -> [(f64, f64); 2] {
        [0, 1].map(|axis| (self.lowest[axis], self.highest[axis]))
    }

    /// Square of the distance of a colour, as log-chroma, from the nearest grey or skin under these whites; infinite without any.
    #[must_use]
    pub fn square_distance(&self, chroma: [f64; 2]) -> f64 {
        let mut least = [f64::INFINITY; LANES];
        least_squares(chroma, &self.chromas, &mut least);
        least.into_iter().fold(f64::INFINITY, f64::min)
    }
}

/// Takes those that lie on the locus.
#[must_use]
pub fn on_locus(candidates: &[Candidate]) -> OnLocus {
    let chromas = [0, 1].map(|axis| -> Vec<f64> {
        candidates
            .iter()
            .filter(|candidate| candidate.on_locus)
            .map(|candidate| candidate.chroma[axis])
            .collect()
    });
    let of = |pick: fn(f64, f64) -> f64, start: f64| {
        [0, 1].map(|axis| {
            let ends = chromas[axis].iter().map(|c| pick(*c, c + SKIN[axis]));
            ends.fold(start, pick)
        })
    };
    OnLocus {
        lowest: of(f64::min, f64::INFINITY),
        highest: of(f64::max, f64::NEG_INFINITY),
        chromas,
    }
}

/// Whether a colour, as log-chroma, lies farther than `limit` from what each of these whites makes of grey and skin: the line
/// from its neutral to its skin.
#[must_use]
pub fn is_coloured(chroma: [f64; 2], whites: &OnLocus, limit: f64) -> bool {
    /// More than rounding can take from a distance.
    const ROUNDING: f64 = 1e-9;
    let far = limit + ROUNDING;
    // Most washes are far beyond all of them.
    let is_beyond = (0..2).any(|axis| {
        chroma[axis] < whites.lowest[axis] - far || chroma[axis] > whites.highest[axis] + far
    });
    is_beyond || !(whites.square_distance(chroma) <= limit * limit)
}

/// Whites side by side.
const LANES: usize = 8;

row_kernel! {
    /// The least square distances of a colour from what whites make of grey and skin, of every so manieth white.
    fn least_squares(chroma: [f64; 2], whites: &[Vec<f64>; 2], least: &mut [f64; LANES]) {
        let [reds, blues] = whites;
        for (reds, blues) in reds.chunks(LANES).zip(blues.chunks(LANES)) {
            for (least, (red, blue)) in least.iter_mut().zip(reds.iter().zip(blues)) {
                *least = least.min(square_distance_from_grey_or_skin(chroma, [*red, *blue]));
            }
        }
    }
}

/// Distance of a colour from the line between grey and skin under one white, all as log-chroma.
#[must_use]
pub fn distance_from_grey_or_skin(chroma: [f64; 2], white: [f64; 2]) -> f64 {
    square_distance_from_grey_or_skin(chroma, white).sqrt()
}

#[inline(always)]
fn square_distance_from_grey_or_skin(chroma: [f64; 2], white: [f64; 2]) -> f64 {
    let square = SKIN[0] * SKIN[0] + SKIN[1] * SKIN[1];
    let d = [chroma[0] - white[0], chroma[1] - white[1]];
    let along = ((d[0] * SKIN[0] + d[1] * SKIN[1]) / square)
        .max(0.0)
        .min(1.0);
    square_distance(d, [along * SKIN[0], along * SKIN[1]])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::matrix::Matrix3;
    use crate::base::units::Kelvin;
    use crate::colour::camera::Calibration;
    use crate::light::white_map::WhiteMap;

    #[test]
    fn what_is_coloured_is_told_by_each_white_in_turn() {
        // An invented body.
        let matrix = Matrix3([
            [0.82, -0.22, -0.07],
            [-0.49, 1.24, 0.28],
            [-0.10, 0.21, 0.72],
        ]);
        let colour = CameraColour {
            calibrations: vec![Calibration::of_matrix(Some(Kelvin(6504.0)), matrix)],
            analog_balance: [1.0; 3],
            as_shot_neutral: None,
        };
        let whites = on_locus(&candidates(&colour));
        let [reds, blues] = &whites.chromas;
        assert!(!reds.is_empty());
        let (mut near, mut far) = (0, 0);
        for limit in [0.1, 0.35] {
            let map = WhiteMap::new(&whites, limit);
            // Finer than the map's squares, and no whole part of them.
            for at in 0..600 * 600 {
                let chroma = [at % 600, at / 600].map(|place| f64::from(place) * 0.01003 - 3.0);
                let plain = reds
                    .iter()
                    .zip(blues)
                    .all(|(red, blue)| distance_from_grey_or_skin(chroma, [*red, *blue]) > limit);
                assert_eq!(is_coloured(chroma, &whites, limit), plain, "{chroma:?}");
                assert_eq!(map.is_coloured(chroma), plain, "{chroma:?}");
                near += usize::from(!plain);
                far += usize::from(plain);
            }
        }
        assert!(near > 1000 && far > 1000);
        let copies = least_squares::levels();
        for (name, copy) in &copies {
            let of = |kernel: fn([f64; 2], &[Vec<f64>; 2], &mut [f64; LANES])| {
                let mut least = [f64::INFINITY; LANES];
                kernel([0.3, -0.7], &whites.chromas, &mut least);
                least
            };
            assert_eq!(of(*copy), of(copies[0].1), "{name}");
        }
        assert!(is_coloured([0.0; 2], &on_locus(&[]), 0.35));
        assert!(WhiteMap::new(&on_locus(&[]), 0.35).is_coloured([0.0; 2]));
        for beyond in [f64::NAN, f64::INFINITY, -1e300, 1e300] {
            let logarithms = [[beyond, 0.0, 0.0], [0.0, 0.0, beyond]];
            let map = WhiteMap::new(&whites, 0.35);
            assert_eq!(map.are_coloured(&logarithms), [true, true]);
        }
    }
}
