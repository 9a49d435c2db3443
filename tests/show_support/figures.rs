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
use show_support::{Corrected, Cutting, Figures, KnownShow};
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
    const HEADS: [&str; COLUMNS] = [
        "mcdm", "white+", "level+", "best", "settled", "best", "picture", "best", "C*", "best",
        "sL*", "best", "bodies", "best", "hue", "chroma", "white", "most", "stops", "most", "dark",
        "best", "found", "of", "burst", "false",
    ];
    let heads: String = HEADS.iter().map(|head| format!("{head:>7}")).collect();
    println!("{:24}{heads}", "show");
    let mut rows = Vec::new();
    for folder in &folders {
        let show = KnownShow::read(Path::new(folder));
        let card = if automatic { None } else { show.card() };
        let outcome = show.carried(&look, card, cutting);
        let corrected = outcome.corrected();
        let (ours, best): (Figures, Figures) =
            (show.figures(&corrected), show.figures(&show.perfect()));
        // How much of it goes when one part is put right.
        let perfect = show.perfect();
        let with_part = |pick: fn(Corrected, Corrected) -> Corrected| {
            let mixed: Vec<Corrected> = (corrected.iter().zip(&perfect))
                .map(|(ours, perfect)| pick(*ours, *perfect))
                .collect();
            show.figures(&mixed).mcdm
        };
        let true_whites = with_part(|ours, perfect| Corrected {
            white: perfect.white,
            ..ours
        });
        let true_levels = with_part(|ours, perfect| Corrected {
            gain: perfect.gain,
            ..ours
        });
        let whites = show.white_errors(&corrected);
        let levels = show.level_errors(&corrected);
        let (hue, chroma) = show.washes(&corrected);
        let (hit, wanted, burst, wrong) = show.boundaries(&outcome.light);
        let settled: Vec<usize> = show.settled().collect();
        let still = |values: &[(usize, f64)]| -> Vec<f64> {
            let still = values.iter().filter(|value| settled.contains(&value.0));
            still.map(|value| value.1.abs()).collect()
        };
        let mean = |values: &[(usize, f64)]| {
            let still = still(values);
            still.iter().sum::<f64>() / still.len().max(1) as f64
        };
        let most = |values: &[(usize, f64)]| still(values).into_iter().fold(0.0, f64::max);
        let name = Path::new(folder)
            .file_name()
            .map_or(String::new(), |name| name.to_string_lossy().into_owned());
        let row: [f64; COLUMNS] = [
            ours.mcdm,
            true_whites,
            true_levels,
            best.mcdm,
            ours.settled_mcdm,
            best.settled_mcdm,
            ours.pictured_mcdm,
            best.pictured_mcdm,
            ours.neutral_chroma,
            best.neutral_chroma,
            ours.lightness_spread,
            best.lightness_spread,
            ours.bodies_apart,
            best.bodies_apart,
            hue,
            chroma,
            mean(&whites),
            most(&whites),
            mean(&levels),
            most(&levels),
            ours.dark,
            best.dark,
            hit as f64,
            wanted as f64,
            burst as f64,
            wrong as f64,
        ];
        println!("{}", line(&name, &row));
        if each_frame {
            for ((at, white), (_, level)) in whites.iter().zip(&levels) {
                let truth = &show.frames[*at].truth;
                let key = truth.key.as_ref().expect("settled");
                println!(
                    "    {} {:8} {:.2} white {white:5.2} level {level:+6.3}  {:?} {:+.2} lit {:.2} washes {:?}  {:?} {:?}",
                    truth.file,
                    truth.cue,
                    truth.arrived,
                    key.lamps,
                    key.stops,
                    truth.lit_share,
                    truth
                        .washes
                        .iter()
                        .map(|wash| wash.colour)
                        .collect::<Vec<_>>(),
                    outcome.light.sheet.places[*at].fade,
                    outcome.light.key_of(*at)
                );
            }
        }
        rows.push(row);
    }
    let means: [f64; COLUMNS] = std::array::from_fn(|at| {
        rows.iter().map(|row: &[f64; COLUMNS]| row[at]).sum::<f64>() / rows.len().max(1) as f64
    });
    println!("{}", line("mean", &means));
}

/// Figures of a show: ours and the best, then errors and counts, in the order of the heads.
const COLUMNS: usize = 26;

fn line(name: &str, row: &[f64; COLUMNS]) -> String {
    /// Digits after the point, by column.
    const DIGITS: [usize; COLUMNS] = [
        2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1, 2, 2, 2, 3, 3, 1, 1, 1, 1, 1, 1,
    ];
    let cells = row
        .iter()
        .zip(DIGITS)
        .map(|(value, digits)| format!("{value:7.digits$}"));
    format!("{name:24}{}", cells.collect::<String>())
}
