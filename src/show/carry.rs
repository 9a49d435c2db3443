//! Carrying one frame's look over a show: pass A, pass B, pass C.

mod lights;
mod reference;

use self::lights::{Lights, meter_frames};
use self::reference::{tell_found, tell_solved};
use super::batch::{Batch, BatchError};
use super::eye::eye_reasons;
use super::making::{Wanted, make};
use super::metering::{ask_one, unexpected};
use super::outcome::{FrameOutcome, Tally, Watcher};
use super::readings::Place;
use super::solving::{Asked, KnownError, SolveError, SolveWish, SolvedShow, solve_show};
use crate::base::files::FileError;
use crate::base::format::Format;
use crate::base::progress::{Progress, StopWish};
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::{self, Printing};
use crate::crew::Workforce;
use crate::crew::stamp::digest;
use crate::crew::task::{Answer, Delivery, Task, TaskError};
use crate::deliver::{Converted, DEFAULT_PIXELS_PER_INCH, DEFAULT_QUALITY, Provenance, Wish};
use crate::light::reading::FrameLight;
use crate::look::carry::{Carried, Follow, NotSolved};
use crate::look::file::{Look, LookError};
use std::path::{Path, PathBuf};

/// What is to be done, resolved: nothing here is as typed any more.
#[derive(Clone, Debug)]
pub struct CarryJob {
    /// Files and folders with the show's frames.
    pub frames: Vec<PathBuf>,
    /// The folder for the pictures.
    pub to: PathBuf,
    /// The look, the reference, and whatever else a person says about the show's light.
    pub asked: Asked,
    /// Where the solved look is kept.
    pub save_look: Option<PathBuf>,
    /// Where readings are kept.
    pub readings: Place,
    /// Longest edge in pixels; `None` for full size.
    pub long_edge: Option<u32>,
    /// The kind of file.
    pub format: Format,
    /// Space of the pictures, where no profile is given.
    pub space: OutputSpace,
    /// The profile that pictures are converted into instead, and how.
    pub profile: Option<(PathBuf, Printing)>,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
    /// Whether the place where a frame was taken goes into its picture.
    pub include_position: bool,
    /// A hash of the program: another program's readings and pictures are not taken for this one's.
    pub program: String,
}

/// Why nothing was made at all.
#[derive(Debug, thiserror::Error)]
pub enum CarryError {
    /// The batch cannot start.
    #[error(transparent)]
    Batch(#[from] BatchError),
    /// No workers.
    #[error("cannot start workers: {0}; free some memory, or use fewer --workers")]
    Workers(std::io::Error),
    /// A frame that a person named gives nothing to solve by.
    #[error(transparent)]
    Known(KnownError),
    /// The show cannot be solved as a person asks.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// The solved look cannot be kept.
    #[error("cannot keep the look: {0}")]
    SaveLook(#[from] LookError),
    /// The profile cannot be used.
    #[error("{0}")]
    Profile(TaskError),
    /// The place for the solved look is a frame's.
    #[error("{} has a raw file's name: a look would replace a frame; choose another name, with .toml", .0.display())]
    LookOverFrame(PathBuf),
    /// The place for the solved look is another file's.
    #[error("{} is there already and is no look that this program could read; choose another name for the look, or move that file away", .0.display())]
    LookOverFile(PathBuf),
    /// A file act failed.
    #[error(transparent)]
    File(#[from] FileError),
    /// Stopped before anything was made.
    #[error("stopped before any picture was made; run the same command again")]
    Stopped,
}

/// What came of a job.
#[derive(Clone, Debug)]
pub struct CarryReport {
    /// The look that was carried.
    pub look: Look,
    /// What was found in the show's light; `None` where it was not followed.
    pub found: Option<Found>,
    /// How many frames had which fate.
    pub tally: Tally,
    /// Folders that could not be searched: path and reason.
    pub unreadable: Vec<(PathBuf, String)>,
    /// Mean over the pictures of the share of their pixels whose colours their space does not have; `None` without any
    /// picture of which it is known.
    pub outside: Option<f64>,
}

/// What was found in the light of a show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// Cues.
    pub cues: usize,
    /// Cues that a known key lights, by the keys' names, in the order of the keys; only where there are several keys.
    pub keys: Vec<(String, usize)>,
    /// Frames that have the reference's white because their own key could not be read.
    pub kept_white: usize,
    /// Frames that a person should look at, of those that could be read: see [`eye_reasons`].
    pub need_an_eye: usize,
}

impl Found {
    fn of(solved: &SolvedShow, lights: &[FrameLight], follow: Follow) -> Option<Self> {
        if follow != Follow::Light {
            return None;
        }
        let anchors = solved.light.keys.cues.iter().map(|bodies| {
            let mut whites = bodies.iter().flatten().filter_map(|key| key.white);
            whites.next().map(|white| white.anchor)
        });
        let anchors: Vec<Option<usize>> = anchors.collect();
        let keys = solved.look.keys.iter().enumerate().map(|(at, key)| {
            let lit = anchors.iter().filter(|anchor| **anchor == Some(at)).count();
            (key.name.clone(), lit)
        });
        Some(Self {
            cues: solved.light.sheet.cues,
            keys: if solved.look.keys.len() > 1 {
                keys.collect()
            } else {
                Vec::new()
            },
            kept_white: solved
                .carried
                .iter()
                .filter(|carried| carried.keeps_the_references_white())
                .count(),
            need_an_eye: (0..lights.len())
                .filter(|&at| !eye_reasons(solved, lights, at).is_empty())
                .count(),
        })
    }
}

/// Does the whole job. `hire` starts the workers, once it is clear that there is work for them.
///
/// # Errors
/// When nothing can be made at all. What happens to single frames is told to the watcher and counted in the report.
pub fn carry(
    job: &CarryJob,
    hire: impl FnOnce() -> std::io::Result<Box<dyn Workforce>>,
    stop: &StopWish,
    watcher: &mut dyn Watcher,
) -> Result<CarryReport, CarryError> {
    if let Some(path) = &job.save_look {
        if crate::raw::is_raw_name(path) {
            return Err(CarryError::LookOverFrame(path.clone()));
        }
        // What a look may replace is a look.
        if path.symlink_metadata().is_ok() && Look::load(path).is_err() {
            return Err(CarryError::LookOverFile(path.clone()));
        }
    }
    let mut batch = Batch::prepare(&job.frames, &job.to, job.format.ending())?;
    for remark in &batch.remarks {
        watcher.say(remark);
    }
    let mut workforce = hire().map_err(CarryError::Workers)?;
    let converted = checked_profile(job, &mut *workforce, stop, watcher)?;
    // Without a reading no frame can be proposed.
    let can_propose = job.asked.follow.needs_reading();
    if job.asked.reference.is_none() && !job.asked.look.is_solved() && !can_propose {
        return Err(SolveError::from(NotSolved).into());
    }
    let real: Vec<&Path> = batch.frames.iter().map(|frame| &*frame.real).collect();
    let wish = job
        .asked
        .read_known(&real, &mut *workforce, stop, watcher)
        .map_err(|error| match error {
            KnownError::Stopped => CarryError::Stopped,
            error => CarryError::Known(error),
        })?;
    let mut watcher = Counting {
        watcher,
        tally: Tally::default(),
        outside: Vec::new(),
    };
    let lights = meter_frames(job, &batch, &mut *workforce, stop, &mut watcher);
    let reference = wish.reference.as_ref().map(|known| known.reference.clone());
    let (look, found, wanted) =
        solve_frames(job, wish, converted.as_ref(), &batch, lights, &watcher)?;
    if let Some(reference) = reference {
        tell_found(
            job,
            batch.folder.path(),
            &look,
            &reference,
            &mut *workforce,
            stop,
            &watcher,
        );
    }
    if let Some(path) = &job.save_look {
        look.save(path)?;
    }
    make(
        &mut batch,
        wanted,
        &job.program,
        &mut *workforce,
        stop,
        &mut watcher,
    );
    Ok(CarryReport {
        look,
        found,
        tally: watcher.tally,
        outside: mean(&watcher.outside),
        unreadable: batch.unreadable,
    })
}

/// The conversion that the job asks for, once the profile is known to serve.
fn checked_profile(
    job: &CarryJob,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<Option<Converted>, CarryError> {
    let Some((profile, printing)) = &job.profile else {
        return Ok(None);
    };
    let task = Task::Profile {
        profile: profile.clone(),
        printing: *printing,
    };
    match ask_one(task, "reading the profile", workforce, stop, progress) {
        None => Err(CarryError::Stopped),
        Some(Ok(Answer::Profile { digest })) => Ok(Some(Converted {
            profile_digest: digest,
            printing: *printing,
        })),
        Some(Ok(_)) => Err(CarryError::Profile(unexpected(profile))),
        Some(Err(error)) => Err(CarryError::Profile(error)),
    }
}

/// Pass B: the look that is carried, what was found, and what each frame gets.
fn solve_frames(
    job: &CarryJob,
    wish: SolveWish,
    converted: Option<&Converted>,
    batch: &Batch,
    lights: Lights,
    watcher: &dyn Watcher,
) -> Result<(Look, Option<Found>, Vec<Wanted>), CarryError> {
    let known = lights
        .into_iter()
        .enumerate()
        .filter_map(|(index, light)| Some((index, light?)));
    let (indices, mut lights): (Vec<(usize, Vec<String>)>, Vec<FrameLight>) = known
        .map(|(index, (light, notes))| ((index, notes), light))
        .unzip();
    // From an index in the batch to one among the frames that could be read.
    let wish = wish.among(|frame| indices.iter().position(|(index, _)| *index == frame));
    let paths: Vec<PathBuf> = indices
        .iter()
        .map(|(index, _)| batch.frames[*index].shown.clone())
        .collect();
    let solved = solve_show(&mut lights, &paths, &wish)?;
    if wish.reference.is_some() || solved.proposal.is_some() {
        tell_solved(&solved, watcher);
    }
    for warning in &solved.warnings {
        watcher.say(&format!("warning: {warning}"));
    }
    let found = Found::of(&solved, &lights, job.asked.follow);
    let SolvedShow { look, carried, .. } = solved;
    let wanted = indices.into_iter().zip(carried).map(
        |(
            (frame, mut notes),
            Carried {
                correction,
                reasons,
            },
        )| {
            notes.extend(reasons.iter().map(ToString::to_string));
            let original = batch.frames[frame].shown.file_name().unwrap_or_default();
            Wanted {
                frame,
                delivery: Delivery {
                    long_edge: job.long_edge,
                    space: match converted {
                        Some(_) => printer::FROM,
                        None => job.space,
                    },
                    wish: Wish {
                        format: job.format,
                        converted: converted.cloned(),
                        // A TIFF has none, so that another one is no reason to make it again.
                        quality: match job.format {
                            Format::Jpeg => job.quality,
                            Format::Tiff => DEFAULT_QUALITY,
                        },
                        pixels_per_inch: correction
                            .sharpening
                            .resolution
                            .unwrap_or(DEFAULT_PIXELS_PER_INCH),
                        include_position: job.include_position,
                        provenance: Provenance {
                            original: Some(original.to_string_lossy().into_owned()),
                            look: Some(look.name.clone()).filter(|name| !name.is_empty()),
                            correction_digest: Some(digest(&correction)),
                        },
                    },
                },
                profile: job.profile.as_ref().map(|(profile, _)| profile.clone()),
                correction,
                notes,
            }
        },
    );
    let wanted = wanted.collect();
    Ok((look, found, wanted))
}

/// Counts what it passes on.
struct Counting<'a> {
    watcher: &'a mut dyn Watcher,
    tally: Tally,
    outside: Vec<f64>,
}

/// `None` of nothing. Sorted first, so that the order in which workers end changes nothing.
fn mean(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    (!sorted.is_empty()).then(|| sorted.iter().sum::<f64>() / sorted.len() as f64)
}

impl Progress for Counting<'_> {
    fn begin(&self, part: &str, total: usize) {
        self.watcher.begin(part, total);
    }

    fn advance(&self) {
        self.watcher.advance();
    }

    fn say(&self, line: &str) {
        self.watcher.say(line);
    }

    fn end(&self) {
        self.watcher.end();
    }
}

impl Watcher for Counting<'_> {
    fn frame(&mut self, outcome: &FrameOutcome) {
        self.tally.count(&outcome.fate);
        self.outside.extend(outcome.outside);
        self.watcher.frame(outcome);
    }
}
