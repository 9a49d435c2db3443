//! How a body sees plausible whites: for each of them the matrix that turns its camera RGB into colours that no longer depend
//! on the body or the white, so that the same things can be found again.

use crate::base::matrix::Matrix3;
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::adaptation::bradford_responses;
use crate::colour::camera::CameraColour;
use crate::colour::spaces::BT2020;
use crate::colour::temperature;
use crate::light::locus::{self, log_chroma};

/// Whites that are tried: from 9500 K to 2200 K in mired, and Duv as a body's matrices report it.
const FIRST_MIRED: f64 = 105.0;
pub(super) const MIRED_STEP: f64 = 10.0;
pub(super) const MIREDS: usize = 36;
const FIRST_DUV: f64 = -0.008;
pub(super) const DUV_STEP: f64 = 0.004;
pub(super) const DUVS: usize = 5;
/// Usual keys, in mired: daylight to dimmed tungsten.
const USUAL: std::ops::RangeInclusive<f64> = 150.0..=350.0;

/// A white as a body sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Eye {
    pub(super) white: Chromaticity,
    /// (ln R/G, ln B/G) of grey under it.
    pub(super) chroma: [f64; 2],
    /// Camera RGB to Bradford's responses as shares of the white's, and to luminance as a share of it: grey under the
    /// white with green 1 gives (1, 1, 1) and 1.
    responses: Matrix3,
    from_responses: Matrix3,
    luminance: [f64; 3],
}

impl Eye {
    /// The eye of a white; `None` where the body's matrices have no answer.
    pub(super) fn of(colour: &CameraColour, white: Chromaticity) -> Option<Self> {
        let neutral = colour.neutral_of_white(white).ok()?;
        // The matrix that pictures are rendered with: what is matched is what will be looked at.
        let xyz = BT2020.to_xyz()
            * colour.to_working(white).ok()?
            * Matrix3::diagonal(neutral.map(|value| 1.0 / value));
        let responses = bradford_responses(Chromaticity::D65) * xyz;
        Some(Self {
            white,
            chroma: log_chroma(neutral)?,
            responses,
            from_responses: responses.inverse()?,
            luminance: xyz.0[1],
        })
    }

    /// The eye of a neutral, which need not lie on a locus.
    pub(super) fn of_neutral(colour: &CameraColour, chroma: [f64; 2]) -> Option<Self> {
        let white = colour.white_of_neutral(locus::neutral_of(chroma)).ok()?;
        Self::of(colour, white)
    }

    /// (ln L/M, ln S/M) of a colour given as log-chroma; `None` outside what the responses can be.
    pub(super) fn colour(&self, chroma: [f64; 2]) -> Option<[f64; 2]> {
        let [long, middle, short] = self.responses.apply(locus::neutral_of(chroma));
        (long > 0.0 && middle > 0.0 && short > 0.0)
            .then(|| [(long / middle).ln(), (short / middle).ln()])
    }

    /// The log-chroma that has this colour: the inverse of [`Self::colour`].
    pub(super) fn chroma_of(&self, colour: [f64; 2]) -> Option<[f64; 2]> {
        log_chroma(
            self.from_responses
                .apply([colour[0].exp(), 1.0, colour[1].exp()]),
        )
    }

    /// The ln by which luminance exceeds green for a colour given as log-chroma.
    pub(super) fn luminance(&self, chroma: [f64; 2]) -> Option<f64> {
        let rgb = locus::neutral_of(chroma);
        let sum: f64 = self.luminance.iter().zip(rgb).map(|(a, b)| a * b).sum();
        (sum > 0.0).then(|| sum.ln())
    }
}

/// A body's plausible whites, by mired and then by Duv.
#[derive(Clone, Debug)]
pub(super) struct Eyes<'a> {
    pub(super) colour: &'a CameraColour,
    /// Camera RGB of grey under daylight of 6500 K: what the colours of whole pictures are taken against.
    pub(super) daylight: [f64; 3],
    /// Camera RGB of grey under the whites of usual keys on the Planckian locus.
    pub(super) whites: Vec<[f64; 3]>,
    pub(super) grid: Vec<Option<Eye>>,
}

/// The white at a place of the grid, which may lie between its points.
pub(super) fn white_at(mired: f64, duv: f64) -> Chromaticity {
    temperature::with_duv(
        Kelvin(1e6 / (FIRST_MIRED + mired * MIRED_STEP)),
        FIRST_DUV + duv * DUV_STEP,
    )
}

/// Mired and Duv of a point of the grid.
pub(super) fn mired_and_duv(point: usize) -> (f64, f64) {
    (
        FIRST_MIRED + (point / DUVS) as f64 * MIRED_STEP,
        FIRST_DUV + (point % DUVS) as f64 * DUV_STEP,
    )
}

impl<'a> Eyes<'a> {
    pub(super) fn of(colour: &'a CameraColour) -> Self {
        let grid: Vec<Option<Eye>> = (0..MIREDS * DUVS)
            .map(|point| {
                let white = white_at((point / DUVS) as f64, (point % DUVS) as f64);
                Eye::of(colour, white)
            })
            .collect();
        let whites = (0..MIREDS)
            .filter(|row| USUAL.contains(&mired_and_duv(row * DUVS).0))
            .filter_map(|row| grid[row * DUVS + DUVS / 2].as_ref())
            .map(|eye| locus::neutral_of(eye.chroma))
            .collect();
        Self {
            colour,
            daylight: colour
                .neutral_of_white(Chromaticity::D65)
                .unwrap_or([1.0; 3]),
            whites,
            grid,
        }
    }
}
