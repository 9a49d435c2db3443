//! The light of the demo frames, held against what is known of them because they were drawn. `--nocapture` prints the
//! figures of every frame.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and says what it found"
)]

use houselights::colour::angle::reproduction;
use houselights::light::patch::{Patch, PatchMeasure};
use houselights::light::reading::Reading;
use houselights::light::reference::TRUSTED_CONFIDENCE;
use houselights::light::{measure_patches, read_light};
use houselights::raw::frame::Frame;
use serde_json::Value;
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo-frames")
}

fn truth() -> Value {
    let text =
        std::fs::read_to_string(folder().join("truth.json")).expect("the truth of the demo frames");
    serde_json::from_str(&text).expect("JSON")
}

fn frame(truth: &Value) -> Frame {
    let name = truth["file"].as_str().expect("a name");
    houselights::raw::read_frame(&folder().join(name)).expect("a demo frame decodes")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn triple(value: &Value) -> Option<[f64; 3]> {
    let list = value.as_array()?;
    Some([0, 1, 2].map(|at| number(&list[at])))
}

/// Grey patches of a frame that hardly any wash reaches, lit by its keys alone.
fn grey_patches(truth: &Value) -> Vec<Patch> {
    /// Share of wash in a patch's light that still leaves the key's white: half a degree at most.
    const MOST_WASH: f64 = 0.012;
    /// A surface whose chroma under its key is below this is grey. CIELAB.
    const MOST_CHROMA: f64 = 1.5;
    /// Darker greys show the lens's flare and the haze beside the key: 1.1 degrees at L* 36.
    const LEAST_LIGHTNESS: f64 = 45.0;
    let patches = truth["patches"].as_array().expect("patches");
    patches
        .iter()
        .filter(|patch| {
            let lab = triple(&patch["lab"]).expect("Lab");
            number(&patch["wash_share"]) < MOST_WASH
                && lab[1].hypot(lab[2]) < MOST_CHROMA
                && lab[0] > LEAST_LIGHTNESS
        })
        .map(|patch| Patch {
            x: number(&patch["at"][0]),
            y: number(&patch["at"][1]),
            radius: number(&patch["radius"]),
        })
        .collect()
}

#[test]
fn a_neutral_patch_gives_the_white_of_the_key_within_a_degree() {
    let truth = truth();
    let name = truth["reference"].as_str().expect("a reference");
    let frames = truth["frames"].as_array().expect("frames");
    let known = frames
        .iter()
        .find(|f| f["file"] == name)
        .expect("the reference");
    let neutral = triple(&known["key"]["camera_neutral"]).expect("a key");
    let patches = grey_patches(known);
    assert!(patches.len() >= 2, "the reference has a chart");
    let drawn = frame(known);
    for patch in &patches {
        let measure = measure_patches(&drawn, &[*patch]).expect("a good patch");
        let off = reproduction(neutral, measure.neutral);
        eprintln!("{patch:?}: {off:.2} degrees");
        assert!(off < 1.0, "{patch:?}: {off}");
    }
    let all: PatchMeasure = measure_patches(&drawn, &patches).expect("good patches");
    assert!(
        reproduction(neutral, all.neutral) < 0.7 && all.odd_one().is_none(),
        "{all:?}"
    );
}

/// What each frame's reading says beside its truth.
fn readings(truth: &Value) -> Vec<(Value, Reading)> {
    let frames = truth["frames"].as_array().expect("frames");
    frames
        .iter()
        .map(|known| (known.clone(), read_light(&frame(known), None)))
        .collect()
}

#[test]
fn readings_of_a_show_that_is_known() {
    let truth = truth();
    let readings = readings(&truth);
    let (mut trusted, mut with_key) = (0, 0);
    let mut levels: Vec<(String, f64, f64)> = Vec::new();
    for (known, reading) in &readings {
        let name = known["file"].as_str().expect("a name");
        let lit = reading.lit.map_or(0.0, |lit| lit.share);
        let confidence = reading
            .estimate
            .as_ref()
            .map_or(0.0, |estimate| estimate.confidence);
        let Some(neutral) = triple(&known["key"]["camera_neutral"]) else {
            eprintln!(
                "{name} {}: no key, confidence {confidence:.2}, lit {lit:.2}",
                known["cue"]
            );
            assert!(
                confidence < TRUSTED_CONFIDENCE,
                "{name} has no key and is not trusted"
            );
            continue;
        };
        with_key += 1;
        let as_shot = triple(&known["as_shot_neutral"]).expect("as shot");
        let off = reading
            .estimate
            .as_ref()
            .map_or(f64::NAN, |estimate| reproduction(neutral, estimate.neutral));
        let opinions: Vec<String> = reading
            .estimate
            .iter()
            .flat_map(|estimate| &estimate.opinions)
            .map(|opinion| {
                format!(
                    "{:?} {:.1} ({:.2})",
                    opinion.method,
                    reproduction(neutral, opinion.neutral),
                    opinion.weight
                )
            })
            .collect();
        eprintln!(
            "{name} {}: estimate {off:.2} degrees, confidence {confidence:.2}, as shot {:.2}; lit {lit:.2} of {:.2}; {}",
            known["cue"],
            reproduction(neutral, as_shot),
            number(&known["lit_share"]),
            opinions.join(", ")
        );
        if confidence >= TRUSTED_CONFIDENCE {
            trusted += 1;
            // What an even wash on the performer leaves; the bodies' own automatic is up to 7.0 degrees off.
            assert!(off < 4.0, "{name}: {off}");
        }
        let settled = number(&known["arrived"]) >= 1.0;
        if let Some(level) = reading
            .lit
            .and_then(|lit| lit.key_level)
            .filter(|_| settled)
        {
            let exposure = number(&known["exposure_seconds"]) * number(&known["iso"])
                / number(&known["f_number"]).powi(2);
            let body = known["body"].as_str().expect("a body").to_owned();
            levels.push((
                body,
                (level / exposure).log2() - number(&known["key"]["stops"]),
                number(&known["key"]["stops"]),
            ));
        }
    }
    eprintln!("trusted {trusted} of {with_key} frames with a key");
    assert!(trusted >= 4, "some frames can be read without a person");
    let mut bodies: Vec<String> = levels.iter().map(|(body, _, _)| body.clone()).collect();
    bodies.sort();
    bodies.dedup();
    for body in bodies {
        let of: Vec<f64> = levels
            .iter()
            .filter(|level| level.0 == body)
            .map(|level| level.1)
            .collect();
        let mean = of.iter().sum::<f64>() / of.len() as f64;
        let spread = (of.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / of.len() as f64).sqrt();
        eprintln!(
            "{body}: the key's level is told within {spread:.2} stops over {} frames",
            of.len()
        );
        // What a frame shows changes; the median of the region would be told within half a stop.
        assert!(spread < 0.45, "{body}: {spread}");
    }
}
