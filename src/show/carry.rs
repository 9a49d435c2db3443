//! Carrying one frame's look over a show: pass A, pass B, pass C.

use super::batch::{Batch, BatchError};
use super::making::{Wanted, make};
use super::metering::{ask_each, not_reached, unexpected};
use super::outcome::{Fate, FrameOutcome, Tally, Watcher};
use crate::base::files::FileError;
use crate::base::format::Format;
use crate::base::progress::{Progress, StopWish};
use crate::base::units::Chromaticity;
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::{self, Printing};
use crate::colour::temperature::ohno;
use crate::crew::Workforce;
use crate::crew::stamp::digest;
use crate::crew::task::{Answer, Delivery, Task, TaskError};
use crate::deliver::{Converted, DEFAULT_PIXELS_PER_INCH, DEFAULT_QUALITY, Provenance, Wish};
use crate::light::patch::Patch;
use crate::light::reading::FrameLight;
use crate::light::reference::Reference;
use crate::look::carry::{Carried, Follow, NotSolved, carry as carry_look};
use crate::look::describe::white_in_words;
use crate::look::file::{Look, LookError};
use crate::look::solve::{Solved, solve};
use std::path::{Path, PathBuf};

/// What is to be done, resolved: nothing here is as typed any more.
#[derive(Clone, Debug)]
pub struct CarryJob {
    /// Files and folders with the show's frames.
    pub frames: Vec<PathBuf>,
    /// The folder for the pictures.
    pub to: PathBuf,
    /// The reference frame and the neutral patches in it; without one the look must be solved already.
    pub reference: Option<(PathBuf, Vec<Patch>)>,
    /// The look.
    pub look: Look,
    /// Where the solved look is kept.
    pub save_look: Option<PathBuf>,
    /// What is solved anew for each frame.
    pub follow: Follow,
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
    /// The reference frame cannot be read or has no white at the patches.
    #[error("the reference frame cannot be used: {0}")]
    Reference(TaskError),
    /// Neither a reference nor a solved look.
    #[error(transparent)]
    NotSolved(#[from] NotSolved),
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
    /// How many frames had which fate.
    pub tally: Tally,
    /// Folders that could not be searched: path and reason.
    pub unreadable: Vec<(PathBuf, String)>,
    /// Mean over the pictures of the share of their pixels whose colours their space does not have; `None` without any
    /// picture of which it is known.
    pub outside: Option<f64>,
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
    let look = solved_look(job, &mut *workforce, stop, watcher)?;
    let mut watcher = Counting {
        watcher,
        tally: Tally::default(),
        outside: Vec::new(),
    };
    let mut lights = meter_frames(job, &look, &mut batch, &mut *workforce, stop, &mut watcher);
    mark_reference(job, &batch, &mut lights);
    let wanted = solve_frames(job, &look, converted.as_ref(), &batch, lights)?;
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
    let mut found = Err(CarryError::Stopped);
    ask_each(
        vec![(0, task)],
        "reading the profile",
        workforce,
        stop,
        progress,
        &mut |_, outcome| {
            found = match outcome {
                Ok(Answer::Profile { digest }) => Ok(Some(Converted {
                    profile_digest: digest,
                    printing: *printing,
                })),
                Ok(_) => Err(CarryError::Profile(unexpected(profile))),
                Err(error) => Err(CarryError::Profile(error)),
            };
        },
    );
    found
}

/// The look with a reference to follow: the reference frame's, or as it was kept.
fn solved_look(
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
    let mut found = Err(CarryError::Stopped);
    ask_each(
        vec![(0, task)],
        "reading the reference",
        workforce,
        stop,
        progress,
        &mut |_, outcome| {
            found = match outcome {
                Ok(Answer::Reference(reference)) => Ok(*reference),
                Ok(_) => Err(CarryError::Reference(unexpected(frame))),
                Err(error) => Err(CarryError::Reference(error)),
            };
        },
    );
    found
}

/// A frame's light and what its reader noted; absent for frames whose outcome is told already.
type Lights = Vec<Option<(FrameLight, Vec<String>)>>;

/// Pass A.
fn meter_frames(
    job: &CarryJob,
    look: &Look,
    batch: &mut Batch,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    watcher: &mut Counting<'_>,
) -> Lights {
    let under = digest(&(look.white, &job.program));
    let mut lights: Lights = vec![None; batch.frames.len()];
    if job.follow == Follow::None {
        // Nothing of a frame is needed to copy the reference's numbers.
        let nothing = || {
            let light = FrameLight {
                facts: Default::default(),
                reading: None,
                is_reference: false,
            };
            Some((light, Vec::new()))
        };
        lights.fill_with(nothing);
        return lights;
    }
    let mut tasks = Vec::new();
    for (index, frame) in batch.frames.iter().enumerate() {
        let path = frame.shown.clone();
        if !job.follow.needs_reading() {
            tasks.push((index, Task::Facts { frame: path }));
            continue;
        }
        let known = frame
            .outline
            .and_then(|outline| batch.ledger.metered(&frame.known_as, outline, &under));
        match known {
            Some(known) => {
                lights[index] = Some((light_of(known.clone()), known.notes.clone()));
            }
            None => tasks.push((
                index,
                Task::Meter {
                    frame: path,
                    white: look.white,
                },
            )),
        }
    }
    let mut errors: Vec<Option<TaskError>> = vec![None; batch.frames.len()];
    for (index, _) in &tasks {
        errors[*index] = Some(not_reached());
    }
    let (frames, ledger) = (&batch.frames, &mut batch.ledger);
    ask_each(
        tasks,
        "metering",
        workforce,
        stop,
        &*watcher,
        &mut |index, outcome| {
            let frame = &frames[index];
            errors[index] = match outcome {
                Ok(Answer::Facts(facts)) => {
                    let light = FrameLight {
                        facts: *facts,
                        reading: None,
                        is_reference: false,
                    };
                    lights[index] = Some((light, Vec::new()));
                    None
                }
                Ok(Answer::Metered(metered)) => {
                    // A reading that cannot be noted is read again by the next run; making pictures meets the same trouble
                    // and tells it.
                    let _ = ledger.note_metered(&frame.real, &under, &metered);
                    let notes = metered.notes.clone();
                    lights[index] = Some((light_of(*metered), notes));
                    None
                }
                Ok(_) => Some(unexpected(&frame.shown)),
                Err(error) => Some(error),
            };
        },
    );
    for (index, error) in errors.into_iter().enumerate() {
        if let Some(error) = error {
            watcher.frame(&FrameOutcome {
                frame: batch.frames[index].shown.clone(),
                picture: batch.picture_path(&batch.frames[index]),
                fate: Fate::of_error(error),
                outside: None,
                notes: Vec::new(),
            });
        }
    }
    lights
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

/// Marks the reference frame among the others, where it is one of them.
fn mark_reference(job: &CarryJob, batch: &Batch, lights: &mut Lights) {
    let Some(real) = job
        .reference
        .as_ref()
        .and_then(|(frame, _)| std::fs::canonicalize(frame).ok())
    else {
        return;
    };
    for (frame, light) in batch.frames.iter().zip(lights) {
        if let Some((light, _)) = light {
            light.is_reference = frame.real == real;
        }
    }
}

fn light_of(metered: crate::crew::task::Metered) -> FrameLight {
    FrameLight {
        facts: metered.facts,
        reading: Some(metered.reading),
        is_reference: false,
    }
}

/// Pass B.
fn solve_frames(
    job: &CarryJob,
    look: &Look,
    converted: Option<&Converted>,
    batch: &Batch,
    lights: Lights,
) -> Result<Vec<Wanted>, NotSolved> {
    let known = lights
        .into_iter()
        .enumerate()
        .filter_map(|(index, light)| Some((index, light?)));
    let (indices, lights): (Vec<(usize, Vec<String>)>, Vec<FrameLight>) = known
        .map(|(index, (light, notes))| ((index, notes), light))
        .unzip();
    let carried = carry_look(look, &lights, job.follow)?;
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
    Ok(wanted.collect())
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
