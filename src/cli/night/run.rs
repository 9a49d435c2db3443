//! `houselights night run`: works through the queue.

use super::display::Display;
use super::messages;
use super::queue::QueueArguments;
use super::report;
use crate::base::progress::StopWish;
use crate::cli::exit::Exit;
use crate::cli::output::say;
use crate::cli::page::refused_place;
use crate::cli::readings::ReadingsArguments;
use crate::cli::signals::{outlive_terminal, raise_on_signal};
use crate::cli::workers;
use crate::crew::Workforce;
use crate::crew::gentle::be_gentle;
use crate::crew::limits::{GIBIBYTE, Limits};
use crate::crew::stamp::stamp_of;
use crate::crew::supervisor::{Crew, CrewSettings};
use crate::night::queue::{HowEnded, JobState, Queue, QueueError, ShowState};
use crate::night::run::clock::next;
use crate::night::run::power::Batteries;
use crate::night::run::space::{Want, wants};
use crate::night::run::{NightJob, Surroundings, memory, run as work};
use jiff::civil::Time;
use jiff::{Timestamp, ZonedDateTime};
use std::io::{BufRead, IsTerminal};
use std::num::NonZeroUsize;
use std::path::PathBuf;
use std::time::Duration;

/// Work through the queue until nothing is left
///
/// May be stopped with Ctrl-C at any moment: frames in hand are finished or dropped within 5 seconds, and the next run goes on
/// from there. It goes on when its terminal is closed. Several runs may share a queue. A drive that is unplugged is waited for.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Begin nothing after this time of day, such as 07:00
    #[arg(long, value_name = "HH:MM", value_parser = time)]
    until: Option<Time>,

    /// Work only where nobody else wants to: lowest class of scheduling, and of reading and writing where the system has that
    #[arg(long)]
    gentle: bool,

    /// Wait while the machine runs on its battery and that has less than this, in per cent
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u8).range(1..=100))]
    least_charge: Option<u8>,

    /// Space that stays free on output drives, in GiB
    #[arg(long, value_name = "GIB", default_value_t = 1.0, value_parser = space)]
    leave_free: f64,

    /// Space for frames and pictures on their way from and to object stores, in GiB
    ///
    /// A frame that would be too much waits for those in hand; one that is too large by itself is worked on alone.
    #[arg(long, value_name = "GIB", default_value_t = 8.0, value_parser = space, hide = !cfg!(feature = "many-machines"))]
    scratch: f64,

    /// Go as far as the space allows without asking
    #[arg(long)]
    as_far_as_it_goes: bool,

    /// Memory for all workers together, in GiB [default: half of the machine's]
    #[arg(long, value_name = "GIB", value_parser = memory_of_a_night, help_heading = "Work")]
    memory: Option<f64>,

    /// How many frames are worked on at once, 1 to 256 [default: one a core, as far as the memory goes]
    #[arg(long, value_name = "N", value_parser = workers::workers, help_heading = "Work")]
    workers: Option<NonZeroUsize>,

    /// Time that one frame may take, in seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 120, value_parser = clap::value_parser!(u64).range(1..=86_400), help_heading = "Work")]
    worker_seconds: u64,

    #[command(flatten)]
    readings: ReadingsArguments,

    /// Write the morning's page to this file when the run ends; a page that is there is replaced
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,

    /// A line of JSON on standard output for each event, and every 10 seconds how far the night is
    #[arg(long, help_heading = "Work", long_help = messages::RUN_JSON_HELP)]
    json: bool,

    #[command(flatten)]
    queue: QueueArguments,
}

fn time(text: &str) -> Result<Time, String> {
    text.parse()
        .map_err(|_| "give a time of day, such as 07:00".to_owned())
}

fn memory_of_a_night(text: &str) -> Result<f64, String> {
    /// GiB: less leaves no worker room for a frame of 12 megapixels.
    const LEAST: f64 = 0.5;
    let gibibytes = workers::memory(text)?;
    if gibibytes < LEAST {
        return Err(format!(
            "at least {LEAST} GiB: a worker needs room for a frame"
        ));
    }
    Ok(gibibytes)
}

/// Most that can be asked to stay free: more than any drive has, in GiB.
const MOST_FREE: f64 = 1.0e6;

fn space(text: &str) -> Result<f64, String> {
    let value = text
        .parse()
        .ok()
        .filter(|value| (0.0..=MOST_FREE).contains(value));
    value.ok_or_else(|| format!("from 0 to {MOST_FREE} GiB"))
}

/// GiB as bytes.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "options are checked when they are read"
)]
fn bytes(gibibytes: f64) -> u64 {
    (gibibytes * GIBIBYTE as f64) as u64
}

impl Arguments {
    fn resolve(&self) -> std::io::Result<NightJob> {
        let crew = CrewSettings::of_this_program()?;
        let until: Option<Timestamp> = self
            .until
            .and_then(|time| next(time, &ZonedDateTime::now()));
        Ok(NightJob {
            queue: self.queue.place(),
            readings: self.readings.place(),
            program: stamp_of(crew.program.as_ref())?.hash,
            crew: CrewSettings {
                workers: self.workers.unwrap_or(crew.workers),
                limits: Limits {
                    task_time: Duration::from_secs(self.worker_seconds),
                    ..crew.limits
                },
                ..crew
            },
            memory: self
                .memory
                .map_or_else(|| memory::of_this_machine() / 2, bytes),
            leave_free: bytes(self.leave_free),
            scratch: bytes(self.scratch),
            until,
            least_charge: self.least_charge.map(|percent| f64::from(percent) / 100.0),
        })
    }
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Exit {
    if let Some(refused) = arguments.page.as_deref().and_then(refused_place) {
        say(&format!("houselights: {refused}"));
        return Exit::WrongUsage;
    }
    // Before any thread or process is started: they inherit it.
    if arguments.gentle
        && let Err(reason) = be_gentle()
    {
        say(&messages::not_gentle(&reason));
    }
    let job = match arguments.resolve() {
        Ok(job) => job,
        Err(error) => {
            say(&messages::no_program(&error));
            return Exit::NotStarted;
        }
    };
    match night(arguments, &job) {
        Ok(exit) => exit,
        Err(error) => {
            say(&format!("houselights: {error}"));
            Exit::NotStarted
        }
    }
}

fn night(arguments: &Arguments, job: &NightJob) -> Result<Exit, QueueError> {
    let mut queue = Queue::open_existing(&job.queue)?;
    for want in wants(&mut queue)? {
        if want.bytes.saturating_add(job.leave_free) > want.free
            && !go_on_without_space(arguments, &want)
        {
            return Ok(Exit::NotStarted);
        }
    }
    let earlier = queue.runs()?.len();
    let stop = StopWish::default();
    raise_on_signal(&stop);
    outlive_terminal();
    let surroundings = Surroundings {
        hire: Box::new(|settings| Ok(Box::new(Crew::start(settings)?) as Box<dyn Workforce>)),
        power: Box::new(Batteries::of_this_machine()),
    };
    if let Some(until) = job.until {
        say(&messages::until(until.as_millisecond()));
    }
    let mut display = Display::new(&job.queue, arguments.json);
    let how = work(job, surroundings, &stop, &mut display);
    let (summary, is_missing) = display.end();
    let exit = match how {
        // The connection of the beginning has been idle all night, and a server or what lies between may have closed it.
        Ok(how) => Queue::open_existing(&job.queue).and_then(|again| {
            queue = again;
            exit_of(&mut queue, how)
        }),
        // It has not begun: nothing to sum up.
        Err(error) if queue.runs().is_ok_and(|runs| runs.len() == earlier) => return Err(error),
        Err(error) => Err(error),
    };
    say(&summary);
    let exit = exit.unwrap_or_else(|error| {
        say(&format!("houselights: {error}"));
        Exit::SomeFailed
    });
    let page = arguments.page.as_deref();
    let page = page.map(|path| report::after_run(&mut queue, &job.crew, &stop, path));
    let is_missing = is_missing || matches!(page, Some(Err(_)));
    match page {
        Some(Ok(words)) => say(&words),
        Some(Err(words)) => say(&format!("houselights: {words}")),
        None => {}
    }
    Ok(match exit {
        Exit::AllMade if is_missing => Exit::SomeFailed,
        exit => exit,
    })
}

/// Whether to begin although a drive will run short: asked where somebody sits at a terminal, told where nobody does.
fn go_on_without_space(arguments: &Arguments, want: &Want) -> bool {
    say(&messages::short_of_space(want));
    let can_ask = std::io::stdin().is_terminal() && std::io::stderr().is_terminal();
    if arguments.as_far_as_it_goes || !can_ask {
        return true;
    }
    say(messages::GO_ON);
    let mut answer = String::new();
    let _ = std::io::stdin().lock().read_line(&mut answer);
    messages::is_yes(&answer)
}

fn exit_of(queue: &mut Queue, how: HowEnded) -> Result<Exit, QueueError> {
    let shows = queue.status()?.shows;
    let aside: u64 = (shows.iter())
        .map(|show| show.jobs_in(&[JobState::SetAside]))
        .sum();
    if aside > 0 {
        say(&messages::stand_aside(aside));
    }
    let has_failed = aside > 0 || shows.iter().any(|show| show.state == ShowState::Failed);
    Ok(match how {
        HowEnded::Stopped | HowEnded::Hour => Exit::Interrupted,
        HowEnded::Done if !has_failed => Exit::AllMade,
        HowEnded::Done | HowEnded::Space | HowEnded::Died | HowEnded::Failed => Exit::SomeFailed,
    })
}
