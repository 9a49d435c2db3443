//! What is left of a queue, and how long it takes: pure functions of its counts.

use crate::night::queue::{JobState, RunStatus, ShowState, ShowStatus, Status};
use crate::night::run::Work;
use crate::night::time_left::{Group, MAKING_TO_METERING, Rest, TimeLeft};

/// How far frames are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// All of them, but those that a person took out.
    pub frames: u64,
    /// Those whose light is read.
    pub metered: u64,
    /// Those whose pictures are all in their places.
    pub made: u64,
    /// Those that cannot be done.
    pub set_aside: u64,
}

impl std::iter::Sum for Counts {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), |sum, counts| Self {
            frames: sum.frames + counts.frames,
            metered: sum.metered + counts.metered,
            made: sum.made + counts.made,
            set_aside: sum.set_aside + counts.set_aside,
        })
    }
}

impl Counts {
    /// Of one show.
    #[must_use]
    pub fn of(show: &ShowStatus) -> Self {
        use JobState::{Dropped, Made, Making, Metered, SetAside, ToMake};
        let in_all = JobState::ALL.iter().copied();
        let in_all: Vec<JobState> = in_all.filter(|state| *state != Dropped).collect();
        Self {
            frames: show.jobs_in(&in_all),
            metered: show.jobs_in(&[Metered, ToMake, Making, Made]),
            made: show.jobs_in(&[Made]),
            set_aside: show.jobs_in(&[SetAside]),
        }
    }

    /// Of all shows together.
    #[must_use]
    pub fn of_all(status: &Status) -> Self {
        status.shows.iter().map(Self::of).sum()
    }

    /// Share of the work that is done, 0 to 1; 1 of nothing.
    #[must_use]
    pub fn share_done(&self) -> f64 {
        let whole = 1.0 + MAKING_TO_METERING;
        let of_metered = self.metered.saturating_sub(self.made) as f64;
        let done = of_metered + whole * (self.made + self.set_aside) as f64;
        if self.frames == 0 {
            1.0
        } else {
            (done / (whole * self.frames as f64)).min(1.0)
        }
    }
}

/// What is left of each show in each part of the work, without what runs have in hand. Shows on which nothing will be done
/// (paused, not to be solved) are left out.
#[must_use]
pub fn rest(status: &Status) -> Vec<(Group, Rest)> {
    let mut rest = Vec::new();
    for show in status.shows.iter().filter(|show| goes_on(status, show)) {
        let group = |work| Group {
            work,
            show: show.show,
        };
        let of = |states: &[JobState]| {
            let mut sum = Rest::default();
            for count in &show.jobs {
                if states.contains(&count.state) {
                    sum.frames += count.jobs;
                    sum.bytes += count.bytes;
                }
            }
            sum
        };
        use JobState::{Metered, Metering, ToMake, ToMeter};
        rest.push((group(Work::Metering), of(&[ToMeter])));
        // What is being metered must be made yet.
        let to_make = of(&[ToMeter, Metering, Metered, ToMake]);
        rest.push((group(Work::Making), to_make));
    }
    rest.retain(|(_, rest)| rest.frames > 0);
    rest
}

/// Whether work on a show goes on by itself.
fn goes_on(status: &Status, show: &ShowStatus) -> bool {
    let is_stuck = matches!(show.state, ShowState::Failed | ShowState::Dropped);
    !(status.is_paused || show.is_paused || is_stuck)
}

/// What the frames that are through taught, whoever did them.
#[must_use]
pub fn learned(status: &Status) -> TimeLeft {
    let mut time_left = TimeLeft::default();
    for show in &status.shows {
        for count in &show.jobs {
            for (work, timed) in [(Work::Metering, count.metered), (Work::Making, count.made)] {
                let group = Group {
                    work,
                    show: show.show,
                };
                time_left.learn_sums(group, timed.jobs, timed.bytes, timed.seconds);
            }
        }
    }
    time_left
}

/// Frames that runs have in hand: about as many as there are workers.
#[must_use]
pub fn in_hand(runs: &[RunStatus]) -> usize {
    let living = runs.iter().filter(|run| !run.has_died);
    let sum: u64 = living.map(|run| run.in_hand).sum();
    usize::try_from(sum).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::night::queue::{JobCount, ShowId, Timed};

    fn count(state: JobState, jobs: u64) -> JobCount {
        JobCount {
            state,
            jobs,
            bytes: jobs * 30_000_000,
            metered: Timed::default(),
            made: Timed::default(),
        }
    }

    fn show(number: i64, state: ShowState, jobs: Vec<JobCount>) -> ShowStatus {
        ShowStatus {
            show: ShowId(number),
            name: format!("show {number}"),
            priority: 5,
            state,
            is_paused: false,
            trouble: None,
            jobs,
            outputs: Vec::new(),
            added: 0,
        }
    }

    fn status(shows: Vec<ShowStatus>) -> Status {
        Status {
            is_paused: false,
            shows,
            runs: Vec::new(),
        }
    }

    #[test]
    fn what_is_left_is_counted_by_work() {
        let jobs = JobState::ALL
            .iter()
            .map(|&state| count(state, 10))
            .collect();
        let mut status = status(vec![
            show(1, ShowState::ToMeter, jobs),
            show(2, ShowState::Failed, vec![count(JobState::Metered, 5)]),
        ]);
        let found = rest(&status);
        let expected = |frames: u64| Rest {
            frames,
            bytes: frames * 30_000_000,
        };
        let group = |work| Group {
            work,
            show: ShowId(1),
        };
        assert_eq!(
            found,
            [
                (group(Work::Metering), expected(10)),
                (group(Work::Making), expected(40)),
            ]
        );
        let counts = Counts::of_all(&status);
        assert_eq!((counts.frames, counts.made), (75, 10));
        assert_eq!((counts.metered, counts.set_aside), (45, 10));
        status.shows[0].is_paused = true;
        assert!(rest(&status).is_empty());
    }

    #[test]
    fn the_share_goes_from_nothing_to_all() {
        let share = |metered, made, set_aside| {
            Counts {
                frames: 10,
                metered,
                made,
                set_aside,
            }
            .share_done()
        };
        assert_eq!(share(0, 0, 0), 0.0);
        assert_eq!(share(9, 9, 1), 1.0);
        assert!(share(10, 0, 0) > 0.0 && share(10, 0, 0) < share(10, 1, 0));
        assert_eq!(Counts::default().share_done(), 1.0);
    }

    #[test]
    fn time_is_learned_from_what_the_queue_kept() {
        let timed = |jobs: u64, seconds: f64| Timed {
            jobs,
            bytes: jobs * 30_000_000,
            seconds,
        };
        let made = JobCount {
            metered: timed(10, 10.0),
            made: timed(10, 30.0),
            ..count(JobState::Made, 10)
        };
        let jobs = vec![made, count(JobState::ToMake, 20)];
        let status = status(vec![show(1, ShowState::Solved, jobs)]);
        let left = learned(&status).seconds_left(&rest(&status), &[], 2);
        assert!(
            left.is_some_and(|left| (left - 30.0).abs() < 1e-6),
            "{left:?}"
        );
    }
}
