//! `houselights look`: what a look does, in words and numbers.

use super::exit::Exit;
use super::output::{Results, printable, say};
use crate::look::describe::in_words;
use crate::look::file::{Look, LookError};
use std::path::PathBuf;

/// Say what a look does, in words and numbers
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Examples:
  houselights look stage
  houselights look arena.toml")]
pub(super) struct Arguments {
    /// A look file, or the name of a preset
    #[arg(value_name = "FILE|NAME")]
    look: PathBuf,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Exit {
    match Look::resolve(&arguments.look) {
        Ok(look) => {
            let mut text = in_words(&look);
            if !text.ends_with('\n') {
                text.push('\n');
            }
            let mut results = Results::default();
            results.text(&printable(&text));
            if results.is_lost() {
                Exit::SomeFailed
            } else {
                Exit::AllMade
            }
        }
        Err(error) => {
            say(&format!("houselights: {error}"));
            match error {
                LookError::Unknown { .. } => Exit::WrongUsage,
                _ => Exit::NotStarted,
            }
        }
    }
}
