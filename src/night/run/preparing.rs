//! From a claim to a task: the frame as a file on this machine, and each picture that is wanted, promised in the ledger of its
//! folder. What stands already, and what must wait, needs no worker.

use super::events::Event;
use super::folders::FolderTrouble;
use super::hand::{Job, of_frame};
use super::scratch::{Here, NotHere};
use super::shift::NightShift;
use super::space;
use crate::crew::stamp::stamp_of;
use crate::crew::task::{Order, PictureOrder, Place, Task, TaskError};
use crate::night::depot::is_stored;
use crate::night::queue::{
    Claim, Claimed, MadeOutput, MakeClaim, Noted, QueueError, Standing, WantedOutput,
};
use crate::show::ledger::Ledger;

/// A task that a worker can begin with.
pub(super) struct Ready {
    pub(super) job: Job,
    pub(super) here: Here,
    pub(super) task: Task,
}

impl NightShift<'_> {
    /// The task of a frame that is to be metered, unless its reading is kept or its drive is away.
    pub(super) fn metering_task(&mut self, claim: Claim) -> Result<Option<Ready>, QueueError> {
        let outline = match self.scratch.outline(&claim.frame) {
            Ok(outline) => Some(outline),
            Err(why) => {
                if self.hold_if_away(&claim, why)? {
                    return Ok(None);
                }
                None
            }
        };
        let known = match outline {
            // What is kept is of the raw that was there before, and the same size and time do not tell the two apart.
            _ if self.replaced.contains(&claim.job) => None,
            outline => outline.and_then(|outline| self.readings.find(&claim.frame, outline)),
        };
        if let Some(metered) = known {
            let of = of_frame(&claim, None);
            self.note_metered(&claim, &metered, of, None)?;
            return Ok(None);
        }
        let bytes = outline.map_or(claim.bytes, |outline| outline.bytes);
        let here = match self.scratch.bring(&claim.frame, bytes) {
            Ok(here) => here,
            Err(NotHere::Busy) => {
                self.postponed = Some(Claimed::Meter(claim));
                return Ok(None);
            }
            Err(why) => {
                self.hold_if_away(&claim, why)?;
                return Ok(None);
            }
        };
        let frame = here.frame(&claim.frame).to_path_buf();
        Ok(Some(Ready {
            job: Job::Meter(claim),
            here,
            task: Task::Meter { frame },
        }))
    }

    /// The task of a frame whose pictures are to be made, unless they stand already or a drive is away.
    pub(super) fn making_task(
        &mut self,
        claim: Box<MakeClaim>,
    ) -> Result<Option<Ready>, QueueError> {
        let outline = match self.scratch.outline(&claim.claim.frame) {
            Ok(outline) => Some(outline),
            Err(why) => {
                if self.hold_if_away(&claim.claim, why)? {
                    return Ok(None);
                }
                None
            }
        };
        if self.hold_if_short(&claim)? {
            return Ok(None);
        }
        let is_same_raw = outline.is_some_and(|outline| outline.fits(&claim.input));
        let room = match wanted_room(&claim) {
            0 => Ok(Here::default()),
            bytes => self.scratch.room(bytes),
        };
        let mut here = match room {
            Ok(here) => here,
            Err(NotHere::Busy) => {
                self.postponed = Some(Claimed::Make(claim));
                return Ok(None);
            }
            Err(why) => {
                self.hold_if_away(&claim.claim, why)?;
                return Ok(None);
            }
        };
        let mut adopted = Vec::new();
        let (mut ordered, mut pictures) = (Vec::new(), Vec::new());
        for (at, output) in claim.outputs.iter().enumerate() {
            match self.order(&claim, output, is_same_raw) {
                Ok(Ordered::Stands(standing)) => adopted.push(made(output, Ok(standing))),
                Ok(Ordered::Wanted(picture)) => {
                    ordered.push(at);
                    pictures.push(PictureOrder {
                        output: here.picture(&picture.output, at),
                        ..*picture
                    });
                }
                Err(trouble) => {
                    let (show, mark) = (claim.claim.show, output.of_wish.mark.clone());
                    self.queue.give_back(&claim.claim)?;
                    self.hold_for_folder(show, trouble, &mark)?;
                    return Ok(None);
                }
            }
        }
        if pictures.is_empty() {
            let of = of_frame(&claim.claim, None);
            let event = match self.queue.note_made(&claim, &adopted, None)? {
                Noted::Outdated | Noted::NotOurs | Noted::AnotherRaw => Event::GivenBack { of },
                Noted::Taken => Event::Made {
                    of,
                    pictures: adopted.len(),
                    picture_bytes: bytes_of(&adopted),
                    seconds: None,
                },
            };
            self.watcher.tell(&event);
            return Ok(None);
        }
        if let Err(why) = self.scratch.fetch(&claim.claim.frame, &mut here) {
            self.hold_if_away(&claim.claim, why)?;
            return Ok(None);
        }
        let order = Order {
            frame: here.frame(&claim.claim.frame).to_path_buf(),
            only_from: Some(claim.input.hash.clone()),
            correction: claim.correction.clone(),
            pictures,
        };
        let job = Job::Make {
            claim,
            ordered,
            adopted,
        };
        let task = Task::Make(Box::new(order));
        Ok(Some(Ready { job, here, task }))
    }

    /// One picture of an order, promised in the ledger of its folder; or the picture that stands there, made with the same
    /// recipe from the same raw by `carry` or by a run that died before it told the queue.
    fn order(
        &mut self,
        claim: &MakeClaim,
        output: &WantedOutput,
        is_same_raw: bool,
    ) -> Result<Ordered, FolderTrouble> {
        let folder = &output.of_wish.folder;
        if is_stored(folder) {
            // No ledger knows it and nobody else names pictures there: what stands is ours.
            return Ok(Ordered::Wanted(Box::new(picture_order(
                output,
                Place::Free,
            ))));
        }
        let held = self.folders.hold(folder, &output.of_wish.mark)?;
        let place = folder.join(&output.picture);
        if !held.ledger.is_ours(&output.picture) && place.symlink_metadata().is_ok() {
            // Another run may have made it since the ledger was read.
            held.ledger = Ledger::open_shared(folder)
                .map_err(|error| FolderTrouble::of_ledger(folder, &error))?;
        }
        let known = held
            .ledger
            .made(&output.picture)
            .filter(|made| made.recipe == output.recipe);
        if let Some(known) = known.filter(|made| is_same_raw && made.input.hash == claim.input.hash)
            && let Ok(stamp) = stamp_of(&place)
            && stamp.hash == known.output.hash
        {
            return Ok(Ordered::Stands(Standing {
                stamp,
                outside: known.outside,
            }));
        }
        let is_free = held.ledger.is_ours(&output.picture) || place.symlink_metadata().is_err();
        if is_free
            && let Err(error) = held
                .ledger
                .note_promised(&output.picture, &claim.claim.frame)
        {
            self.folders.forget(folder);
            return Err(FolderTrouble::of_ledger(folder, &error));
        }
        let place = if is_free { Place::Free } else { Place::Taken };
        Ok(Ordered::Wanted(Box::new(picture_order(output, place))))
    }
}

/// What the frame and its pictures take in scratch, as far as they pass through it; 0 for nothing.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "sizes of files; a guess need not be exact"
)]
fn wanted_room(claim: &MakeClaim) -> u64 {
    let frame = match is_stored(&claim.claim.frame) {
        true => claim.input.bytes,
        false => 0,
    };
    let stored = (claim.outputs.iter()).filter(|output| is_stored(&output.of_wish.folder));
    stored.fold(frame, |sum, output| {
        let picture = space::guessed(&output.delivery, claim.input.bytes as f64);
        sum.saturating_add((picture as u64).max(1))
    })
}

/// A picture to be made in its place.
fn picture_order(output: &WantedOutput, place: Place) -> PictureOrder {
    PictureOrder {
        delivery: output.delivery.clone(),
        profile: output.of_wish.profile.clone(),
        output: output.of_wish.folder.join(&output.picture),
        place,
        made_from: None,
    }
}

/// A picture that is ordered, or need not be.
enum Ordered {
    Wanted(Box<PictureOrder>),
    Stands(Standing),
}

/// What became of an output.
pub(super) fn made(output: &WantedOutput, made: Result<Standing, TaskError>) -> MadeOutput {
    MadeOutput {
        output: output.output,
        key: output.key.clone(),
        made,
    }
}

/// Bytes of the pictures that stand.
pub(super) fn bytes_of(made: &[MadeOutput]) -> u64 {
    made.iter()
        .filter_map(|made| made.made.as_ref().ok())
        .map(|standing| standing.stamp.bytes)
        .sum()
}
