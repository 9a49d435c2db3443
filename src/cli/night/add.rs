//! `houselights night add`: shows and their frames go into the queue.

use super::messages;
use super::queue::QueueArguments;
use super::wish::{self, WishWords};
use crate::base::progress::StopWish;
use crate::cli::exit::Exit;
use crate::cli::output::say;
use crate::cli::picture_words::FollowWord;
use crate::cli::solving::{SolvingArguments, SolvingError};
use crate::colour::printer::Printing;
use crate::crew::supervisor::{Crew, CrewSettings};
use crate::crew::task::{Answer, Task, TaskError};
use crate::deliver::Converted;
use crate::look::carry::Follow;
use crate::look::file::Look;
use crate::night::depot::{Depot, DepotError, is_stored};
use crate::night::queue::LOWEST_PRIORITY;
use crate::night::run::plan::{AddError, AddJob, WishJob, add, refuse_misspelt};
use crate::night::run::snapshot::Snapshot;
use crate::raw::is_raw_name;
use crate::show::metering::{ask_one, unexpected};
use crate::show::solving::Asked;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

/// Put a show into the queue, or more frames or outputs into a show that waits
///
/// Nothing is read or made yet. What you say of the look is kept as it is now, whatever becomes of the files you name. A show
/// that gets more frames is solved again when they are metered, and only what changes is made again.
#[derive(Debug, clap::Args)]
#[command(after_long_help = messages::ADD_EXAMPLES)]
pub(super) struct Arguments {
    /// Raw files, or folders of them; s3:// addresses where the program is built for many machines
    #[arg(required = true, value_name = "FRAMES")]
    frames: Vec<PathBuf>,

    /// Folder for the pictures, and what to make (repeatable: one decoding serves them all)
    ///
    /// After the folder, parted by commas: long=PIXELS (longest edge, or long=full), as=jpeg|tiff, quality=1..100,
    /// space=srgb|display-p3|rec2020, profile=FILE with intent=WORD and black-point=on|off, keep-position. What is not said
    /// is the look's. For example: --to web,long=2048,quality=85 --to full --to retouch,as=tiff,space=rec2020
    #[arg(long, value_name = "DIR[,WORD=VALUE]...", value_parser = wish::parse)]
    to: Vec<WishWords>,

    /// What the show is called [default: as the folder of the first frames]
    #[arg(long, value_name = "NAME")]
    show: Option<String>,

    /// Frames whose pictures come before the show's others: the gallery selection (repeatable; files or folders)
    #[arg(long, value_name = "FRAMES")]
    first: Vec<PathBuf>,

    /// Shows of a lower number come first, 0 to 9 [default: 5]
    #[arg(long, value_name = "0..9", value_parser = clap::value_parser!(u8).range(0..=i64::from(LOWEST_PRIORITY)))]
    priority: Option<u8>,

    #[command(flatten)]
    solving: SolvingArguments,

    /// What is solved anew for each frame [default: light]
    #[arg(long, value_enum, value_name = "WHAT", help_heading = "Look")]
    follow: Option<FollowWord>,

    #[command(flatten)]
    queue: QueueArguments,
}

/// Why nothing is added.
#[derive(Debug, thiserror::Error)]
enum Refused {
    #[error(transparent)]
    Solving(#[from] SolvingError),
    #[error("{0}")]
    Profile(TaskError),
    #[error("{}: {source}; check the file", file.display())]
    File {
        file: PathBuf,
        source: std::io::Error,
    },
    #[error("cannot find out which program this is, or where it works: {0}; start it again")]
    Program(#[from] std::io::Error),
    #[error(transparent)]
    Add(#[from] AddError),
    #[error("{}: {source}; check the name that was given with --reference, --pin or in the overrule file", frame.display())]
    NamedFrame {
        frame: PathBuf,
        source: std::io::Error,
    },
    #[error("{0} (it was given with --reference, --pin or in the overrule file)")]
    NamedInStore(#[from] DepotError),
    #[error("{} has no raw file's name, and is to be a reference or a pin; name a raw file", .0.display())]
    NoRaw(PathBuf),
}

impl Refused {
    fn exit(&self) -> Exit {
        match self {
            Self::Solving(error) if error.is_wrong_usage() => Exit::WrongUsage,
            Self::Add(
                AddError::NoWish(_)
                | AddError::NoName
                | AddError::NameTaken { .. }
                | AddError::TwoOfOneFolder { .. }
                | AddError::Misspelt { .. },
            ) => Exit::WrongUsage,
            _ => Exit::NotStarted,
        }
    }
}

/// Runs the command.
pub(super) fn run(arguments: Arguments) -> Exit {
    match added(arguments) {
        Ok(words) => {
            say(&words);
            Exit::AllMade
        }
        Err(refused) => {
            say(&format!("houselights: {refused}"));
            refused.exit()
        }
    }
}

fn added(arguments: Arguments) -> Result<String, Refused> {
    let is_asked = arguments.follow.is_some() || arguments.solving.is_given();
    let follow = arguments.follow.map_or(Follow::Light, Follow::from);
    let asked = arguments.solving.clone().resolve(follow)?;
    look_for_named(&asked)?;
    let overrules = match arguments.solving.overrule_path() {
        None => None,
        Some(file) => Some(
            std::fs::read_to_string(file).map_err(|source| Refused::File {
                file: file.to_path_buf(),
                source,
            })?,
        ),
    };
    let snapshot = Snapshot::of(&asked, overrules)?;
    let look_folder = arguments.solving.look_path().and_then(Path::parent);
    let mut wishes = Vec::new();
    for wish in &arguments.to {
        wishes.push(wish_job(
            wish,
            &asked.look,
            look_folder.unwrap_or(Path::new("")),
        )?);
    }
    let job = AddJob {
        name: arguments.show,
        frames: arguments.frames,
        first: arguments.first,
        asked: is_asked.then(|| snapshot.clone()),
        asked_by_default: snapshot,
        priority: arguments.priority,
        wishes,
    };
    let addition = add(&arguments.queue.place(), job)?;
    let look = asked.look.name;
    Ok(messages::added(&addition, &look))
}

/// A mistyped name is told now, not in the morning.
fn look_for_named(asked: &Asked) -> Result<(), Refused> {
    for named in asked.reference.iter().chain(&asked.pins) {
        let frame = &named.frame;
        refuse_misspelt(frame)?;
        if is_stored(frame) {
            Depot::new()?.outline(frame)?;
        } else {
            std::fs::metadata(frame).map_err(|source| Refused::NamedFrame {
                frame: frame.clone(),
                source,
            })?;
        }
        if !is_raw_name(frame) {
            return Err(Refused::NoRaw(frame.clone()));
        }
    }
    Ok(())
}

fn wish_job(wish: &WishWords, look: &Look, look_folder: &Path) -> Result<WishJob, Refused> {
    let mut delivery = wish.delivery(look);
    let profile = wish.profile(look, look_folder);
    let profile = match profile {
        None => None,
        Some((profile, printing)) => {
            let profile = std::path::absolute(&profile)?;
            delivery.wish.converted = Some(Converted {
                profile_digest: profile_digest(&profile, printing)?,
                printing,
            });
            Some(profile)
        }
    };
    Ok(WishJob {
        folder: wish.folder().to_path_buf(),
        delivery,
        profile,
    })
}

/// Has a worker see whether pictures can be converted into a profile: what reads it may die of a damaged one.
fn profile_digest(profile: &Path, printing: Printing) -> Result<String, Refused> {
    let settings = CrewSettings {
        workers: NonZeroUsize::MIN,
        ..CrewSettings::of_this_program()?
    };
    let mut crew = Crew::start(&settings)?;
    let task = Task::Profile {
        profile: profile.to_path_buf(),
        printing,
    };
    match ask_one(
        task,
        "reading the profile",
        &mut crew,
        &StopWish::default(),
        &(),
    ) {
        Some(Ok(Answer::Profile { digest })) => Ok(digest),
        Some(Err(error)) => Err(Refused::Profile(error)),
        Some(Ok(_)) | None => Err(Refused::Profile(unexpected(profile))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::look::presets;
    use crate::show::solving::{NamedFrame, Neutral};

    #[test]
    fn what_was_named_is_looked_for_in_stores_too() {
        let asked = |frame: &str| Asked {
            look: presets::preset(presets::DEFAULT).expect("a preset"),
            reference: Some(NamedFrame {
                frame: PathBuf::from(frame),
                name: None,
                neutral: Neutral::Found,
            }),
            pins: Vec::new(),
            clocks: Vec::new(),
            overrules: Default::default(),
            follow: Follow::Light,
        };
        // Without a bucket, so that nobody is asked by a program that can.
        let refused = look_for_named(&asked("s3:///1.nef"));
        assert!(matches!(refused, Err(Refused::NamedInStore(_))));
        let refused = look_for_named(&asked("S3://shows/1.nef")).map_err(|error| error.to_string());
        assert!(refused.is_err_and(|words| words.contains(" s3://shows/1.nef")));
    }
}
