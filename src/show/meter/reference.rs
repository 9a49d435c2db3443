//! What a show is solved by: the frame that a person names, what the look remembers, or the frame that is proposed.

use super::proposal::{Proposal, propose};
use super::{MeterError, MeterJob, MeteredShow};
use crate::base::progress::{Progress, StopWish};
use crate::crew::Hiring;
use crate::light::reading::{FrameLight, Reference};
use crate::light::reference::choose as choose_white;
use crate::show::solving::{KnownFrame, ask_known};
use std::path::{Path, PathBuf};

/// What a show is solved by.
#[derive(Clone, Debug, PartialEq)]
pub enum ReferenceChoice {
    /// The frame that a person named.
    Named(PathBuf),
    /// What the look remembers of this frame.
    Remembered(String),
    /// A frame that is proposed, because nobody named one.
    Proposed(Proposal),
}

/// The reference of a job, read. A frame of the show without neutral patches is known already, and not opened again.
pub(super) fn choose(
    job: &MeterJob,
    show: &MeteredShow,
    hiring: &mut Hiring<'_>,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<(ReferenceChoice, Option<KnownFrame>), MeterError> {
    if let Some((path, patches)) = &job.reference {
        let place = show.light_at(path);
        let known = place.filter(|_| patches.is_empty());
        let reference = match known.and_then(|at| reference_of(&show.lights[at])) {
            Some(reference) => reference,
            None => {
                let workforce = hiring.workforce().map_err(MeterError::Workers)?;
                ask_known(path, patches, workforce, stop, progress)
                    .map_err(MeterError::Reference)?
                    .ok_or(MeterError::Stopped)?
            }
        };
        let known = KnownFrame {
            name: name_of(path),
            place,
            reference,
        };
        return Ok((ReferenceChoice::Named(path.clone()), Some(known)));
    }
    if job.look.is_solved() {
        let frame = job.look.reference.as_ref();
        let name = frame.map(|known| known.frame.clone()).unwrap_or_default();
        return Ok((ReferenceChoice::Remembered(name), None));
    }
    let proposal = propose(&show.lights);
    let reference = reference_of(&show.lights[proposal.light]);
    let known = reference.map(|reference| KnownFrame {
        name: name_of(show.path_of(proposal.light)),
        place: Some(proposal.light),
        reference,
    });
    Ok((ReferenceChoice::Proposed(proposal), known))
}

/// A frame's light as a reference without patches.
fn reference_of(light: &FrameLight) -> Option<Reference> {
    let reading = light.reading.clone()?;
    Some(Reference {
        facts: light.facts.clone(),
        white: choose_white(&reading),
        patches: None,
        choice: None,
        reading,
        colour: light.colour.clone(),
    })
}

fn name_of(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}
