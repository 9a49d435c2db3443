//! The estimator on simulated nights whose truth is known.

use super::*;
use crate::base::chance::Normal;

/// Files of two bodies, in bytes.
const SMALL: u64 = 28_000_000;
const LARGE: u64 = 118_000_000;

fn group(work: Work, show: i64) -> Group {
    Group {
        work,
        show: ShowId(show),
    }
}

/// Seconds that a simulated worker needs: a fixed part and one by size, with a spread of 15 %.
fn truth(work: Work, bytes: u64, chance: &mut Normal) -> f64 {
    let (fixed, slope) = match work {
        Work::Metering => (0.12, 0.021),
        Work::Making => (0.30, 0.055),
    };
    (fixed + slope * bytes as f64 / 1e6) * (1.0 + 0.15 * chance.draw())
}

struct Job {
    group: Group,
    bytes: u64,
    seconds: f64,
}

/// A night: 600 small frames with a few large ones first, then 400 large ones; metered and then made.
fn night() -> Vec<Job> {
    let mut chance = Normal::new(20_260_509);
    let mut jobs = Vec::new();
    for work in [Work::Metering, Work::Making] {
        for at in 0..1000 {
            let bytes = if at >= 600 || at % 50 == 49 {
                LARGE
            } else {
                SMALL
            };
            jobs.push(Job {
                group: group(work, 1),
                bytes,
                seconds: truth(work, bytes, &mut chance),
            });
        }
    }
    jobs
}

fn rest_of(jobs: &[Job]) -> Vec<(Group, Rest)> {
    let mut rest: BTreeMap<Group, Rest> = BTreeMap::new();
    for job in jobs {
        let sum = rest.entry(job.group).or_default();
        sum.frames += 1;
        sum.bytes += job.bytes;
    }
    rest.into_iter().collect()
}

/// The estimate after so many frames, over the truth.
fn ratio_after(done: usize, workers: usize) -> f64 {
    let jobs = night();
    let mut time_left = TimeLeft::default();
    for job in &jobs[..done] {
        time_left.learn(job.group, job.bytes, job.seconds, workers);
    }
    let truth: f64 = jobs[done..].iter().map(|job| job.seconds).sum::<f64>() / workers as f64;
    let rest = rest_of(&jobs[done..]);
    time_left.seconds_left(&rest, &[], workers).unwrap_or(0.0) / truth
}

#[test]
fn sizes_are_learned_before_the_large_frames_come() {
    // 300 frames of the second part are through, nearly all of them small: the 400 large ones are still to come.
    let ratio = ratio_after(1300, 4);
    assert!((ratio - 1.0).abs() < 0.05, "{ratio:.3}");
    // Counting frames, as a plain bar does, says less than half of it.
    let jobs = night();
    let seconds = |jobs: &[Job]| jobs.iter().map(|job| job.seconds).sum::<f64>();
    let counted = seconds(&jobs[1000..1300]) / 300.0 * 700.0 / seconds(&jobs[1300..]);
    assert!(counted < 0.5, "{counted:.3}");
}

#[test]
fn from_a_twentieth_of_a_part_on_it_is_right_within_a_tenth() {
    for done in [1050, 1200, 1500, 1700, 1900, 1990] {
        let ratio = ratio_after(done, 2);
        assert!((ratio - 1.0).abs() < 0.1, "after {done}: {ratio:.3}");
    }
}

#[test]
fn before_a_picture_is_made_metering_gives_the_order_of_magnitude() {
    let ratio = ratio_after(200, 2);
    assert!((0.5..2.0).contains(&ratio), "{ratio:.3}");
    assert_eq!(
        TimeLeft::default().seconds_left(&rest_of(&night()), &[], 2),
        None
    );
}

#[test]
fn another_show_begins_with_what_the_first_taught() {
    let mut time_left = TimeLeft::default();
    let mut chance = Normal::new(7);
    for at in 0..100 {
        let bytes = if at % 2 == 0 { SMALL } else { LARGE };
        let seconds = truth(Work::Making, bytes, &mut chance);
        time_left.learn(group(Work::Making, 1), bytes, seconds, 2);
    }
    let rest = Rest {
        frames: 10,
        bytes: 10 * LARGE,
    };
    let expected = 10.0 * (0.30 + 0.055 * 118.0);
    let found = time_left.seconds_left(&[(group(Work::Making, 2), rest)], &[], 1);
    assert!(
        found.is_some_and(|found| (found / expected - 1.0).abs() < 0.1),
        "{found:?} against {expected}"
    );
}

#[test]
fn fewer_workers_are_each_faster_and_all_together_slower() {
    // With four busy a frame takes half as long again as alone.
    let (alone, crowded) = (2.0, 3.0);
    let making = group(Work::Making, 1);
    let mut time_left = TimeLeft::default();
    for _ in 0..200 {
        time_left.learn(making, SMALL, crowded, 4);
    }
    for _ in 0..200 {
        time_left.learn(making, SMALL, alone, 1);
    }
    let rest = [(
        making,
        Rest {
            frames: 1200,
            bytes: 1200 * SMALL,
        },
    )];
    for (workers, expected) in [(1, 1200.0 * alone), (4, 300.0 * crowded)] {
        let found = time_left.seconds_left(&rest, &[], workers).unwrap_or(0.0);
        assert!(
            (found / expected - 1.0).abs() < 0.05,
            "{workers}: {found:.0} against {expected:.0}"
        );
    }
}

#[test]
fn what_is_in_hand_counts_for_what_is_left_of_it() {
    let making = group(Work::Making, 1);
    let mut time_left = TimeLeft::default();
    time_left.learn(making, SMALL, 4.0, 2);
    let in_hand = |seconds: f64| InHand {
        group: making,
        bytes: SMALL,
        seconds,
    };
    let left = |in_hand: &[InHand]| time_left.seconds_left(&[], in_hand, 2).unwrap_or(-1.0);
    // Two workers, one frame left: its own rest, not half of it.
    assert!((left(&[in_hand(1.0)]) - 3.0).abs() < 1e-9);
    assert!((left(&[in_hand(1.0), in_hand(3.0)]) - 3.0).abs() < 1e-9);
    // A frame that takes longer than it should is about to be through.
    assert_eq!(left(&[in_hand(9.0)]), 0.0);
    assert_eq!(left(&[]), 0.0);
}

#[test]
fn a_laptop_that_slows_down_is_followed() {
    let making = group(Work::Making, 1);
    let mut time_left = TimeLeft::default();
    for at in 0..400 {
        let seconds = if at < 200 { 2.0 } else { 5.0 };
        time_left.learn(making, SMALL, seconds, 2);
    }
    let rest = [(
        making,
        Rest {
            frames: 100,
            bytes: 100 * SMALL,
        },
    )];
    let found = time_left.seconds_left(&rest, &[], 2).unwrap_or(0.0);
    assert!((found / 250.0 - 1.0).abs() < 0.1, "{found:.0}");
}

#[test]
fn odd_numbers_do_not_spoil_it() {
    let making = group(Work::Making, 1);
    let mut time_left = TimeLeft::default();
    time_left.learn(making, SMALL, f64::NAN, 2);
    time_left.learn(making, 0, 1.0, 0);
    time_left.learn(making, SMALL, 0.0, 2);
    time_left.learn(making, SMALL, f64::INFINITY, 2);
    let rest = Rest {
        frames: 3,
        bytes: 0,
    };
    let left = time_left.seconds_left(&[(making, rest)], &[], 2);
    assert!(left.is_some_and(|left| left.is_finite() && left >= 0.0));
}

#[test]
fn sums_of_earlier_runs_teach_as_their_frames_did() {
    let making = group(Work::Making, 1);
    let mut time_left = TimeLeft::default();
    time_left.learn_sums(making, 50, 50 * SMALL, 100.0);
    time_left.learn_sums(making, 50, 50 * LARGE, 400.0);
    time_left.learn_sums(making, 0, 0, 0.0);
    let rest = |bytes: u64| [(making, Rest { frames: 1, bytes })];
    let seconds = |bytes: u64| time_left.seconds_left(&rest(bytes), &[], 1).unwrap_or(0.0);
    assert!((seconds(SMALL) - 2.0).abs() < 0.15, "{}", seconds(SMALL));
    assert!((seconds(LARGE) - 8.0).abs() < 0.15, "{}", seconds(LARGE));
}
