//! Clocks that were set forward in the middle of a show.
//!
//! Names and times agree about it, so it looks like a pause. Only the light that another body saw meanwhile tells: the frames
//! before the pause and those after it then fit the other body's at two offsets, both surely, and better than at one.

use super::clocks::{Held, Offset, RIVAL, offset};
use super::cutting::Timed;

/// A pause shorter than this hides no jump that would matter: cues are found a body at a time where they last longer. Seconds.
const PAUSE: f64 = 60.0;
/// Pauses that are looked at, the longest first.
const MOST_PAUSES: usize = 3;
/// Changes of light that each part must share with the other bodies, and how sure its offset must be: as far as jumps of ten minutes, an
/// hour and a day in the shows of the tests are found, and none where there is none.
const LEAST_MATCHED: usize = 3;
const SURE: f64 = 0.4;

/// The place in `moved` after a jump, and the offsets before and after it. Both series are in the order of time; `expected` is the
/// offset of the whole.
#[must_use]
pub(super) fn forward(
    held: &Held,
    moved: &[Timed],
    expected: f64,
) -> Option<(usize, Offset, Offset)> {
    // Its own clock was set forward, or the other's, of which it knows where that was.
    let own = pauses(moved).map(|pause| (pause.place, (-RIVAL, pause.length + RIVAL)));
    let others = pauses(&held.frames).flat_map(|pause| {
        [pause.from, pause.to].map(|time| {
            let time = time + expected;
            let place = moved.partition_point(|frame| frame.seconds.is_some_and(|s| s < time));
            (place, (-pause.length - RIVAL, RIVAL))
        })
    });
    let sure = |part: &[Timed], expected: f64, allowed: (f64, f64)| {
        offset(held, part, expected, allowed)
            .filter(|found| found.matched >= LEAST_MATCHED && found.confidence >= SURE)
    };
    own.chain(others).find_map(|(place, (least, most))| {
        let (before, after) = moved.split_at(place);
        let before = sure(before, expected, (f64::NEG_INFINITY, f64::INFINITY))?;
        // A clock that was set forward swallows no more than the pause.
        let allowed = (before.ahead + least, before.ahead + most);
        let after = sure(after, before.ahead, allowed)?;
        ((after.ahead - before.ahead).abs() > RIVAL).then_some((place, before, after))
    })
}

/// A time without frames.
struct Pause {
    /// Place of the first frame after it.
    place: usize,
    from: f64,
    to: f64,
    length: f64,
}

/// The longest pauses, longest first.
fn pauses(frames: &[Timed]) -> impl Iterator<Item = Pause> {
    let pause = |place: usize| {
        let (from, to) = (frames[place - 1].seconds?, frames[place].seconds?);
        (to - from >= PAUSE).then_some(Pause {
            place,
            from,
            to,
            length: to - from,
        })
    };
    let mut pauses: Vec<Pause> = (1..frames.len()).filter_map(pause).collect();
    pauses.sort_by(|a, b| b.length.total_cmp(&a.length));
    pauses.truncate(MOST_PAUSES);
    pauses.into_iter()
}

#[cfg(test)]
mod tests {
    use super::super::read_cues;
    use super::super::tests::{AMBER, BLUE, GREEN, State, frames_of_runs, is_whole, played};
    use crate::light::reading::FrameLight;

    const STATES: [State; 10] = [
        AMBER, BLUE, GREEN, AMBER, GREEN, BLUE, AMBER, GREEN, BLUE, GREEN,
    ];
    /// Frames of each state that a body takes.
    const EACH: usize = 7;

    fn set_forward(frames: &mut [FrameLight], seconds: i64) {
        for frame in frames {
            if let Some(time) = &mut frame.facts.captured {
                time.civil = (time.civil).saturating_add(jiff::SignedDuration::from_secs(seconds));
            }
        }
    }

    #[test]
    fn a_clock_that_was_set_forward_is_told_by_what_another_body_saw() {
        for jump in [0, 600, 3600, 86_400] {
            let mut frames = played(0, &STATES, EACH, 0.0);
            let mut moved = played(1, &STATES, EACH, 12.0);
            set_forward(&mut moved[35..], jump);
            frames.extend(moved);
            let sheet = read_cues(&frames, &[]);
            is_whole(&sheet, frames.len());
            let found = &sheet.clocks[1].jumps;
            assert_eq!(found.len(), usize::from(jump > 0), "{jump} s: {found:?}");
            if let Some(found) = found.first() {
                assert_eq!(found.frame, 70 + 35);
                let ahead = 12.0 + jump as f64;
                assert!((found.ahead_seconds - ahead).abs() < 3.0, "{found:?}");
            }
            assert_eq!(frames_of_runs(&sheet), [2 * EACH; 10], "{jump} s");
        }
    }

    #[test]
    fn when_the_first_body_was_set_forward_the_other_stands_beside_it() {
        let mut frames = played(0, &STATES, EACH, 0.0);
        set_forward(&mut frames[35..], 3600);
        frames.extend(played(1, &STATES, EACH, 12.0));
        let sheet = read_cues(&frames, &[]);
        assert_eq!(frames_of_runs(&sheet), [2 * EACH; 10]);
    }

    #[test]
    fn a_pause_of_all_bodies_is_no_jump() {
        let mut frames = played(0, &STATES, EACH, 0.0);
        set_forward(&mut frames[35..], 3600);
        let mut other = played(1, &STATES, EACH, 5.0);
        set_forward(&mut other[35..], 3600);
        frames.extend(other);
        let sheet = read_cues(&frames, &[]);
        assert!(sheet.clocks.iter().all(|clock| clock.jumps.is_empty()));
    }
}
