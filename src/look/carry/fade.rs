//! What a frame in a cross-fade gets: the two keys' light mixes on the stage, so their light is mixed here too.
//!
//! Of two keys with neutrals n and levels L, of which the coming one has arrived to a share t, a grey thing sends
//! (1 - t) L₁ n₁ + t L₂ n₂ to the sensor. That sum's colour is the white; its green against the reference's is the level,
//! on which the look's policy acts as on any other. Mixing two whites or two multipliers instead would let a dim key count
//! as much as a bright one.

use super::Show;
use super::level::CueLevel;
use super::plan::Setting;
use crate::base::units::Stops;
use crate::look::correction::Levels;
use crate::look::reason::Reason;

/// What lies between two cues.
pub(super) fn between(
    show: &Show<'_>,
    at: usize,
    from: &Setting,
    to: &Setting,
    arrived: f64,
) -> Setting {
    let t = arrived.max(0.0).min(1.0);
    if t <= 0.0 {
        return from.clone();
    }
    if t >= 1.0 {
        return to.clone();
    }
    let mix = |a: f64, b: f64| (1.0 - t) * a + t * b;
    let wished = Stops(mix(from.wished.0, to.wished.0));
    let is_as_shot = from.as_shot || to.as_shot;
    let lights = match (from.level, to.level) {
        (Some(a), Some(b)) => {
            let weights = ((1.0 - t) * a.difference.exp2(), t * b.difference.exp2());
            Lights {
                weights,
                light: weights.0 + weights.1,
                share: mix(a.share, b.share),
                held: 1.0,
            }
        }
        (Some(a), None) => Lights::of_one(a, t),
        (None, Some(b)) => Lights::of_one(b, 1.0 - t).turned(),
        (None, None) => Lights {
            weights: (1.0 - t, t),
            light: 1.0,
            share: 0.0,
            held: 0.0,
        },
    };
    let colour = &show.frames[at].colour;
    let white = colour
        .neutral_of_white(from.white)
        .and_then(|a| {
            let b = colour.neutral_of_white(to.white)?;
            // Both have green 1, so the sum's green is the sum of the weights.
            let whole = lights.weights.0 + lights.weights.1;
            let mixed = [0, 1, 2].map(|channel| {
                (lights.weights.0 * a[channel] + lights.weights.1 * b[channel]) / whole
            });
            colour.white_of_neutral(mixed)
        })
        .unwrap_or(if t < 0.5 { from.white } else { to.white });
    let level = (lights.held > 0.0 && !is_as_shot).then(|| lights.level());
    let apart = mix(own_stops(show, at, from), own_stops(show, at, to));
    let stops = match level {
        Some(level) => {
            let (held, _) = level.held(show, show.evened(at).is_some());
            Stops(lights.held * (held.0 + wished.0) + (1.0 - lights.held) * apart)
        }
        None => Stops(apart),
    };
    Setting {
        white,
        stops,
        levels: Levels {
            black: mix(from.levels.black, to.levels.black),
            middle: mix(from.levels.middle, to.levels.middle),
            white: mix(from.levels.white, to.levels.white),
        },
        level,
        wished,
        as_shot: false,
        reasons: vec![Reason::InFade { arrived: t, stops }],
    }
}

/// The light of two cues in a frame between them.
struct Lights {
    /// What each sends, by its green.
    weights: (f64, f64),
    /// Green of the keys among them together, against the reference's.
    light: f64,
    /// How far their level is followed, 0 to 1.
    share: f64,
    /// How much of the frame's change of level is that of the lights' sum, 0 to 1; the rest lies between the two cues' own.
    held: f64,
}

impl Lights {
    /// A key that goes to a share `gone`, to where there is none. What is left of it stays the only key, so the white stays
    /// its own until little is left, and its level is held less and less: a fade to black becomes black.
    fn of_one(key: CueLevel, gone: f64) -> Self {
        let left = (1.0 - gone) * key.difference.exp2();
        Self {
            weights: (1.0 - gone, gone.powi(4)),
            light: left,
            share: key.share,
            held: 1.0 - gone,
        }
    }

    fn turned(self) -> Self {
        Self {
            weights: (self.weights.1, self.weights.0),
            ..self
        }
    }

    /// The level of the keys' light.
    fn level(&self) -> CueLevel {
        CueLevel {
            difference: self.light.log2(),
            share: self.share,
        }
    }
}

/// A setting's stops; of one that is left as shot, those that undo what evening out did.
fn own_stops(show: &Show<'_>, at: usize, setting: &Setting) -> f64 {
    if setting.as_shot {
        let evened = show.evened(at).map_or(0.0, |(_, applied)| applied.0);
        -(show.base.gain.log2() + evened)
    } else {
        setting.stops.0
    }
}
