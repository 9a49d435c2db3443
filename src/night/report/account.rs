//! What solving a show found, kept for the morning: numbers and facts, so that the report needs neither the raws nor a second
//! solving. Whoever solves a show writes one and hands it to the queue.

use crate::base::units::Chromaticity;
use crate::light::reading::FrameLight;
use crate::light::sheet::BodyClock;
use crate::look::reason::Reason;
use crate::night::exposure::{ExposureNote, exposure_notes};
use crate::show::eye::{EyeReason, eye_reasons};
use crate::show::runs::{RunRow, rows};
use crate::show::solving::SolvedShow;
use serde::{Deserialize, Serialize};

/// What solving a show found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShowAccount {
    /// The look's name; empty where it has none.
    pub look: String,
    /// The reference's white, which the look is carried from.
    pub white: Option<Chromaticity>,
    /// What it was solved by.
    pub reference: Option<SolvedBy>,
    /// How the reference's numbers came about.
    pub reasons: Vec<Reason>,
    /// What a person should know and can do about it.
    pub warnings: Vec<String>,
    /// Bodies in the order of their first frames.
    pub bodies: Vec<BodyClock>,
    /// The cue sheet's rows in order of time. Their frames are lights.
    pub rows: Vec<RunRow>,
    /// The job of each light.
    pub jobs: Vec<i64>,
    /// For each light its body: index into `bodies`.
    pub body_of: Vec<usize>,
    /// How each cue was exposed.
    pub exposure: Vec<ExposureNote>,
    /// Lights that need a person's eye, and why.
    pub eye: Vec<(usize, Vec<EyeReason>)>,
}

/// What a show was solved by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum SolvedBy {
    /// A frame that a person named, or that the look remembers.
    Frame {
        /// Its name.
        name: String,
    },
    /// A frame of the show that was taken because nobody named one.
    Proposed {
        /// Its light.
        light: usize,
        /// Whether its key can be believed.
        is_credible: bool,
        /// What speaks for it.
        why: String,
    },
}

impl ShowAccount {
    /// Of a solved show; `jobs` are the numbers by which the queue knows its lights' frames, in their order.
    #[must_use]
    pub fn of(solved: &SolvedShow, lights: &[FrameLight], jobs: Vec<i64>) -> Self {
        let sheet = &solved.light.sheet;
        let eye = (0..lights.len())
            .map(|at| (at, eye_reasons(solved, lights, at)))
            .filter(|(_, reasons)| !reasons.is_empty());
        let of_look = solved.look.reference.as_ref();
        let reference = match &solved.proposal {
            Some(proposal) => Some(SolvedBy::Proposed {
                light: proposal.light,
                is_credible: proposal.is_credible(),
                why: proposal.to_string(),
            }),
            None => of_look.map(|known| SolvedBy::Frame {
                name: known.frame.clone(),
            }),
        };
        Self {
            look: solved.look.name.clone(),
            white: solved.look.white,
            reference,
            reasons: solved.reasons.clone(),
            warnings: solved.warnings.clone(),
            bodies: sheet.clocks.clone(),
            rows: rows(solved, lights),
            jobs,
            body_of: sheet.places.iter().map(|place| place.body).collect(),
            exposure: exposure_notes(lights, sheet),
            eye: eye.collect(),
        }
    }

    /// How many cues there are.
    #[must_use]
    pub fn cues(&self) -> usize {
        self.rows.iter().map(|row| row.cue).max().unwrap_or(0)
    }

    /// Lights whose small pictures show each run, at most about `most` of them.
    #[must_use]
    pub fn shown(&self, most: usize) -> Vec<usize> {
        crate::show::runs::spread_over(self.rows.iter().map(|row| &row.frames[..]).collect(), most)
    }
}
