//! What workers have in hand, by the keys of their tasks.

use super::events::{OfFrame, Work};
use super::scratch::Here;
use crate::night::queue::{Claim, MadeOutput, MakeClaim};
use std::collections::BTreeMap;
use std::time::Instant;

/// A claimed job as a worker has it.
#[derive(Debug)]
pub(super) enum Job {
    /// To be metered.
    Meter(Claim),
    /// To be made: the outputs that are ordered, in the order of the order's pictures, and those that stood already.
    Make {
        claim: Box<MakeClaim>,
        ordered: Vec<usize>,
        adopted: Vec<MadeOutput>,
    },
}

impl Job {
    pub(super) fn claim(&self) -> &Claim {
        match self {
            Self::Meter(claim) => claim,
            Self::Make { claim, .. } => &claim.claim,
        }
    }

    pub(super) fn work(&self) -> Work {
        match self {
            Self::Meter(_) => Work::Metering,
            Self::Make { .. } => Work::Making,
        }
    }
}

/// A job in the hand of a worker.
#[derive(Debug)]
pub(super) struct InHand {
    pub(super) job: Job,
    /// Its frame as a file on this machine.
    pub(super) here: Here,
    pub(super) worker: usize,
    pub(super) begun: Instant,
}

impl InHand {
    pub(super) fn of_frame(&self) -> OfFrame {
        of_frame(self.job.claim(), Some(self.worker))
    }
}

/// A job's frame, for whoever watches.
pub(super) fn of_frame(claim: &Claim, worker: Option<usize>) -> OfFrame {
    OfFrame {
        show: claim.show,
        frame: claim.shown.clone(),
        bytes: claim.bytes,
        worker,
    }
}

/// Everything in hand.
#[derive(Debug, Default)]
pub(super) struct Hands {
    jobs: BTreeMap<usize, InHand>,
    next_key: usize,
}

impl Hands {
    /// Gives a job to a worker; the key of its task.
    pub(super) fn take(&mut self, job: Job, here: Here, worker: usize) -> (usize, &InHand) {
        let key = self.next_key;
        self.next_key += 1;
        let hand = InHand {
            job,
            here,
            worker,
            begun: Instant::now(),
        };
        (key, self.jobs.entry(key).or_insert(hand))
    }

    /// Takes a job back.
    pub(super) fn end(&mut self, key: usize) -> Option<InHand> {
        self.jobs.remove(&key)
    }
}
