//! Pass C: the workers make the pictures, and each is noted in the ledger as soon as it is in its place.

use super::batch::{Batch, BatchFrame};
use super::ledger::MadePicture;
use super::outcome::{Fate, FrameOutcome, Watcher};
use crate::base::progress::StopWish;
use crate::crew::stamp::{Outline, digest, stamp_of};
use crate::crew::task::{
    Answer, Cause, Delivery, Made, Order, PictureOrder, Place, Task, TaskError,
};
use crate::crew::{Shift, Workforce};
use crate::look::correction::Correction;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// A frame to be made.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Its index in the batch.
    pub frame: usize,
    /// What it gets.
    pub correction: Correction,
    /// How it is delivered.
    pub delivery: Delivery,
    /// The profile that it is converted into.
    pub profile: Option<PathBuf>,
    /// What a person should know of it.
    pub notes: Vec<String>,
}

/// Makes the wanted pictures that are not made yet, and tells the watcher what became of each. Once no picture can be
/// written any more (no space, folder gone) the rest is given up for that one reason.
pub fn make(
    batch: &mut Batch,
    wanted: Vec<Wanted>,
    program: &str,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    watcher: &mut dyn Watcher,
) {
    let mut shift = Making {
        waiting: wanted
            .into_iter()
            .map(|wanted| {
                let recipe = digest(&(&wanted.correction, &wanted.delivery, program));
                (wanted, recipe)
            })
            .collect(),
        in_hand: Vec::new(),
        given_up: None,
        worker_lost: false,
        batch,
        watcher,
    };
    shift.skip_what_is_made();
    shift.watcher.begin("making", shift.waiting.len());
    workforce.work(stop, &mut shift);
    shift.watcher.end();
    shift.tell_the_rest();
    if shift.worker_lost {
        // A worker that was killed may have left an unfinished file.
        shift.batch.folder.sweep();
    }
}

struct Making<'a> {
    waiting: VecDeque<(Wanted, String)>,
    in_hand: Vec<(Wanted, String)>,
    given_up: Option<TaskError>,
    worker_lost: bool,
    batch: &'a mut Batch,
    watcher: &'a mut dyn Watcher,
}

impl Making<'_> {
    fn tell(&mut self, wanted: Wanted, fate: Fate) {
        let frame = &self.batch.frames[wanted.frame];
        let outcome = FrameOutcome {
            frame: frame.shown.clone(),
            picture: self.batch.picture_path(frame),
            outside: match &fate {
                Fate::Made { .. } | Fate::AlreadyMade => self
                    .batch
                    .ledger
                    .made(&frame.picture)
                    .and_then(|made| made.outside),
                Fate::Failed(_) | Fate::NotReached(_) => None,
            },
            fate,
            notes: wanted.notes,
        };
        self.watcher.frame(&outcome);
    }

    fn skip_what_is_made(&mut self) {
        for (wanted, recipe) in std::mem::take(&mut self.waiting) {
            let frame = &self.batch.frames[wanted.frame];
            let untouched = self.batch.ledger.made(&frame.picture).is_some_and(|made| {
                made.recipe == recipe
                    && frame
                        .outline
                        .is_some_and(|outline| outline.fits(&made.input))
                    && stands(made, &self.batch.picture_path(frame))
            });
            if untouched {
                self.tell(wanted, Fate::AlreadyMade);
            } else {
                self.waiting.push_back((wanted, recipe));
            }
        }
    }

    fn order(&mut self, wanted: &Wanted, recipe: &str) -> Result<Task, TaskError> {
        let frame = self.batch.frames[wanted.frame].clone();
        let output = self.batch.picture_path(&frame);
        let place =
            if self.batch.ledger.is_ours(&frame.picture) || output.symlink_metadata().is_err() {
                Place::Free
            } else {
                Place::Taken
            };
        let made = self.batch.ledger.made(&frame.picture);
        let made_from = made
            .filter(|made| made.recipe == recipe && stands(made, &output))
            .map(|made| made.input.hash.clone());
        if place == Place::Free {
            self.batch
                .ledger
                .note_promised(&frame.picture, &frame.real)
                .map_err(|error| ledger_trouble(&error))?;
        }
        Ok(Task::Make(Box::new(Order {
            frame: frame.shown,
            // Whatever the raw is now, it gets what was solved: a frame that changed is metered anew by the next run.
            only_from: None,
            correction: wanted.correction.clone(),
            pictures: vec![PictureOrder {
                delivery: wanted.delivery.clone(),
                profile: wanted.profile.clone(),
                output,
                place,
                made_from,
            }],
        })))
    }

    fn note(&mut self, frame: &BatchFrame, made: MadePicture) -> Result<(), TaskError> {
        self.batch
            .ledger
            .note_made(&frame.picture, &frame.real, made)
            .map_err(|error| ledger_trouble(&error))
    }

    fn tell_the_rest(&mut self) {
        let error = self
            .given_up
            .clone()
            .unwrap_or_else(super::metering::not_reached);
        for (wanted, _) in std::mem::take(&mut self.waiting) {
            self.tell(wanted, Fate::NotReached(error.clone()));
        }
    }
}

impl Shift for Making<'_> {
    fn next(&mut self, _: usize) -> Option<(usize, Task)> {
        if self.given_up.is_some() {
            return None;
        }
        let (wanted, recipe) = self.waiting.pop_front()?;
        match self.order(&wanted, &recipe) {
            Ok(task) => {
                let key = wanted.frame;
                self.in_hand.push((wanted, recipe));
                Some((key, task))
            }
            Err(error) => {
                self.given_up = Some(error);
                self.waiting.push_front((wanted, recipe));
                None
            }
        }
    }

    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>, _: Instant) {
        let Some(at) = self
            .in_hand
            .iter()
            .position(|(wanted, _)| wanted.frame == key)
        else {
            return;
        };
        let (wanted, recipe) = self.in_hand.swap_remove(at);
        self.watcher.advance();
        let frame = self.batch.frames[key].clone();
        let outcome = outcome.and_then(|answer| match answer {
            Answer::Made {
                input,
                mut pictures,
                ..
            } if pictures.len() == 1 => pictures.remove(0).map(|made| (input, made)),
            _ => Err(super::metering::unexpected(&frame.shown)),
        });
        let fate = match outcome {
            Ok((
                input,
                Made::InPlace {
                    output, outside, ..
                },
            )) => {
                let bytes = output.bytes;
                let made = MadePicture {
                    input,
                    output,
                    recipe,
                    outside: Some(outside),
                };
                if let Err(error) = self.note(&frame, made) {
                    self.given_up.get_or_insert(error);
                }
                Fate::Made { bytes }
            }
            Ok((input, Made::AsBefore)) => {
                if let Some(made) = self.batch.ledger.made(&frame.picture).cloned() {
                    let noted = self.note(&frame, MadePicture { input, ..made });
                    if let Err(error) = noted {
                        self.given_up.get_or_insert(error);
                    }
                }
                Fate::AlreadyMade
            }
            Err(error) => {
                self.worker_lost |= matches!(
                    error.cause,
                    Cause::Memory
                        | Cause::Time
                        | Cause::WorkerLost
                        | Cause::Killed
                        | Cause::Interrupted
                );
                if error.cause.stops_the_run() {
                    self.given_up.get_or_insert_with(|| error.clone());
                }
                Fate::of_error(error)
            }
        };
        self.tell(wanted, fate);
    }
}

/// Whether a picture stands as it was made: by size and time, or by content when only the time has changed, as it does
/// when a folder is copied.
fn stands(made: &MadePicture, path: &Path) -> bool {
    let Ok(outline) = Outline::of(path) else {
        return false;
    };
    outline.fits(&made.output)
        || (outline.bytes == made.output.bytes
            && stamp_of(path).is_ok_and(|stamp| stamp.hash == made.output.hash))
}

fn ledger_trouble(error: &super::ledger::LedgerError) -> TaskError {
    let disk_full = error.is_disk_full();
    TaskError {
        cause: if disk_full {
            Cause::DiskFull
        } else {
            Cause::FolderUnusable
        },
        reason: error.to_string(),
        next_step: None,
    }
}

#[cfg(test)]
mod tests;
