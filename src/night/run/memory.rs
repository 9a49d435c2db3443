//! How many workers fit into the memory that a person gives, and what each may take.

use crate::crew::limits::{GIBIBYTE, Limits};
use std::num::NonZeroUsize;

/// What is kept for the supervisor itself: its program, the queue, and the readings of a show while it is solved (a tenth of a
/// gigabyte for 5,000 frames).
const KEPT_FOR_THE_SUPERVISOR: u64 = GIBIBYTE / 4;
/// A worker's program, stacks and buffers before it has opened anything. Measured once (a machine of two cores, November 2026):
/// 107 MiB of address space; chosen with room.
const OF_A_WORKER: u64 = GIBIBYTE / 5;
/// Address space for each pixel of a frame while its largest picture is made. Measured once, on the same machine: workers that
/// made three pictures of one decoding, of a frame of 24 and of one of 61 megapixels, took 249 and 469 MiB: 6.2 bytes a pixel
/// between the two. Chosen twice that, for decoders that unpack
/// into buffers of their own; a frame that wants more still is tried alone with everything.
const PER_PIXEL: u64 = 12;
/// Bytes of a raw for each of its pixels: compressed without losses, as most bodies do. Common practice, no source.
const BYTES_PER_PIXEL: f64 = 1.0;
/// Where the system does not say how much memory it has.
const UNKNOWN_MACHINE: u64 = 8 * GIBIBYTE;

/// Memory of this machine in bytes.
#[must_use]
pub fn of_this_machine() -> u64 {
    #[cfg(target_os = "linux")]
    {
        let info = rustix::system::sysinfo();
        let total = (info.totalram as u64).saturating_mul(u64::from(info.mem_unit));
        if total > 0 { total } else { UNKNOWN_MACHINE }
    }
    #[cfg(not(target_os = "linux"))]
    UNKNOWN_MACHINE
}

/// Workers and what each may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Share {
    /// How many.
    pub workers: NonZeroUsize,
    /// Address space of each, in bytes.
    pub each: u64,
}

/// What a frame whose file has so many bytes may need while its pictures are made.
fn need(bytes: u64) -> u64 {
    let pixels = bytes as f64 / BYTES_PER_PIXEL;
    OF_A_WORKER.saturating_add((pixels * PER_PIXEL as f64) as u64)
}

/// Shares the memory among at most so many workers, so that each has room for the largest frame.
#[must_use]
pub fn share(memory: u64, most_workers: NonZeroUsize, largest_frame: u64) -> Share {
    let memory = whole(memory);
    let need = need(largest_frame).min(memory);
    let fitting = usize::try_from(memory / need.max(1)).unwrap_or(1);
    let workers = NonZeroUsize::new(fitting.min(most_workers.get())).unwrap_or(NonZeroUsize::MIN);
    let each = memory / workers.get() as u64;
    Share {
        workers,
        // What asks for more than that is damaged, however much there is.
        each: each.min(need.max(Limits::default().memory_bytes)),
    }
}

/// What one worker may take that works alone.
#[must_use]
pub fn whole(memory: u64) -> u64 {
    memory
        .saturating_sub(KEPT_FOR_THE_SUPERVISOR)
        .max(OF_A_WORKER)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MEGABYTE: u64 = 1_000_000;

    fn workers(gibibytes: u64, cores: usize, frame: u64) -> Share {
        share(
            gibibytes * GIBIBYTE,
            NonZeroUsize::new(cores).expect("some"),
            frame,
        )
    }

    #[test]
    fn the_total_never_exceeds_what_was_given() {
        for gibibytes in 1..40 {
            for cores in [1, 2, 8, 64] {
                for frame in [0, MEGABYTE, 30 * MEGABYTE, 70 * MEGABYTE, 130 * MEGABYTE] {
                    let share = workers(gibibytes, cores, frame);
                    assert!(share.workers.get() <= cores);
                    assert!(
                        share.each * share.workers.get() as u64 + KEPT_FOR_THE_SUPERVISOR
                            <= gibibytes * GIBIBYTE
                    );
                }
            }
        }
    }

    #[test]
    fn larger_frames_mean_fewer_workers() {
        let counts =
            [1, 30, 70, 130].map(|megabytes| workers(4, 8, megabytes * MEGABYTE).workers.get());
        assert_eq!(counts[0], 8);
        assert!(
            counts.is_sorted_by(|a, b| a >= b) && counts[3] < 8,
            "{counts:?}"
        );
        assert_eq!(workers(1, 8, 130 * MEGABYTE).workers.get(), 1);
    }
}
