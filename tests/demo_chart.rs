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

mod chart_support;

use chart_support::differences;
use houselights::light::measure_patches;
use houselights::light::patch::Patch;
use serde_json::Value;
use std::path::PathBuf;

/// The grey card in the reference frame, as the README's command gives it.
const CARD: Patch = Patch {
    x: 0.831,
    y: 0.828,
    radius: 0.02,
};
/// Mean and greatest CIEDE2000 over a frame's chart, for the reference's own body. Without noise and with the
/// key's true white it is 0.8 (see `chart_lights`); the rest is noise at ISO 800, of which dark channels keep the positive
/// half, and the card's own tint. Measured.
const SAME_BODY: (f64, f64) = (1.35, 3.0);
/// The same for the other body, whose sensitivities are broader, on the four patches that its frame shows; measured, no source.
const OTHER_BODY: (f64, f64) = (2.0, 5.0);

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo-frames")
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
        let differences = differences(&frame, white, known);
        for (patch, difference) in &differences {
            eprintln!("{name} {patch}: {difference:.2}");
        }
        let mean =
            differences.iter().map(|(_, value)| value).sum::<f64>() / differences.len() as f64;
        let greatest = differences
            .iter()
            .map(|(_, value)| *value)
            .fold(0.0, f64::max);
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
