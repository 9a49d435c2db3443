//! The shift of a run: claims jobs for the workers, one at a time, and hands what came of them to the queue.

use super::aside::Aside;
use super::drives::Holds;
use super::events::{Event, Watcher};
use super::folders::{FolderTrouble, Folders};
use super::hand::{Hands, Job, of_frame};
use super::scratch::{Here, NotHere, Scratch};
use super::space;
use crate::crew::Shift;
use crate::crew::stamp::stamp_of;
use crate::crew::task::{Answer, Cause, Order, PictureOrder, Place, Task, TaskError};
use crate::night::depot::is_stored;
use crate::night::queue::{
    Claim, Claimed, JobId, MadeOutput, MakeClaim, Noted, Queue, QueueError, Remark, RunId, ShowId,
    SolveClaim, Standing, WantedOutput,
};
use crate::show::ledger::Ledger;
use crate::show::readings::Readings;
use std::collections::HashSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How often the queue is asked again while it has nothing.
const ASK_AGAIN: Duration = Duration::from_millis(250);
/// How long nothing is begun after a worker could not be started.
const REST: Duration = Duration::from_secs(2);

/// What the run must do itself before anything else is begun.
#[derive(Debug)]
pub(super) enum Errand {
    /// Solve this show.
    Solve(SolveClaim),
    /// Do this job with one worker that may take all the memory.
    Alone(Claimed),
}

/// Why the last claim gave nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Idle {
    /// Something may come of what is in hand, here or elsewhere.
    InHand,
    /// Held shows only.
    Held,
    /// A person paused.
    Paused,
    /// Nothing is left.
    Nothing,
}

/// What a shift knows beside the queue.
pub(super) struct Rules {
    /// Bytes that stay free on output drives.
    pub(super) leave_free: u64,
    /// The memory limit of a worker in bytes, and what one that works alone may take.
    pub(super) worker_memory: u64,
    pub(super) whole_memory: u64,
}

/// The shift.
pub(super) struct NightShift<'a> {
    pub(super) queue: Queue,
    pub(super) run: RunId,
    pub(super) folders: Folders,
    pub(super) readings: Readings,
    pub(super) scratch: Scratch,
    pub(super) holds: Holds,
    pub(super) rules: Rules,
    pub(super) hands: Hands,
    pub(super) watcher: &'a mut dyn Watcher,
    /// Raised by whoever beats: the run was declared dead.
    pub(super) declared_dead: Arc<AtomicBool>,
    /// Nothing is begun while this is set: looked at before each claim.
    pub(super) is_resting: Box<dyn FnMut() -> bool + 'a>,
    pub(super) errand: Option<Errand>,
    /// A claim that waits for room in the scratch folder.
    pub(super) postponed: Option<Claimed>,
    pub(super) idle: Option<(Idle, Instant)>,
    pub(super) rests_until: Option<Instant>,
    /// The queue's own trouble: the run ends, or waits where that may help.
    pub(super) trouble: Option<QueueError>,
    pub(super) aside: Aside,
    /// Jobs whose raw was found to be another one: they are metered without asking what is kept.
    pub(super) replaced: HashSet<JobId>,
}

impl Shift for NightShift<'_> {
    fn next(&mut self) -> Option<(usize, Task)> {
        if let Err(error) = self.look_after() {
            self.trouble.get_or_insert(error);
        }
        if self.errand.is_some()
            || self.trouble.is_some()
            || self.rests_until.is_some_and(|until| Instant::now() < until)
            || self
                .idle
                .as_ref()
                .is_some_and(|(_, since)| since.elapsed() < ASK_AGAIN)
            || self.declared_dead.load(Ordering::SeqCst)
        {
            return None;
        }
        self.rests_until = None;
        match self.claim() {
            Ok(task) => task,
            Err(error) => {
                self.trouble = Some(error);
                None
            }
        }
    }

    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>) {
        // There may be more to do now: a show to be solved, say.
        self.idle = None;
        if let Err(error) = self.take_outcome(key, outcome) {
            // What came of it is known again from the folder's ledger.
            self.trouble.get_or_insert(error);
        }
    }
}

impl NightShift<'_> {
    fn claim(&mut self) -> Result<Option<(usize, Task)>, QueueError> {
        loop {
            // What stands already is passed over here, without a worker: that may be thousands of frames.
            if (self.is_resting)() {
                return self.give_back_postponed().map(|()| None);
            }
            self.idle = None;
            let claimed = match self.postponed.take() {
                Some(claimed) => claimed,
                None => self.queue.claim(self.run, &self.holds.shows())?,
            };
            if matches!(
                claimed,
                Claimed::Meter(_) | Claimed::Make(_) | Claimed::Solve(_)
            ) {
                self.go_on()?;
            }
            let idle = match claimed {
                Claimed::Meter(claim) => {
                    if self.wants_all_memory(&claim) {
                        self.errand = Some(Errand::Alone(Claimed::Meter(claim)));
                        return Ok(None);
                    }
                    match self.metering_task(claim)? {
                        Some(task) => return Ok(Some(task)),
                        None if self.postponed.is_some() => Idle::InHand,
                        None => continue,
                    }
                }
                Claimed::Make(claim) => {
                    if self.wants_all_memory(&claim.claim) {
                        self.errand = Some(Errand::Alone(Claimed::Make(claim)));
                        return Ok(None);
                    }
                    match self.making_task(claim)? {
                        Some(task) => return Ok(Some(task)),
                        None if self.postponed.is_some() => Idle::InHand,
                        None => continue,
                    }
                }
                Claimed::Solve(claim) => {
                    self.errand = Some(Errand::Solve(claim));
                    return Ok(None);
                }
                Claimed::InHand => Idle::InHand,
                Claimed::Held => Idle::Held,
                Claimed::Paused => Idle::Paused,
                Claimed::Nothing => Idle::Nothing,
            };
            self.idle = Some((idle, Instant::now()));
            return Ok(None);
        }
    }

    /// Another run may have room for it.
    fn give_back_postponed(&mut self) -> Result<(), QueueError> {
        match self.postponed.take() {
            Some(Claimed::Meter(claim)) => self.queue.give_back(&claim)?,
            Some(Claimed::Make(claim)) => self.queue.give_back(&claim.claim)?,
            _ => return Ok(()),
        };
        Ok(())
    }

    /// A frame that asked for more memory than its worker had is tried once more with all of it.
    fn wants_all_memory(&self, claim: &Claim) -> bool {
        let was_memory = claim
            .last_loss
            .as_ref()
            .is_some_and(|error| error.cause == Cause::Memory);
        claim.losses > 0 && was_memory && self.rules.whole_memory > self.rules.worker_memory
    }

    /// The task of a frame that is to be metered, unless its reading is kept or its drive is away.
    pub(super) fn metering_task(
        &mut self,
        claim: Claim,
    ) -> Result<Option<(usize, Task)>, QueueError> {
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
        Ok(Some(self.take(
            Job::Meter(claim),
            here,
            Task::Meter { frame },
        )))
    }

    /// The task of a frame whose pictures are to be made, unless they stand already or a drive is away.
    pub(super) fn making_task(
        &mut self,
        claim: Box<MakeClaim>,
    ) -> Result<Option<(usize, Task)>, QueueError> {
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
        Ok(Some(self.take(job, here, Task::Make(Box::new(order)))))
    }

    fn take(&mut self, job: Job, here: Here, task: Task) -> (usize, Task) {
        let work = job.work();
        let (key, hand) = self.hands.take(job, here);
        let of = hand.of_frame();
        self.watcher.tell(&Event::Took { of, work });
        (key, task)
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

    /// Keeps a remark, and tells it.
    pub(super) fn remark(
        &mut self,
        show: Option<ShowId>,
        remark: Remark,
    ) -> Result<(), QueueError> {
        self.queue.remark(Some(self.run), show, &remark)?;
        self.watcher.tell(&Event::Remark { show, remark });
        Ok(())
    }

    /// Nothing is begun for a while: workers cannot be started.
    pub(super) fn rest(&mut self) {
        self.rests_until = Some(Instant::now() + REST);
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
