//! Options about workers, shared by the commands that decode.

use crate::crew::limits::{GIBIBYTE, Limits};
use crate::crew::supervisor::CrewSettings;
use std::num::NonZeroUsize;
use std::time::Duration;

/// Options about workers.
#[derive(Clone, Copy, Debug, clap::Args)]
#[command(next_help_heading = "Work")]
pub(super) struct WorkerArguments {
    /// How many frames are worked on at once, 1 to 256 [default: one a core]
    #[arg(long, value_name = "N", value_parser = workers)]
    workers: Option<NonZeroUsize>,

    /// Memory that one frame may take, in GiB
    #[arg(long, value_name = "GIB", default_value_t = 3.0, value_parser = memory)]
    worker_memory: f64,

    /// Time that one frame may take, in seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 60, value_parser = clap::value_parser!(u64).range(1..=86_400))]
    worker_seconds: u64,
}

/// Most workers: more than any laptop has cores, and few enough that their processes cannot choke one.
const MOST_WORKERS: usize = 256;

/// Reads a number of workers.
pub(super) fn workers(text: &str) -> Result<NonZeroUsize, String> {
    text.parse()
        .ok()
        .filter(|count: &NonZeroUsize| count.get() <= MOST_WORKERS)
        .ok_or_else(|| format!("a whole number from 1 to {MOST_WORKERS}"))
}

/// Least and most memory of a worker in GiB: below, the program itself does not start; above, nothing has so much.
const MEMORY: std::ops::RangeInclusive<f64> = 0.125..=1024.0;

/// Reads an amount of memory in GiB.
pub(super) fn memory(text: &str) -> Result<f64, String> {
    let value: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    if MEMORY.contains(&value) {
        Ok(value)
    } else {
        Err(format!("from {} to {} GiB", MEMORY.start(), MEMORY.end()))
    }
}

impl WorkerArguments {
    /// The crew that is asked for, of this very program.
    pub(super) fn resolve(&self) -> std::io::Result<CrewSettings> {
        let defaults = CrewSettings::of_this_program()?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "inside the range above"
        )]
        let memory_bytes = (self.worker_memory * GIBIBYTE as f64) as u64;
        Ok(CrewSettings {
            workers: self.workers.unwrap_or(defaults.workers),
            limits: Limits {
                memory_bytes,
                task_time: Duration::from_secs(self.worker_seconds),
            },
            ..defaults
        })
    }
}
