//! Metering a show: what light each frame was taken in, and what the show as a whole makes of it.
//!
//! Frames whose readings are kept are not opened; the workers read the others once. Then the show is solved as it would be
//! carried: by the reference that is named, by what the look remembers, or by the frame that is proposed.

mod eye;
mod reference;
mod small;

pub use self::eye::for_a_persons_eye;
pub use self::reference::ReferenceChoice;
pub use self::small::{SMALL_LONG_EDGE, SmallPictures, quick, small_pictures};
pub use super::eye::EyeReason;
pub use super::solving::Proposal;

use super::gather::{GatherError, gather};
use super::metering::{ask_each, not_reached, unexpected};
use super::readings::{Place, Readings};
use super::solving::{Asked, KnownError, SolveError, SolvedShow, solve_show};
use crate::base::progress::{Progress, StopWish};
use crate::crew::Hiring;
use crate::crew::stamp::Outline;
use crate::crew::task::{Answer, Metered, Stamp, Task, TaskError};
use crate::light::reading::FrameLight;
use std::path::{Path, PathBuf};

/// What is to be metered.
#[derive(Clone, Debug)]
pub struct MeterJob {
    /// Files and folders with the show's frames.
    pub frames: Vec<PathBuf>,
    /// The look that would be carried, the reference, and whatever else a person says about the show's light.
    pub asked: Asked,
    /// Where readings are kept.
    pub readings: Place,
    /// A hash of the program: another program's readings are not taken for this one's.
    pub program: String,
}

/// Why nothing was metered.
#[derive(Debug, thiserror::Error)]
pub enum MeterError {
    /// No frames.
    #[error(transparent)]
    Gather(#[from] GatherError),
    /// No workers.
    #[error("cannot start workers: {0}; free some memory, or use fewer --workers")]
    Workers(std::io::Error),
    /// A frame that a person named gives nothing to solve by.
    #[error(transparent)]
    Known(KnownError),
    /// The show cannot be solved as a person asks.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// Stopped too early.
    #[error("stopped before the show was read; run the same command again, it goes on from there")]
    Stopped,
}

/// A show that was metered.
#[derive(Clone, Debug)]
pub struct MeteredShow {
    /// Every frame, in the order of paths.
    pub frames: Vec<MeteredFrame>,
    /// Lights of the frames that could be read, in the same order.
    pub lights: Vec<FrameLight>,
    /// For each light its frame.
    pub frame_of: Vec<usize>,
    /// The show as it would be carried; `None` when no frame could be read.
    pub solved: Option<SolvedShow>,
    /// What it was solved by.
    pub reference: Option<ReferenceChoice>,
    /// Folders that could not be searched: path and reason.
    pub unreadable: Vec<(PathBuf, String)>,
    /// Files that were named and have no raw's name.
    pub passed_over: usize,
}

/// A frame that was metered, or not.
#[derive(Clone, Debug)]
pub struct MeteredFrame {
    /// As it was named or found.
    pub path: PathBuf,
    /// What is known of it, or why it could not be read.
    pub outcome: Result<ReadFrame, TaskError>,
}

/// A frame that could be read.
#[derive(Clone, Debug)]
pub struct ReadFrame {
    /// Its light: index into [`MeteredShow::lights`].
    pub light: usize,
    /// The raw file as it was read.
    pub input: Stamp,
    /// What the reader found odd and settled.
    pub notes: Vec<String>,
    /// Whether its reading was kept by an earlier run.
    pub was_kept: bool,
}

impl MeteredShow {
    /// The path of a light's frame.
    #[must_use]
    pub fn path_of(&self, light: usize) -> &Path {
        self.frame_of
            .get(light)
            .and_then(|&frame| self.frames.get(frame))
            .map_or(Path::new(""), |frame| &frame.path)
    }

    /// The light of the frame with this path; links and other spellings of it are followed.
    #[must_use]
    pub fn light_at(&self, path: &Path) -> Option<usize> {
        let real = real(path);
        let is_it = |frame: &&MeteredFrame| frame.path == path || self::real(&frame.path) == real;
        let frame = self.frames.iter().find(is_it)?;
        frame.outcome.as_ref().ok().map(|read| read.light)
    }
}

fn real(path: &Path) -> PathBuf {
    std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf())
}

/// Meters a show and solves it.
///
/// # Errors
/// When there is nothing to meter or nobody to do it, when the reference cannot be used, and when the run was stopped.
pub fn meter(
    job: &MeterJob,
    hiring: &mut Hiring<'_>,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<MeteredShow, MeterError> {
    let gathered = gather(&job.frames, None)?;
    let mut readings = Readings::open(&job.readings, &job.program);
    let outcomes = read_frames(&gathered.frames, &mut readings, hiring, stop, progress)?;
    let mut show = MeteredShow {
        frames: Vec::new(),
        lights: Vec::new(),
        frame_of: Vec::new(),
        solved: None,
        reference: None,
        unreadable: gathered.unreadable,
        passed_over: gathered.passed_over,
    };
    for (index, (path, outcome)) in gathered.frames.into_iter().zip(outcomes).enumerate() {
        let outcome = outcome.map(|(metered, was_kept)| {
            let light = show.lights.len();
            show.frame_of.push(index);
            show.lights.push(FrameLight {
                facts: metered.facts,
                reading: Some(metered.reading),
                colour: metered.colour,
                is_reference: false,
            });
            ReadFrame {
                light,
                input: metered.input,
                notes: metered.notes,
                was_kept,
            }
        });
        show.frames.push(MeteredFrame { path, outcome });
    }
    for remark in readings.take_remarks() {
        progress.say(&remark);
    }
    if !stop.is_raised() && !show.lights.is_empty() {
        solve(job, &mut show, hiring, stop, progress)?;
    }
    Ok(show)
}

fn solve(
    job: &MeterJob,
    show: &mut MeteredShow,
    hiring: &mut Hiring<'_>,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<(), MeterError> {
    let wish = reference::wish(job, show, hiring, stop, progress)?;
    let paths: Vec<PathBuf> = (0..show.lights.len())
        .map(|at| show.path_of(at).to_path_buf())
        .collect();
    let solved = solve_show(&mut show.lights, &paths, &wish)?;
    show.reference = Some(reference::choice(job, &solved));
    show.solved = Some(solved);
    Ok(())
}

type Outcome = Result<(Metered, bool), TaskError>;

/// Every frame's reading, and whether it was kept.
fn read_frames(
    frames: &[PathBuf],
    readings: &mut Readings,
    hiring: &mut Hiring<'_>,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<Vec<Outcome>, MeterError> {
    let mut outcomes: Vec<Outcome> = Vec::with_capacity(frames.len());
    let mut tasks = Vec::new();
    let reals: Vec<PathBuf> = frames.iter().map(|frame| real(frame)).collect();
    for (index, (frame, real)) in frames.iter().zip(&reals).enumerate() {
        // Copies are hashed here, which may take long on a slow drive.
        if stop.is_raised() {
            outcomes.push(Err(not_reached()));
            continue;
        }
        let kept = Outline::of(frame)
            .ok()
            .and_then(|outline| readings.find(real, outline));
        outcomes.push(match kept {
            Some(metered) => Ok((metered, true)),
            None => {
                let frame = frame.clone();
                tasks.push((index, Task::Meter { frame }));
                Err(not_reached())
            }
        });
    }
    if tasks.is_empty() {
        readings.finish();
        return Ok(outcomes);
    }
    let workforce = hiring.workforce().map_err(MeterError::Workers)?;
    ask_each(
        tasks,
        "metering",
        workforce,
        stop,
        progress,
        &mut |index, outcome| {
            outcomes[index] = match outcome {
                Ok(Answer::Metered(metered)) => {
                    readings.keep(&reals[index], &metered);
                    Ok((*metered, false))
                }
                Ok(_) => Err(unexpected(&frames[index])),
                Err(error) => Err(error),
            };
        },
    );
    readings.finish();
    Ok(outcomes)
}
