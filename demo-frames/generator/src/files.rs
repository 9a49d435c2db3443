//! A show as files: its frames and `truth.json`.

use crate::SimulatorError;
use crate::show::{Show, SimulatedFrame};
use crate::truth::FrameTruth;
use serde::{Deserialize, Serialize};

/// What `truth.json` holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShowTruth {
    /// How to read the colours.
    pub colours: String,
    /// The reference frame's file: chart and grey card under the key, no wash on them to speak of.
    pub reference: String,
    /// Frames in order of true time.
    pub frames: Vec<FrameTruth>,
}

/// Names and contents of a show's files: the frames, and `truth.json` with what is known of them. `reference` is the index
/// of the frame that the truth names as the show's reference. Frames are rendered on as many threads as there are
/// processors; the bytes do not depend on how many.
///
/// # Errors
/// When there is no such frame, or a compiled-in table is damaged.
pub fn show_files(show: &Show, reference: usize) -> Result<Vec<(String, Vec<u8>)>, SimulatorError> {
    let frames = rendered(show)?;
    let mut files: Vec<(String, Vec<u8>)> = frames
        .iter()
        .map(|frame| (frame.truth.file.clone(), frame.dng()))
        .collect();
    let truth = ShowTruth {
        colours: "xyz_under_key: the patch under the keys' light alone, Y = 1 for a perfect white. xyz_d65: the same, \
                  adapted by Bradford from white_xy to D65 (0.3127, 0.3290). lab: CIELAB of xyz_d65 against that D65. \
                  CIE 1931 observer, 400 to 700 nm in steps of 5 nm. A right picture shows xyz_d65 times shading, plus \
                  the wash."
            .to_owned(),
        reference: show.file_name(reference)?,
        frames: frames.into_iter().map(|frame| rounded(frame.truth)).collect(),
    };
    let mut json = serde_json::to_vec_pretty(&truth)
        .map_err(|error| SimulatorError::Table(error.to_string()))?;
    json.push(b'\n');
    files.push(("truth.json".to_owned(), json));
    Ok(files)
}

/// Renders every frame, in order.
fn rendered(show: &Show) -> Result<Vec<SimulatedFrame>, SimulatorError> {
    use std::sync::atomic::{AtomicUsize, Ordering};
    let threads = std::thread::available_parallelism()
        .map_or(1, usize::from)
        .min(show.len().max(1));
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= show.len() {
                return done;
            }
            done.push((index, show.frame(index)));
        }
    };
    let mut all = Vec::new();
    std::thread::scope(|scope| {
        let handles: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        for handle in handles {
            match handle.join() {
                Ok(done) => all.extend(done),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
    });
    all.sort_by_key(|(index, _)| *index);
    all.into_iter().map(|(_, frame)| frame).collect()
}

/// Six decimals are more than any check needs and keep the file readable.
fn rounded(mut truth: FrameTruth) -> FrameTruth {
    let round = |value: &mut f64| *value = (*value * 1e6).round() / 1e6;
    if let Some(key) = &mut truth.key {
        key.xy.iter_mut().for_each(round);
        key.camera_neutral.iter_mut().for_each(round);
        for value in [&mut key.cct, &mut key.duv, &mut key.stops] {
            round(value);
        }
    }
    for wash in &mut truth.washes {
        wash.xy.iter_mut().for_each(round);
    }
    truth.as_shot_neutral.iter_mut().for_each(round);
    for value in [
        &mut truth.arrived,
        &mut truth.lit_share,
        &mut truth.clipped_share,
        &mut truth.exposure_seconds,
    ] {
        round(value);
    }
    for patch in &mut truth.patches {
        let lists: [&mut [f64]; 7] = [
            &mut patch.key_rgb,
            &mut patch.camera_rgb,
            &mut patch.at,
            &mut patch.white_xy,
            &mut patch.xyz_under_key,
            &mut patch.xyz_d65,
            &mut patch.lab,
        ];
        lists.into_iter().flatten().for_each(round);
        for value in [&mut patch.radius, &mut patch.shading, &mut patch.wash_share] {
            round(value);
        }
    }
    truth
}
