//! What came of a job: recorded where it is final, given back where a drive, a person or the night itself came between.

use super::drives::can_be_written;
use super::events::{Event, OfFrame};
use super::folders::FolderTrouble;
use super::hand::{InHand, Job, of_frame};
use super::marks::has_mark;
use super::preparing::{bytes_of, made};
use super::scratch::{Here, NotHere, Scratch};
use super::shift::NightShift;
use super::space;
use crate::crew::task::{Answer, Cause, Made, Stamp, TaskError};
use crate::night::depot::is_stored;
use crate::night::queue::{
    AfterLoss, Claim, MadeOutput, MakeClaim, Noted, QueueError, Remark, Standing,
};
use crate::show::ledger::MadePicture;
use crate::show::metering::unexpected;
use std::time::Instant;

/// What became of an output of a claim, by its place there.
type Outcome = (usize, Result<Made, TaskError>);

impl NightShift<'_> {
    pub(super) fn take_outcome(
        &mut self,
        key: usize,
        outcome: Result<Answer, TaskError>,
        at: Instant,
    ) -> Result<(), QueueError> {
        let Some(hand) = self.hands.end(key) else {
            return Ok(());
        };
        match outcome {
            Ok(answer) => {
                self.killed.survived(hand.job.claim().job);
                self.take_answer(hand, answer, at)
            }
            Err(error) => self.take_error(&hand, error, at),
        }
    }

    fn take_answer(&mut self, hand: InHand, answer: Answer, at: Instant) -> Result<(), QueueError> {
        let seconds = at.saturating_duration_since(hand.begun).as_secs_f64();
        let of = hand.of_frame();
        match (hand.job, answer) {
            (Job::Meter(claim), Answer::Metered(mut metered)) => {
                metered.input = hand.here.stamp(metered.input);
                self.readings.keep(&claim.frame, &metered);
                self.replaced.remove(&claim.job);
                self.note_metered(&claim, &metered, of, Some(seconds))
            }
            (
                Job::Make {
                    claim,
                    ordered,
                    adopted,
                },
                Answer::Made {
                    input, pictures, ..
                },
            ) if pictures.len() == ordered.len() => {
                let outcomes = ordered.into_iter().zip(pictures).collect();
                let input = hand.here.stamp(input);
                let (outcomes, not_stored) = self.put_into_stores(&claim, &hand.here, outcomes);
                self.take_pictures(&claim, input, adopted, outcomes, &of, seconds)?;
                match not_stored {
                    Some(why) => self.hold_for(claim.claim.show, why),
                    None => Ok(()),
                }
            }
            (Job::Make { claim, .. }, Answer::AnotherRaw { .. }) => {
                self.take_another_raw(&claim.claim, of)
            }
            (job, _) => {
                let error = unexpected(&job.claim().shown);
                self.set_aside(job.claim(), of.worker, error)
            }
        }
    }

    /// Puts pictures that were made in scratch into their stores. Where a store does not take one now, it is left out and made
    /// again later; and why.
    fn put_into_stores(
        &mut self,
        claim: &MakeClaim,
        here: &Here,
        outcomes: Vec<Outcome>,
    ) -> (Vec<Outcome>, Option<NotHere>) {
        let mut put = Vec::with_capacity(outcomes.len());
        let mut not_stored = None;
        for (at, outcome) in outcomes {
            let output = &claim.outputs[at];
            let place = output.of_wish.folder.join(&output.picture);
            match outcome {
                Ok(Made::InPlace {
                    outside, seconds, ..
                }) if is_stored(&place) => {
                    match self.scratch.put(here.picture(&place, at), &place) {
                        Ok(output) => {
                            let made = Made::InPlace {
                                output,
                                outside,
                                seconds,
                            };
                            put.push((at, Ok(made)));
                        }
                        Err(NotHere::Never(error)) => put.push((at, Err(error))),
                        Err(why) => not_stored = Some(why),
                    }
                }
                outcome => {
                    let named = outcome.map_err(|error| {
                        let error = here.error(error, &claim.claim.frame);
                        here.picture_error(error, &place, at)
                    });
                    put.push((at, named));
                }
            }
        }
        (put, not_stored)
    }

    fn take_pictures(
        &mut self,
        claim: &MakeClaim,
        input: Stamp,
        adopted: Vec<MadeOutput>,
        outcomes: Vec<Outcome>,
        of: &OfFrame,
        seconds: f64,
    ) -> Result<(), QueueError> {
        let mut noted = adopted;
        let mut trouble = None;
        for (at, outcome) in outcomes {
            let output = &claim.outputs[at];
            match outcome {
                Ok(Made::InPlace {
                    output: stamp,
                    outside,
                    ..
                }) => {
                    let picture = MadePicture {
                        input: input.clone(),
                        output: stamp.clone(),
                        recipe: output.recipe.clone(),
                        outside: Some(outside),
                    };
                    // The picture is in its place, synced; a ledger that cannot be written costs `carry` a picture later.
                    if !is_stored(&output.of_wish.folder)
                        && let Ok(held) = self
                            .folders
                            .hold(&output.of_wish.folder, &output.of_wish.mark)
                        && held
                            .ledger
                            .note_made(&output.picture, &claim.claim.frame, picture)
                            .is_err()
                    {
                        self.folders.forget(&output.of_wish.folder);
                    }
                    let outside = Some(outside);
                    noted.push(made(output, Ok(Standing { stamp, outside })));
                }
                Ok(Made::AsBefore) => {
                    noted.push(made(output, Err(unexpected(&claim.claim.shown))));
                }
                Err(error) if self.is_of_the_folder(&error, at, claim) => {
                    trouble.get_or_insert((at, error));
                }
                Err(error) => noted.push(made(output, Err(of_the_picture(error, claim, at)))),
            }
        }
        match self.queue.note_made(claim, &noted, Some(seconds))? {
            Noted::Taken => self.tell_made(claim, &noted, of, seconds),
            // It is made again, or another run has it by now.
            Noted::Outdated | Noted::NotOurs | Noted::AnotherRaw => {
                self.watcher.tell(&Event::GivenBack { of: of.clone() });
            }
        }
        match trouble {
            Some((at, error)) => self.take_folder_trouble(claim, at, &error),
            None => Ok(()),
        }
    }

    fn tell_made(&mut self, claim: &MakeClaim, noted: &[MadeOutput], of: &OfFrame, seconds: f64) {
        let failed = noted.iter().find_map(|made| made.made.as_ref().err());
        let pictures = noted.iter().filter(|made| made.made.is_ok()).count();
        let event = match failed {
            Some(error) => Event::SetAside {
                of: of.clone(),
                error: error.clone(),
            },
            None if pictures < claim.outputs.len() => Event::GivenBack { of: of.clone() },
            None => Event::Made {
                of: of.clone(),
                pictures,
                picture_bytes: bytes_of(noted),
                seconds: Some(seconds),
            },
        };
        self.watcher.tell(&event);
    }

    /// Whether a picture could not be written for a reason that its folder has, and not the picture.
    fn is_of_the_folder(&self, error: &TaskError, at: usize, claim: &MakeClaim) -> bool {
        let wish = &claim.outputs[at].of_wish;
        let is_usable = || has_mark(&wish.folder, &wish.mark) && can_be_written(&wish.folder);
        match error.cause {
            Cause::DiskFull => true,
            // Scratch is what it is made in: nothing of a store's own is in the way there.
            Cause::FolderUnusable if is_stored(&wish.folder) => true,
            Cause::Unwritable if is_stored(&wish.folder) => false,
            // Where other files can be written, it is a picture that cannot be replaced: locked, or somebody else's. What is
            // not there has nothing of its own that could be in the way.
            Cause::FolderUnusable => {
                let place = wish.folder.join(&claim.outputs[at].picture);
                !is_usable() || place.symlink_metadata().is_err()
            }
            // Such as an input/output error of a drive that was pulled.
            Cause::Unwritable => !is_usable(),
            _ => false,
        }
    }

    fn take_folder_trouble(
        &mut self,
        claim: &MakeClaim,
        at: usize,
        error: &TaskError,
    ) -> Result<(), QueueError> {
        let wish = &claim.outputs[at].of_wish;
        if is_stored(&wish.folder) {
            // It is made in scratch: that has no room.
            let why = NotHere::Scratch {
                folder: Scratch::above(),
                wanted: 0,
            };
            return self.hold_for(claim.claim.show, why);
        }
        if error.cause == Cause::DiskFull {
            let free = space::free(&wish.folder).unwrap_or(0);
            return self.hold_for_space(claim.claim.show, wish.folder.clone(), free, 0);
        }
        let trouble = FolderTrouble {
            folder: wish.folder.clone(),
            reason: has_mark(&wish.folder, &wish.mark).then(|| error.to_string()),
            is_full: false,
        };
        self.hold_for_folder(claim.claim.show, trouble, &wish.mark)
    }

    fn take_error(
        &mut self,
        hand: &InHand,
        error: TaskError,
        at: Instant,
    ) -> Result<(), QueueError> {
        let claim = hand.job.claim();
        let of = hand.of_frame();
        let error = hand.here.error(error, &claim.frame);
        match error.cause {
            Cause::Interrupted => self.give_back(claim, hand.worker),
            Cause::NoWorker => {
                self.rest();
                self.give_back(claim, hand.worker)
            }
            // A drive that is pulled while it is read makes its reader wait, or die.
            Cause::Unreadable | Cause::Time | Cause::WorkerLost | Cause::Killed
                if self.away(claim.show, &claim.frame)?.is_some() =>
            {
                self.watcher.tell(&Event::GivenBack { of });
                // It may be back between the two questions.
                if !self.hold_if_away(claim, NotHere::OnDrive)? {
                    self.queue.give_back(claim)?;
                }
                Ok(())
            }
            Cause::Memory | Cause::Time | Cause::WorkerLost => self.note_lost(claim, of, error),
            Cause::Killed => {
                self.killed.add(claim.clone(), of, error, at);
                Ok(())
            }
            _ => self.set_aside(claim, Some(hand.worker), error),
        }
    }

    /// A frame's worker died over it.
    pub(super) fn note_lost(
        &mut self,
        claim: &Claim,
        of: OfFrame,
        error: TaskError,
    ) -> Result<(), QueueError> {
        let after = self.queue.note_lost(claim, &error)?;
        let remark = Remark::WorkerLost {
            frame: claim.shown.clone(),
            reason: error.reason.clone(),
        };
        self.remark(Some(claim.show), remark)?;
        self.watcher.tell(&match after {
            AfterLoss::SetAside => Event::SetAside { of, error },
            AfterLoss::TriedAgain | AfterLoss::NotOurs => Event::GivenBack { of },
        });
        Ok(())
    }

    fn give_back(&mut self, claim: &Claim, worker: usize) -> Result<(), QueueError> {
        self.queue.give_back(claim)?;
        let of = of_frame(claim, Some(worker));
        self.watcher.tell(&Event::GivenBack { of });
        Ok(())
    }

    pub(super) fn set_aside(
        &mut self,
        claim: &Claim,
        worker: Option<usize>,
        error: TaskError,
    ) -> Result<(), QueueError> {
        let of = of_frame(claim, worker);
        let outline = match error.cause {
            Cause::Unreadable => self.scratch.outline(&claim.frame).ok(),
            _ => None,
        };
        let noted = match outline {
            Some(outline) => self.queue.set_unreadable_aside(claim, &error, outline)?,
            None => self.queue.set_aside(claim, &error)?,
        };
        let event = match noted {
            Noted::NotOurs => Event::GivenBack { of },
            Noted::Taken | Noted::Outdated | Noted::AnotherRaw => Event::SetAside { of, error },
        };
        self.watcher.tell(&event);
        Ok(())
    }
}

/// An error that a folder gives over one of its pictures, while others can be made there: it is the picture's.
fn of_the_picture(error: TaskError, claim: &MakeClaim, at: usize) -> TaskError {
    let output = &claim.outputs[at];
    if error.cause != Cause::FolderUnusable {
        return error;
    }
    let place = output.of_wish.folder.join(&output.picture);
    TaskError {
        reason: format!(
            "{}: its picture {} is locked, or belongs to somebody else, and cannot be replaced ({})",
            claim.claim.shown.display(),
            place.display(),
            error.reason
        ),
        next_step: Some(
            "unlock the picture or move it away, and run houselights night retry".to_owned(),
        ),
        ..error
    }
}
