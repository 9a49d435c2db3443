//! Frames that must not be heard when a show is cut: copies, and black where it is no blackout.
//!
//! They are placed with their neighbours, as a frame that was not read.

use super::sketch::{NUMBERS, Sketch};
use super::stretches::clock_seconds;
use crate::light::reading::FrameLight;
use std::collections::BTreeMap;

/// Black is a light of its own.
pub(super) const BLACK: Sketch = {
    let mut black = [0.0; NUMBERS];
    black[0] = 1.0;
    black
};

/// So many black frames of one body in a row are a blackout; fewer are a cap on the lens or a flash that failed, and would
/// part the state around them.
const BLACKOUT: usize = 3;

/// Takes away the sketches of copies and of the odd black frame.
pub(super) fn silence(sketches: &mut [Option<Sketch>], frames: &[FrameLight], bodies: &[usize]) {
    let mut by_body = BTreeMap::<usize, Vec<usize>>::new();
    for (at, &body) in bodies.iter().enumerate() {
        by_body.entry(body).or_default().push(at);
    }
    // Where nothing else was seen, black is all there is to tell.
    let is_lit = sketches.iter().flatten().any(|sketch| *sketch != BLACK);
    for own in by_body.values() {
        let is_black: Vec<bool> = own.iter().map(|&at| sketches[at] == Some(BLACK)).collect();
        if is_lit {
            let mut from = 0;
            for row in is_black.chunk_by(|a, b| a == b) {
                if row[0] && row.len() < BLACKOUT {
                    for &at in &own[from..from + row.len()] {
                        sketches[at] = None;
                    }
                }
                from += row.len();
            }
        }
        // The same picture at the same time is one frame that lies in two folders: it must not count twice.
        let mut seen = BTreeMap::<u64, Sketch>::new();
        for &at in own {
            let (Some(time), Some(sketch)) = (clock_seconds(&frames[at]), sketches[at]) else {
                continue;
            };
            match seen.get(&time.to_bits()) {
                Some(first) if *first == sketch => sketches[at] = None,
                Some(_) => (),
                None => {
                    seen.insert(time.to_bits(), sketch);
                }
            }
        }
    }
}
