//! Time that this thread spent on a processor, for criterion.
//!
//! A machine that does other work besides makes wall time worthless, and what a night of five thousand frames costs is
//! processor time anyway. Linux counts it per thread in nanoseconds (`/proc/thread-self/schedstat`, first number); where
//! that file is missing, wall time is taken.

use criterion::measurement::{Measurement, ValueFormatter, WallTime};
use std::time::{Duration, Instant};

/// Processor time of the measuring thread.
pub(crate) struct CpuTime;

/// A point in time.
pub(crate) enum Moment {
    Processor(Duration),
    Wall(Instant),
}

fn processor_time() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds = text.split_ascii_whitespace().next()?.parse().ok()?;
    Some(Duration::from_nanos(nanoseconds))
}

impl Measurement for CpuTime {
    type Intermediate = Moment;
    type Value = Duration;

    fn start(&self) -> Moment {
        processor_time().map_or_else(|| Moment::Wall(Instant::now()), Moment::Processor)
    }

    fn end(&self, start: Moment) -> Duration {
        match start {
            Moment::Processor(then) => {
                processor_time().map_or(Duration::ZERO, |now| now.saturating_sub(then))
            }
            Moment::Wall(then) => then.elapsed(),
        }
    }

    fn add(&self, one: &Duration, other: &Duration) -> Duration {
        *one + *other
    }

    fn zero(&self) -> Duration {
        Duration::ZERO
    }

    fn to_f64(&self, value: &Duration) -> f64 {
        value.as_nanos() as f64
    }

    fn formatter(&self) -> &dyn ValueFormatter {
        WallTime.formatter()
    }
}
