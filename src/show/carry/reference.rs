//! The reference frame of a job, and what is said of it.

use super::{CarryError, CarryJob};
use crate::base::progress::StopWish;
use crate::base::units::Chromaticity;
use crate::colour::temperature::ohno;
use crate::crew::Workforce;
use crate::look::describe::white_in_words;
use crate::show::batch::Batch;
use crate::show::outcome::Watcher;
use crate::show::solving::{KnownFrame, SolvedShow, ask_known};
use std::path::Path;

/// The reference frame as it was read, where one is named. Its place is among all frames of the batch.
pub(super) fn known_reference(
    job: &CarryJob,
    batch: &Batch,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    watcher: &dyn Watcher,
) -> Result<Option<KnownFrame>, CarryError> {
    let Some((frame, patches)) = &job.reference else {
        return Ok(None);
    };
    let reference = ask_known(frame, patches, workforce, stop, watcher)
        .map_err(CarryError::Reference)?
        .ok_or(CarryError::Stopped)?;
    Ok(Some(KnownFrame {
        name: frame
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        place: place_of(frame, batch),
        reference,
    }))
}

/// A frame's index in the batch; `None` when it is none of its frames.
fn place_of(frame: &Path, batch: &Batch) -> Option<usize> {
    let real = std::fs::canonicalize(frame).ok()?;
    batch.frames.iter().position(|known| known.real == real)
}

/// Says how the look came about.
pub(super) fn tell_solved(solved: &SolvedShow, name: &str, watcher: &dyn Watcher) {
    for reason in &solved.reasons {
        watcher.say(&format!("reference {name}: {reason}"));
    }
    if let Some(white) = solved.look.white {
        watcher.say(&format!(
            "reference {name}: the white is {}",
            white_in_words(Some(white))
        ));
        if let Some(remark) = implausible(white) {
            watcher.say(&format!("warning: {remark}"));
        }
    }
    for warning in &solved.warnings {
        watcher.say(&format!("warning: {warning}"));
    }
}

/// Distance from the black body, in CIE 1960 uv, beyond which a white is hardly a key's: discharge lamps and LEDs lie within
/// 0.006, and a body's matrices may add 0.013 (measured on simulated bodies, no source).
const FAR_FROM_WHITE: f64 = 0.02;

/// Temperatures of keys in kelvin: tungsten dimmed to a glow, and the bluest discharge lamp (common practice, no source).
const KEY_TEMPERATURES: std::ops::RangeInclusive<f64> = 1800.0..=20_000.0;

/// What to say of a white that no key has; `None` when it may be one.
fn implausible(white: Chromaticity) -> Option<String> {
    let is_far = ohno(white).is_none_or(|found| {
        found.duv.abs() > FAR_FROM_WHITE || !KEY_TEMPERATURES.contains(&found.kelvin.0)
    });
    is_far.then(|| {
        "this white is far from any white light: what was pointed at has a colour of its own or stands in a wash; \
         point at something grey that the key lights"
            .to_owned()
    })
}
