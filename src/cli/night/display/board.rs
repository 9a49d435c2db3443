//! What a display shows, put together from a run's events and the queue's counts. No drawing.

use crate::cli::frames::counted;
use crate::cli::night::messages::{number, waiting};
use crate::cli::night::times::{hour_after, span};
use crate::night::outlook::{Counts, in_hand, rest};
use crate::night::queue::{Remark, ShowId, Status};
use crate::night::run::{Event, OfFrame, WaitingFor, Work};
use crate::night::time_left::{Group, InHand, TimeLeft};
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// The time over which the rate is taken: long enough for frames that take half a minute, short enough to be of now.
const RATE_OVER: Duration = Duration::from_secs(120);

/// What is known of the night.
#[derive(Debug)]
pub(super) struct Board {
    begun: Instant,
    status: Option<Status>,
    time_left: TimeLeft,
    /// What each line shows.
    workers: Vec<Option<(OfFrame, Work, Instant)>>,
    /// How many lines there are.
    lines: usize,
    /// When frames were through lately, and in which work.
    through: VecDeque<(Instant, Work)>,
    waiting: Option<WaitingFor>,
    /// Frames whose pictures this run made, and those that it set aside.
    made: usize,
    set_aside: usize,
    /// Whether pictures could not be looked at that were made earlier.
    pub(super) has_unseen: bool,
}

impl Board {
    pub(super) fn new(now: Instant) -> Self {
        Self {
            begun: now,
            status: None,
            time_left: TimeLeft::default(),
            workers: Vec::new(),
            lines: 0,
            through: VecDeque::new(),
            waiting: None,
            made: 0,
            set_aside: 0,
            has_unseen: false,
        }
    }

    /// The queue as it stands.
    pub(super) fn look(&mut self, status: Status) {
        if self.status.is_none() {
            // What earlier runs taught serves until this one's frames do.
            self.time_left = crate::night::outlook::learned(&status);
        }
        self.status = Some(status);
    }

    /// Something happened.
    pub(super) fn take(&mut self, event: &Event, now: Instant) {
        match event {
            Event::Ready { workers, .. } => {
                self.workers.resize_with(*workers, || None);
                self.lines = *workers;
            }
            Event::Took { of, work } => {
                let worker = of.worker.unwrap_or(0);
                if self.workers.len() <= worker {
                    self.workers.resize_with(worker + 1, || None);
                }
                self.workers[worker] = Some((of.clone(), *work, now));
            }
            Event::Metered { of, seconds } => self.through(of, Work::Metering, *seconds, now),
            Event::Made { of, seconds, .. } => {
                self.made += 1;
                self.through(of, Work::Making, *seconds, now);
            }
            Event::SetAside { of, .. } => {
                self.set_aside += 1;
                self.free(of);
            }
            Event::GivenBack { of } => self.free(of),
            Event::Waiting(what) => self.waiting = Some(what.clone()),
            Event::GoesOn => self.waiting = None,
            Event::Remark {
                remark: Remark::NotSeen { .. },
                ..
            } => self.has_unseen = true,
            _ => {}
        }
    }

    /// A worker's next frame is told before its last one is through: then it has that one.
    fn free(&mut self, of: &OfFrame) {
        let has_it = |hand: &&mut Option<(OfFrame, Work, Instant)>| {
            hand.as_ref()
                .is_some_and(|(known, ..)| known.show == of.show && known.frame == of.frame)
        };
        if let Some(hand) = self.workers.iter_mut().find(has_it) {
            *hand = None;
        }
    }

    fn through(&mut self, of: &OfFrame, work: Work, seconds: Option<f64>, now: Instant) {
        if let Some(seconds) = seconds {
            let group = Group {
                work,
                show: of.show,
            };
            let busy = self.workers.iter().flatten().count().max(1);
            self.time_left.learn(group, of.bytes, seconds, busy);
        }
        self.free(of);
        self.through.push_back((now, work));
        while self
            .through
            .front()
            .is_some_and(|(then, _)| now.duration_since(*then) > RATE_OVER)
        {
            self.through.pop_front();
        }
    }

    /// How far all frames are.
    pub(super) fn counts(&self) -> Counts {
        self.status.as_ref().map(Counts::of_all).unwrap_or_default()
    }

    /// Frames a second of the work that is going on: made, or metered while none is made.
    pub(super) fn rate(&self, now: Instant) -> Option<(f64, Work)> {
        let over = now.duration_since(self.begun).min(RATE_OVER).as_secs_f64();
        let count = |wanted: Work| {
            let lately = self
                .through
                .iter()
                .filter(|(then, work)| *work == wanted && now.duration_since(*then) <= RATE_OVER);
            lately.count()
        };
        let work = match (count(Work::Making), count(Work::Metering)) {
            (0, 0) => return None,
            (0, _) => Work::Metering,
            _ => Work::Making,
        };
        (over > 0.0).then(|| (count(work) as f64 / over, work))
    }

    /// Seconds until the queue is through.
    pub(super) fn seconds_left(&self, now: Instant) -> Option<f64> {
        let status = self.status.as_ref()?;
        let hands: Vec<InHand> = self
            .workers
            .iter()
            .flatten()
            .map(|(of, work, since)| InHand {
                group: Group {
                    work: *work,
                    show: of.show,
                },
                bytes: of.bytes,
                seconds: now.duration_since(*since).as_secs_f64(),
            })
            .collect();
        // Runs of other programs and machines work on it too.
        let workers = self.lines.max(in_hand(&status.runs)).max(1);
        self.time_left.seconds_left(&rest(status), &hands, workers)
    }

    /// The night in one line: what stands before and after its bar.
    pub(super) fn night(&self, now: Instant) -> (String, String) {
        let counts = self.counts();
        let mut before = format!("{} of {} frames made", counts.made, counts.frames);
        let underway = counts.metered + counts.set_aside < counts.frames;
        if underway {
            before += &format!(", {} metered", counts.metered);
        }
        if counts.set_aside > 0 {
            before += &format!(", {} set aside", counts.set_aside);
        }
        if let Some(what) = &self.waiting {
            return (before, waiting(what));
        }
        let mut after = match self.rate(now) {
            Some((rate, Work::Making)) => format!("{rate:.2} frames/s, "),
            Some((rate, Work::Metering)) => format!("{rate:.2} metered/s, "),
            None => String::new(),
        };
        after += &match self.seconds_left(now) {
            Some(left) => format!("{} left, until {}", span(left), hour_after(left)),
            None => "time left not known yet".to_owned(),
        };
        (before, after)
    }

    /// A line for each worker.
    pub(super) fn workers(&self, now: Instant) -> Vec<String> {
        let numbered = self.workers.iter().enumerate();
        numbered
            .map(|(at, hand)| match hand {
                None => format!("{:>3}  -", number(at)),
                Some((of, work, since)) => {
                    let work = match work {
                        Work::Metering => "metering",
                        Work::Making => "making  ",
                    };
                    let seconds = now.duration_since(*since).as_secs();
                    let file = of.frame.file_name().unwrap_or(of.frame.as_os_str());
                    format!(
                        "{:>3}  {work}  {:>4} s  {}  of {}",
                        number(at),
                        seconds,
                        file.to_string_lossy(),
                        self.name_of(of.show)
                    )
                }
            })
            .collect()
    }

    /// The end in words.
    pub(super) fn summary(&self, took: Duration) -> String {
        let mut text = format!("{} made", counted(self.made));
        if self.set_aside > 0 {
            text += &format!(", {} set aside", self.set_aside);
        }
        text += &format!(" by this run in {}", span(took.as_secs_f64()));
        let counts = self.counts();
        let left = counts.frames.saturating_sub(counts.made + counts.set_aside);
        if left > 0 {
            text += &format!("; {left} of {} wait", counts.frames);
        }
        text + "; houselights night report tells more"
    }

    fn name_of(&self, show: ShowId) -> &str {
        let shows = self.status.iter().flat_map(|status| &status.shows);
        shows
            .filter(|known| known.show == show)
            .map(|known| known.name.as_str())
            .next()
            .unwrap_or("a show")
    }
}

#[cfg(test)]
mod tests;
