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
    let levels = from.level.zip(to.level);
    let weight =
        |level: fn((CueLevel, CueLevel)) -> f64| levels.map_or(1.0, |both| level(both).exp2());
    let weights = (
        (1.0 - t) * weight(|(from, _)| from.difference),
        t * weight(|(_, to)| to.difference),
    );
    let colour = &show.frames[at].colour;
    let white = colour
        .neutral_of_white(from.white)
        .and_then(|a| {
            let b = colour.neutral_of_white(to.white)?;
            // Both have green 1, so the sum's green is the sum of the weights.
            let whole = weights.0 + weights.1;
            let mixed =
                [0, 1, 2].map(|channel| (weights.0 * a[channel] + weights.1 * b[channel]) / whole);
            colour.white_of_neutral(mixed)
        })
        .unwrap_or(if t < 0.5 { from.white } else { to.white });
    let wished = Stops(mix(from.wished.0, to.wished.0));
    let mut level = None;
    let stops = match levels.filter(|_| !from.as_shot && !to.as_shot) {
        Some((a, b)) => {
            let mixed = CueLevel {
                difference: (weights.0 + weights.1).log2(),
                share: mix(a.share, b.share),
            };
            level = Some(mixed);
            Stops(mixed.held(show, show.evened(at).is_some()).0.0 + wished.0)
        }
        None => Stops(mix(own_stops(show, at, from), own_stops(show, at, to))),
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

/// A setting's stops; of one that is left as shot, those that undo what evening out did.
fn own_stops(show: &Show<'_>, at: usize, setting: &Setting) -> f64 {
    if setting.as_shot {
        let evened = show.evened(at).map_or(0.0, |(_, applied)| applied.0);
        -(show.base.gain.log2() + evened)
    } else {
        setting.stops.0
    }
}
