//! The program's face: what is typed becomes a job, the job's outcome becomes words, lines of JSON and an exit code.
//!
//! Each command is a folder or a file: its arguments as typed (no file is touched while they are read), a `resolve` that
//! turns them into a job once, a `run`, and all its wording in one place. Words for people go to standard error, results
//! to standard output; a reader of standard output that goes away is no error.

mod carry;
mod completions;
mod exit;
mod explain;
mod frames;
mod look;
mod meter;
mod night;
mod output;
mod page;
mod picture_words;
mod progress;
mod readings;
mod show_question;
mod signals;
mod solving;
mod workers;

use crate::crew::{WORKER_ARGUMENT, worker};
use clap::{Parser, Subcommand};
use exit::Exit;
use std::ffi::OsString;
use std::process::ExitCode;

/// The widest that help is written.
const HELP_WIDTH: usize = 100;

#[derive(Debug, Parser)]
#[command(
    name = "houselights",
    version,
    about = "The raws of a show become pictures in one consistent colour",
    long_about = "Converts the raw frames of a show into JPEG or TIFF pictures in one consistent colour.\n\n\
        Choose one frame that looks right, the reference frame, and point at something grey in it: a mic stand, a drum \
        shell, a road case. Its white, exposure and levels are carried over the whole show, each frame solved for its own \
        light. The look can be kept for the next night.",
    after_long_help = exit::HELP,
    after_help = "houselights COMMAND --help explains a command with examples.",
    max_term_width = HELP_WIDTH,
    disable_help_subcommand = true,
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Carry(Box<carry::Arguments>),
    Night(night::Arguments),
    Meter(Box<meter::Arguments>),
    Explain(Box<explain::Arguments>),
    Look(look::Arguments),
    Completions(completions::Arguments),
}

/// The program's command line, for tools that read it: help, completions.
#[must_use]
pub fn command() -> clap::Command {
    <Arguments as clap::CommandFactory>::command()
}

/// Runs the program. `arguments` begin with the program's own name.
#[must_use]
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if arguments
        .get(1)
        .is_some_and(|first| first == WORKER_ARGUMENT)
    {
        return worker::run(arguments.into_iter().skip(2));
    }
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are printed to standard output and are no error.
            let wrong = error.use_stderr();
            let _ = error.print();
            let exit = if wrong {
                Exit::WrongUsage
            } else {
                Exit::AllMade
            };
            return exit.into();
        }
    };
    let exit = match arguments.command {
        Command::Carry(arguments) => carry::run(*arguments),
        Command::Night(arguments) => night::run(arguments),
        Command::Meter(arguments) => meter::run(*arguments),
        Command::Explain(arguments) => explain::run(*arguments),
        Command::Look(arguments) => look::run(&arguments),
        Command::Completions(arguments) => completions::run(&arguments),
    };
    exit.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_consistent() {
        command().debug_assert();
    }

    #[test]
    fn the_workers_argument_is_in_no_help() {
        let mut whole = command();
        let mut text = whole.render_long_help().to_string();
        for inner in whole.get_subcommands_mut() {
            text += &inner.render_long_help().to_string();
        }
        assert!(!text.contains(WORKER_ARGUMENT));
        assert!(text.contains("--neutral"));
    }
}
