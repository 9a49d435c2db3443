//! Solving a show of the queue: from the readings it keeps to a correction, a name and a recipe for each picture.

mod naming;

use self::naming::{Names, names};
use super::folders::FolderTrouble;
use super::marks::has_mark;
use super::scratch::{Here, NotHere, Scratch};
use super::snapshot::Snapshot;
use crate::base::progress::StopWish;
use crate::colour::printer;
use crate::crew::Workforce;
use crate::crew::stamp::digest;
use crate::crew::task::{Delivery, TaskError};
use crate::deliver::{DEFAULT_PIXELS_PER_INCH, DEFAULT_QUALITY, Format, Provenance, Wish};
use crate::light::reading::FrameLight;
use crate::look::carry::Follow;
use crate::look::correction::Correction;
use crate::night::depot::is_stored;
use crate::night::queue::{
    MeteredJob, OutputWish, PlannedOutput, Queue, QueueError, SolveClaim, SolvedJob, SolvedJobs,
    Trouble, WishId,
};
use crate::night::report::ShowAccount;
use crate::show::solving::{
    Asked, ClockError, KnownError, SolveError, SolveWish, SolvedShow, solve_show,
};
use std::fmt::Display;
use std::path::{Path, PathBuf};

/// Why a show is not solved now.
#[derive(Debug)]
pub(super) enum Unsolved {
    /// A person must do something.
    Refused(Trouble),
    /// A frame that a person named cannot be read: perhaps its drive is away.
    Frame(Box<TaskError>, Vec<PathBuf>),
    /// An output folder is away: its ledger knows names. With its mark.
    Folder(FolderTrouble, String),
    /// A frame that a person named is in a store that is away.
    NotHere(NotHere),
    /// The run was stopped.
    Stopped,
    /// A frame is metered again first, or there are no workers.
    Later,
    /// The queue.
    Queue(QueueError),
}

impl From<QueueError> for Unsolved {
    fn from(error: QueueError) -> Self {
        Self::Queue(error)
    }
}

/// A show, solved, and what a person should know of it.
pub(super) struct Solution {
    pub(super) jobs: SolvedJobs,
    pub(super) warnings: Vec<String>,
}

/// Solves a claimed show. `program` is a digest of this program.
pub(super) fn solved(
    queue: &mut Queue,
    scratch: &mut Scratch,
    claim: &SolveClaim,
    program: &str,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
) -> Result<Solution, Unsolved> {
    let mut asked = Snapshot::asked(&claim.asked).map_err(refused)?;
    let wishes = queue.wishes(claim.show)?;
    if let Some((_, away)) = (wishes.iter())
        .find(|(_, wish)| !is_stored(&wish.folder) && !has_mark(&wish.folder, &wish.mark))
    {
        return Err(Unsolved::Folder(
            FolderTrouble::away(&away.folder),
            away.mark.clone(),
        ));
    }
    let mut metered = queue.lights(claim.show)?.ok_or(Unsolved::Later)?;
    // In the order of the paths, as `carry` has them.
    metered.sort_by(|a, b| a.frame.cmp(&b.frame));
    let mut real: Vec<&Path> = metered.iter().map(|job| job.frame.as_path()).collect();
    let fetched = fetch_named(&mut asked, scratch)?;
    for (named, here) in &fetched {
        for frame in real.iter_mut().filter(|frame| *frame == named) {
            *frame = here.frame(named);
        }
    }
    let wish = asked
        .read_known(&real, workforce, stop, &())
        .map_err(|error| match error {
            KnownError::Stopped => Unsolved::Stopped,
            KnownError::Reference(error) | KnownError::Pin(error) => {
                let error =
                    (fetched.iter()).fold(error, |error, (frame, here)| here.error(error, frame));
                let named = asked.reference.iter().chain(&asked.pins);
                Unsolved::Frame(
                    Box::new(error),
                    named.map(|named| named.frame.clone()).collect(),
                )
            }
            error @ KnownError::Twice(_) => refused(error),
        })?;
    let mut lights: Vec<FrameLight> = (metered.iter())
        .map(|job| light_of(job, asked.follow))
        .collect();
    let shown: Vec<PathBuf> = metered.iter().map(|job| job.shown.clone()).collect();
    let solved = solved_with_known_clocks(&mut lights, &shown, wish)?;
    let names = names(queue, scratch, claim, &wishes)?;
    let jobs = metered.iter().map(|job| job.job.0).collect();
    let account = ShowAccount::of(&solved, &lights, jobs);
    let found = serde_json::to_string(&account)
        .map_err(|error| refused(format!("what was found cannot be written down: {error}")))?;
    let warnings = solved.warnings.clone();
    let jobs = planned(&metered, solved, &asked, &wishes, &names, program);
    Ok(Solution {
        jobs: SolvedJobs { found, jobs },
        warnings,
    })
}

/// An error that says itself what to do.
fn refused(error: impl Display) -> Unsolved {
    Unsolved::Refused(Trouble {
        reason: error.to_string(),
        next_step: None,
    })
}

/// Solves a show. A clock that is set for a body of which it has no frame does nothing, and costs nobody a night: perhaps its
/// card is still to come.
fn solved_with_known_clocks(
    lights: &mut [FrameLight],
    shown: &[PathBuf],
    mut wish: SolveWish,
) -> Result<SolvedShow, Unsolved> {
    let mut unknown = Vec::new();
    loop {
        let error = match solve_show(lights, shown, &wish) {
            Ok(mut solved) => {
                solved.warnings.extend(unknown);
                return Ok(solved);
            }
            Err(error) => error,
        };
        let SolveError::Clock(ClockError::NoBody { body, .. }) = &error else {
            return Err(refused(error));
        };
        let known = wish.clocks.len();
        wish.clocks.retain(|clock| clock.body != *body);
        if wish.clocks.len() == known {
            return Err(refused(error));
        }
        unknown.push(format!(
            "{error}; the clock that --clock sets for it is not used: add the show's frames again with the body's name, or with its \
             frames"
        ));
    }
}

/// Frames that a person named are few, and wanted together: they take no share of the scratch folder's bytes.
const ALL_AT_ONCE: u64 = 0;

/// Has the frames that a person named be files on this machine, until what is returned is dropped.
fn fetch_named(asked: &mut Asked, scratch: &mut Scratch) -> Result<Vec<(PathBuf, Here)>, Unsolved> {
    let mut fetched: Vec<(PathBuf, Here)> = Vec::new();
    for named in asked.reference.iter_mut().chain(&mut asked.pins) {
        if !is_stored(&named.frame) {
            continue;
        }
        // One may be named twice, and is one frame then as well.
        let known = fetched.iter().find(|(address, _)| *address == named.frame);
        if let Some((address, here)) = known {
            named.frame = here.frame(address).to_path_buf();
            continue;
        }
        let here = scratch
            .bring(&named.frame, ALL_AT_ONCE)
            .map_err(|why| match why {
                NotHere::Stopped => Unsolved::Stopped,
                NotHere::Never(error) => Unsolved::Refused(error.into()),
                why => Unsolved::NotHere(why),
            })?;
        let file = here.frame(&named.frame).to_path_buf();
        fetched.push((std::mem::replace(&mut named.frame, file), here));
    }
    Ok(fetched)
}

/// What is used of a frame's light: as `carry`, which reads no more than is followed.
fn light_of(job: &MeteredJob, follow: Follow) -> FrameLight {
    let metered = &job.metered;
    match follow {
        Follow::Light => FrameLight {
            facts: metered.facts.clone(),
            reading: Some(metered.reading.clone()),
            colour: metered.colour.clone(),
            is_reference: false,
        },
        Follow::Exposure | Follow::None => FrameLight {
            facts: match follow {
                Follow::None => Default::default(),
                _ => metered.facts.clone(),
            },
            reading: None,
            colour: Default::default(),
            is_reference: false,
        },
    }
}

/// What each frame gets, in the order in which pictures are to be made: what comes first, then the rest.
fn planned(
    metered: &[MeteredJob],
    solved: SolvedShow,
    asked: &Asked,
    wishes: &[(WishId, OutputWish)],
    names: &Names,
    program: &str,
) -> Vec<SolvedJob> {
    let look = solved.look.name;
    let mut jobs: Vec<(bool, SolvedJob)> = Vec::with_capacity(metered.len());
    for (job, carried) in metered.iter().zip(solved.carried) {
        let mut notes = match asked.follow {
            Follow::Light => job.metered.notes.clone(),
            Follow::Exposure | Follow::None => Vec::new(),
        };
        notes.extend(carried.reasons.iter().map(ToString::to_string));
        let correction = carried.correction;
        let outputs = wishes.iter().filter_map(|(wish, of_wish)| {
            let delivery = delivery(of_wish, &correction, &job.shown, &look);
            Some(PlannedOutput {
                wish: *wish,
                folder: of_wish.folder.clone(),
                picture: names.get(&(*wish, job.frame.clone()))?.clone(),
                recipe: digest(&(&correction, &delivery, program)),
                delivery,
            })
        });
        let outputs = outputs.collect();
        jobs.push((
            job.is_first,
            SolvedJob {
                job: job.job,
                correction,
                notes,
                outputs,
            },
        ));
    }
    jobs.sort_by_key(|(is_first, _)| !is_first);
    jobs.into_iter().map(|(_, job)| job).collect()
}

/// How the picture of a frame is delivered: the wish, and what depends on the frame, as `carry` settles it.
fn delivery(of_wish: &OutputWish, correction: &Correction, shown: &Path, look: &str) -> Delivery {
    let wish = &of_wish.delivery.wish;
    let original = shown.file_name().unwrap_or_default();
    Delivery {
        long_edge: of_wish.delivery.long_edge,
        space: match wish.converted {
            Some(_) => printer::FROM,
            None => of_wish.delivery.space,
        },
        wish: Wish {
            quality: match wish.format {
                Format::Jpeg => wish.quality,
                Format::Tiff => DEFAULT_QUALITY,
            },
            pixels_per_inch: correction
                .sharpening
                .resolution
                .unwrap_or(DEFAULT_PIXELS_PER_INCH),
            provenance: Provenance {
                original: Some(original.to_string_lossy().into_owned()),
                look: Some(look.to_owned()).filter(|name| !name.is_empty()),
                correction_digest: Some(digest(correction)),
            },
            ..wish.clone()
        },
    }
}

#[cfg(all(test, feature = "many-machines"))]
mod tests;
