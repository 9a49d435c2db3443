//! Keys and levels of things that were written down.

use super::eyes::{Eye, Eyes, white_at};
use super::level::{Counts, Evidence, Hints, Surface, together};
use super::map::Map;
use super::pool::Pool;
use super::unmix::{Seen, explain, maps};
use super::{joint, summit};
use crate::base::units::Chromaticity;
use crate::colour::angle::reproduction;
use crate::light::locus::{log_chroma, neutral_of};
use crate::light::scene::camera;

/// Reflectances in red, green and blue: skin, denim, wood, brass, wine, leaf, greys.
const THINGS: [[f64; 3]; 9] = [
    [0.55, 0.36, 0.26],
    [0.12, 0.17, 0.30],
    [0.30, 0.19, 0.10],
    [0.50, 0.40, 0.15],
    [0.28, 0.07, 0.09],
    [0.10, 0.20, 0.09],
    [0.70, 0.70, 0.70],
    [0.20, 0.20, 0.20],
    [0.42, 0.40, 0.44],
];

/// How much of a wash lies on each thing, against its mean.
const UNEVEN: [f64; 9] = [0.6, 1.0, 1.5, 0.8, 1.2, 1.0, 0.7, 1.3, 0.9];

/// What the camera sees of the things in a key of this neutral with a wash.
fn tiles(neutral: [f64; 3], wash: [f64; 3]) -> Vec<([f64; 2], f64)> {
    THINGS
        .iter()
        .zip(UNEVEN)
        .map(|(thing, uneven)| {
            let rgb = [0, 1, 2].map(|c| thing[c] * (neutral[c] + uneven * wash[c]));
            (log_chroma(rgb).expect("light"), 1.0 / THINGS.len() as f64)
        })
        .collect()
}

/// The white that is found for a key of `mired` with a wash, after an anchor in daylight; in degrees from the truth.
fn error(mired: f64, wash: [f64; 3], seen: Seen) -> f64 {
    let colour = camera();
    let eyes = Eyes::of(&colour);
    let anchor = Eye::of(&colour, white_at(7.0, 2.0)).expect("a white");
    let palette: Vec<([f64; 2], f64)> = tiles(neutral_of(anchor.chroma), [0.0; 3])
        .into_iter()
        .filter_map(|(chroma, share)| Some((anchor.colour(chroma)?, share)))
        .collect();
    let truth = Eye::of(&colour, white_at(mired, 2.0)).expect("a white");
    let neutral = neutral_of(truth.chroma);
    let found = explain(&eyes, &maps(&eyes, &palette), &tiles(neutral, wash), seen);
    let best = summit(&joint(&[Some(found)]).expect("a view")).expect("a white");
    let white = Eye::of(&colour, white_at(best.mired, best.duv)).expect("a white");
    reproduction(neutral, neutral_of(white.chroma))
}

#[test]
fn the_same_things_under_another_key_tell_its_white() {
    // 7000 to 3300 K.
    for mired in [4.0, 9.0, 14.0, 20.0] {
        let off = error(mired, [0.0; 3], Seen::default());
        assert!(off < 1.5, "{off:.2} degrees at row {mired}");
    }
}

#[test]
fn a_wash_that_was_seen_is_cleared_away() {
    let red = [0.35, 0.03, 0.02];
    let direction = red.map(|value| value / red[0]);
    let seen = Seen {
        glow: Some(direction),
        strongest: Some(direction),
    };
    for mired in [9.0, 14.0] {
        let off = error(mired, red, seen);
        // Without clearing, greys are as far off as this: what is found must be nearer by much.
        let colour = camera();
        let neutral = neutral_of(
            Eye::of(&colour, white_at(mired, 2.0))
                .expect("a white")
                .chroma,
        );
        let grey = [0, 1, 2].map(|c| neutral[c] + red[c]);
        let uncleared = reproduction(neutral, grey);
        assert!(
            uncleared > 4.0 && off < 0.5 * uncleared,
            "{off:.2} of {uncleared:.2} degrees at row {mired}"
        );
    }
}

#[test]
fn bodies_that_saw_one_cue_say_one_white_together() {
    let likely = |at: usize| {
        let scores = (0..180).map(|point| -((point as f32 - at as f32) / 10.0).powi(2));
        Some(super::unmix::Likelihoods {
            scores: scores.collect(),
            washes: Vec::new(),
            fit: 0.0,
        })
    };
    let both = summit(&joint(&[likely(60), None, likely(80)]).expect("views")).expect("a white");
    assert_eq!(both.point, 70);
    assert!(joint(&[None, None]).is_none());
    assert!(summit(&[f32::NEG_INFINITY; 4]).is_none());
}

#[test]
fn an_eye_sees_its_white_as_grey_and_goes_back() {
    let colour = camera();
    let eye = Eye::of(&colour, Chromaticity { x: 0.38, y: 0.38 }).expect("a white");
    let grey = eye.colour(eye.chroma).expect("a colour");
    assert!(grey.iter().all(|value| value.abs() < 1e-9), "{grey:?}");
    assert!(
        eye.luminance(eye.chroma)
            .is_some_and(|nats| nats.abs() < 1e-9)
    );
    let chroma = [0.31, -0.42];
    let back = eye
        .chroma_of(eye.colour(chroma).expect("a colour"))
        .expect("inside");
    assert!((0..2).all(|axis| (back[axis] - chroma[axis]).abs() < 1e-9));
}

#[test]
fn a_map_holds_what_was_put_on_it() {
    let map = Map::of([([0.4, -0.3], 3.0), ([-0.8, 0.5], 1.0), ([9.0, 0.0], 50.0)].into_iter());
    let (near, other, far) = (map.at([0.4, -0.3]), map.at([-0.8, 0.5]), map.at([0.0, 0.0]));
    assert!((near / other - 3.0).abs() < 0.3, "{near} {other}");
    assert!(far < 1e-6 && map.at([9.0, 0.0]) == 0.0);
    assert_eq!(Map::of(std::iter::empty()).at([0.0, 0.0]), 0.0);
}

/// Things at levels, brighter by `nats`.
fn surfaces(nats: f64) -> Vec<Surface> {
    THINGS
        .iter()
        .enumerate()
        .map(|(at, thing)| {
            let colour = [(thing[0] / thing[1]).ln(), (thing[2] / thing[1]).ln()];
            (colour, thing[1].ln() + nats - 0.1 * at as f64, 0.1)
        })
        .collect()
}

fn told(nats: f64, hints: Hints) -> f64 {
    let known = Counts::of(&surfaces(0.0)).expect("surfaces");
    let own = Counts::of(&surfaces(nats)).expect("surfaces");
    together(&[Evidence::of(&known, &own, hints)])
        .expect("a level")
        .0
}

#[test]
fn the_same_things_tell_the_level_whatever_the_settings_were() {
    for nats in [-1.4, -0.35, 0.0, 0.8] {
        let alone = told(nats, Hints::default());
        assert!((alone - nats).abs() < 0.05, "{alone:.3} for {nats}");
        // Settings that were left where they were.
        let left = Hints {
            brightest: None,
            settings: Some(0.0),
        };
        let off = (told(nats, left) - nats).abs();
        assert!(off < 0.1, "{off:.3} at {nats}");
    }
    assert!(together(&[]).is_none());
    assert!(Counts::of(&[]).is_none());
}

#[test]
fn where_other_things_are_seen_the_settings_count() {
    let known = Counts::of(&surfaces(0.0)).expect("surfaces");
    let others: Vec<Surface> = (0..9)
        .map(|at| {
            (
                [0.9 - 0.2 * f64::from(at), 0.8],
                -1.0 - 0.3 * f64::from(at),
                0.1,
            )
        })
        .collect();
    let own = Counts::of(&others).expect("surfaces");
    let hints = Hints {
        brightest: Some(0.55),
        settings: Some(0.45),
    };
    let (nats, _) = together(&[Evidence::of(&known, &own, hints)]).expect("a level");
    assert!((0.4..0.6).contains(&nats), "{nats:.3}");
}

#[test]
fn no_frames_pool_to_nothing() {
    let pool = Pool::of(std::iter::empty());
    assert_eq!((pool.frames(), pool.count), (0, 0));
    assert!(pool.colours().is_empty() && pool.glow.is_none() && pool.exposure.is_none());
}
