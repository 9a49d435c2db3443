//! Prints the figures of simulated shows: `cargo run --example show-figures -- [--automatic] [--true-cues] [--frames] FOLDER...`, where
//! each folder holds a show that the simulator wrote.

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a tool for contributors that prints what it measures"
)]

#[path = "mod.rs"]
#[expect(dead_code, reason = "the tests draw shows, this reads them")]
mod show_support;

use houselights::look::presets::preset;
use show_support::{Cutting, Figures, KnownShow};
use std::path::Path;

fn main() {
    let (mut automatic, mut each_frame, mut folders) = (false, false, Vec::new());
    let mut cutting = Cutting::Read;
    for argument in std::env::args().skip(1) {
        match argument.as_str() {
            "--automatic" => automatic = true,
            "--frames" => each_frame = true,
            "--true-cues" => cutting = Cutting::Known,
            _ => folders.push(argument),
        }
    }
    let mut look = preset("faithful").expect("a preset");
    look.exposure.kept_difference = 0.0;
    look.exposure.most_correction.0 = 4.0;
    println!(
        "{:24} {:>6} {:>6} | {:>6} {:>6} | {:>5} {:>5} | {:>5} {:>5} | {:>5} {:>5} | {:>5} {:>5} {:>6} {:>6} | {:>5} {:>5} | bounds",
        "show",
        "mcdm",
        "best",
        "C*",
        "best",
        "sL",
        "best",
        "2body",
        "best",
        "hue",
        "chr",
        "white",
        "max",
        "stops",
        "max",
        "dark",
        "best"
    );
    let mut sums = Vec::new();
    for folder in &folders {
        let show = KnownShow::read(Path::new(folder));
        let card = if automatic { None } else { show.card() };
        let outcome = show.carried(&look, card, cutting);
        let corrected = outcome.corrected();
        let (ours, best): (Figures, Figures) =
            (show.figures(&corrected), show.figures(&show.perfect()));
        let whites = show.white_errors(&corrected);
        let levels = show.level_errors(&corrected);
        let (hue, chroma) = show.washes(&corrected);
        let (hit, wanted, burst, wrong) = show.boundaries(&outcome.light);
        let mean = |values: &[(usize, f64)]| {
            values.iter().map(|v| v.1.abs()).sum::<f64>() / values.len().max(1) as f64
        };
        let most = |values: &[(usize, f64)]| values.iter().map(|v| v.1.abs()).fold(0.0, f64::max);
        let name = Path::new(folder)
            .file_name()
            .map_or(String::new(), |name| name.to_string_lossy().into_owned());
        println!(
            "{name:24} {:6.2} {:6.2} | {:6.2} {:6.2} | {:5.2} {:5.2} | {:5.2} {:5.2} | {hue:5.1} {chroma:5.2} | {:5.2} {:5.2} {:6.3} {:6.3} | {:5.1} {:5.1} | {hit}/{wanted} burst {burst} false {wrong}",
            ours.mcdm,
            best.mcdm,
            ours.neutral_chroma,
            best.neutral_chroma,
            ours.lightness_spread,
            best.lightness_spread,
            ours.bodies_apart,
            best.bodies_apart,
            mean(&whites),
            most(&whites),
            mean(&levels),
            most(&levels),
            ours.dark,
            best.dark
        );
        if each_frame {
            for ((at, white), (_, level)) in whites.iter().zip(&levels) {
                let truth = &show.frames[*at].truth;
                let key = truth.key.as_ref().expect("settled");
                println!(
                    "    {} {:8} white {white:5.2} level {level:+6.3}  {:?} {:+.2} lit {:.2} washes {:?}  {:?}",
                    truth.file,
                    truth.cue,
                    key.lamps,
                    key.stops,
                    truth.lit_share,
                    truth
                        .washes
                        .iter()
                        .map(|wash| wash.colour)
                        .collect::<Vec<_>>(),
                    outcome.light.key_of(*at)
                );
            }
        }
        sums.push([
            ours.mcdm,
            best.mcdm,
            ours.neutral_chroma,
            best.neutral_chroma,
            ours.lightness_spread,
            best.lightness_spread,
            ours.bodies_apart,
            best.bodies_apart,
            hue,
            chroma,
            mean(&whites),
            mean(&levels),
            hit as f64,
            wanted as f64,
            burst as f64,
            wrong as f64,
        ]);
    }
    let count = sums.len().max(1) as f64;
    let total = |at: usize| sums.iter().map(|sum| sum[at]).sum::<f64>();
    let mean = |at: usize| total(at) / count;
    println!(
        "mean of {} shows: MCDM {:.2} (best {:.2}), C* {:.2} ({:.2}), spread of L* {:.2} ({:.2}), bodies {:.2} ({:.2}), hue {:.1}, chroma {:.2}, white {:.2} degrees, level {:.3} stops, boundaries {:.0}/{:.0}, {:.0} false in bursts, {:.0} false",
        sums.len(),
        mean(0),
        mean(1),
        mean(2),
        mean(3),
        mean(4),
        mean(5),
        mean(6),
        mean(7),
        mean(8),
        mean(9),
        mean(10),
        mean(11),
        total(12),
        total(13),
        total(14),
        total(15)
    );
}
