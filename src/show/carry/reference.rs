//! The look that is carried: solved from the reference frame, or as it was kept.

use super::{CarryError, CarryJob};
use crate::base::progress::{Progress, StopWish};
use crate::base::units::Chromaticity;
use crate::colour::temperature::ohno;
use crate::crew::Workforce;
use crate::crew::task::{Answer, Task};
use crate::light::patch::Patch;
use crate::light::reference::Reference;
use crate::look::carry::NotSolved;
use crate::look::describe::white_in_words;
use crate::look::file::Look;
use crate::look::solve::{Solved, solve};
use crate::show::metering::{ask_one, unexpected};
use crate::show::outcome::Watcher;
use std::path::Path;

/// The look with a reference to follow: the reference frame's, or as it was kept.
pub(super) fn solved_look(
    job: &CarryJob,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    watcher: &dyn Watcher,
) -> Result<Look, CarryError> {
    let look = match &job.reference {
        None if job.look.is_solved() => job.look.clone(),
        None => return Err(NotSolved.into()),
        Some((frame, patches)) => {
            let reference = read_reference(frame, patches, workforce, stop, watcher)?;
            let name = frame.file_name().unwrap_or_default().to_string_lossy();
            let Solved {
                look,
                reasons,
                warnings,
            } = solve(&job.look, &name, &reference);
            for reason in &reasons {
                watcher.say(&format!("reference {name}: {reason}"));
            }
            if let Some(white) = look.white {
                watcher.say(&format!(
                    "reference {name}: the white is {}",
                    white_in_words(Some(white))
                ));
                if let Some(remark) = implausible(white) {
                    watcher.say(&format!("warning: {remark}"));
                }
            }
            for warning in &warnings {
                watcher.say(&format!("warning: {warning}"));
            }
            look
        }
    };
    if let Some(path) = &job.save_look {
        look.save(path)?;
    }
    Ok(look)
}

fn read_reference(
    frame: &Path,
    patches: &[Patch],
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<Reference, CarryError> {
    let task = Task::Reference {
        frame: frame.to_path_buf(),
        patches: patches.to_vec(),
    };
    match ask_one(task, "reading the reference", workforce, stop, progress) {
        None => Err(CarryError::Stopped),
        Some(Ok(Answer::Reference(reference))) => Ok(*reference),
        Some(Ok(_)) => Err(CarryError::Reference(unexpected(frame))),
        Some(Err(error)) => Err(CarryError::Reference(error)),
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
