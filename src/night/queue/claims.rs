//! What a run gets from the queue, and what it gives back.

use super::ids::{JobId, OutputId, RunId, ShowId, WishId};
use super::wishes::OutputWish;
use crate::crew::task::{Delivery, Metered, Stamp, TaskError};
use crate::look::correction::Correction;
use std::ffi::OsString;
use std::path::PathBuf;

/// What a run may do next.
#[derive(Clone, Debug, PartialEq)]
pub enum Claimed {
    /// Meter a frame.
    Meter(Claim),
    /// Make the pictures of a frame.
    Make(Box<MakeClaim>),
    /// Solve a show.
    Solve(SolveClaim),
    /// Nothing now, and something may come of what runs have in hand (this one or others).
    InHand,
    /// Nothing but what belongs to held shows.
    Held,
    /// Nothing because a person paused the queue, or every show that has work.
    Paused,
    /// Nothing is left to do.
    Nothing,
}

/// A job in the hand of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Claim {
    /// The run.
    pub run: RunId,
    /// The job.
    pub job: JobId,
    /// Its show.
    pub show: ShowId,
    /// The frame, from the root and without links.
    pub frame: PathBuf,
    /// The frame as a person named it.
    pub shown: PathBuf,
    /// Size of its file when it was added.
    pub bytes: u64,
    /// Workers that died over it.
    pub losses: u32,
    /// Why the last of them died.
    pub last_loss: Option<TaskError>,
}

/// A job whose pictures are to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct MakeClaim {
    /// The job.
    pub claim: Claim,
    /// The frame as it was metered.
    pub input: Stamp,
    /// What the frame gets.
    pub correction: Correction,
    /// The pictures that are not made; at least one.
    pub outputs: Vec<WantedOutput>,
}

/// A picture that is to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct WantedOutput {
    /// The output.
    pub output: OutputId,
    /// Its wish.
    pub wish: WishId,
    /// What the wish says of every frame.
    pub of_wish: OutputWish,
    /// File name of the picture.
    pub picture: OsString,
    /// How this picture is delivered.
    pub delivery: Delivery,
    /// Digest of correction, delivery and program, as ledgers note it.
    pub recipe: String,
    /// Of frame and recipe: what the picture is made with.
    pub key: String,
}

/// A show that is to be solved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SolveClaim {
    /// The run.
    pub run: RunId,
    /// The show.
    pub show: ShowId,
    /// Its name.
    pub name: String,
    /// What the show is solved from: where that changes meanwhile, what was solved is not taken.
    pub revision: i64,
    /// What a person asked (JSON).
    pub asked: String,
}

/// A metered frame of a show.
#[derive(Clone, Debug, PartialEq)]
pub struct MeteredJob {
    /// The job.
    pub job: JobId,
    /// The frame, from the root and without links.
    pub frame: PathBuf,
    /// As a person named it.
    pub shown: PathBuf,
    /// Whether its pictures come before those of the show's other frames.
    pub is_first: bool,
    /// What metering found.
    pub metered: Metered,
}

/// A show, solved.
#[derive(Clone, Debug, Default)]
pub struct SolvedJobs {
    /// What was found, as the planner wrote it (JSON): for the report.
    pub found: String,
    /// Each frame that takes part, in the order in which pictures are to be made.
    pub jobs: Vec<SolvedJob>,
}

/// What solving gave to one frame.
#[derive(Clone, Debug)]
pub struct SolvedJob {
    /// The job.
    pub job: JobId,
    /// What the frame gets.
    pub correction: Correction,
    /// What a person should know of it.
    pub notes: Vec<String>,
    /// One picture for each wish of the show.
    pub outputs: Vec<PlannedOutput>,
}

/// A picture as it is planned.
#[derive(Clone, Debug)]
pub struct PlannedOutput {
    /// Its wish.
    pub wish: WishId,
    /// The folder: the wish's.
    pub folder: PathBuf,
    /// File name of the picture.
    pub picture: OsString,
    /// How it is delivered.
    pub delivery: Delivery,
    /// Digest of correction, delivery and program, as ledgers note it.
    pub recipe: String,
}

/// What became of one picture.
#[derive(Clone, Debug)]
pub struct MadeOutput {
    /// The output.
    pub output: OutputId,
    /// The key it was made with: the claim's.
    pub key: String,
    /// The picture in its place, or why it is not there.
    pub made: Result<Standing, TaskError>,
}

/// A picture that stands in its place, synced.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The picture.
    pub stamp: Stamp,
    /// Share of its pixels whose colours its space does not have, where that is known.
    pub outside: Option<f64>,
}

/// Whether the queue took what a run told it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Noted {
    /// It did.
    Taken,
    /// The run was declared dead meanwhile, or a person took the job out: the job is not this run's any more.
    NotOurs,
    /// What it did is not all that is wanted by now, because its show changed meanwhile or part of it could not be done: the
    /// rest is done again.
    Outdated,
    /// It has pictures that were made from another raw: it is set aside.
    AnotherRaw,
}

/// What becomes of a job whose worker died.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AfterLoss {
    /// It is tried once more.
    TriedAgain,
    /// It is set aside.
    SetAside,
    /// It is not this run's any more.
    NotOurs,
}
