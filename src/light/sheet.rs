//! The cue sheet: what was read from the light of a show as a whole. Plain data that other rooms may name.
//!
//! Frames are meant by their index in the list that was read; bodies, runs and cues by theirs in the sheet.

use crate::base::units::{Chromaticity, Stops};
use crate::light::reading::FrameLight;
use crate::raw::facts::Body;
use serde::{Deserialize, Serialize};

/// Frames in time, cut into runs under one lighting state; like runs are one cue.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CueSheet {
    /// Bodies in the order of their first frames.
    pub clocks: Vec<BodyClock>,
    /// Where each frame stands, in the order of the list that was read.
    pub places: Vec<FramePlace>,
    /// Runs in order of time.
    pub runs: Vec<Run>,
    /// Number of cues: `Run::cue` is below it.
    pub cues: usize,
}

/// A body's clock against the first body's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BodyClock {
    /// The body.
    pub body: Body,
    /// How many frames it took.
    pub frames: usize,
    /// Seconds that its clock is ahead of the first body's.
    pub ahead_seconds: f64,
    /// How that is known.
    pub source: ClockSource,
    /// 0 (a guess) to 1 (sure).
    pub confidence: f64,
    /// Where it was set anew during the show (a flat battery, a time zone), in the order of its frames.
    pub jumps: Vec<ClockJump>,
}

/// A place where a body's clock was set anew.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockJump {
    /// The first frame after it.
    pub frame: usize,
    /// Seconds that the clock is ahead of the first body's from there on.
    pub ahead_seconds: f64,
    /// How that is known.
    pub source: ClockSource,
}

/// How a clock's offset is known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum ClockSource {
    /// It is the clock that the others are held against.
    First,
    /// A person gave it.
    Given,
    /// The light changed in both bodies' frames: so many changes fit together.
    LightChanges {
        /// Changes that fit.
        matched: usize,
    },
    /// The files state how far each clock is from universal time.
    UniversalTime,
    /// By the order of its own frames: it stood still or was set back, and its frames follow each other as their names do.
    FrameOrder,
    /// Nothing tells: taken as equal.
    Unknown,
}

/// Where a frame stands in the show.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FramePlace {
    /// Its body: index into [`CueSheet::clocks`].
    pub body: usize,
    /// Seconds on the first body's clock since the show's first frame; `None` without a time.
    pub seconds: Option<f64>,
    /// Its run.
    pub run: usize,
    /// Set in a cross-fade.
    pub fade: Option<Fade>,
}

/// A cross-fade that a frame lies in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fade {
    /// The cue that is going.
    pub from: usize,
    /// The cue that is coming: the cue of the frame's run.
    pub to: usize,
    /// Share of the coming cue's light that has arrived, 0 to 1.
    pub arrived: f64,
}

/// Frames under one lighting state, one after another in time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Its cue: runs of one cue are the same lighting state come back.
    pub cue: usize,
    /// What kind of light it is.
    pub kind: RunKind,
    /// Its frames in order of time.
    pub frames: Vec<usize>,
}

/// What kind of light a run has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RunKind {
    /// A key, with or without washes.
    #[default]
    Key,
    /// Coloured light only: hardly any frame shows what could be lit by a key.
    Wash,
    /// Nothing is lit.
    Dark,
    /// The level jumps from frame to frame.
    Strobe,
}

/// A light that is known: the reference frame's key, or another that a person pinned or a look remembers.
#[derive(Clone, Debug, PartialEq)]
pub struct Anchor {
    /// What people call it.
    pub name: String,
    /// Its white where a person's patch settled it or a look remembers it; `None`: it is read from the anchor's cue.
    pub white: Option<Chromaticity>,
    /// Where its light can be seen.
    pub source: AnchorSource,
}

/// Where an anchor's light can be seen.
#[derive(Clone, Debug, PartialEq)]
pub enum AnchorSource {
    /// In this frame of the show, and in the cue that it stands in.
    Frame(usize),
    /// In a frame that is none of the show's.
    Outside(Box<FrameLight>),
    /// In what a look remembers.
    Memory(KeyMemory),
}

/// What is remembered of the light under a key, independent of the body: enough to find the same things under another key.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct KeyMemory {
    /// Colours that it lights, adapted to its white: (ln L/M, ln S/M) of Bradford's cones, and share of them all.
    pub palette: Vec<([f64; 2], f64)>,
    /// Surfaces under it: the same colours, ln of luminance per relative exposure, and share of the picture.
    pub surfaces: Vec<([f64; 2], f64, f64)>,
}

/// What was read from the light of a show.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ShowLight {
    /// Its cues.
    pub sheet: CueSheet,
    /// Their keys.
    pub keys: KeySheet,
}

impl ShowLight {
    /// The key of a frame's cue as its body sees it.
    #[must_use]
    pub fn key_of(&self, frame: usize) -> Option<&BodyKey> {
        let place = self.sheet.places.get(frame)?;
        let cue = self.sheet.runs.get(place.run)?.cue;
        self.key(cue, place.body)
    }

    /// The key of a cue as a body sees it.
    #[must_use]
    pub fn key(&self, cue: usize, body: usize) -> Option<&BodyKey> {
        self.keys.cues.get(cue)?.get(body)?.as_ref()
    }
}

/// Every cue's key.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct KeySheet {
    /// The anchors as they were solved, in the order in which they were given.
    pub anchors: Vec<SolvedAnchor>,
    /// By cue, then by body; `None` where the body took no frame of the cue.
    pub cues: Vec<Vec<Option<BodyKey>>>,
}

/// An anchor's white and what is to be remembered of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SolvedAnchor {
    /// Its white: the one that was given, less what a wash on the patch did to it, or the one that was read.
    pub white: Chromaticity,
    /// 0 (a guess) to 1 (as good as a patch).
    pub confidence: f64,
    /// Enough to find this key on another night.
    pub memory: KeyMemory,
}

/// A key as one body sees it in one cue.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BodyKey {
    /// Its white, as this body's matrices state it; `None` when the cue shows no credible key.
    pub white: Option<KeyWhite>,
    /// Its level; `None` when nothing tells it.
    pub level: Option<KeyLevel>,
}

/// The white of a key.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeyWhite {
    /// Chromaticity.
    pub white: Chromaticity,
    /// Camera RGB of grey under it, green = 1.
    pub neutral: [f64; 3],
    /// How it was found.
    pub source: KeySource,
    /// 0 (a guess) to 1 (as good as a patch).
    pub confidence: f64,
    /// Differences that spoke.
    pub voters: u32,
    /// The anchor whose palette it was found by.
    pub anchor: usize,
}

/// How a key's white was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum KeySource {
    /// The anchor's colours are found again.
    Palette,
    /// The same cue as another body saw it.
    OtherBody,
}

/// The level of a key.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeyLevel {
    /// Against the first anchor's key, whichever it was found by, exposure settings evened out: +1 is twice as bright.
    pub stops: Stops,
    /// 0 to 1.
    pub confidence: f64,
}
