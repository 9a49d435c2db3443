//! A simulated show, read and carried, held against what is known of it because it was drawn.
//!
//! No picture is rendered: what a correction makes of a surface is worked out from the light that falls on the sensor
//! without noise (`key_rgb` of the truth: the keys' own part, so that the figures are not
//! those of the washes), the body's matrices and corrections by hue, the white and the gain. The
//! figures are those of the field: reproduction error of the white in degrees (Finlayson and Zakizadeh 2014), MCDM (mean
//! colour difference from the mean; Berns, Billmeyer and Saltzman's Principles of Color Technology) in CIEDE2000, CIELAB
//! chroma and lightness under D65.

mod measures;
mod ways;

pub(crate) use measures::Figures;
pub(crate) use ways::{Corrected, Outcome};

use houselights::light::cues::read_cues;
use houselights::light::keys::solve_keys;
use houselights::light::patch::Patch;
use houselights::light::reading::{FrameLight, Reference};
use houselights::light::sheet::{Anchor, AnchorSource, CueSheet, Fade, Run, RunKind, ShowLight};
use houselights::light::{read_light, read_reference};
use houselights::look::carry::{Follow, carry};
use houselights::look::file::Look;
use houselights::look::overrule::{Overrules, Overruling};
use houselights::look::solve::solve;
use houselights::raw::frame::Frame;
use houselights::show::solving::{KnownFrame, SolveWish, SolvedShow, solve_show};
use stage_simulator::FrameTruth;
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
