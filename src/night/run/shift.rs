//! The shift of a run: claims jobs for the workers, one at a time, and hands what came of them to the queue.

use super::aside::Aside;
use super::drives::Holds;
use super::events::{Event, Watcher};
use super::folders::Folders;
use super::hand::Hands;
use super::killed::Killed;
use super::preparing::Ready;
use super::scratch::Scratch;
use crate::crew::Shift;
use crate::crew::task::{Answer, Cause, Task, TaskError};
use crate::night::queue::{
    Claim, Claimed, JobId, Queue, QueueError, Remark, RunId, ShowId, SolveClaim,
};
use crate::show::readings::Readings;
use std::collections::HashSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How often the queue is asked again while it has nothing.
const ASK_AGAIN: Duration = Duration::from_millis(250);
/// How long nothing is begun after a worker could not be started, or several were killed.
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
    /// Raised by the same: the queue's file was removed.
    pub(super) is_gone: Arc<AtomicBool>,
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
    /// Frames whose workers were killed.
    pub(super) killed: Killed,
    /// Jobs whose raw was found to be another one: they are metered without asking what is kept.
    pub(super) replaced: HashSet<JobId>,
}

impl Shift for NightShift<'_> {
    fn next(&mut self, worker: usize) -> Option<(usize, Task)> {
        if let Err(error) = self.look_after().and_then(|()| self.judge_killed()) {
            self.trouble.get_or_insert(error);
        }
        if self.errand.is_some()
            || self.trouble.is_some()
            || self.killed.are_several()
            || self.rests_until.is_some_and(|until| Instant::now() < until)
            || self
                .idle
                .as_ref()
                .is_some_and(|(_, since)| since.elapsed() < ASK_AGAIN)
            || self.declared_dead.load(Ordering::SeqCst)
            || self.is_gone.load(Ordering::SeqCst)
        {
            return None;
        }
        self.rests_until = None;
        match self.claim() {
            Ok(ready) => ready.map(|ready| self.take(ready, worker)),
            Err(error) => {
                self.trouble = Some(error);
                None
            }
        }
    }

    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>, at: Instant) {
        // There may be more to do now: a show to be solved, say.
        self.idle = None;
        if let Err(error) = self.take_outcome(key, outcome, at) {
            // What came of it is known again from the folder's ledger.
            self.trouble.get_or_insert(error);
        }
    }
}

impl NightShift<'_> {
    fn claim(&mut self) -> Result<Option<Ready>, QueueError> {
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
                    if self.is_for_one_alone(&claim) {
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
                    if self.is_for_one_alone(&claim.claim) {
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

    /// Whether a frame is tried with one worker that has all the memory: it asked for more than its worker had, or its worker
    /// was killed with others again and again.
    fn is_for_one_alone(&self, claim: &Claim) -> bool {
        let was_memory = claim
            .last_loss
            .as_ref()
            .is_some_and(|error| error.cause == Cause::Memory);
        let wants_all =
            claim.losses > 0 && was_memory && self.rules.whole_memory > self.rules.worker_memory;
        wants_all || self.killed.is_to_be_alone(claim.job)
    }

    /// Gives a task to a worker.
    pub(super) fn take(&mut self, ready: Ready, worker: usize) -> (usize, Task) {
        let Ready { job, here, task } = ready;
        let work = job.work();
        let (key, hand) = self.hands.take(job, here, worker);
        let of = hand.of_frame();
        self.watcher.tell(&Event::Took { of, work });
        (key, task)
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

    /// Nothing is begun for a while: workers cannot be started, or were killed together.
    pub(super) fn rest(&mut self) {
        self.rests_until = Some(Instant::now() + REST);
    }
}
