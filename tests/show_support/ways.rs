//! Ways to correct a show that the program's is held against, and the program's as plain numbers.

use super::KnownShow;
use houselights::base::units::Chromaticity;
use houselights::light::patch::Patch;
use houselights::light::read_reference;
use houselights::light::sheet::ShowLight;
use houselights::look::carry::Carried;
use houselights::look::file::Look;
use houselights::look::solve::solve;
use stage_simulator::FrameTruth;

/// What the program made of a show.
pub(crate) struct Outcome {
    pub(crate) light: ShowLight,
    pub(crate) carried: Vec<Carried>,
}

impl Outcome {
    /// The numbers that colours are worked out with.
    pub(crate) fn corrected(&self) -> Vec<Corrected> {
        self.carried
            .iter()
            .map(|carried| Corrected {
                white: carried.correction.white,
                gain: carried.correction.gain,
            })
            .collect()
    }
}

/// The part of a correction that colours are worked out with.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Corrected {
    pub(crate) white: Chromaticity,
    pub(crate) gain: f64,
}

impl KnownShow {
    /// What someone would do who knew every key: its own white, and its level and the settings evened out.
    pub(crate) fn perfect(&self) -> Vec<Corrected> {
        let base = &self.frames[self.reference].truth;
        let level = |truth: &FrameTruth| truth.key.as_ref().map_or(1.0, |key| key.stops.exp2());
        let last = self.frames[self.reference]
            .frame
            .colour
            .white_of_neutral(base.key.as_ref().expect("a key").camera_neutral)
            .expect("a white");
        self.frames
            .iter()
            .enumerate()
            .map(|(at, known)| Corrected {
                white: known.truth.key.as_ref().map_or(last, |key| {
                    known
                        .frame
                        .colour
                        .white_of_neutral(key.camera_neutral)
                        .expect("a white")
                }),
                gain: self.evened(at) * level(base) / level(&known.truth),
            })
            .collect()
    }
}

/// What someone would do who reads no light.
impl KnownShow {
    /// Exposure settings of the reference against a frame's: what evens them out.
    fn evened(&self, at: usize) -> f64 {
        let product = |truth: &FrameTruth| {
            truth.exposure_seconds * f64::from(truth.iso) / truth.f_number.powi(2)
        };
        product(&self.frames[self.reference].truth) / product(&self.frames[at].truth)
    }

    /// The reference's white, told by its card, for all frames.
    pub(crate) fn fixed(&self, look: &Look) -> Vec<Corrected> {
        let patches: Vec<Patch> = self.card().into_iter().collect();
        let reference =
            read_reference(&self.frames[self.reference].frame, &patches).expect("a good patch");
        let solved = solve(look, "reference", &reference).look;
        let white = solved.white.expect("solved");
        (0..self.frames.len())
            .map(|at| Corrected {
                white,
                gain: self.evened(at),
            })
            .collect()
    }

    /// Each frame's white as its body took it.
    pub(crate) fn as_shot(&self) -> Vec<Corrected> {
        (0..self.frames.len())
            .map(|at| {
                let colour = &self.frames[at].frame.colour;
                let neutral = colour.as_shot_neutral.expect("a body's white");
                Corrected {
                    white: colour.white_of_neutral(neutral).expect("a white"),
                    gain: self.evened(at),
                }
            })
            .collect()
    }
}
