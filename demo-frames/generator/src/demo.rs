//! The fixed show of `demo-frames`: one night of the invented band Glasswort Signal at the invented Lime Kiln Hall.

use crate::SimulatorError;
use crate::dng::Storage;
use crate::files::show_files;
use crate::lamp::{KeyLamp, WashColour};
use crate::plan::{CuePlan, FramePlan, Framing, KeyPlan, SetPlan, ShowPlan, WashFrom, WashPlan};
use crate::settings::Exposure;
use crate::show::Show;

use Framing::{Chart, CloseUp, HalfLength, Stage, Wide};
use Storage::{LosslessJpeg, Packed, Uncompressed};

/// Shorthand of a frame: body, framing, portrait, time's denominator, f-number times ten, ISO, seconds since the last.
const fn frame(
    body: usize,
    framing: Framing,
    portrait: bool,
    exposure: (u32, u32, u32),
    storage: Storage,
    after_seconds: f64,
) -> FramePlan {
    FramePlan {
        body,
        framing,
        portrait,
        exposure: Exposure {
            time: (1, exposure.0),
            f_number_tenths: exposure.1,
            iso: exposure.2,
        },
        storage,
        after_seconds,
    }
}

const fn key(lamp: KeyLamp, stops: f64) -> KeyPlan {
    KeyPlan {
        lamp,
        stops,
        spot: false,
        follows: 0,
    }
}

const fn spot(lamp: KeyLamp, stops: f64, follows: usize) -> KeyPlan {
    KeyPlan {
        lamp,
        stops,
        spot: true,
        follows,
    }
}

const fn wash(colour: WashColour, power: f64, from: WashFrom, on_performers: f64) -> WashPlan {
    WashPlan {
        colour,
        power,
        from,
        on_performers,
    }
}

fn cue(
    name: &str,
    keys: Vec<KeyPlan>,
    washes: Vec<WashPlan>,
    haze: f64,
    fade_gap: (f64, f64),
    frames: Vec<FramePlan>,
) -> CuePlan {
    CuePlan {
        name: name.to_owned(),
        frames,
        keys,
        washes,
        haze,
        fade_seconds: fade_gap.0,
        gap_seconds: fade_gap.1,
        costume: 0,
    }
}

/// The plan of the demo show.
fn demo_plan() -> ShowPlan {
    use WashFrom::{Back, Front, Sides};
    let mut cues = vec![
        cue(
            "1 opening",
            vec![key(KeyLamp::MetalHalide, 0.0)],
            vec![wash(WashColour::Blue, 0.25, Back, 0.006)],
            0.1,
            (0.0, 0.0),
            vec![
                frame(0, Stage, false, (250, 28, 800), LosslessJpeg, 0.2),
                frame(0, Chart, false, (250, 28, 800), Uncompressed, 5.3),
                frame(1, HalfLength(0), true, (320, 28, 1250), LosslessJpeg, 3.1),
                frame(0, HalfLength(1), false, (250, 28, 800), LosslessJpeg, 4.7),
                frame(1, CloseUp(0), false, (320, 28, 1250), Packed, 2.9),
            ],
        ),
        cue(
            "2 amber song",
            vec![key(KeyLamp::Tungsten(3200.0), -0.6)],
            vec![
                wash(WashColour::Amber, 0.7, Back, 0.08),
                wash(WashColour::Magenta, 0.8, Back, 0.05),
            ],
            0.55,
            (1.5, 9.0),
            vec![
                frame(0, HalfLength(0), true, (250, 28, 1250), LosslessJpeg, 0.3),
                frame(0, Wide, false, (250, 28, 1250), LosslessJpeg, 6.2),
                frame(1, HalfLength(2), false, (250, 28, 1600), LosslessJpeg, 4.4),
                frame(1, HalfLength(3), false, (250, 28, 1600), LosslessJpeg, 3.8),
            ],
        ),
        cue(
            "3 congo ballad",
            vec![spot(KeyLamp::Xenon, -0.3, 0)],
            vec![
                wash(WashColour::Congo, 0.9, Back, 0.14),
                wash(WashColour::Blue, 0.3, Sides, 0.08),
            ],
            0.7,
            (2.0, 12.0),
            vec![
                frame(0, CloseUp(0), false, (200, 28, 1000), LosslessJpeg, 2.6),
                frame(1, HalfLength(0), true, (200, 28, 1250), LosslessJpeg, 3.7),
                frame(0, Stage, false, (200, 28, 1000), Packed, 5.1),
            ],
        ),
        cue(
            "4 full front",
            vec![key(KeyLamp::LedBluePump, -0.2)],
            vec![
                wash(WashColour::Cyan, 0.6, Back, 0.06),
                wash(WashColour::Magenta, 0.5, Front, 0.12),
            ],
            0.45,
            (0.0, 15.0),
            vec![
                frame(1, Wide, false, (320, 28, 1600), LosslessJpeg, 0.2),
                frame(0, HalfLength(1), true, (320, 28, 1250), LosslessJpeg, 2.8),
                frame(0, Chart, false, (320, 28, 1250), LosslessJpeg, 2.3),
                frame(1, CloseUp(2), false, (320, 28, 1600), LosslessJpeg, 4.6),
            ],
        ),
        cue(
            "5 no key",
            vec![],
            vec![
                wash(WashColour::Red, 0.9, Back, 0.05),
                wash(WashColour::Blue, 0.45, Sides, 0.05),
            ],
            0.8,
            (0.2, 8.0),
            vec![frame(0, Stage, false, (200, 28, 2000), LosslessJpeg, 3.0)],
        ),
        cue(
            "6 blackout",
            vec![],
            vec![wash(WashColour::Blue, 0.01, Sides, 0.02)],
            0.3,
            (0.0, 4.0),
            vec![frame(1, Stage, false, (250, 28, 1600), LosslessJpeg, 0.3)],
        ),
        cue(
            "7 finale",
            vec![
                key(KeyLamp::LedThreeBand, 0.3),
                spot(KeyLamp::Xenon, -0.6, 0),
            ],
            vec![
                wash(WashColour::Amber, 2.2, Back, 0.03),
                wash(WashColour::Green, 0.6, Sides, 0.04),
            ],
            0.6,
            (0.0, 11.0),
            vec![
                frame(0, Wide, false, (400, 28, 1000), LosslessJpeg, 0.2),
                frame(0, HalfLength(0), false, (400, 28, 1000), LosslessJpeg, 2.4),
                frame(1, HalfLength(1), true, (400, 28, 1250), LosslessJpeg, 1.9),
            ],
        ),
    ];
    // The opening comes back for the last song, its level ridden down.
    let mut encore = cues[0].clone();
    encore.name = "8 encore".to_owned();
    encore.keys = vec![key(KeyLamp::MetalHalide, -0.7)];
    encore.washes = vec![wash(WashColour::Blue, 0.35, Back, 0.04)];
    encore.haze = 0.35;
    encore.fade_seconds = 2.5;
    encore.gap_seconds = 30.0;
    encore.frames = vec![
        frame(0, Stage, false, (320, 28, 1000), LosslessJpeg, 0.3),
        frame(1, CloseUp(1), false, (250, 28, 2000), LosslessJpeg, 3.9),
        frame(0, CloseUp(2), true, (250, 28, 1250), LosslessJpeg, 4.1),
    ];
    cues.push(encore);
    ShowPlan {
        seed: 20_260_509,
        size: [720, 480],
        bodies: 2,
        cues,
        set: SetPlan {
            drape: 2,
            key_on_drape: 0.12,
            chart: true,
        },
        // 20:47:12 on an invented night.
        start: ([2026, 5, 9], 74_832_000),
    }
}

/// The fixed show.
///
/// # Errors
/// When a compiled-in table is damaged.
pub fn demo_show() -> Result<Show, SimulatorError> {
    Show::new(demo_plan())
}

/// Frame of the demo show that is its reference.
const REFERENCE: usize = 0;

/// Names and contents of every file of `demo-frames` that is made: the frames and `truth.json`.
///
/// # Errors
/// When a compiled-in table is damaged.
pub fn demo_files() -> Result<Vec<(String, Vec<u8>)>, SimulatorError> {
    show_files(&demo_show()?, REFERENCE)
}
