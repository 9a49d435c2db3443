//! `houselights completions`: completions for a shell.

use super::exit::Exit;
use super::output::Results;

/// Completions for a shell, to standard output
#[derive(Debug, clap::Args)]
#[command(after_long_help = "\
Example:
  houselights completions bash > ~/.local/share/bash-completion/completions/houselights")]
pub(super) struct Arguments {
    /// Which shell
    shell: clap_complete::Shell,
}

/// Writes them.
pub(super) fn run(arguments: &Arguments) -> Exit {
    let mut script = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut super::command(),
        "houselights",
        &mut script,
    );
    Results::default().text(&String::from_utf8_lossy(&script));
    Exit::AllMade
}
