//! Workers that were killed: by a person, by the system when memory is short, or over what their frames had them do.
//!
//! Which of those it was cannot be told from one death. Several at once are nobody's frame: whoever ends all workers of a
//! run, or a system that is going down, must not have frames set aside. So a kill is judged a moment later, by whether others
//! were killed with it. A frame whose worker is killed alone, and again, counts as one that kills its worker.

use super::events::{Event, OfFrame};
use super::shift::NightShift;
use crate::crew::task::TaskError;
use crate::night::queue::{Claim, QueueError, Remark};
use std::time::{Duration, Instant};

/// Kills within this time are one. Longer than signals to some hundred processes and their burials take, shorter than most
/// frames.
const AT_ONCE: Duration = Duration::from_secs(1);

/// Frames whose workers were killed a moment ago; their jobs are still in this run's hand.
#[derive(Debug, Default)]
pub(super) struct Killed(Vec<(Claim, OfFrame, TaskError, Instant)>);

impl Killed {
    pub(super) fn add(&mut self, claim: Claim, of: OfFrame, error: TaskError, now: Instant) {
        self.0.push((claim, of, error, now));
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Those that can be judged now: all, once nothing was killed for a moment.
    fn ripe(&mut self, now: Instant) -> Vec<(Claim, OfFrame, TaskError, Instant)> {
        match self.0.last() {
            Some((.., last)) if now.saturating_duration_since(*last) >= AT_ONCE => {
                std::mem::take(&mut self.0)
            }
            _ => Vec::new(),
        }
    }
}

impl NightShift<'_> {
    /// Judges kills that are a moment ago.
    pub(super) fn judge_killed(&mut self) -> Result<(), QueueError> {
        let ripe = self.killed.ripe(Instant::now());
        if ripe.is_empty() {
            return Ok(());
        }
        self.idle = None;
        let is_alone = ripe.len() == 1;
        for (claim, of, error, _) in ripe {
            if is_alone {
                self.note_lost(&claim, of, error)?;
                continue;
            }
            self.queue.give_back(&claim)?;
            let remark = Remark::WorkerLost {
                frame: claim.shown.clone(),
                reason: error.reason,
            };
            self.remark(Some(claim.show), remark)?;
            self.watcher.tell(&Event::GivenBack { of });
        }
        Ok(())
    }
}
