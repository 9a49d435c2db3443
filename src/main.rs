//! The `houselights` program: everything is in the library, so that tests can reach it.

use std::process::ExitCode;

fn main() -> ExitCode {
    houselights::cli::run(std::env::args_os())
}
