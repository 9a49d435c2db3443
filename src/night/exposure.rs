//! Exposure notes: which cues were metered too hot or too dark, and by how many stops. For the next night.
//!
//! Judged is what the key lights, because that is what a concert photographer meters on; lamps may clip and the dark may be
//! dark. A frame is too hot when more of the performer is blown than nobody misses, and too dark when it could have had more
//! light before that. How many stops that is follows from how the levels of the lit region are spread: their logarithms are
//! taken as normally distributed, so that the share that is blown, together with the median that is not, says how far the
//! bright end lies above the sensor's.
//!
//! What a wash lights is not judged: a pure blue fills one channel long before the others, and is meant to.

mod normal;

use self::normal::quantile;
use crate::base::robust;
use crate::base::units::Stops;
use crate::light::reading::{FrameLight, LitRegion};
use crate::light::sheet::CueSheet;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Share of the performer that may be blown without being missed: buttons, sweat, jewellery (common practice, no source). It
/// is also what lies above the bright end that a reading states, its 98th percentile.
const MAY_BE_BLOWN: f64 = 0.02;

/// Where the bright end should lie, as a share of the sensor's range: a sixth of a stop below its end (common practice, no
/// source).
const BRIGHT_END: f64 = 0.89;

/// Where the lit region's median lies when a body's own meter is followed, as a share of the sensor's range: ISO 12232 rates
/// a body by saturation with H = 78 / S and meters with H = 10 / S.
const METERED_MEDIAN: f64 = 10.0 / 78.0;

/// More of a frame's lit region under a wash, and its levels say nothing of the key (common practice, no source).
const MOST_WASHED: f64 = 0.5;

/// Beyond this many stops the levels only say "more than that": most of the region is then blown, or drowns.
pub const MOST: f64 = 4.0;

/// Less is not told: a step of the dials of most bodies (common practice, no source).
pub const LEAST_TOLD: f64 = 1.0 / 3.0;

/// What one body's frames of one cue say about its exposure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExposureNote {
    /// The cue, from 0.
    pub cue: usize,
    /// The body: its place among the show's bodies, from 0.
    pub body: usize,
    /// Frames that were judged: those in which a key lights something.
    pub frames: usize,
    /// How many of them were too hot by [`LEAST_TOLD`] or more.
    pub hot: usize,
    /// How many of them were too dark by as much.
    pub dark: usize,
    /// Median over the frames, stops: above 0 too hot, below 0 too dark; within plus and minus [`MOST`].
    pub off: f64,
    /// Its 10th and 90th percentile: how evenly the cue was exposed.
    pub between: [f64; 2],
    /// Mean share of the lit region that is blown, 0 to 1.
    pub blown: f64,
    /// Mean share of the performer that drowns in noise, 0 to 1.
    pub blocked: f64,
    /// The settings that most of the frames have.
    pub settings: Option<Settings>,
}

/// Exposure settings of a body.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Exposure time in seconds.
    pub seconds: f64,
    /// Aperture as f-number.
    pub f_number: f64,
    /// ISO speed.
    pub iso: f64,
    /// Frames that have them.
    pub frames: usize,
}

impl ExposureNote {
    /// Whether it is worth telling.
    #[must_use]
    pub fn is_told(&self) -> bool {
        self.off.abs() >= LEAST_TOLD
    }
}

/// How far a frame's lit region is from where it should be: above 0 too hot, below 0 too dark; within plus and minus
/// [`MOST`]. `None` where a wash lights it.
#[must_use]
pub fn off(lit: &LitRegion) -> Option<Stops> {
    if lit.washed_share > MOST_WASHED || lit.median <= 0.0 || lit.bright <= 0.0 {
        return None;
    }
    let below_the_end = -lit.median.log2();
    let stops = if lit.blown_share > MAY_BE_BLOWN {
        let bright = quantile(1.0 - MAY_BE_BLOWN);
        let blown = quantile(1.0 - lit.blown_share);
        if blown <= 0.0 || below_the_end <= 0.0 {
            MOST
        } else {
            below_the_end * (bright / blown - 1.0)
        }
    } else {
        let could_have = (BRIGHT_END / lit.bright).log2();
        let should_have = (METERED_MEDIAN / lit.median).log2();
        // So that nothing has no sign.
        0.0 - could_have.min(should_have).max(0.0)
    };
    Some(Stops(stops.clamp(-MOST, MOST)))
}

/// The notes of a show, in order of cues and bodies; also those that are not worth telling.
#[must_use]
pub fn exposure_notes(lights: &[FrameLight], sheet: &CueSheet) -> Vec<ExposureNote> {
    let mut groups: BTreeMap<(usize, usize), Vec<Judged<'_>>> = BTreeMap::new();
    for (light, place) in lights.iter().zip(&sheet.places) {
        let Some(run) = sheet.runs.get(place.run) else {
            continue;
        };
        let lit = light.reading.as_ref().and_then(|reading| reading.lit);
        if let Some((lit, stops)) = lit.and_then(|lit| Some((lit, off(&lit)?))) {
            let group = groups.entry((run.cue, place.body)).or_default();
            group.push(Judged {
                light,
                lit,
                stops: stops.0,
            });
        }
    }
    groups
        .into_iter()
        .filter_map(|((cue, body), frames)| note(cue, body, &frames))
        .collect()
}

/// A frame that was judged.
struct Judged<'a> {
    light: &'a FrameLight,
    lit: LitRegion,
    stops: f64,
}

fn note(cue: usize, body: usize, frames: &[Judged<'_>]) -> Option<ExposureNote> {
    let mut stops: Vec<f64> = frames.iter().map(|frame| frame.stops).collect();
    let mean = |share: &dyn Fn(&LitRegion) -> f64| {
        frames.iter().map(|frame| share(&frame.lit)).sum::<f64>() / frames.len() as f64
    };
    Some(ExposureNote {
        cue,
        body,
        frames: frames.len(),
        hot: stops.iter().filter(|stops| **stops >= LEAST_TOLD).count(),
        dark: stops.iter().filter(|stops| **stops <= -LEAST_TOLD).count(),
        off: robust::median(&mut stops)?,
        between: [
            robust::percentile(&mut stops, 10.0)?,
            robust::percentile(&mut stops, 90.0)?,
        ],
        blown: mean(&|lit| lit.blown_share),
        blocked: mean(&|lit| lit.blocked_share),
        settings: usual_settings(frames.iter().map(|frame| frame.light)),
    })
}

/// The settings that most of the frames have; of equally many, those of the earliest.
fn usual_settings<'a>(lights: impl Iterator<Item = &'a FrameLight>) -> Option<Settings> {
    let mut known: Vec<Settings> = Vec::new();
    for light in lights {
        let facts = &light.facts;
        let (Some(seconds), Some(f_number), Some(iso)) =
            (facts.exposure_seconds, facts.f_number, facts.iso)
        else {
            continue;
        };
        let same = known.iter_mut().find(|settings| {
            settings.seconds == seconds && settings.f_number == f_number && settings.iso == iso
        });
        match same {
            Some(settings) => settings.frames += 1,
            None => known.push(Settings {
                seconds,
                f_number,
                iso,
                frames: 1,
            }),
        }
    }
    known
        .into_iter()
        .rev()
        .max_by_key(|settings| settings.frames)
}

#[cfg(test)]
mod tests;
