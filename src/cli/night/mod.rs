//! `houselights night`: the queue of shows, and the runs that work through it.

mod add;
mod display;
mod events;
mod fields;
mod messages;
mod queue;
mod remarks;
mod report;
mod run;
mod status;
mod times;
mod wish;

use super::exit::Exit;

/// Queue shows, convert them overnight, and see in the morning what came of them
///
/// `add` puts shows into the queue, `run` works through it until nothing is left, and may be stopped, killed, or put to sleep at
/// any moment: the next `run` goes on from there, and no picture is ever half written or made twice.
#[derive(Debug, clap::Args)]
#[command(after_long_help = messages::EXAMPLES)]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    Add(Box<add::Arguments>),
    Run(run::Arguments),
    Status(status::Arguments),
    Report(report::Arguments),
    /// Begin nothing more, of a show or of all; what is in hand is finished
    Pause(queue::ShowArguments),
    /// Go on after a pause
    Resume(queue::ShowArguments),
    /// Try again what was set aside, and shows that could not be solved
    ///
    /// Output folders that were removed are made again where the folder above them is there.
    Retry(queue::ScopeArguments),
    /// Take frames, or a whole show, out of the queue; pictures that are made stay
    Drop(queue::ScopeArguments),
}

/// Runs the command.
pub(super) fn run(arguments: Arguments) -> Exit {
    match arguments.command {
        Command::Add(arguments) => add::run(*arguments),
        Command::Run(arguments) => run::run(&arguments),
        Command::Status(arguments) => status::run(&arguments),
        Command::Report(arguments) => report::run(&arguments),
        Command::Pause(arguments) => queue::pause(&arguments),
        Command::Resume(arguments) => queue::resume(&arguments),
        Command::Retry(arguments) => queue::retry(&arguments),
        Command::Drop(arguments) => queue::drop_out(&arguments),
    }
}
