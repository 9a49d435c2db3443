//! Camera colour under the lights of a stage: the chart in front of both bodies of the simulator, under a discharge lamp,
//! daylight, two kinds of LED and tungsten, without haze or wash and with little noise, rendered with the true white of the
//! key. `--nocapture` prints the figures.
//!
//! The chart's reflectances are those of Pascale 2006 (mean of 30 charts), lamps and sensor are measured (see the
//! generator's tables), the observer is CIE 1931 (CIE 015); CIELAB and CIEDE2000 (Sharma, Wu and Dalal 2005) are relative
//! to D65. The bodies are calibrated on other reflectances, and under none of these lamps but the LED with a blue pump.

#![allow(
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and says what it found"
)]

mod chart_support;

use chart_support::differences;
use houselights::raw::read_frame;
use stage_simulator::{
    CuePlan, Exposure, FramePlan, Framing, KeyLamp, KeyPlan, SetPlan, Show, ShowPlan, Storage,
};

/// Most mean CIEDE2000 over the chart, under tungsten and under the others: what a picture may differ before a person with
/// both side by side sees it everywhere (common practice, no source).
const TUNGSTEN: f64 = 1.5;
const OTHERS: f64 = 1.0;
/// The same for body one under the LED with a violet pump, whose peak at 415 nm no calibration light has. It is no
/// calibration that is missing: with this very lamp in place of the LED with a blue pump it would be 1.13. Measured: 1.10.
const BODY_ONE_VIOLET_PUMP: f64 = 1.2;

fn show(lamps: &[KeyLamp]) -> Show {
    let frame = |body| FramePlan {
        body,
        framing: Framing::Chart,
        portrait: false,
        exposure: Exposure {
            time: (1, 31),
            f_number_tenths: 28,
            iso: 100,
        },
        storage: Storage::Uncompressed,
        after_seconds: 1.0,
    };
    let cues = lamps
        .iter()
        .map(|&lamp| CuePlan {
            name: lamp.name(),
            frames: vec![frame(0), frame(1)],
            keys: vec![KeyPlan {
                lamp,
                stops: 0.0,
                spot: false,
                follows: 0,
            }],
            washes: Vec::new(),
            haze: 0.0,
            fade_seconds: 0.0,
            gap_seconds: 1.0,
            costume: 0,
        })
        .collect();
    let plan = ShowPlan {
        seed: 7,
        size: [744, 496],
        bodies: 2,
        cues,
        set: SetPlan {
            drape: 0,
            key_on_drape: 0.0,
            chart: true,
        },
        start: ([2026, 3, 1], 72_000_000),
    };
    Show::new(plan).expect("a show")
}

#[test]
fn the_chart_has_its_colours_under_every_light() {
    let lamps = [
        KeyLamp::MetalHalide,
        KeyLamp::Xenon,
        KeyLamp::Daylight,
        KeyLamp::LedBluePump,
        KeyLamp::LedVioletPump,
        KeyLamp::Tungsten(3200.0),
    ];
    let show = show(&lamps);
    let folder = tempfile::tempdir().expect("a folder");
    for index in 0..show.len() {
        let made = show.frame(index).expect("a frame");
        let path = folder.path().join(&made.truth.file);
        std::fs::write(&path, made.dng()).expect("writes");
        let frame = read_frame(&path).expect("decodes");
        assert_eq!(frame.colour.calibrations.len(), 3);
        let key = made.truth.key.as_ref().expect("a key");
        let white = frame.colour.white_of_neutral(key.camera_neutral);
        let white = white.expect("the key's white");
        let truth = serde_json::to_value(&made.truth).expect("JSON");
        let found = differences(&frame, white, &truth);
        assert!(found.len() >= 22, "too few patches to judge by");
        let mean = found.iter().map(|(_, value)| value).sum::<f64>() / found.len() as f64;
        let (worst, greatest) = found
            .iter()
            .max_by(|one, other| one.1.total_cmp(&other.1))
            .expect("patches");
        let lamp = lamps[index / 2];
        eprintln!(
            "{} body {}: mean {mean:.2}, greatest {greatest:.2} ({worst})",
            lamp.name(),
            index % 2 + 1
        );
        let limit = match (index % 2, lamp) {
            (0, KeyLamp::LedVioletPump) => BODY_ONE_VIOLET_PUMP,
            (_, KeyLamp::Tungsten(_)) => TUNGSTEN,
            _ => OTHERS,
        };
        assert!(mean <= limit, "{}: {mean:.2}", lamp.name());
    }
}
