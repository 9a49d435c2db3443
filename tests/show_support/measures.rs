//! The figures of a show under some corrections.

use super::{Corrected, Known, KnownShow};
use houselights::base::robust::percentile;
use houselights::base::units::Chromaticity;
use houselights::colour::angle::reproduction;
use houselights::colour::difference::ciede2000;
use houselights::colour::ictcp;
use houselights::colour::lab::{Lab, lab_of_xyz};
use houselights::colour::spaces::{BT2020, ROMM, conversion};
use houselights::light::reduce::reduce;
use houselights::light::sheet::ShowLight;
use houselights::raw::frame::Frame;
use stage_simulator::{PatchTruth, SurfaceKind};
use std::collections::BTreeMap;

/// Bright tiles of a frame that a wash lights: how many are looked at.
const WASH_TILES: usize = 60;

/// Linear BT.2020 of camera RGB under a correction.
fn working(frame: &Frame, corrected: Corrected, rgb: [f64; 3]) -> [f64; 3] {
    let neutral = frame
        .colour
        .neutral_of_white(corrected.white)
        .expect("a neutral");
    let balanced = [0, 1, 2].map(|c| rgb[c] / neutral[c] * corrected.gain);
    let matrix = frame.colour.to_working(corrected.white).expect("a matrix");
    let linear = matrix.apply(balanced);
    match frame.colour.hue_map(corrected.white).expect("a white") {
        None => linear,
        Some(map) => {
            let romm = conversion(&BT2020, &ROMM)
                .apply(linear)
                .map(|value| value as f32);
            conversion(&ROMM, &BT2020).apply(map.apply(romm).map(f64::from))
        }
    }
}

fn lab(frame: &Frame, corrected: Corrected, rgb: [f64; 3]) -> Lab {
    let xyz = BT2020.to_xyz().apply(working(frame, corrected, rgb));
    lab_of_xyz(xyz, Chromaticity::D65.to_xyz())
}

/// The figures of a show under some corrections.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Figures {
    /// Mean CIEDE2000 of key-lit patches from their surface's mean, shading divided out.
    pub(crate) mcdm: f64,
    /// The same of the patches that lie in no cross-fade.
    pub(crate) settled_mcdm: f64,
    /// The same of the patches as pictures show them: with what washes, haze and gloss add.
    pub(crate) pictured_mcdm: f64,
    /// Mean C*ab of key-lit neutrals.
    pub(crate) neutral_chroma: f64,
    /// Standard deviation of L* of key-lit neutrals about their surface's mean.
    pub(crate) lightness_spread: f64,
    /// CIEDE2000 between the bodies' mean skin in one cue, mean over skins and cues.
    pub(crate) bodies_apart: f64,
    /// Greatest L* of a settled frame's unlit ground.
    pub(crate) dark: f64,
}

/// What no key and no wash lights is among the darkest of a frame: percentile of its luminance.
const UNLIT: f64 = 10.0;

/// Patches whose green comes from the key to this share at least: what is more wash than that is the wash's colour.
const MOST_WASH: f64 = 0.5;

/// What a correction makes of a patch's light, shading divided out.
fn normalised(known: &Known, corrected: Corrected, patch: &PatchTruth, light: [f64; 3]) -> Lab {
    lab(
        &known.frame,
        corrected,
        light.map(|value| value / patch.shading),
    )
}

/// A patch in a picture.
struct SeenPatch {
    at: usize,
    kind: SurfaceKind,
    is_settled: bool,
    /// By the key's own light.
    lab: Lab,
    /// By all light.
    pictured: Lab,
}

/// CIEDE2000 of each from their mean.
fn from_mean(labs: &[Lab]) -> impl Iterator<Item = f64> + '_ {
    let centre = (!labs.is_empty()).then(|| mean_lab(labs));
    centre
        .into_iter()
        .flat_map(|centre| labs.iter().map(move |lab| ciede2000(*lab, centre)))
}

fn mean_lab(labs: &[Lab]) -> Lab {
    let count = labs.len() as f64;
    let sum = labs.iter().fold([0.0; 3], |sum, lab| {
        [sum[0] + lab.lightness, sum[1] + lab.a, sum[2] + lab.b]
    });
    Lab {
        lightness: sum[0] / count,
        a: sum[1] / count,
        b: sum[2] / count,
    }
}

fn mean(values: impl IntoIterator<Item = f64>) -> f64 {
    let values: Vec<f64> = values.into_iter().collect();
    if values.is_empty() {
        return 0.0;
    }
    values.iter().sum::<f64>() / values.len() as f64
}

impl KnownShow {
    /// Frames whose key is settled: one lighting state, and a key in it.
    pub(crate) fn settled(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.frames.len()).filter(|&at| {
            let truth = &self.frames[at].truth;
            truth.key.is_some() && truth.arrived >= 1.0
        })
    }

    /// The figures of corrections, which are scaled so that the reference's grey card has its true lightness.
    pub(crate) fn figures(&self, corrected: &[Corrected]) -> Figures {
        let base = &self.frames[self.reference];
        let card = base
            .truth
            .patches
            .iter()
            .filter(|patch| patch.kind == SurfaceKind::Neutral)
            .min_by(|a, b| a.wash_share.total_cmp(&b.wash_share))
            .expect("a neutral in the reference");
        let rgb = card.key_rgb.map(|value| value / card.shading);
        let shown = BT2020
            .to_xyz()
            .apply(working(&base.frame, corrected[self.reference], rgb));
        let scale = card.xyz_d65[1] / shown[1];
        let mut surfaces: BTreeMap<&str, Vec<SeenPatch>> = BTreeMap::new();
        for (at, (known, corrected)) in self.frames.iter().zip(corrected).enumerate() {
            for patch in &known.truth.patches {
                if patch.wash_share < MOST_WASH {
                    let of = |light: [f64; 3]| {
                        normalised(known, *corrected, patch, light.map(|value| value * scale))
                    };
                    surfaces.entry(&patch.surface).or_default().push(SeenPatch {
                        at,
                        kind: patch.kind,
                        is_settled: known.truth.arrived >= 1.0,
                        lab: of(patch.key_rgb),
                        pictured: of(patch.camera_rgb),
                    });
                }
            }
        }
        let (mut differences, mut chromas, mut lightness) = (Vec::new(), Vec::new(), Vec::new());
        let (mut settled, mut pictured) = (Vec::new(), Vec::new());
        let mut apart = Vec::new();
        for seen in surfaces.values().filter(|seen| seen.len() > 1) {
            let labs: Vec<Lab> = seen.iter().map(|patch| patch.lab).collect();
            differences.extend(from_mean(&labs));
            let still = seen.iter().filter(|patch| patch.is_settled);
            settled.extend(from_mean(&still.map(|patch| patch.lab).collect::<Vec<_>>()));
            let shown: Vec<Lab> = seen.iter().map(|patch| patch.pictured).collect();
            pictured.extend(from_mean(&shown));
            match seen[0].kind {
                SurfaceKind::Neutral => {
                    let centre = mean_lab(&labs);
                    chromas.extend(labs.iter().map(|lab| lab.a.hypot(lab.b)));
                    lightness.extend(labs.iter().map(|lab| lab.lightness - centre.lightness));
                }
                SurfaceKind::Skin => apart.extend(self.bodies_apart(seen)),
                _ => {}
            }
        }
        let dark = self
            .settled()
            .map(|at| {
                let known = &self.frames[at];
                let mut luminances: Vec<f64> = reduce(&known.frame.mosaic)
                    .colour
                    .values()
                    .iter()
                    .map(|rgb| {
                        let shown = working(&known.frame, corrected[at], rgb.map(|v| v * scale));
                        BT2020.to_xyz().apply(shown)[1].max(0.0)
                    })
                    .collect();
                let level = percentile(&mut luminances, UNLIT).unwrap_or(0.0);
                lab_of_xyz([level; 3], [1.0; 3]).lightness
            })
            .fold(0.0, f64::max);
        Figures {
            mcdm: mean(differences),
            settled_mcdm: mean(settled),
            pictured_mcdm: mean(pictured),
            neutral_chroma: mean(chromas),
            lightness_spread: mean(lightness.iter().map(|value| value * value)).sqrt(),
            bodies_apart: mean(apart),
            dark,
        }
    }

    /// Between the bodies, cue by cue.
    fn bodies_apart(&self, seen: &[SeenPatch]) -> Vec<f64> {
        let mut cues: BTreeMap<&str, BTreeMap<&str, Vec<Lab>>> = BTreeMap::new();
        for patch in seen.iter().filter(|patch| patch.is_settled) {
            let truth = &self.frames[patch.at].truth;
            let bodies = cues.entry(&truth.cue).or_default();
            bodies.entry(&truth.body).or_default().push(patch.lab);
        }
        cues.values()
            .filter(|bodies| bodies.len() == 2)
            .map(|bodies| {
                let means: Vec<Lab> = bodies.values().map(|labs| mean_lab(labs)).collect();
                ciede2000(means[0], means[1])
            })
            .collect()
    }

    /// Reproduction error in degrees of each keyed frame's white.
    pub(crate) fn white_errors(&self, corrected: &[Corrected]) -> Vec<(usize, f64)> {
        (self.frames.iter().enumerate())
            .filter_map(|(at, known)| {
                let key = known.truth.key.as_ref()?;
                let colour = &known.frame.colour;
                let neutral = colour
                    .neutral_of_white(corrected[at].white)
                    .expect("a neutral");
                Some((at, reproduction(key.camera_neutral, neutral)))
            })
            .collect()
    }

    /// Stops by which each keyed frame's gain misses the one that evens out settings and key, against the reference's.
    pub(crate) fn level_errors(&self, corrected: &[Corrected]) -> Vec<(usize, f64)> {
        let perfect = self.perfect();
        let base = corrected[self.reference].gain / perfect[self.reference].gain;
        (0..self.frames.len())
            .filter(|&at| self.frames[at].truth.key.is_some())
            .map(|at| (at, (corrected[at].gain / perfect[at].gain / base).log2()))
            .collect()
    }

    /// Hue (degrees of ICtCp) and chroma of what washes light, against what the perfect correction makes of them: mean
    /// difference of hue, and mean ratio of chroma.
    pub(crate) fn washes(&self, corrected: &[Corrected]) -> (f64, f64) {
        let perfect = self.perfect();
        let (mut hues, mut ratios) = (Vec::new(), Vec::new());
        for at in 0..self.frames.len() {
            let known = &self.frames[at];
            if known.truth.key.is_some() && known.truth.arrived < 1.0 {
                continue;
            }
            let reduced = reduce(&known.frame.mosaic);
            let neutral = known
                .frame
                .colour
                .neutral_of_white(perfect[at].white)
                .expect("a neutral");
            // Bright tiles far from grey in the body's own light: the washes, as air, backdrop and clothes show them.
            let mut tiles: Vec<[f64; 3]> = reduced
                .colour
                .values()
                .iter()
                .zip(reduced.clipped.values())
                .filter(|(colour, clipped)| {
                    let balanced = [0, 1, 2].map(|c| colour[c] / neutral[c]);
                    let most = balanced.iter().copied().fold(0.0, f64::max);
                    let least = balanced.iter().copied().fold(f64::INFINITY, f64::min);
                    **clipped == 0.0 && most > 0.02 && least < 0.35 * most && least > 0.002
                })
                .map(|(colour, _)| *colour)
                .collect();
            tiles.sort_by(|a, b| {
                let sum = |c: &[f64; 3]| c.iter().sum::<f64>();
                sum(b).total_cmp(&sum(a))
            });
            let step = (tiles.len() / WASH_TILES).max(1);
            for tile in tiles.iter().step_by(step) {
                let of = |corrected: Corrected| {
                    // Shown at one brightness: hue and chroma, not level, are compared.
                    let rgb = working(
                        &known.frame,
                        Corrected {
                            gain: 1.0,
                            ..corrected
                        },
                        *tile,
                    );
                    ictcp::ictcp_of_bt2020(rgb.map(|value| value.max(0.0)), 203.0)
                };
                let (found, wanted) = (of(corrected[at]), of(perfect[at]));
                let turn = (ictcp::hue(found) - ictcp::hue(wanted)).abs();
                hues.push(turn.min(360.0 - turn));
                let chroma = |c: [f64; 3]| (0.5 * c[1]).hypot(c[2]);
                ratios.push(chroma(found) / chroma(wanted).max(1e-9));
            }
        }
        (mean(hues), mean(ratios))
    }

    /// True changes of cue found within one frame, all true changes, false changes inside a burst (frames of one body within
    /// a second and one cue), and false changes in all.
    pub(crate) fn boundaries(&self, light: &ShowLight) -> (usize, usize, usize, usize) {
        let run = |at: usize| light.sheet.places[at].run;
        let changed = |at: usize| {
            let (a, b) = (&self.frames[at - 1].truth, &self.frames[at].truth);
            a.cue != b.cue
        };
        let found: Vec<usize> = (1..self.frames.len())
            .filter(|&at| run(at - 1) != run(at))
            .collect();
        let wanted: Vec<usize> = (1..self.frames.len()).filter(|&at| changed(at)).collect();
        let hit = wanted
            .iter()
            .filter(|&&at| found.iter().any(|&other| other.abs_diff(at) <= 1))
            .count();
        let wrong: Vec<usize> = found
            .iter()
            .copied()
            .filter(|at| {
                // A frame inside a cross-fade may open a run of its own.
                let fading =
                    self.frames[*at].truth.arrived < 1.0 || self.frames[at - 1].truth.arrived < 1.0;
                !fading && wanted.iter().all(|other| other.abs_diff(*at) > 1)
            })
            .collect();
        let burst = wrong
            .iter()
            .filter(|&&at| {
                let (a, b) = (&self.frames[at - 1].truth, &self.frames[at].truth);
                a.body == b.body && b.true_milliseconds - a.true_milliseconds < 1000
            })
            .count();
        (hit, wanted.len(), burst, wrong.len())
    }
}
