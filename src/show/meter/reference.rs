//! What a show is solved by: the frame that a person names, what the look remembers, or the frame that is proposed.

use super::{MeterError, MeterJob, MeteredShow, real};
use crate::base::progress::{Progress, StopWish};
use crate::crew::Hiring;
use crate::show::solving::{
    KnownError, KnownFrame, Neutral, Proposal, SolveWish, SolvedShow, reference_of,
};
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

/// What is to be solved, with the frames read that a person named. A reference among the show's frames in which nothing is
/// pointed at is known already, and not opened again.
pub(super) fn wish(
    job: &MeterJob,
    show: &MeteredShow,
    hiring: &mut Hiring<'_>,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<SolveWish, MeterError> {
    let mut asked = job.asked.clone();
    let known = asked.reference.as_ref().and_then(|named| {
        let place = show.light_at(&named.frame)?;
        let is_bare = named.neutral == Neutral::Patches(Vec::new());
        let reference = is_bare.then(|| reference_of(show.lights.get(place)?))??;
        let name = named.frame.file_name().unwrap_or_default();
        Some(KnownFrame {
            name: name.to_string_lossy().into_owned(),
            place: Some(place),
            reference,
        })
    });
    if known.is_some() {
        asked.reference = None;
    }
    let mut wish = if asked.names_frames() {
        let frames: Vec<PathBuf> = (0..show.lights.len())
            .map(|at| real(show.path_of(at)))
            .collect();
        let frames: Vec<&Path> = frames.iter().map(PathBuf::as_path).collect();
        let workforce = hiring.workforce().map_err(MeterError::Workers)?;
        asked
            .read_known(&frames, workforce, stop, progress)
            .map_err(|error| match error {
                KnownError::Stopped => MeterError::Stopped,
                error => MeterError::Known(error),
            })?
    } else {
        asked.without_known()
    };
    wish.reference = known.or(wish.reference);
    Ok(wish)
}

/// What the show was solved by.
pub(super) fn choice(job: &MeterJob, solved: &SolvedShow) -> ReferenceChoice {
    if let Some(proposal) = solved.proposal {
        return ReferenceChoice::Proposed(proposal);
    }
    match &job.asked.reference {
        Some(named) => ReferenceChoice::Named(named.frame.clone()),
        None => {
            let known = solved.look.reference.as_ref();
            ReferenceChoice::Remembered(known.map(|known| known.frame.clone()).unwrap_or_default())
        }
    }
}
