//! Where the queue is, and the commands that only change it: pause, resume, retry, drop.

use super::messages;
use crate::cli::exit::Exit;
use crate::cli::output::say;
use crate::night::depot::is_stored;
use crate::night::queue::{Place, Queue, QueueError, Scope};
use crate::night::run::marks::restore;
use std::ffi::OsString;
use std::path::PathBuf;

/// Where the queue is.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "Queue")]
pub(super) struct QueueArguments {
    /// File of the queue, or the address of a PostgreSQL server [default: in this user's data folder]
    #[arg(long, value_name = "FILE")]
    queue: Option<OsString>,
}

impl QueueArguments {
    /// The place that was asked for.
    pub(super) fn place(&self) -> Place {
        self.queue.as_deref().map_or(Place::OfTheUser, Place::named)
    }
}

/// A show, or the whole queue.
#[derive(Debug, clap::Args)]
pub(super) struct ShowArguments {
    /// The show [default: the whole queue]
    #[arg(value_name = "SHOW")]
    show: Option<String>,

    #[command(flatten)]
    queue: QueueArguments,
}

/// Frames of a show.
#[derive(Debug, clap::Args)]
pub(super) struct ScopeArguments {
    /// Frames [default: all of the show]
    #[arg(value_name = "FRAMES")]
    frames: Vec<PathBuf>,

    /// The show [default: every show]
    #[arg(long, value_name = "NAME")]
    show: Option<String>,

    #[command(flatten)]
    queue: QueueArguments,
}

impl ScopeArguments {
    fn scope(&self) -> Scope {
        let real = |path: &PathBuf| {
            if is_stored(path) {
                return path.clone();
            }
            let absolute = || std::path::absolute(path).unwrap_or_else(|_| path.clone());
            std::fs::canonicalize(path).unwrap_or_else(|_| absolute())
        };
        Scope {
            show: self.show.clone(),
            frames: self.frames.iter().map(real).collect(),
        }
    }

    /// Frames were named, and none of them is meant: perhaps a show was.
    fn none_of_them(&self, queue: &mut Queue, words: &str) -> Result<Words, QueueError> {
        let shows = queue.status()?.shows.into_iter().map(|show| show.name);
        let meant: Vec<String> = shows
            .filter(|name| {
                self.frames
                    .iter()
                    .any(|frame| frame.as_os_str() == name.as_str())
            })
            .collect();
        Ok(Err(messages::none_of_them(words, &meant)))
    }
}

/// What a person hears: what was done, or what was wrong with what was typed.
type Words = Result<String, String>;

fn done(outcome: Result<Words, QueueError>) -> Exit {
    match outcome {
        Ok(Ok(words)) => {
            say(&words);
            Exit::AllMade
        }
        Ok(Err(words)) => {
            say(&format!("houselights: {words}"));
            Exit::WrongUsage
        }
        Err(error) => {
            say(&format!("houselights: {error}"));
            match error {
                QueueError::UnknownShow(_) => Exit::WrongUsage,
                _ => Exit::NotStarted,
            }
        }
    }
}

/// Runs `pause`.
pub(super) fn pause(arguments: &ShowArguments) -> Exit {
    let show = arguments.show.as_deref();
    done(
        Queue::open_existing(&arguments.queue.place()).and_then(|mut queue| {
            queue.pause(show)?;
            Ok(Ok(messages::paused(show)))
        }),
    )
}

/// Runs `resume`.
pub(super) fn resume(arguments: &ShowArguments) -> Exit {
    let show = arguments.show.as_deref();
    done(
        Queue::open_existing(&arguments.queue.place()).and_then(|mut queue| {
            queue.resume(show)?;
            let shows = queue.status()?.shows.into_iter();
            let paused = shows.filter(|one| one.is_paused && show.is_none());
            let paused: Vec<String> = paused.map(|one| one.name).collect();
            Ok(Ok(messages::resumed(show, &paused)))
        }),
    )
}

/// Runs `retry`.
pub(super) fn retry(arguments: &ScopeArguments) -> Exit {
    done(
        Queue::open_existing(&arguments.queue.place()).and_then(|mut queue| {
            let scope = arguments.scope();
            let changed = queue.retry(&scope)?;
            if !scope.frames.is_empty() && changed.jobs == 0 {
                return arguments.none_of_them(&mut queue, messages::NONE_SET_ASIDE);
            }
            let mut restored = Vec::new();
            for show in queue.status()?.shows {
                if arguments
                    .show
                    .as_ref()
                    .is_some_and(|name| *name != show.name)
                {
                    continue;
                }
                for (_, wish) in queue.wishes(show.show)? {
                    if restore(&wish.folder, &wish.mark) {
                        restored.push(wish.folder);
                    }
                }
            }
            Ok(Ok(messages::retried(&changed, &restored)))
        }),
    )
}

/// Runs `drop`.
pub(super) fn drop_out(arguments: &ScopeArguments) -> Exit {
    if arguments.show.is_none() && arguments.frames.is_empty() {
        say("houselights: say what to drop: frames, or a whole show with --show NAME");
        return Exit::WrongUsage;
    }
    done(
        Queue::open_existing(&arguments.queue.place()).and_then(|mut queue| {
            let scope = arguments.scope();
            let changed = queue.drop_out(&scope)?;
            if !scope.frames.is_empty() && changed.jobs == 0 {
                return arguments.none_of_them(&mut queue, messages::NONE_WAITS);
            }
            Ok(Ok(messages::dropped(&changed)))
        }),
    )
}
