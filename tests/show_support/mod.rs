//! A simulated show, read and carried, held against what is known of it because it was drawn.
//!
//! No picture is rendered: what a correction makes of a surface is worked out from the light that falls on the sensor
//! without noise (`key_rgb` of the truth: the keys' own part, so that the figures are not
//! those of the washes), the body's matrices and corrections by hue, the white and the gain. The
//! figures are those of the field: reproduction error of the white in degrees (Finlayson and Zakizadeh 2014), MCDM (mean
//! colour difference from the mean; Berns, Billmeyer and Saltzman's Principles of Color Technology) in CIEDE2000, CIELAB
//! chroma and lightness under D65.

use houselights::base::robust::percentile;
use houselights::base::units::Chromaticity;
use houselights::colour::angle::reproduction;
use houselights::colour::difference::ciede2000;
use houselights::colour::ictcp;
use houselights::colour::lab::{Lab, lab_of_xyz};
use houselights::colour::spaces::{BT2020, ROMM, conversion};
use houselights::light::cues::read_cues;
use houselights::light::keys::solve_keys;
use houselights::light::patch::Patch;
use houselights::light::reading::{FrameLight, Reference};
use houselights::light::reduce::reduce;
use houselights::light::sheet::{Anchor, AnchorSource, CueSheet, Fade, Run, RunKind, ShowLight};
use houselights::light::{read_light, read_reference};
use houselights::look::carry::{Carried, Follow, carry};
use houselights::look::file::Look;
use houselights::look::overrule::{Overrules, Overruling};
use houselights::look::solve::solve;
use houselights::raw::frame::Frame;
use houselights::show::solving::{KnownFrame, SolveWish, SolvedShow, solve_show};
use stage_simulator::{FrameTruth, PatchTruth, SurfaceKind};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A frame of a show with its truth.
pub(crate) struct Known {
    pub(crate) truth: FrameTruth,
    pub(crate) frame: Frame,
    pub(crate) light: FrameLight,
}

/// A show, decoded and metered.
pub(crate) struct KnownShow {
    /// In order of true time.
    pub(crate) frames: Vec<Known>,
    /// Index of the reference frame.
    pub(crate) reference: usize,
}

/// Whose cues a show is solved with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cutting {
    /// The program's own.
    Read,
    /// Those that were drawn: what is left are the errors of the keys.
    Known,
}

/// A bright tile of a frame that a wash lights: camera RGB.
const WASH_TILES: usize = 60;

fn in_parallel<T: Send>(count: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let mut all: Vec<(usize, T)> = std::thread::scope(|scope| {
        let handles: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut done = Vec::new();
                    loop {
                        let at = next.fetch_add(1, Ordering::Relaxed);
                        if at >= count {
                            return done;
                        }
                        done.push((at, work(at)));
                    }
                })
            })
            .collect();
        handles
            .into_iter()
            .flat_map(|handle| handle.join().expect("a thread's work"))
            .collect()
    });
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, value)| value).collect()
}

impl KnownShow {
    /// Reads a folder with a show's frames and its `truth.json`.
    pub(crate) fn read(folder: &Path) -> Self {
        let text = std::fs::read_to_string(folder.join("truth.json")).expect("a truth");
        let truth: stage_simulator::ShowTruth = serde_json::from_str(&text).expect("JSON");
        let reference = truth
            .frames
            .iter()
            .position(|frame| frame.file == truth.reference)
            .expect("the reference");
        let frames = in_parallel(truth.frames.len(), |at| {
            let truth = truth.frames[at].clone();
            let frame = houselights::raw::read_frame(&folder.join(&truth.file)).expect("decodes");
            metered(truth, frame)
        });
        Self { frames, reference }
    }

    /// Draws a show of the simulator, without a file that stays.
    pub(crate) fn drawn(show: &stage_simulator::Show) -> Self {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        for (name, content) in stage_simulator::show_files(show, 0).expect("a show") {
            std::fs::write(scratch.path().join(name), content).expect("written");
        }
        Self::read(scratch.path())
    }

    /// The reference's grey card as a person points at it.
    pub(crate) fn card(&self) -> Option<Patch> {
        let patches = &self.frames[self.reference].truth.patches;
        let card = patches.iter().find(|patch| patch.surface == "grey card")?;
        Some(Patch {
            x: card.at[0],
            y: card.at[1],
            radius: card.radius * 0.7,
        })
    }

    /// Reads the light of the show and carries `look` over it. With `card`, the reference's white is the card's.
    pub(crate) fn carried(&self, look: &Look, card: Option<Patch>, cutting: Cutting) -> Outcome {
        let mut lights: Vec<FrameLight> = self
            .frames
            .iter()
            .map(|known| known.light.clone())
            .collect();
        let patches: Vec<Patch> = card.into_iter().collect();
        let reference: Reference =
            read_reference(&self.frames[self.reference].frame, &patches).expect("a good patch");
        if cutting == Cutting::Known {
            let solved = solve(look, "reference", &reference).look;
            let anchor = Anchor {
                name: "reference".to_owned(),
                white: card.and(solved.white),
                source: AnchorSource::Frame(self.reference),
            };
            let sheet = self.true_sheet();
            let keys = solve_keys(&lights, &sheet, &[anchor]);
            let light = ShowLight { sheet, keys };
            let carried = carry(
                &solved,
                &lights,
                &light,
                Follow::Light,
                &Overruling::default(),
            )
            .expect("a solved look");
            return Outcome { light, carried };
        }
        let wish = SolveWish {
            look: look.clone(),
            reference: Some(KnownFrame {
                name: "reference".to_owned(),
                place: Some(self.reference),
                reference,
            }),
            pins: Vec::new(),
            clocks: Vec::new(),
            overrules: Overrules::default(),
            follow: Follow::Light,
        };
        let SolvedShow { light, carried, .. } =
            solve_show(&mut lights, &[], &wish).expect("a solved look");
        Outcome { light, carried }
    }

    /// The cue sheet of someone who knows every cue, fade and clock.
    fn true_sheet(&self) -> CueSheet {
        let lights: Vec<FrameLight> = self
            .frames
            .iter()
            .map(|known| known.light.clone())
            .collect();
        let mut sheet = read_cues(&lights, &[]);
        let mut names: Vec<&str> = Vec::new();
        let mut number = |name| {
            names
                .iter()
                .position(|known| *known == name)
                .unwrap_or_else(|| {
                    names.push(name);
                    names.len() - 1
                })
        };
        sheet.runs.clear();
        for (at, known) in self.frames.iter().enumerate() {
            let cue = number(known.truth.cue.as_str());
            if sheet.runs.last().is_none_or(|run| run.cue != cue) {
                let frames = Vec::new();
                let kind = RunKind::Key;
                sheet.runs.push(Run { cue, kind, frames });
            }
            let run = sheet.runs.len() - 1;
            sheet.runs[run].frames.push(at);
            let place = &mut sheet.places[at];
            place.run = run;
            place.fade = known.truth.leaving_cue.as_deref().map(|from| Fade {
                from: number(from),
                to: cue,
                arrived: known.truth.arrived,
            });
        }
        sheet.cues = names.len();
        sheet
    }

    /// What someone would do who knew every key: its own white, and its level and the settings evened out.
    pub(crate) fn perfect(&self) -> Vec<Corrected> {
        let base = &self.frames[self.reference].truth;
        let level = |truth: &FrameTruth| {
            truth.exposure_seconds * f64::from(truth.iso) / truth.f_number.powi(2)
                * truth.key.as_ref().map_or(1.0, |key| key.stops.exp2())
        };
        let last = self.frames[self.reference]
            .frame
            .colour
            .white_of_neutral(base.key.as_ref().expect("a key").camera_neutral)
            .expect("a white");
        self.frames
            .iter()
            .map(|known| Corrected {
                white: known.truth.key.as_ref().map_or(last, |key| {
                    known
                        .frame
                        .colour
                        .white_of_neutral(key.camera_neutral)
                        .expect("a white")
                }),
                gain: level(base) / level(&known.truth),
            })
            .collect()
    }
}

/// What someone would do who reads no light.
impl KnownShow {
    /// Exposure settings of the reference against a frame's: what evens them out.
    fn evened(&self, at: usize) -> f64 {
        let product = |truth: &FrameTruth| {
            truth.exposure_seconds * f64::from(truth.iso) / truth.f_number.powi(2)
        };
        product(&self.frames[self.reference].truth) / product(&self.frames[at].truth)
    }

    /// The reference's white, told by its card, for all frames.
    pub(crate) fn fixed(&self, look: &Look) -> Vec<Corrected> {
        let patches: Vec<Patch> = self.card().into_iter().collect();
        let reference =
            read_reference(&self.frames[self.reference].frame, &patches).expect("a good patch");
        let solved = solve(look, "reference", &reference).look;
        let white = solved.white.expect("solved");
        (0..self.frames.len())
            .map(|at| Corrected {
                white,
                gain: self.evened(at),
            })
            .collect()
    }

    /// Each frame's white as its body took it.
    pub(crate) fn as_shot(&self) -> Vec<Corrected> {
        (0..self.frames.len())
            .map(|at| {
                let colour = &self.frames[at].frame.colour;
                let neutral = colour.as_shot_neutral.expect("a body's white");
                Corrected {
                    white: colour.white_of_neutral(neutral).expect("a white"),
                    gain: self.evened(at),
                }
            })
            .collect()
    }
}

fn metered(truth: FrameTruth, frame: Frame) -> Known {
    let light = FrameLight {
        facts: frame.facts.clone(),
        reading: Some(read_light(&frame, None)),
        colour: frame.colour.without_hue_maps(),
        is_reference: false,
    };
    Known {
        truth,
        frame,
        light,
    }
}

/// What the program made of a show.
pub(crate) struct Outcome {
    pub(crate) light: ShowLight,
    pub(crate) carried: Vec<Carried>,
}

impl Outcome {
    /// The numbers that colours are worked out with.
    pub(crate) fn corrected(&self) -> Vec<Corrected> {
        self.carried
            .iter()
            .map(|carried| Corrected {
                white: carried.correction.white,
                gain: carried.correction.gain,
            })
            .collect()
    }
}

/// The part of a correction that colours are worked out with.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Corrected {
    pub(crate) white: Chromaticity,
    pub(crate) gain: f64,
}

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

fn normalised(known: &Known, corrected: Corrected, patch: &PatchTruth, scale: f64) -> Lab {
    let rgb = patch.key_rgb.map(|value| value * scale / patch.shading);
    lab(&known.frame, corrected, rgb)
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
        let mut surfaces: BTreeMap<&str, Vec<(usize, Lab, SurfaceKind)>> = BTreeMap::new();
        for (at, (known, corrected)) in self.frames.iter().zip(corrected).enumerate() {
            for patch in &known.truth.patches {
                if patch.wash_share < MOST_WASH {
                    let lab = normalised(known, *corrected, patch, scale);
                    surfaces
                        .entry(&patch.surface)
                        .or_default()
                        .push((at, lab, patch.kind));
                }
            }
        }
        let (mut differences, mut chromas, mut lightness) = (Vec::new(), Vec::new(), Vec::new());
        let mut apart = Vec::new();
        for seen in surfaces.values().filter(|seen| seen.len() > 1) {
            let labs: Vec<Lab> = seen.iter().map(|(_, lab, _)| *lab).collect();
            let centre = mean_lab(&labs);
            differences.extend(labs.iter().map(|lab| ciede2000(*lab, centre)));
            match seen[0].2 {
                SurfaceKind::Neutral => {
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
            neutral_chroma: mean(chromas),
            lightness_spread: mean(lightness.iter().map(|value| value * value)).sqrt(),
            bodies_apart: mean(apart),
            dark,
        }
    }

    /// Between the bodies, cue by cue.
    fn bodies_apart(&self, seen: &[(usize, Lab, SurfaceKind)]) -> Vec<f64> {
        let mut cues: BTreeMap<&str, BTreeMap<&str, Vec<Lab>>> = BTreeMap::new();
        for (at, lab, _) in seen {
            let truth = &self.frames[*at].truth;
            if truth.arrived >= 1.0 {
                let bodies = cues.entry(&truth.cue).or_default();
                bodies.entry(&truth.body).or_default().push(*lab);
            }
        }
        cues.values()
            .filter(|bodies| bodies.len() == 2)
            .map(|bodies| {
                let means: Vec<Lab> = bodies.values().map(|labs| mean_lab(labs)).collect();
                ciede2000(means[0], means[1])
            })
            .collect()
    }

    /// Reproduction error in degrees of each settled frame's white, with its cue and the source that it came from.
    pub(crate) fn white_errors(&self, corrected: &[Corrected]) -> Vec<(usize, f64)> {
        self.settled()
            .map(|at| {
                let known = &self.frames[at];
                let key = known.truth.key.as_ref().expect("settled");
                let neutral = known
                    .frame
                    .colour
                    .neutral_of_white(corrected[at].white)
                    .expect("a neutral");
                (at, reproduction(key.camera_neutral, neutral))
            })
            .collect()
    }

    /// Stops by which each settled frame's gain misses the one that evens out settings and key, against the reference's.
    pub(crate) fn level_errors(&self, corrected: &[Corrected]) -> Vec<(usize, f64)> {
        let perfect = self.perfect();
        let base = corrected[self.reference].gain / perfect[self.reference].gain;
        self.settled()
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
