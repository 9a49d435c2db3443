//! Workers that were killed: by a person, by the system when memory is short, or over what their frames had them do.
//!
//! Which of those it was cannot be told from one death. Several at once are nobody's frame: whoever ends all workers of a
//! run, or a system that is going down, must not have frames set aside. So a kill is judged a moment later, by whether others
//! were killed with it. A frame whose worker is killed alone, and again, counts as one that kills its worker. After several at
//! once nothing is begun for a while, and a frame to which that happens again and again is tried alone: where memory is short
//! whenever two workers have some, the night would never end otherwise.

use super::events::{Event, OfFrame};
use super::shift::NightShift;
use crate::crew::task::TaskError;
use crate::night::queue::{Claim, JobId, QueueError, Remark};
use std::collections::HashMap;
use std::time::{Duration, Instant};

/// Kills that follow each other within this time are one. Longer than signals to some hundred processes and their burials
/// take, shorter than most frames.
const AT_ONCE: Duration = Duration::from_secs(1);
/// Times that a frame's worker may be killed with others before the frame is tried alone. More than a person has patience for,
/// few enough that little of a night is lost.
const TOGETHER: u32 = 3;

/// A worker's death, over a job that is still in this run's hand.
#[derive(Debug)]
struct Kill {
    claim: Claim,
    of: OfFrame,
    error: TaskError,
    at: Instant,
}

/// Frames whose workers were killed.
#[derive(Debug, Default)]
pub(super) struct Killed {
    /// A moment ago: not judged yet.
    waiting: Vec<Kill>,
    /// How often with others, since they were last done.
    together: HashMap<JobId, u32>,
}

impl Killed {
    /// A worker was killed then.
    pub(super) fn add(&mut self, claim: Claim, of: OfFrame, error: TaskError, at: Instant) {
        let kill = Kill {
            claim,
            of,
            error,
            at,
        };
        self.waiting.push(kill);
    }

    /// Whether some are not judged yet.
    pub(super) fn is_waiting(&self) -> bool {
        !self.waiting.is_empty()
    }

    /// Whether several are not judged yet: whatever ends them would end more.
    pub(super) fn are_several(&self) -> bool {
        self.waiting.len() > 1
    }

    /// What is not judged yet went back otherwise.
    pub(super) fn forget_waiting(&mut self) {
        self.waiting.clear();
    }

    /// A worker did this job and lived.
    pub(super) fn survived(&mut self, job: JobId) {
        self.together.remove(&job);
    }

    /// Whether a job is tried alone.
    pub(super) fn is_to_be_alone(&self, job: JobId) -> bool {
        self.together
            .get(&job)
            .is_some_and(|times| *times >= TOGETHER)
    }

    /// Those that can be judged now, in groups that were killed at once: no more can come to them.
    fn ripe(&mut self, now: Instant) -> Vec<Vec<Kill>> {
        let mut kills = std::mem::take(&mut self.waiting);
        kills.sort_by_key(|kill| kill.at);
        let mut groups: Vec<Vec<Kill>> = Vec::new();
        let mut last: Option<Instant> = None;
        for kill in kills {
            let at = kill.at;
            match groups.last_mut() {
                Some(group) if last.is_some_and(|last| at - last < AT_ONCE) => group.push(kill),
                _ => groups.push(vec![kill]),
            }
            last = Some(at);
        }
        if last.is_some_and(|last| now.saturating_duration_since(last) < AT_ONCE) {
            self.waiting = groups.pop().unwrap_or_default();
        }
        groups
    }
}

impl NightShift<'_> {
    /// Judges kills that are a moment ago. Every outcome that is known has been handed over by then.
    pub(super) fn judge_killed(&mut self) -> Result<(), QueueError> {
        for group in self.killed.ripe(Instant::now()) {
            self.idle = None;
            if group.len() > 1 {
                self.rest();
            }
            let is_alone = group.len() == 1;
            for Kill {
                claim, of, error, ..
            } in group
            {
                if is_alone {
                    self.note_lost(&claim, of, error)?;
                    continue;
                }
                *self.killed.together.entry(claim.job).or_default() += 1;
                self.queue.give_back(&claim)?;
                let remark = Remark::WorkerLost {
                    frame: claim.shown.clone(),
                    reason: error.reason,
                };
                self.remark(Some(claim.show), remark)?;
                self.watcher.tell(&Event::GivenBack { of });
            }
        }
        Ok(())
    }
}
