//! A show: its plan laid out in time, and each frame rendered on demand.
//!
//! Frames do not depend on each other, so they can be rendered in any order and on any number of threads with the same
//! bytes. A frame goes: stage and light, one ray a photosite, lens, sensor, automatic white balance, truth.

use crate::SimulatorError;
use crate::automatic;
use crate::body::{Body, ZONE_MINUTES};
use crate::chance::Chance;
use crate::colorimetry::{xy_of, xyz};
use crate::dng::{self, Exposed};
use crate::library::Library;
use crate::lighting::Lighting;
use crate::material::{Material, mix_all};
use crate::picture::take;
use crate::plan::{CuePlan, FramePlan, Framing, ShowPlan};
use crate::preview::preview;
use crate::sensor::expose;
use crate::settings::Moment;
use crate::shade::Shader;
use crate::stage::{Stage, StageWish};
use crate::truth::{FrameTruth, Pictured, WashTruth, key_truth, patches, shares};
use crate::view::View;

/// How long a shape of smoke stays, milliseconds.
const SMOKE_MILLISECONDS: u64 = 700;

/// A show that can be rendered.
#[derive(Clone, Debug)]
pub struct Show {
    plan: ShowPlan,
    library: Library,
    materials: Vec<Material>,
    bodies: Vec<Body>,
    schedule: Vec<Scheduled>,
}

/// When a frame is taken.
#[derive(Clone, Copy, Debug)]
struct Scheduled {
    cue: usize,
    frame: FramePlan,
    milliseconds: u64,
    arrived: f64,
    /// Number of the file among its body's.
    number: usize,
}

/// A rendered frame.
#[derive(Clone, Debug)]
pub struct SimulatedFrame {
    /// What the sensor counted, with everything its file tells.
    pub exposed: Exposed,
    /// The body that took it.
    pub body: Body,
    /// What is true of it.
    pub truth: FrameTruth,
    /// Light without noise: camera RGB of each pixel of the upright picture, 1 = a full photosite, not clipped.
    pub light: Vec<[f64; 3]>,
    /// For each pixel of the upright picture: illuminance of the keys there, lux.
    pub key_lux: Vec<f32>,
    /// For each pixel of the upright picture: share of its green light that is the keys' by diffuse reflection.
    pub key_share: Vec<f32>,
    /// Width of the upright picture.
    pub width: usize,
    /// Height of the upright picture.
    pub height: usize,
    plan: FramePlan,
}

impl SimulatedFrame {
    /// The bytes of its file.
    #[must_use]
    pub fn dng(&self) -> Vec<u8> {
        dng::write(
            &self.exposed,
            &self.body,
            self.plan.storage,
            self.body.order,
        )
    }
}

impl Show {
    /// Lays out a plan.
    ///
    /// # Errors
    /// When the plan has a picture size that is odd or below 32, or no body; when a compiled-in table is damaged.
    pub fn new(plan: ShowPlan) -> Result<Self, SimulatorError> {
        if plan.size.iter().any(|&side| side < 32 || side % 2 == 1) {
            return Err(SimulatorError::Plan(
                "a picture's sides must be even and at least 32".to_owned(),
            ));
        }
        let library = Library::load()?;
        let bodies = vec![Body::first(&library)?, Body::second(&library)?];
        let used = plan.cues.iter().flat_map(|cue| &cue.frames);
        if used.clone().any(|frame| frame.body >= bodies.len()) {
            return Err(SimulatorError::Plan(
                "there are two bodies, 0 and 1".to_owned(),
            ));
        }
        let materials = mix_all(&library)?;
        let schedule = schedule(&plan);
        Ok(Self {
            plan,
            library,
            materials,
            bodies,
            schedule,
        })
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> &ShowPlan {
        &self.plan
    }

    /// Both bodies.
    #[must_use]
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// How many frames.
    #[must_use]
    pub fn len(&self) -> usize {
        self.schedule.len()
    }

    /// Whether there is no frame.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.schedule.is_empty()
    }

    /// The file name of a frame, in order of true time.
    ///
    /// # Errors
    /// When there is no such frame.
    pub fn file_name(&self, index: usize) -> Result<String, SimulatorError> {
        let scheduled = self.scheduled(index)?;
        let prefix = &self.bodies[scheduled.frame.body].prefix;
        Ok(format!(
            "{prefix}-{:04}.dng",
            400 + 300 * scheduled.frame.body + scheduled.number
        ))
    }

    fn scheduled(&self, index: usize) -> Result<Scheduled, SimulatorError> {
        let missing = || {
            SimulatorError::Plan(format!(
                "the show has {} frames, not a frame {index}",
                self.len()
            ))
        };
        self.schedule.get(index).copied().ok_or_else(missing)
    }

    /// Renders a frame.
    ///
    /// # Errors
    /// When there is no such frame, or a compiled-in table is damaged.
    pub fn frame(&self, index: usize) -> Result<SimulatedFrame, SimulatorError> {
        let scheduled = self.scheduled(index)?;
        let body = &self.bodies[scheduled.frame.body];
        let cue = &self.plan.cues[scheduled.cue];
        let leaving = scheduled
            .cue
            .checked_sub(1)
            .map(|before| &self.plan.cues[before]);
        let mut chance = Chance::new(self.plan.seed, 2_000_000 + index as u64);

        let lighting = Lighting::new(
            &self.library,
            cue,
            leaving,
            scheduled.arrived,
            self.plan.set.key_on_drape,
            self.plan.seed as u32 ^ scheduled.cue as u32,
        )?;
        let stage = self.stage(index, cue, &scheduled.frame);
        let view = View::new(body, &scheduled.frame, &mut chance);
        let shader = Shader::new(
            body,
            &stage,
            &lighting,
            &self.materials,
            view.from(),
            self.plan.seed as u32 ^ (scheduled.milliseconds / SMOKE_MILLISECONDS) as u32,
        );
        let rays = Chance::new(self.plan.seed, 4_000_000 + index as u64);
        let picture = take(&shader, body, &scheduled.frame, &view, self.plan.size, rays);

        let daylight = self.neutral(body, &self.library.light("cie_d55")?);
        let key = key_truth(&self.library, &lighting, |light| self.neutral(body, light));
        let as_shot = automatic::neutral(
            &picture.light.pixels,
            key.as_ref().map(|key| key.camera_neutral),
            daylight,
            &mut chance,
        );
        let iso = scheduled.frame.exposure.iso;
        let noise = Chance::new(self.plan.seed, 3_000_000 + index as u64);
        let counts = expose(body, &picture.layout, &picture.light.pixels, iso, noise);
        let preview = body.preview.then(|| preview(&picture.light, as_shot, body));
        let body_time = scheduled
            .milliseconds
            .saturating_add_signed(body.clock_ahead);
        let exposed = Exposed {
            counts,
            width: picture.layout.width,
            height: picture.layout.height,
            active: picture.layout.active,
            crop: picture.layout.crop,
            orientation: picture.orientation,
            moment: Moment {
                date: self.plan.start.0,
                milliseconds: body_time,
                zone_minutes: ZONE_MINUTES,
            },
            exposure: scheduled.frame.exposure,
            focal_length: view.focal_length,
            as_shot_neutral: as_shot,
            preview,
        };
        let upright = picture.upright();
        let pictured = Pictured {
            width: upright.width,
            height: upright.height,
            seen: &upright.seen,
            exposed: &upright.light,
        };
        let (lit_share, clipped_share) = shares(&pictured, &lighting);
        let truth = FrameTruth {
            file: self.file_name(index)?,
            body: body.model.clone(),
            cue: cue.name.clone(),
            arrived: scheduled.arrived,
            leaving_cue: leaving
                .filter(|_| scheduled.arrived < 1.0)
                .map(|cue| cue.name.clone()),
            key,
            washes: self.washes(cue),
            exposure_seconds: scheduled.frame.exposure.seconds(),
            f_number: scheduled.frame.exposure.f_number(),
            iso,
            as_shot_neutral: as_shot,
            true_milliseconds: scheduled.milliseconds,
            clock_ahead: body.clock_ahead,
            lit_share,
            clipped_share,
            patches: patches(
                &self.library,
                &lighting,
                &self.materials,
                &pictured,
                |light| body.response(light),
            ),
        };
        let key_lux = upright
            .seen
            .iter()
            .map(|seen| seen.key_lux.iter().sum::<f64>() as f32)
            .collect();
        let key_share = upright
            .seen
            .iter()
            .map(|seen| {
                if seen.light[1] > 0.0 {
                    (seen.key_green / seen.light[1]) as f32
                } else {
                    0.0
                }
            })
            .collect();
        Ok(SimulatedFrame {
            exposed,
            body: body.clone(),
            truth,
            key_lux,
            key_share,
            width: upright.width,
            height: upright.height,
            light: upright.light,
            plan: scheduled.frame,
        })
    }

    fn neutral(&self, body: &Body, light: &crate::spectrum::Spectrum) -> [f64; 3] {
        let rgb = body.response(light);
        rgb.map(|value| value / rgb[1])
    }

    fn washes(&self, cue: &CuePlan) -> Vec<WashTruth> {
        cue.washes
            .iter()
            .map(|wash| WashTruth {
                colour: wash.colour,
                power: wash.power,
                xy: xy_of(xyz(&self.library, &wash.colour.spectrum(&self.library))),
            })
            .collect()
    }

    fn stage(&self, index: usize, cue: &CuePlan, frame: &FramePlan) -> Stage {
        // The pit is before the crowd: only who stands behind it has heads in the picture.
        let behind =
            frame.framing == Framing::Wide || (frame.framing == Framing::Stage && frame.body == 1);
        Stage::new(&StageWish {
            seed: self.plan.seed,
            frame: index as u64,
            costume: cue.costume,
            drape: self.plan.set.drape,
            chart: self.plan.set.chart,
            crowd: behind,
            truss: true,
        })
    }
}

/// Lays the frames out in time.
fn schedule(plan: &ShowPlan) -> Vec<Scheduled> {
    let mut schedule = Vec::new();
    let mut now = plan.start.1;
    let mut numbers = [0; 2];
    for (index, cue) in plan.cues.iter().enumerate() {
        let begins = now + (cue.gap_seconds * 1000.0).round() as u64;
        now = begins;
        for (number, frame) in cue.frames.iter().enumerate() {
            // The first frame of a cue comes a little after its lights begin to change.
            let wait = if number == 0 {
                frame.after_seconds.min(0.3)
            } else {
                frame.after_seconds
            };
            now += ((wait * 1000.0).round() as u64).max(50);
            let since = (now - begins) as f64 / 1000.0;
            let arrived = if index == 0 || since >= cue.fade_seconds {
                1.0
            } else {
                since / cue.fade_seconds
            };
            let body = frame.body.min(1);
            numbers[body] += 1;
            schedule.push(Scheduled {
                cue: index,
                frame: *frame,
                milliseconds: now,
                arrived,
                number: numbers[body],
            });
        }
    }
    schedule
}
