//! One run through the queue: `night run` from its beginning to its end.
//!
//! The run claims jobs for its workers (`shift`), records what came of them (`outcomes`), solves a show when all of its
//! frames are metered (`solving`), and waits where waiting helps: for a drive that is away, for power, for a person. What
//! decides is always the queue and the folders, never what this process remembers: it may be killed at any moment, and
//! another run, or the next one, goes on from there.

mod aside;
mod beating;
pub mod clock;
pub mod drives;
mod events;
pub mod folders;
mod hand;
mod holding;
mod killed;
mod listing;
pub mod marks;
pub mod memory;
mod night;
mod outcomes;
pub mod plan;
pub mod power;
mod preparing;
mod queue_file;
mod replaced;
mod resting;
mod same_frames;
mod scratch;
mod shift;
pub mod snapshot;
mod solved;
mod solving;
mod sources;
pub mod space;
pub mod verify;
mod wishes;

pub use self::events::{Event, OfFrame, WaitingFor, Watcher, Work};

use self::night::Night;
use self::power::PowerSource;
use self::resting::Resting;
use crate::base::progress::StopWish;
use crate::crew::Workforce;
use crate::crew::supervisor::CrewSettings;
use crate::night::queue::{HowEnded, Place, QueueError};
use crate::show::readings;
use jiff::Timestamp;
use std::rc::Rc;

/// What a run is to do, resolved.
#[derive(Clone, Debug)]
pub struct NightJob {
    /// The queue.
    pub queue: Place,
    /// Where readings are kept.
    pub readings: readings::Place,
    /// A digest of the program.
    pub program: String,
    /// The workers: how many at most, which program, and how long one frame may take. What each may take of the memory follows
    /// from `memory`.
    pub crew: CrewSettings,
    /// Memory for everything together, in bytes.
    pub memory: u64,
    /// Bytes that stay free on output drives.
    pub leave_free: u64,
    /// Bytes that frames and pictures may take on their way from and to object stores.
    pub scratch: u64,
    /// Nothing is begun after this.
    pub until: Option<Timestamp>,
    /// Charge, 0 to 1, below which nothing is begun on battery.
    pub least_charge: Option<f64>,
}

/// Whoever starts workers.
pub type Hire<'a> = Box<dyn FnMut(&CrewSettings) -> std::io::Result<Box<dyn Workforce>> + 'a>;

/// What a run is surrounded by: a test has its own.
pub struct Surroundings<'a> {
    /// Starts workers.
    pub hire: Hire<'a>,
    /// The battery.
    pub power: Box<dyn PowerSource + 'a>,
}

/// Works through the queue.
///
/// # Errors
/// When the queue cannot be used, or can no longer. What was made stays made, and is known again by the next run.
pub fn run(
    job: &NightJob,
    surroundings: Surroundings<'_>,
    stop: &StopWish,
    watcher: &mut dyn Watcher,
) -> Result<HowEnded, QueueError> {
    let mut night = Night::of(job, surroundings.hire, stop);
    let resting = Rc::new(Resting::of(job, surroundings.power, stop.clone()));
    let ended = night.whole(&resting, watcher);
    if let Ok(how) = &ended {
        watcher.tell(&Event::Ended(*how));
    }
    ended
}

#[cfg(test)]
mod tests;
