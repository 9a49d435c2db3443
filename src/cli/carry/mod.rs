//! `houselights carry`: one reference frame's look over a whole show.

mod messages;

use super::exit::Exit;
use super::output::{Results, say};
use super::picture_words::{FollowWord, FormatWord, IntentWord, SpaceWord, Switch};
use super::progress::Bar;
use super::readings::ReadingsArguments;
use super::signals::raise_on_signal;
use super::solving::{SolvingArguments, SolvingError};
use super::workers::WorkerArguments;
use crate::base::format::Format;
use crate::base::progress::{Progress, StopWish};
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::{Intent, Printing};
use crate::crew::Workforce;
use crate::crew::stamp::stamp_of;
use crate::crew::supervisor::{Crew, CrewSettings};
use crate::look::carry::Follow;
use crate::look::file::Look;
use crate::show::carry::{CarryError, CarryJob, carry};
use crate::show::outcome::{Fate, FrameOutcome, Watcher};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Carry one frame's look over a whole show, as JPEG or TIFF files
///
/// FRAMES are raw files, or folders that are searched for raw files to the bottom (links in them are not followed; JPEGs,
/// sidecars and hidden files are passed over). A picture is named after its frame; frames of one name, as two bodies make
/// them, get the name of a folder that tells them apart. The same command goes on where an earlier one stopped, and
/// makes again what was deleted or changed since. Originals are never written to.
#[derive(Debug, clap::Args)]
#[command(after_long_help = messages::EXAMPLES)]
pub(super) struct Arguments {
    /// Raw files, or folders of them
    #[arg(required = true, value_name = "FRAMES")]
    frames: Vec<PathBuf>,

    /// Folder for the pictures; made if it is not there
    #[arg(long, value_name = "DIR")]
    to: PathBuf,

    #[command(flatten)]
    solving: SolvingArguments,

    /// Keep the look with what it remembers of the reference, for the next night
    ///
    /// What is typed for files and spaces (--as, --space, --profile) is this run's and not kept: the look's [output] table is.
    #[arg(long, value_name = "FILE", help_heading = "Look")]
    save_look: Option<PathBuf>,

    /// What is solved anew for each frame
    #[arg(
        long,
        value_enum,
        default_value_t,
        value_name = "WHAT",
        help_heading = "Look"
    )]
    follow: FollowWord,

    /// Longest edge of the pictures in pixels [default: the look's, else full size]
    #[arg(
        long,
        value_name = "PIXELS",
        value_parser = clap::value_parser!(u32).range(16..=65_535),
        help_heading = "Pictures"
    )]
    long: Option<u32>,

    /// The kind of file [default: the look's, else jpeg]
    ///
    /// Pictures of both kinds can stand in one folder: a frame's are named alike, but for their ending.
    #[arg(
        long = "as",
        value_enum,
        value_name = "FORMAT",
        help_heading = "Pictures"
    )]
    format: Option<FormatWord>,

    /// Space of the pictures; its ICC profile goes into the file [default: the look's, else srgb]
    #[arg(
        long,
        value_enum,
        value_name = "SPACE",
        conflicts_with = "profile",
        help_heading = "Pictures"
    )]
    space: Option<SpaceWord>,

    /// ICC profile of a printer (RGB) that the pictures are converted into; it goes into the files too
    #[arg(long, value_name = "FILE", help_heading = "Pictures")]
    profile: Option<PathBuf>,

    /// Rendering intent of the conversion into a profile [default: the look's, else relative]
    #[arg(long, value_enum, value_name = "INTENT", help_heading = "Pictures")]
    intent: Option<IntentWord>,

    /// Black point compensation of that conversion (ISO 18619) [default: the look's, else on]
    ///
    /// On, black becomes the paper's deepest black and everything above moves in proportion; off, what is darker than the
    /// paper's black is lost in it.
    #[arg(long, value_enum, value_name = "on|off", help_heading = "Pictures")]
    black_point_compensation: Option<Switch>,

    /// JPEG quality, 1 to 100; colour at full resolution from 90 on [default: the look's, else 92]
    #[arg(
        long,
        value_name = "1..100",
        value_parser = clap::value_parser!(u8).range(1..=100),
        help_heading = "Pictures"
    )]
    quality: Option<u8>,

    /// Keep the place where a frame was taken (GPS) in its picture
    #[arg(long, help_heading = "Pictures")]
    keep_position: bool,

    #[command(flatten)]
    readings: ReadingsArguments,

    #[command(flatten)]
    workers: WorkerArguments,

    /// One line of JSON a frame on standard output, and one for the whole
    #[arg(long, help_heading = "Work", long_help = messages::JSON_HELP)]
    json: bool,
}

/// A job and the crew for it.
struct Resolved {
    job: CarryJob,
    crew: CrewSettings,
}

/// Why what was typed makes no job.
#[derive(Debug, thiserror::Error)]
enum ResolveError {
    #[error(transparent)]
    Solving(#[from] SolvingError),
    #[error(
        "--intent and --black-point-compensation say how pictures are converted into a profile; give one with --profile"
    )]
    NothingToConvertInto,
    #[error("cannot find out which program this is: {0}")]
    Program(#[from] std::io::Error),
}

impl Arguments {
    fn resolve(self) -> Result<Resolved, ResolveError> {
        let follow = Follow::from(self.follow);
        let asked = self.solving.clone().resolve(follow)?;
        let profile = self.profile(&asked.look)?;
        let look = &asked.look;
        let crew = self.workers.resolve()?;
        let job = CarryJob {
            frames: self.frames,
            to: self.to,
            save_look: self.save_look,
            readings: self.readings.place(),
            long_edge: self.long.or(look.output.long_edge),
            format: self.format.map_or(look.output.format, Format::from),
            profile,
            space: self.space.map_or(look.output.space, OutputSpace::from),
            quality: self.quality.unwrap_or(look.output.quality),
            include_position: self.keep_position,
            program: stamp_of(crew.program.as_ref())?.hash,
            asked,
        };
        Ok(Resolved { job, crew })
    }
}

impl Arguments {
    /// The profile to convert into, and how: typed, or the look's.
    fn profile(&self, look: &Look) -> Result<Option<(PathBuf, Printing)>, ResolveError> {
        let of_look = || {
            let is_wanted = self.space.is_none() && !look.output.profile.is_empty();
            // A preset has no folder, and no profile either.
            let folder = self.solving.look_path().and_then(Path::parent);
            is_wanted.then(|| folder.unwrap_or(Path::new("")).join(&look.output.profile))
        };
        let Some(profile) = self.profile.clone().or_else(of_look) else {
            return if self.intent.is_some() || self.black_point_compensation.is_some() {
                Err(ResolveError::NothingToConvertInto)
            } else {
                Ok(None)
            };
        };
        let kept = look.output.printing;
        let printing = Printing {
            intent: self.intent.map_or(kept.intent, Intent::from),
            black_point_compensation: self
                .black_point_compensation
                .map_or(kept.black_point_compensation, |switch| switch == Switch::On),
        };
        Ok(Some((profile, printing)))
    }
}

/// Runs the command.
pub(super) fn run(arguments: Arguments) -> Exit {
    let json = arguments.json;
    let begun = Instant::now();
    let Resolved { job, crew } = match arguments.resolve() {
        Ok(resolved) => resolved,
        Err(error) => {
            say(&messages::refused(&error));
            return match error {
                ResolveError::NothingToConvertInto => Exit::WrongUsage,
                ResolveError::Solving(error) if error.is_wrong_usage() => Exit::WrongUsage,
                ResolveError::Solving(_) | ResolveError::Program(_) => Exit::NotStarted,
            };
        }
    };
    let stop = StopWish::default();
    raise_on_signal(&stop);
    let mut teller = Teller {
        bar: Bar::default(),
        results: json.then(Results::default),
        failures: Vec::new(),
    };
    let hire = || Ok(Box::new(Crew::start(&crew)?) as Box<dyn Workforce>);
    let report = match carry(&job, hire, &stop, &mut teller) {
        Ok(report) => report,
        Err(error) => {
            say(&messages::refused(&error));
            return match error {
                CarryError::Solve(_)
                | CarryError::LookOverFrame(_)
                | CarryError::LookOverFile(_) => Exit::WrongUsage,
                CarryError::Stopped => Exit::Interrupted,
                _ => Exit::NotStarted,
            };
        }
    };
    let lost = usize::from(teller.results.as_ref().is_some_and(Results::is_lost));
    let exit = Exit::of_batch(
        &report.tally,
        report.unreadable.len() + lost,
        stop.is_raised(),
    );
    let seconds = begun.elapsed().as_secs_f64();
    if let Some(results) = &mut teller.results {
        results.json(&messages::summary_line(&report, seconds, exit));
    }
    say(&messages::summary(
        &job,
        &report,
        &teller.failures,
        seconds,
        exit,
    ));
    exit
}

/// Tells what happens while it happens, and remembers what failed for the end.
struct Teller {
    bar: Bar,
    results: Option<Results>,
    failures: Vec<FrameOutcome>,
}

impl Progress for Teller {
    fn begin(&self, part: &str, total: usize) {
        self.bar.begin(part, total);
    }

    fn advance(&self) {
        self.bar.advance();
    }

    fn say(&self, line: &str) {
        self.bar.say(line);
    }

    fn end(&self) {
        self.bar.end();
    }
}

impl Watcher for Teller {
    fn frame(&mut self, outcome: &FrameOutcome) {
        if let Some(results) = &mut self.results {
            results.json(&messages::frame_line(outcome));
        }
        if matches!(outcome.fate, Fate::Failed(_) | Fate::NotReached(_)) {
            self.failures.push(outcome.clone());
        }
    }
}
