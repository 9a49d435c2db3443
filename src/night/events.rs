//! What a run tells whoever watches it: plain facts, for a display, for lines of JSON, for tests.

use crate::crew::lossless_path;
use crate::crew::task::TaskError;
use crate::night::queue::{HowEnded, JobId, Remark, RunId, ShowId, Status};
use crate::night::time_left::Part;
use serde::Serialize;
use std::path::PathBuf;

/// Whoever watches a run. Told from one thread, in the order in which things happen.
pub trait Watcher {
    /// Something happened.
    fn tell(&mut self, event: &Event);
}

/// A quiet watcher.
impl Watcher for () {
    fn tell(&mut self, _event: &Event) {}
}

/// A frame that a worker has in hand, or had.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OfFrame {
    /// Its job.
    pub job: JobId,
    /// Its show.
    pub show: ShowId,
    /// As a person named it.
    #[serde(with = "lossless_path")]
    pub frame: PathBuf,
    /// Size of its file.
    pub bytes: u64,
    /// The part of the work.
    pub part: Part,
}

/// What became of a frame in hand.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "became", rename_all = "kebab-case")]
pub enum Became {
    /// Its light is read.
    Metered,
    /// Its reading was kept by an earlier run, and it was not opened.
    ReadingKept,
    /// Its pictures are in their places, synced.
    Made {
        /// How many were made now.
        pictures: usize,
        /// Bytes of them.
        bytes: u64,
    },
    /// It cannot be done, and waits for a person.
    SetAside {
        /// Why.
        error: TaskError,
    },
    /// Its worker died; it is tried once more.
    WorkerLost {
        /// Why.
        error: TaskError,
    },
    /// It went back to the queue undone: a drive is away, the run ends, its file has changed.
    GivenBack,
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "event", rename_all = "kebab-case")]
pub enum Event {
    /// The run began.
    Began {
        /// Its number.
        run: RunId,
        /// Its workers.
        workers: usize,
    },
    /// How the queue stands. Told at the beginning and every few seconds: others add to it and work on it too.
    Queue {
        /// Counts by show and state.
        #[serde(skip)]
        status: Status,
    },
    /// A worker takes a frame.
    Taken {
        /// Which.
        #[serde(flatten)]
        of: OfFrame,
    },
    /// A frame is through.
    Through {
        /// Which.
        #[serde(flatten)]
        of: OfFrame,
        /// Seconds of one worker.
        seconds: f64,
        /// What became of it.
        #[serde(flatten)]
        became: Became,
    },
    /// A show is being solved.
    Solving {
        /// The show.
        show: ShowId,
        /// Its name.
        name: String,
    },
    /// A show is solved: each frame has its correction.
    Solved {
        /// The show.
        show: ShowId,
        /// Its name.
        name: String,
        /// Its cues.
        cues: usize,
        /// What a person should know and can do about it.
        warnings: Vec<String>,
    },
    /// A show cannot be solved.
    NotSolved {
        /// The show.
        show: ShowId,
        /// Its name.
        name: String,
        /// Why.
        reason: String,
        /// What a person can do about it, where the reason does not say it already.
        next_step: Option<String>,
    },
    /// Nothing can be taken at the moment.
    Waiting {
        /// For what.
        #[serde(rename = "for")]
        what: WaitingFor,
    },
    /// The run goes on after it waited.
    GoingOn,
    /// Something for the report.
    Remark {
        /// The show that it is about, where it is about one.
        show: Option<ShowId>,
        /// What.
        remark: Remark,
    },
    /// The run is over.
    Ended {
        /// How.
        how: HowEnded,
    },
}

/// What a run waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WaitingFor {
    /// A source or an output folder that is away.
    Drive,
    /// A person's word: the queue is paused.
    Person,
    /// Mains, or a battery above the charge that was given.
    Power,
    /// What other runs have in hand.
    OtherRuns,
}
