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
    fn next(&mut self) -> Option<(usize, Task)> {
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

    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>) {
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
                    Cause::Memory | Cause::Time | Cause::WorkerLost | Cause::Interrupted
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
mod tests {
    use super::*;
    use crate::base::progress::Progress;
    use crate::base::units::Chromaticity;
    use crate::crew::stamp::stamp_of_bytes;
    use crate::deliver::Wish;
    use crate::show::outcome::Tally;
    use std::fs;

    /// A stand-in for workers: makes every picture at once, except those that fail.
    #[derive(Default)]
    struct StandIn {
        /// Fails at this task, counted from 0, with this cause.
        fails: Option<(usize, Cause)>,
        /// Raises the wish to stop after this task.
        stops_after: Option<usize>,
        asked: Vec<Order>,
    }

    impl Workforce for StandIn {
        fn work(&mut self, stop: &StopWish, shift: &mut dyn Shift) {
            while !stop.is_raised()
                && let Some((key, task)) = shift.next()
            {
                let Task::Make(order) = task else {
                    panic!("not a picture: {task:?}")
                };
                let count = self.asked.len();
                let outcome = match self.fails {
                    Some((at, cause)) if at == count => Err(TaskError {
                        cause,
                        reason: "as the test wants it".to_owned(),
                        next_step: None,
                    }),
                    _ => {
                        let output = &order.pictures[0].output;
                        fs::write(output, b"picture").expect("written");
                        let outline = Outline::of(output).expect("there");
                        Ok(Answer::Made {
                            input: stamp_of(&order.frame).expect("read"),
                            seconds: 0.0,
                            pictures: vec![Ok(Made::InPlace {
                                output: stamp_of_bytes(b"picture", outline),
                                outside: 0.25,
                                seconds: 0.0,
                            })],
                        })
                    }
                };
                self.asked.push(*order);
                shift.done(key, outcome);
                if self.stops_after == Some(count) {
                    stop.raise();
                }
            }
        }
    }

    #[derive(Default)]
    struct Listener {
        tally: Tally,
        errors: Vec<TaskError>,
    }

    impl Progress for Listener {}

    impl Watcher for Listener {
        fn frame(&mut self, outcome: &FrameOutcome) {
            self.tally.count(&outcome.fate);
            if let Fate::Failed(error) | Fate::NotReached(error) = &outcome.fate {
                self.errors.push(error.clone());
            }
        }
    }

    fn show_of(frames: usize) -> tempfile::TempDir {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        for frame in 0..frames {
            fs::write(scratch.path().join(format!("{frame}.nef")), [frame as u8]).expect("written");
        }
        scratch
    }

    fn correction(gain: f64) -> Correction {
        Correction {
            gain,
            ..Correction::neutral(Chromaticity::D65)
        }
    }

    fn run(scratch: &tempfile::TempDir, gain: f64, stand_in: &mut StandIn) -> Listener {
        let named = [scratch.path().to_path_buf()];
        let mut batch =
            Batch::prepare(&named, &scratch.path().join("out"), "jpg").expect("a batch");
        let wanted = (0..batch.frames.len()).map(|frame| Wanted {
            frame,
            correction: correction(gain),
            delivery: Delivery {
                long_edge: None,
                space: Default::default(),
                wish: Wish::default(),
            },
            profile: None,
            notes: Vec::new(),
        });
        let mut listener = Listener::default();
        make(
            &mut batch,
            wanted.collect(),
            "this program",
            stand_in,
            &StopWish::default(),
            &mut listener,
        );
        listener
    }

    #[test]
    fn what_stands_is_not_asked_for_again() {
        let scratch = show_of(4);
        assert_eq!(run(&scratch, 1.0, &mut StandIn::default()).tally.made, 4);
        let mut second = StandIn::default();
        assert_eq!(run(&scratch, 1.0, &mut second).tally.already_made, 4);
        assert!(second.asked.is_empty());
        // Another correction: all again, into places that are known as ours.
        let mut third = StandIn::default();
        assert_eq!(run(&scratch, 2.0, &mut third).tally.made, 4);
        assert!(
            third
                .asked
                .iter()
                .all(|order| order.pictures[0].place == Place::Free
                    && order.pictures[0].made_from.is_none())
        );
    }

    #[test]
    fn a_raw_that_only_looks_changed_is_asked_about_by_its_hash() {
        let scratch = show_of(1);
        run(&scratch, 1.0, &mut StandIn::default());
        let raw = fs::File::options()
            .write(true)
            .open(scratch.path().join("0.nef"));
        raw.expect("there")
            .set_modified(std::time::UNIX_EPOCH)
            .expect("set");
        let mut second = StandIn::default();
        run(&scratch, 1.0, &mut second);
        assert_eq!(
            second.asked[0].pictures[0].made_from,
            Some(blake3::hash(&[0]).to_hex().to_string())
        );
    }

    #[test]
    fn no_space_gives_the_rest_up_and_a_bad_frame_does_not() {
        for (cause, not_reached) in [
            (Cause::DiskFull, 7),
            (Cause::FolderUnusable, 7),
            (Cause::Unreadable, 0),
            (Cause::Time, 0),
        ] {
            let scratch = show_of(10);
            let mut stand_in = StandIn {
                fails: Some((2, cause)),
                ..StandIn::default()
            };
            let heard = run(&scratch, 1.0, &mut stand_in);
            assert_eq!(
                (heard.tally.failed, heard.tally.not_reached),
                (1, not_reached),
                "{cause:?}"
            );
            assert_eq!(heard.tally.frames(), 10);
            assert!(heard.errors.iter().all(|error| error.cause == cause));
        }
    }

    #[test]
    fn a_stopped_run_tells_every_frame_and_the_next_goes_on() {
        let scratch = show_of(10);
        let mut first = StandIn {
            stops_after: Some(3),
            ..StandIn::default()
        };
        let heard = run(&scratch, 1.0, &mut first);
        assert_eq!((heard.tally.made, heard.tally.not_reached), (4, 6));
        assert!(
            heard
                .errors
                .iter()
                .all(|error| error.cause == Cause::Interrupted)
        );
        let heard = run(&scratch, 1.0, &mut StandIn::default());
        assert_eq!((heard.tally.made, heard.tally.already_made), (6, 4));
    }

    #[test]
    fn a_picture_that_was_promised_only_is_ours() {
        let scratch = show_of(1);
        let named = [scratch.path().to_path_buf()];
        let out = scratch.path().join("out");
        {
            // A run that died after the picture was in its place and before that was noted.
            let mut batch = Batch::prepare(&named, &out, "jpg").expect("a batch");
            let frame = batch.frames[0].clone();
            batch
                .ledger
                .note_promised(&frame.picture, &frame.real)
                .expect("noted");
            fs::write(batch.picture_path(&frame), b"picture").expect("written");
        }
        let mut second = StandIn::default();
        assert_eq!(run(&scratch, 1.0, &mut second).tally.made, 1);
        assert_eq!(second.asked[0].pictures[0].place, Place::Free);
    }

    #[test]
    fn a_file_that_nobody_promised_is_a_strangers() {
        let scratch = show_of(1);
        fs::create_dir(scratch.path().join("out")).expect("made");
        fs::write(scratch.path().join("out/0.jpg"), b"a stranger's").expect("written");
        let mut stand_in = StandIn::default();
        run(&scratch, 1.0, &mut stand_in);
        assert_eq!(stand_in.asked[0].pictures[0].place, Place::Taken);
    }
}
