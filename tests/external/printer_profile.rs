//! Writes the profile of the tests' printer to standard output, for the comparison with outside libraries.

#![allow(
    clippy::expect_used,
    reason = "a test that meets the unexpected should stop there"
)]

#[path = "../printer_support/mod.rs"]
mod printer_support;

use std::io::Write;

fn main() -> std::io::Result<()> {
    std::io::stdout().write_all(&printer_support::profile())
}
