//! All wording of `night`'s commands that change the queue or work through it.

use super::remarks::in_words;
use super::report::words::wish;
use super::times::{moment, size};
use crate::cli::frames::counted;
use crate::crew::limits::memory_in_words;
use crate::night::queue::{Changed, HowEnded, Trouble};
use crate::night::run::plan::Addition;
use crate::night::run::space::Want;
use crate::night::run::{Event, WaitingFor};
use std::fmt::{Display, Write};
use std::path::PathBuf;

pub(super) const EXAMPLES: &str = "\
Examples:
  Two shows, for the gallery and for the archive, and everything done in the morning:
    houselights night add night-one/ --to web,long=2048,quality=85 --to full \\
        --reference night-one/DSC_0815.NEF --neutral 0.42,0.61 --first night-one/selects
    houselights night add night-two/ --to night-two-web,long=2048 --look arena.toml
    houselights night run --gentle --until 07:00";

pub(super) const ADD_EXAMPLES: &str = "\
Examples:
  A show for the gallery, for print and for retouching, from one decoding; the selection first:
    houselights night add night-one/ --to web,long=2048,quality=85 --to full --to retouch,as=tiff \\
        --reference night-one/DSC_0815.NEF --neutral 0.42,0.61 --first night-one/selects

  More frames of the same show, from the second card:
    houselights night add card-two/ --show night-one

  A show that is to come before the others:
    houselights night add tonight/ --to tonight-web,long=2048 --look arena.toml --priority 0";

pub(super) const RUN_JSON_HELP: &str = "\
A line of JSON on standard output for each event, and every 10 seconds how far the night is.

Every line has event. Of a frame: took (work: metering or making), metered, made (pictures, picture_bytes), set-aside (error \
with cause, reason, next_step), given-back, each with frame (frame_bytes in hexadecimal where the path is no text), show, \
bytes, worker, and seconds where a worker was needed. Of a show: solving, solved (name, frames, warnings), not-solved (name, \
reason, next_step). Of the run: ready (run, workers, worker_memory), waiting (for, folders or reason), goes-on, remark (remark, words), \
progress (frames, metered, made, set_aside, share, frames_a_second, work, seconds_left), ended (how, words).";

fn listed(paths: &[PathBuf]) -> String {
    let words: Vec<String> = paths
        .iter()
        .map(|path| path.display().to_string())
        .collect();
    words.join(", ")
}

/// `look`: what the look is called that was asked for.
pub(super) fn added(addition: &Addition, look: &str) -> String {
    let added = &addition.added;
    let mut text = format!(
        "{} {}: {} added",
        if added.is_new { "new show" } else { "show" },
        addition.name,
        counted(added.frames)
    );
    if !added.is_new {
        let _ = write!(text, " to {}", addition.had);
    }
    if added.known_frames > 0 {
        let _ = write!(text, ", {} in it already", added.known_frames);
    }
    if added.wishes > 0 {
        let _ = write!(
            text,
            "; {} {} of each frame",
            added.wishes,
            if added.wishes == 1 {
                "picture"
            } else {
                "pictures"
            }
        );
    }
    for output in &addition.outputs {
        let _ = write!(
            text,
            "\n  {}: {}{}",
            output.wish.folder.display(),
            wish(&output.wish),
            if output.is_new { "; new folder" } else { "" }
        );
    }
    if added.is_asked_anew {
        let _ = write!(
            text,
            "\n  {}: pictures made with another look, or from another reference, are made again",
            match look {
                "" => "what is asked of it is another now".to_owned(),
                look => format!("look is now {look}"),
            }
        );
    }
    if addition.passed_over > 0 {
        let _ = write!(
            text,
            "\n  {} named without a raw file's name passed over",
            addition.passed_over
        );
    }
    for (path, reason) in &addition.unreadable {
        let _ = write!(
            text,
            "\n  {}: cannot be searched ({reason}); check the drive and the permissions, and add it again",
            path.display()
        );
    }
    if !addition.not_in_show.is_empty() {
        let _ = write!(
            text,
            "\n  --first names frames that are not among those added: {}",
            listed(&addition.not_in_show)
        );
    }
    text
}

fn what(show: Option<&str>) -> String {
    show.map_or_else(|| "the queue".to_owned(), |show| format!("show {show}"))
}

pub(super) fn paused(show: Option<&str>) -> String {
    format!("{} is paused; what is in hand is finished", what(show))
}

/// `paused` names the shows that were paused by themselves and still are.
pub(super) fn resumed(show: Option<&str>, paused: &[String]) -> String {
    let mut text = format!("{} goes on", what(show));
    for name in paused {
        let _ = write!(
            text,
            "\n  show {name} is still paused by itself; `houselights night resume --show {name}` lets it go on"
        );
    }
    text
}

pub(super) fn stand_aside(frames: u64) -> String {
    format!(
        "{} set aside, by this run or before; `houselights night report` says why and what to do",
        counted(usize::try_from(frames).unwrap_or(usize::MAX))
    )
}

pub(super) fn retried(changed: &Changed, restored: &[PathBuf]) -> String {
    let mut text = format!(
        "{} to be tried again, {} {} to be solved again",
        counted(usize::try_from(changed.jobs).unwrap_or(usize::MAX)),
        changed.shows,
        if changed.shows == 1 { "show" } else { "shows" }
    );
    if !restored.is_empty() {
        let _ = write!(text, "; made again: {}", listed(restored));
    }
    text
}

pub(super) const NONE_SET_ASIDE: &str = "none of the frames that were named is set aside";
pub(super) const NONE_WAITS: &str = "the queue has none of the frames that were named";

/// `meant`: shows that have a name that was given as a frame's.
pub(super) fn none_of_them(words: &str, meant: &[String]) -> String {
    match meant.first() {
        Some(name) => format!("{words}; a show is named with --show {name}"),
        None => format!(
            "{words}; `houselights night report --json` lists them, and a show is named with --show NAME"
        ),
    }
}

pub(super) fn dropped(changed: &Changed) -> String {
    format!(
        "{} taken out; pictures that are made stay",
        counted(usize::try_from(changed.jobs).unwrap_or(usize::MAX))
    )
}

pub(super) fn not_gentle(reason: &str) -> String {
    format!(
        "the system does not let this run be gentle ({reason}); it works like any other program"
    )
}

pub(super) fn no_program(error: &dyn Display) -> String {
    format!("houselights: cannot find out which program this is: {error}; start it again")
}

pub(super) const GO_ON: &str =
    "Begin, and go as far as the space allows? What does not fit waits in the queue [y/N]";

pub(super) fn is_yes(answer: &str) -> bool {
    matches!(answer.trim().to_lowercase().as_str(), "y" | "yes")
}

pub(super) fn short_of_space(want: &Want) -> String {
    format!(
        "the drive of {} will run short: {} pictures will take about {}{}, and {} are free",
        want.folder.display(),
        want.pictures,
        size(want.bytes),
        if want.is_measured {
            ""
        } else {
            " (guessed: none of their kind is made yet)"
        },
        size(want.free)
    )
}

/// The hour at which a run ends, with its day: 07:00 said at 07:05 is tomorrow's.
pub(super) fn until(milliseconds: i64) -> String {
    format!("until {}", moment(milliseconds, "%A %H:%M"))
}

/// A line about something that happened; `None` for what is not worth one.
pub(super) fn line(event: &Event) -> Option<String> {
    Some(match event {
        Event::Ready {
            workers,
            worker_memory,
            ..
        } => format!(
            "{workers} {}, {} of memory each",
            if *workers == 1 { "worker" } else { "workers" },
            memory_in_words(*worker_memory)
        ),
        Event::Solving { name, .. } => format!("show {name}: solving"),
        Event::Solved {
            name,
            frames,
            warnings,
            ..
        } => {
            let mut text = format!("show {name}: {} solved", counted(*frames));
            for warning in warnings {
                let _ = write!(text, "\n  warning: {warning}");
            }
            text
        }
        Event::NotSolved { name, trouble, .. } => format!(
            "show {name} cannot be solved: {}; then `houselights night retry --show {name}`",
            trouble_in_words(trouble)
        ),
        Event::SetAside { error, .. } => format!("set aside: {error}"),
        Event::Waiting(what) => waiting(what),
        Event::GoesOn => "going on".to_owned(),
        Event::Remark { remark, .. } => in_words(remark),
        Event::Ended(how) => ended(*how).to_owned(),
        _ => return None,
    })
}

/// The number of a worker, as people count.
pub(super) fn number(worker: usize) -> usize {
    worker + 1
}

/// Why a show cannot be solved, with the next step.
pub(super) fn trouble_in_words(trouble: &Trouble) -> String {
    match &trouble.next_step {
        Some(step) => format!("{}; {step}", trouble.reason),
        None => trouble.reason.clone(),
    }
}

pub(super) fn waiting(what: &WaitingFor) -> String {
    match what {
        WaitingFor::OtherRuns => "waiting for what other runs have in hand".to_owned(),
        WaitingFor::Drives(folders) => format!("waiting for {}", listed(folders)),
        WaitingFor::Person => "paused; `houselights night status` shows what is, and `houselights night resume`, of a show with --show, lets it go on"
                .to_owned(),
        WaitingFor::Power(_) => "waiting for the charger".to_owned(),
        WaitingFor::Queue(reason) => format!("waiting: {reason}"),
        WaitingFor::Workers(reason) => {
            format!("no worker can be started ({reason}); trying again")
        }
    }
}

fn ended(how: HowEnded) -> &'static str {
    match how {
        HowEnded::Done => "Nothing is left to do.",
        HowEnded::Stopped => "Interrupted; `houselights night run` goes on where it stopped.",
        HowEnded::Hour => "The hour has come; `houselights night run` goes on where it stopped.",
        HowEnded::Space => {
            "What is left has no room; make some, and `houselights night run` goes on where it stopped."
        }
        HowEnded::Died | HowEnded::Failed => "The run cannot go on.",
    }
}
