//! Reading the light of a show of 5,000 frames from their readings: clocks, cues and keys, on one thread, without pixels.
//!
//! The readings are those of one drawn show, over and over, each time a quarter of an hour later.

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    missing_docs,
    reason = "a bench that meets the unexpected should stop there, and prints what it measured"
)]

use houselights::light::reading::FrameLight;
use houselights::light::sheet::{Anchor, AnchorSource};
use houselights::light::{read_light, read_show};
use std::time::Instant;

const FRAMES: usize = 5000;
const MINUTES_APART: i64 = 15;

fn main() {
    let plan = stage_simulator::ShowPlan::drawn(7, &stage_simulator::Wishes::default());
    let show = stage_simulator::Show::new(plan).expect("a show");
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let mut drawn: Vec<FrameLight> = Vec::new();
    for (name, content) in stage_simulator::show_files(&show, 0).expect("a show") {
        let path = scratch.path().join(name);
        std::fs::write(&path, content).expect("written");
        if path.extension().is_some_and(|ending| ending == "dng") {
            let frame = houselights::raw::read_frame(&path).expect("decodes");
            drawn.push(FrameLight {
                facts: frame.facts.clone(),
                reading: Some(read_light(&frame, None)),
                colour: frame.colour.without_hue_maps(),
                is_reference: false,
            });
        }
    }
    let mut frames = Vec::new();
    for at in 0..FRAMES {
        let mut frame = drawn[at % drawn.len()].clone();
        let later = MINUTES_APART * i64::try_from(at / drawn.len()).expect("a small number");
        if let Some(time) = &mut frame.facts.captured {
            time.civil += jiff::Span::new().minutes(later);
        }
        frames.push(frame);
    }
    let anchor = Anchor {
        name: "reference".to_owned(),
        white: frames[0]
            .reading
            .as_ref()
            .and_then(|reading| reading.as_shot),
        source: AnchorSource::Frame(0),
    };
    let start = Instant::now();
    let light = read_show(&frames, &[], std::slice::from_ref(&anchor));
    let all = start.elapsed();
    let start = Instant::now();
    let keys = houselights::light::keys::solve_keys(&frames, &light.sheet, &[anchor]);
    println!(
        "{FRAMES} frames, {} runs, {} cues: {:.2} s, of which the keys {:.2} s; {} keys",
        light.sheet.runs.len(),
        light.sheet.cues,
        all.as_secs_f64(),
        start.elapsed().as_secs_f64(),
        keys.cues.iter().flatten().flatten().count()
    );
}
