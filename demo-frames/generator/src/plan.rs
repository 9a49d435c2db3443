//! What a show is to be: cues with their keys and washes, frames, bodies. Plain values that a test can write down or
//! draw by lot.

use crate::chance::Chance;
use crate::dng::Storage;
use crate::lamp::{KeyLamp, WashColour};
use crate::settings::Exposure;

/// A show's parameters. Equal plans make equal bytes.
#[derive(Clone, Debug, PartialEq)]
pub struct ShowPlan {
    /// Everything left to chance comes from this.
    pub seed: u64,
    /// Width and height of the picture of a landscape frame, photosites; even numbers, at least 32.
    pub size: [usize; 2],
    /// How many bodies take turns: 1 or 2.
    pub bodies: usize,
    /// The cues in order.
    pub cues: Vec<CuePlan>,
    /// What the set is like.
    pub set: SetPlan,
    /// Start of the first cue on the first body's clock: year, month, day and milliseconds since midnight.
    pub start: ([u16; 3], u64),
}

/// One lighting state.
#[derive(Clone, Debug, PartialEq)]
pub struct CuePlan {
    /// Name, unique in the show when the states differ; two cues of one name are the same state come back.
    pub name: String,
    /// The frames in it, in order.
    pub frames: Vec<FramePlan>,
    /// The keys; the first counts as the key of the cue's truth. Empty for a cue of pure wash.
    pub keys: Vec<KeyPlan>,
    /// The washes.
    pub washes: Vec<WashPlan>,
    /// Haze in the air: 0 none, 1 thick.
    pub haze: f64,
    /// Seconds over which this cue comes in; frames in that time see both states.
    pub fade_seconds: f64,
    /// Seconds of pause before it.
    pub gap_seconds: f64,
    /// Which set of clothes is worn.
    pub costume: u32,
}

/// A key: light near white on a performer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeyPlan {
    /// The lamp.
    pub lamp: KeyLamp,
    /// Level in stops against [`KEY_LUX`]; dims tungsten in colour, too.
    pub stops: f64,
    /// Whether a narrow spot on one performer rather than the whole front.
    pub spot: bool,
    /// Which performer a spot follows: 0 singer, 1 guitar, 2 bass, 3 drums.
    pub follows: usize,
}

/// Illuminance of a key at 0 stops, lux.
pub const KEY_LUX: f64 = 1000.0;

/// Where a wash comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WashFrom {
    /// The back truss: rims on hair and shoulders, beams in the air.
    Back,
    /// Both sides, low.
    Sides,
    /// The front, near to the key's direction: its shading follows the key's.
    Front,
}

/// A wash.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WashPlan {
    /// Its colour.
    pub colour: WashColour,
    /// Radiant power against that of [`KEY_LUX`] of equal-energy light, where it is full.
    pub power: f64,
    /// Where from.
    pub from: WashFrom,
    /// Share of it that reaches the performers' fronts by air and bounce: 0.03 dark, 0.3 strong.
    pub on_performers: f64,
}

/// Which part of the stage a frame shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Framing {
    /// The whole stage from behind the crowd.
    Wide,
    /// The stage from the pit.
    Stage,
    /// A performer head to knee.
    HalfLength(usize),
    /// A performer head and shoulders.
    CloseUp(usize),
    /// Chart, card and case at the singer's side.
    Chart,
}

/// One exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FramePlan {
    /// Which body.
    pub body: usize,
    /// What it shows.
    pub framing: Framing,
    /// Whether the body is turned.
    pub portrait: bool,
    /// Its settings.
    pub exposure: Exposure,
    /// How it is stored.
    pub storage: Storage,
    /// Seconds since the frame before.
    pub after_seconds: f64,
}

/// The set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SetPlan {
    /// Which drape hangs behind: 0 black, 1 wine, 2 grey-green.
    pub drape: usize,
    /// How much of a key reaches the drape: 0 none, 1 all.
    pub key_on_drape: f64,
    /// Whether chart and grey card are on stage.
    pub chart: bool,
}

/// What a show drawn by lot is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Wishes {
    /// Picture size.
    pub size: [usize; 2],
    /// How many cues.
    pub cues: usize,
    /// Least and most frames of a cue.
    pub frames: [usize; 2],
    /// 1 or 2 bodies.
    pub bodies: usize,
    /// The keys to draw from; the first cue takes the first.
    pub keys: Vec<KeyLamp>,
    /// The wash colours to draw from.
    pub washes: Vec<WashColour>,
    /// Least and most share of washes on performers' fronts.
    pub on_performers: [f64; 2],
    /// Factor on the washes' reach and on the haze in the first cue, so that its grey card is lit by the key alone, or
    /// nearly so. At 1 the reference is as contaminated as any other frame.
    pub reference_wash: f64,
    /// Longest cross-fade, seconds; 0 for cuts only.
    pub longest_fade: f64,
    /// Longest pause between cues, seconds.
    pub longest_gap: f64,
    /// Chance of a cue without a key.
    pub keyless: f64,
    /// Chance of a cue with two keys.
    pub two_keys: f64,
    /// Chance of a change of clothes at a cue.
    pub costume_change: f64,
    /// Largest stop by which a key is ridden up or down.
    pub ridden_stops: f64,
}

impl Default for Wishes {
    fn default() -> Self {
        Self {
            size: [144, 96],
            cues: 5,
            frames: [2, 8],
            bodies: 2,
            keys: vec![
                KeyLamp::Daylight,
                KeyLamp::Tungsten(3200.0),
                KeyLamp::Xenon,
                KeyLamp::MetalHalide,
                KeyLamp::LedBluePump,
                KeyLamp::LedVioletPump,
                KeyLamp::LedThreeBand,
            ],
            washes: WashColour::ALL.to_vec(),
            on_performers: [0.04, 0.2],
            reference_wash: 0.05,
            longest_fade: 2.0,
            longest_gap: 20.0,
            keyless: 0.1,
            two_keys: 0.15,
            costume_change: 0.15,
            ridden_stops: 1.0,
        }
    }
}

/// Base exposure of shows drawn by lot: about half of full for a white under a key at 0 stops.
const DRAWN_EXPOSURE: Exposure = Exposure {
    time: (1, 250),
    f_number_tenths: 28,
    iso: 800,
};

impl ShowPlan {
    /// A show drawn by lot. Its first cue has a key, the chart on stage, and no fade.
    #[must_use]
    pub fn drawn(seed: u64, wishes: &Wishes) -> Self {
        let mut chance = Chance::new(seed, 1);
        let mut costume = 0;
        let cues = (0..wishes.cues)
            .map(|number| {
                if number > 0 && chance.share() < wishes.costume_change {
                    costume += 1;
                }
                drawn_cue(&mut chance, wishes, number, costume)
            })
            .collect();
        Self {
            seed,
            size: wishes.size,
            bodies: wishes.bodies.clamp(1, 2),
            cues,
            set: SetPlan {
                drape: chance.one_of(3),
                key_on_drape: if chance.share() < 0.5 {
                    0.0
                } else {
                    chance.between(0.05, 0.4)
                },
                chart: true,
            },
            start: ([2026, 5, 9], 75_000_000),
        }
    }
}

fn drawn_cue(chance: &mut Chance, wishes: &Wishes, number: usize, costume: u32) -> CuePlan {
    let first = number == 0;
    let mut keys = Vec::new();
    let key_draw = chance.share();
    if !wishes.keys.is_empty() && (first || key_draw >= wishes.keyless) {
        let count = if !first && chance.share() < wishes.two_keys {
            2
        } else {
            1
        };
        for key in 0..count {
            let lamp = wishes.keys[if first {
                0
            } else {
                chance.one_of(wishes.keys.len())
            }];
            let ridden = chance.between(-wishes.ridden_stops, wishes.ridden_stops * 0.5);
            keys.push(KeyPlan {
                lamp,
                stops: if first { 0.0 } else { ridden - key as f64 },
                spot: !first && chance.share() < 0.5,
                follows: chance.one_of(3),
            });
        }
    }
    let wash_count = if wishes.washes.is_empty() {
        0
    } else {
        1 + chance.one_of(2)
    };
    let reach = if first { wishes.reference_wash } else { 1.0 };
    let washes = (0..wash_count)
        .map(|_| WashPlan {
            colour: wishes.washes[chance.one_of(wishes.washes.len())],
            power: chance.between(0.4, 1.6),
            from: [
                WashFrom::Back,
                WashFrom::Back,
                WashFrom::Sides,
                WashFrom::Front,
            ][chance.one_of(4)],
            on_performers: reach * chance.between(wishes.on_performers[0], wishes.on_performers[1]),
        })
        .collect();
    let least = wishes.frames[0].max(1);
    let count = least + chance.one_of(wishes.frames[1].max(least) - least + 1);
    // A photographer follows the level of the light with the settings, in thirds of a stop and not exactly.
    let level = keys.first().map_or(-1.5, |key: &KeyPlan| key.stops);
    // Whoever stands in a spot is who gets photographed, mostly.
    let followed = keys.iter().find(|key| key.spot).map(|key| key.follows);
    let frames = (0..count)
        .map(|frame| drawn_frame(chance, wishes, level, followed, first && frame == 0))
        .collect();
    CuePlan {
        name: format!("cue {}", number + 1),
        frames,
        keys,
        washes,
        haze: reach.sqrt() * chance.between(0.15, 0.9),
        fade_seconds: if first || chance.share() < 0.4 {
            0.0
        } else {
            chance.between(0.0, wishes.longest_fade)
        },
        gap_seconds: chance.between(0.0, wishes.longest_gap),
        costume,
    }
}

/// ISO speeds in thirds of a stop.
const ISO_THIRDS: [u32; 16] = [
    320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 10_000,
];

fn drawn_frame(
    chance: &mut Chance,
    wishes: &Wishes,
    level: f64,
    followed: Option<usize>,
    reference: bool,
) -> FramePlan {
    let who = followed
        .filter(|_| chance.share() < 0.8)
        .unwrap_or_else(|| chance.one_of(3));
    let framing = match chance.one_of(7) {
        _ if reference => Framing::Stage,
        0 => Framing::Wide,
        1 | 2 => Framing::Stage,
        3 | 4 => Framing::HalfLength(who),
        5 => Framing::CloseUp(who),
        _ => Framing::Chart,
    };
    let wanted = 4.0 - 3.0 * (level + chance.between(-0.5, 0.5));
    let iso = ISO_THIRDS[wanted.round().clamp(0.0, (ISO_THIRDS.len() - 1) as f64) as usize];
    FramePlan {
        body: if reference {
            0
        } else {
            chance.one_of(wishes.bodies.clamp(1, 2))
        },
        framing,
        portrait: !reference && chance.share() < 0.3,
        exposure: Exposure {
            iso: if reference { DRAWN_EXPOSURE.iso } else { iso },
            ..DRAWN_EXPOSURE
        },
        storage: Storage::LosslessJpeg,
        after_seconds: if chance.share() < 0.4 {
            chance.between(0.12, 0.8)
        } else {
            chance.between(1.0, 9.0)
        },
    }
}
