//! What the program's exit code says.

use crate::show::outcome::Tally;
use std::process::ExitCode;

/// The exit codes as help states them.
pub(super) const HELP: &str = "\
Exit codes:
  0    every frame is made (or read)
  1    some frames failed; each is listed with its reason
  2    wrong usage: a command, option or value that cannot be
  3    nothing was started: no frames, an unusable folder, an unreadable reference or look
  130  interrupted; the same command goes on where it stopped";

/// What the program's exit code says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Exit {
    /// Every frame is made.
    AllMade,
    /// Some frames failed.
    SomeFailed,
    /// Wrong usage.
    WrongUsage,
    /// Nothing was started.
    NotStarted,
    /// Stopped by a signal: 128 and the number of SIGINT, as shells count.
    Interrupted,
}

impl Exit {
    /// The number.
    pub(super) const fn code(self) -> u8 {
        match self {
            Self::AllMade => 0,
            Self::SomeFailed => 1,
            Self::WrongUsage => 2,
            Self::NotStarted => 3,
            Self::Interrupted => 130,
        }
    }

    /// Of a batch. An interruption outweighs failures, since the tally is then not the whole story; a frame not reached
    /// for another reason (no space left) counts as failed.
    pub(super) fn of_batch(tally: &Tally, other_failures: usize, interrupted: bool) -> Self {
        if interrupted && tally.not_reached > 0 {
            Self::Interrupted
        } else if tally.failed + tally.not_reached + other_failures > 0 {
            Self::SomeFailed
        } else {
            Self::AllMade
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_of_a_batch_is_told() {
        let good = Tally {
            made: 3,
            already_made: 2,
            ..Tally::default()
        };
        let failed = Tally { failed: 1, ..good };
        let stopped = Tally {
            not_reached: 4,
            ..failed
        };
        assert_eq!(Exit::of_batch(&good, 0, false), Exit::AllMade);
        // The wish to stop came when everything was made.
        assert_eq!(Exit::of_batch(&good, 0, true), Exit::AllMade);
        assert_eq!(Exit::of_batch(&good, 1, false), Exit::SomeFailed);
        assert_eq!(Exit::of_batch(&failed, 0, false), Exit::SomeFailed);
        assert_eq!(Exit::of_batch(&failed, 0, true), Exit::SomeFailed);
        assert_eq!(Exit::of_batch(&stopped, 0, false), Exit::SomeFailed);
        assert_eq!(Exit::of_batch(&stopped, 0, true), Exit::Interrupted);
    }

    #[test]
    fn help_states_every_code() {
        for exit in [
            Exit::AllMade,
            Exit::SomeFailed,
            Exit::WrongUsage,
            Exit::NotStarted,
            Exit::Interrupted,
        ] {
            let line = format!("\n  {:<5}", exit.code());
            assert!(HELP.contains(&line), "{exit:?}");
        }
    }
}
