//! The main job against the scene: a chart on the demo's stage, rendered with the white of the grey card beside it and no
//! taste at all, has the colours that its published reflectances have under the key. `--nocapture` prints the figures.
//!
//! The chart's reflectances are those of Pascale 2006 (mean of 30 charts), the key a measured metal halide lamp, the
//! observer CIE 1931 (CIE 015); CIELAB and CIEDE2000 (Sharma, Wu and Dalal 2005) are relative to D65.

#![allow(
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and says what it found"
)]

use houselights::base::bands::Threads;
use houselights::base::units::Chromaticity;
use houselights::colour::difference::ciede2000;
use houselights::colour::lab::{Lab, lab_of_xyz};
use houselights::colour::spaces::SRGB;
use houselights::colour::transfer::srgb_decode;
use houselights::light::measure_patches;
use houselights::light::patch::Patch;
use houselights::look::correction::Correction;
use houselights::render::{Rendered, Target, render};
use serde_json::Value;
use std::path::PathBuf;

/// The grey card in the reference frame, as the README's command gives it.
const CARD: Patch = Patch {
    x: 0.831,
    y: 0.828,
    radius: 0.02,
};
/// Share of wash that still leaves a patch the key's colour: its shift is then below the noise of the frame.
const MOST_WASH: f64 = 0.01;
/// Mean and greatest CIEDE2000 over a frame's chart, for the reference's own body. Most of it is the fit of a 3 x 3 matrix to
/// a real sensor under a discharge lamp that neither calibration light resembles; some is noise at ISO 800 and the card's
/// own tint.
const SAME_BODY: (f64, f64) = (1.5, 3.5);
/// The same for the other body, whose sensitivities are broader and whose orange is the worst of four patches that its frame
/// shows; measured, no source.
const OTHER_BODY: (f64, f64) = (3.2, 5.5);

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo-frames")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn triple(value: &Value) -> [f64; 3] {
    [0, 1, 2].map(|at| number(&value[at]))
}

/// What a patch of the picture shows: mean linear light as XYZ, white at Y = 1.
fn shown(picture: &Rendered, patch: &Value) -> [f64; 3] {
    let (x, y) = (number(&patch["at"][0]), number(&patch["at"][1]));
    let (width, height) = (picture.width as f64, picture.height as f64);
    // Inside the patch with room for the demosaic, which looks two pixels around.
    let reach = (number(&patch["radius"]) * width - 1.0).max(1.0);
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for row in (y * height - reach) as usize..=(y * height + reach) as usize {
        for column in (x * width - reach) as usize..=(x * width + reach) as usize {
            let at = 3 * (row * picture.width + column);
            for (channel, total) in sum.iter_mut().enumerate() {
                *total += srgb_decode(f64::from(picture.rgb[at + channel]) / 255.0);
            }
            count += 1.0;
        }
    }
    SRGB.to_xyz().apply(sum.map(|total| total / count))
}

fn plain(white: Chromaticity, gain: f64) -> Correction {
    Correction {
        gain,
        ..Correction::neutral(white)
    }
}

#[test]
fn chart_patches_have_the_colours_of_the_scene() {
    let truth: Value =
        serde_json::from_str(&std::fs::read_to_string(folder().join("truth.json")).expect("truth"))
            .expect("JSON");
    let read = |name: &str| houselights::raw::read_frame(&folder().join(name)).expect("decodes");
    let reference = read("one-0401.dng");
    let neutral = measure_patches(&reference, &[CARD])
        .expect("the card")
        .neutral;
    let white = reference
        .colour
        .white_of_neutral(neutral)
        .expect("the card's white");
    let d65 = Chromaticity::D65.to_xyz();
    // The second frame of the cue, and the second body by its own matrices: the white goes over as a chromaticity.
    for (name, least_patches, (mean_limit, greatest_limit)) in [
        ("one-0401.dng", 20, SAME_BODY),
        ("one-0402.dng", 20, SAME_BODY),
        ("two-0701.dng", 4, OTHER_BODY),
    ] {
        let frame = read(name);
        let frames = truth["frames"].as_array().expect("frames");
        let known = frames
            .iter()
            .find(|known| known["file"] == name)
            .expect("known");
        let patches: Vec<&Value> = known["patches"]
            .as_array()
            .expect("patches")
            .iter()
            .filter(|patch| patch["kind"] == "chart" && number(&patch["wash_share"]) < MOST_WASH)
            .collect();
        let scene = |patch: &Value| {
            let shading = number(&patch["shading"]);
            triple(&patch["xyz_d65"]).map(|value| value * shading)
        };
        let make = |gain| {
            let picture = render(
                &frame,
                &plain(white, gain),
                &Target::default(),
                &Threads::one(),
            );
            picture.expect("a picture")
        };
        // One number is free, the exposure: the one that matches the luminances best.
        let first = make(1.0);
        let (mut over, mut under) = (0.0, 0.0);
        for patch in &patches {
            let (found, wanted) = (shown(&first, patch)[1], scene(patch)[1]);
            over += found * wanted;
            under += found * found;
        }
        let picture = make(over / under);
        let mut differences = Vec::new();
        for patch in &patches {
            let lab = |xyz| -> Lab { lab_of_xyz(xyz, d65) };
            let difference = ciede2000(lab(shown(&picture, patch)), lab(scene(patch)));
            eprintln!("{name} {}: {difference:.2}", patch["surface"]);
            differences.push(difference);
        }
        let mean = differences.iter().sum::<f64>() / differences.len() as f64;
        let greatest = differences.iter().copied().fold(0.0, f64::max);
        eprintln!(
            "{name}: {} patches, CIEDE2000 mean {mean:.2}, greatest {greatest:.2}",
            differences.len()
        );
        assert!(
            differences.len() >= least_patches,
            "{name}: too few patches to judge by"
        );
        assert!(mean <= mean_limit, "{name}: mean {mean:.2}");
        assert!(greatest <= greatest_limit, "{name}: greatest {greatest:.2}");
    }
}
