//! What happens in a run while it happens, for whoever watches.

use crate::crew::task::TaskError;
use crate::night::queue::{HowEnded, Remark, RunId, ShowId, Trouble};
use std::path::PathBuf;

/// What is done with a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Work {
    /// Its light is read.
    Metering,
    /// Its pictures are made.
    Making,
}

/// A frame of a show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfFrame {
    /// Its show.
    pub show: ShowId,
    /// The frame as a person named it.
    pub frame: PathBuf,
    /// Size of its file.
    pub bytes: u64,
    /// The place that it has or had among what is in hand, from 0; `None` where no worker was needed. A worker's next frame is
    /// told before its last one is through, so that for a moment there may be one place more than workers.
    pub worker: Option<usize>,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Event {
    /// Workers stand ready. Comes again when their number changes.
    Ready {
        /// The run.
        run: RunId,
        /// Their number.
        workers: usize,
        /// Memory that each may take, in bytes.
        worker_memory: u64,
    },
    /// A worker took a frame.
    Took {
        /// The frame.
        of: OfFrame,
        /// What for.
        work: Work,
    },
    /// A frame is metered.
    Metered {
        /// The frame.
        of: OfFrame,
        /// How long that took; `None` where its reading was kept.
        seconds: Option<f64>,
    },
    /// Pictures of a frame are in their places.
    Made {
        /// The frame.
        of: OfFrame,
        /// How many.
        pictures: usize,
        /// Their bytes.
        picture_bytes: u64,
        /// How long that took; `None` where another command had made them with the same recipe.
        seconds: Option<f64>,
    },
    /// A frame cannot be done.
    SetAside {
        /// The frame.
        of: OfFrame,
        /// Why.
        error: TaskError,
    },
    /// A frame went back into the queue undone.
    GivenBack {
        /// The frame.
        of: OfFrame,
    },
    /// A show is being solved.
    Solving {
        /// The show.
        show: ShowId,
        /// Its name.
        name: String,
    },
    /// A show is solved.
    Solved {
        /// The show.
        show: ShowId,
        /// Its name.
        name: String,
        /// Frames that take part.
        frames: usize,
        /// What a person should know.
        warnings: Vec<String>,
    },
    /// A show cannot be solved; a person must do something about it.
    NotSolved {
        /// The show.
        show: ShowId,
        /// Its name.
        name: String,
        /// Why, and what a person can do.
        trouble: Trouble,
    },
    /// There is nothing to do now.
    Waiting(WaitingFor),
    /// There is again.
    GoesOn,
    /// Something that the report tells too.
    Remark {
        /// The show that it is about, where it is about one.
        show: Option<ShowId>,
        /// What happened.
        remark: Remark,
    },
    /// The run is over.
    Ended(HowEnded),
}

/// What a run waits for.
#[derive(Clone, Debug, PartialEq)]
pub enum WaitingFor {
    /// For what other runs have in hand.
    OtherRuns,
    /// For drives that are away: these folders.
    Drives(Vec<PathBuf>),
    /// A person paused.
    Person,
    /// The battery is low: its charge, 0 to 1.
    Power(f64),
    /// The queue: another program holds it, its drive is full, its server is away.
    Queue(String),
    /// No worker can be started: why.
    Workers(String),
}

/// Whoever watches a run.
pub trait Watcher {
    /// Something happened.
    fn tell(&mut self, event: &Event);
}

/// Nobody watches.
impl Watcher for () {
    fn tell(&mut self, _event: &Event) {}
}
