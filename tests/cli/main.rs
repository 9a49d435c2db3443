//! The program from outside: what a person types, what comes of it, and what goes wrong.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test that meets the unexpected should stop there, and one that is skipped should say so"
)]

mod again;
mod bad_input;
mod dng;
mod folder;
mod kills;
mod light;
mod metering;
mod outputs;
#[path = "../printer_support/mod.rs"]
mod printer_support;
#[cfg(target_os = "linux")]
mod processes;
mod scratch;
mod usage;
