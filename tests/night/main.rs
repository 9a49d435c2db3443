//! The night from outside: shows queued, worked through, and everything that may come between.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test that meets the unexpected should stop there, and one that is skipped should say so"
)]
#![allow(
    dead_code,
    reason = "the scratch show is shared with the tests of the other commands"
)]

mod adding;
#[path = "../cli/dng.rs"]
mod dng;
mod drives;
mod frames;
#[cfg(target_os = "linux")]
mod kills;
#[cfg(target_os = "linux")]
#[path = "../cli/processes.rs"]
mod processes;
mod same;
#[path = "../cli/scratch.rs"]
mod scratch;
mod seeing;
mod sharing;
mod show;
#[cfg(target_os = "linux")]
mod terminal;
