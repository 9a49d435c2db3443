//! The light of one frame: lamps with their spectra, where they stand, what they reach, and their beams in the haze.
//!
//! A cue's keys shine from the front of house; its washes from the back truss, the sides or the front. While a cue comes
//! in, the lamps of the cue before still shine in part. Each lamp is a source with a place and a cone, or a flood that
//! stands for light from the air and from bounces.

use crate::SimulatorError;
use crate::chance::{rough_noise, smooth_noise};
use crate::lamp::KeyLamp;
use crate::library::Library;
use crate::plan::{CuePlan, KEY_LUX, KeyPlan, WashFrom, WashPlan};
use crate::shape::Ray;
use crate::spectrum::Spectrum;
use crate::vector::{Vector, smooth_step, vector};

/// Keys that one frame can have: two cues of two keys during a fade.
pub(crate) const MOST_KEYS: usize = 4;

/// A source of light.
#[derive(Clone, Debug)]
pub(crate) struct Source {
    /// Index into the frame's spectra.
    pub(crate) spectrum: usize,
    /// Index of the key, when it is one.
    pub(crate) key: Option<usize>,
    pub(crate) shape: SourceShape,
    /// Illuminance where it is full: lux of a key, lux-equivalent power of a wash.
    pub(crate) level: f64,
    pub(crate) casts_shadow: bool,
    /// Share of it that the drape gets.
    pub(crate) on_drape: f64,
}

/// How a source spreads.
#[derive(Clone, Copy, Debug)]
pub(crate) enum SourceShape {
    /// From a place along a unit axis; full inside the first cosine, none outside the second.
    Cone {
        from: Vector,
        axis: Vector,
        full: f64,
        none: f64,
    },
    /// From about this direction, softly, uneven over the stage; the number seeds its unevenness.
    Flood { towards: Vector, seed: u32 },
}

/// A lamp that the camera may look into, with its beam.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SeenLamp {
    pub(crate) spectrum: usize,
    pub(crate) from: Vector,
    pub(crate) axis: Vector,
    /// Tangent of the beam's half angle.
    pub(crate) spread: f64,
    pub(crate) level: f64,
}

/// All light of a frame.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lighting {
    pub(crate) spectra: Vec<Spectrum>,
    pub(crate) sources: Vec<Source>,
    pub(crate) lamps: Vec<SeenLamp>,
    /// Spectrum and full level in lux of each key.
    pub(crate) keys: Vec<(KeyPlan, usize, f64)>,
    /// Level of the keys in lux: the brightest's, of two cues in a cross-fade added up.
    pub(crate) level: f64,
    /// Haze in the air, 0 to 1.
    pub(crate) haze: f64,
    /// Glow of the haze: spectrum and strength.
    pub(crate) glow: Vec<(usize, f64)>,
}

/// Where the performers' chests are, so that spots find them.
pub(crate) const CHESTS: [Vector; 4] = [
    vector(0.0, 1.25, 1.2),
    vector(-1.65, 1.25, 0.5),
    vector(1.75, 1.25, 0.35),
    vector(0.1, 1.3, -2.4),
];

/// Height and depth of the back truss, and where its lamps hang.
pub(crate) const TRUSS: [f64; 2] = [4.1, -3.0];
const LAMP_PLACES: [f64; 6] = [-3.3, -2.0, -0.7, 0.6, 1.9, 3.2];
/// Front of house: a bar for the front wash, a platform for the spots.
const FRONT_BAR: Vector = vector(-2.2, 4.6, 10.0);
const SPOT_PLACE: Vector = vector(3.0, 6.0, 17.0);

impl Lighting {
    /// The light of a cue, with what is left of the cue before: `arrived` is 0 at the start of the fade and 1 after it.
    pub(crate) fn new(
        library: &Library,
        cue: &CuePlan,
        before: Option<&CuePlan>,
        arrived: f64,
        key_on_drape: f64,
        seed: u32,
    ) -> Result<Self, SimulatorError> {
        let mut lighting = Self::default();
        let mut states = vec![(cue, arrived)];
        if let Some(before) = before.filter(|_| arrived < 1.0) {
            states.push((before, 1.0 - arrived));
        }
        for (cue, share) in states {
            if share <= 0.0 {
                continue;
            }
            lighting.haze += cue.haze * share;
            let before = lighting.keys.len();
            for key in &cue.keys {
                lighting.add_key(library, *key, share, key_on_drape)?;
            }
            let own = lighting.keys[before..].iter().map(|key| key.2);
            lighting.level += own.fold(0.0, f64::max);
            for (place, wash) in cue.washes.iter().enumerate() {
                lighting.add_wash(library, wash, place, cue.washes.len(), share, seed);
            }
        }
        Ok(lighting)
    }

    fn add_key(
        &mut self,
        library: &Library,
        key: KeyPlan,
        share: f64,
        on_drape: f64,
    ) -> Result<(), SimulatorError> {
        let stops = key.stops + libm::log2(share);
        let level = KEY_LUX * libm::exp2(stops);
        let number = self.keys.len();
        if number == MOST_KEYS || level < KEY_LUX / 4096.0 {
            return Ok(());
        }
        let spectrum = self.add_spectrum(key.lamp.spectrum(library, stops)?);
        let (from, aim, full, none) = if key.spot {
            // A pool about 1.3 m in radius with a soft rim, 17 m away.
            (SPOT_PLACE, CHESTS[key.follows.min(3)], 0.9984, 0.9955)
        } else {
            let from = match key.lamp {
                KeyLamp::Tungsten(_) | KeyLamp::Fluorescent => FRONT_BAR,
                _ => vector(-FRONT_BAR.x, FRONT_BAR.y, FRONT_BAR.z),
            };
            (from, vector(0.0, 1.0, 0.3), 0.975, 0.93)
        };
        let axis = (aim - from).unit();
        self.sources.push(Source {
            spectrum,
            key: Some(number),
            shape: SourceShape::Cone {
                from,
                axis,
                full,
                none,
            },
            level,
            casts_shadow: true,
            on_drape,
        });
        // Light that comes back from floor and walls, and what the air scatters.
        self.sources.push(Source {
            spectrum,
            key: Some(number),
            shape: SourceShape::Flood {
                towards: vector(0.3, 0.5, 0.8).unit(),
                seed: 900,
            },
            level: level * if key.spot { 0.003 } else { 0.006 },
            casts_shadow: false,
            on_drape: 0.5,
        });
        self.glow
            .push((spectrum, level * if key.spot { 0.0015 } else { 0.004 }));
        self.keys.push((key, spectrum, level));
        Ok(())
    }

    fn add_wash(
        &mut self,
        library: &Library,
        wash: &WashPlan,
        place: usize,
        of: usize,
        share: f64,
        seed: u32,
    ) {
        let level = KEY_LUX * wash.power * share;
        let spectrum = self.add_spectrum(wash.colour.spectrum(library));
        let cone = |from: Vector, aim: Vector, full: f64, none: f64| SourceShape::Cone {
            from,
            axis: (aim - from).unit(),
            full,
            none,
        };
        let add = |sources: &mut Vec<Source>, shape, level: f64, casts_shadow, on_drape| {
            sources.push(Source {
                spectrum,
                key: None,
                shape,
                level,
                casts_shadow,
                on_drape,
            });
        };
        let wave = seed.wrapping_mul(7).wrapping_add(place as u32);
        match wash.from {
            WashFrom::Back => {
                for (index, &x) in LAMP_PLACES
                    .iter()
                    .enumerate()
                    .filter(|(index, _)| index % of == place)
                {
                    let from = vector(x, TRUSS[0] - 0.35, TRUSS[1] + 0.2);
                    let sway =
                        smooth_noise(f64::from(wave) * 0.37, index as f64 * 3.1, 0.0, 77) - 0.5;
                    let aim = vector(x * 0.45 + sway * 2.6, 0.2, 2.2 + sway * 1.5);
                    add(
                        &mut self.sources,
                        cone(from, aim, 0.965, 0.88),
                        level * 0.75,
                        false,
                        0.0,
                    );
                    self.lamps.push(SeenLamp {
                        spectrum,
                        from,
                        axis: (aim - from).unit(),
                        spread: 0.1,
                        level,
                    });
                }
            }
            WashFrom::Sides => {
                for side in [-1.0, 1.0] {
                    let from = vector(side * 5.5, 2.6, 0.6);
                    let shape = cone(from, vector(0.0, 1.0, 0.2), 0.94, 0.8);
                    add(&mut self.sources, shape, level * 0.5, true, 0.5);
                }
            }
            WashFrom::Front => {
                let shape = cone(vector(0.8, 4.8, 10.5), vector(0.0, 1.0, 0.3), 0.975, 0.93);
                add(
                    &mut self.sources,
                    shape,
                    level * wash.on_performers,
                    true,
                    0.3,
                );
            }
        }
        let flood = SourceShape::Flood {
            towards: vector(0.1 - 0.2 * place as f64, 0.8, 0.35).unit(),
            seed: wave,
        };
        add(
            &mut self.sources,
            flood,
            level * wash.on_performers,
            false,
            3.0,
        );
        self.glow.push((spectrum, level * 0.025));
    }

    fn add_spectrum(&mut self, spectrum: Spectrum) -> usize {
        self.spectra.push(spectrum);
        self.spectra.len() - 1
    }
}

impl Source {
    /// Direction to the source from a point, and the illuminance there on a surface that faces it.
    pub(crate) fn at(&self, point: Vector) -> (Vector, f64, f64) {
        match self.shape {
            SourceShape::Cone {
                from,
                axis,
                full,
                none,
            } => {
                let to = from - point;
                let distance = to.length();
                let towards = to * (1.0 / distance);
                let spot = smooth_step(none, full, -towards.dot(axis));
                (towards, self.level * spot, distance)
            }
            SourceShape::Flood { towards, seed } => {
                let uneven = rough_noise(point.x * 0.7, point.y * 0.7, point.z * 0.7, seed, 2);
                (towards, self.level * (0.35 + 1.3 * uneven), f64::MAX)
            }
        }
    }

    /// How much of the illuminance a surface of this unit normal takes.
    pub(crate) fn on_normal(&self, towards: Vector, normal: Vector) -> f64 {
        let cosine = towards.dot(normal);
        match self.shape {
            SourceShape::Cone { .. } => cosine.max(0.0),
            SourceShape::Flood { .. } => {
                let soft = 0.5 + 0.5 * cosine;
                soft * soft
            }
        }
    }
}

impl SeenLamp {
    /// Light that the beam scatters towards the camera along a ray up to a distance, for haze of 1.
    pub(crate) fn beam(&self, ray: &Ray, up_to: f64, seed: u32) -> f64 {
        /// Share of a beam's light that thick haze scatters to the side in a metre.
        const SCATTERING: f64 = 0.13;
        // Nearest points of two lines.
        let between = ray.from - self.from;
        let (b, d, e) = (
            ray.along.dot(self.axis),
            ray.along.dot(between),
            self.axis.dot(between),
        );
        let under = (1.0 - b * b).max(0.02);
        let along_beam = (e - b * d) / under;
        let along_ray = (b * e - d) / under;
        if along_beam <= 0.0 || along_ray <= 0.0 {
            return 0.0;
        }
        let (on_ray, on_beam) = (ray.at(along_ray), self.from + self.axis * along_beam);
        let width = 0.07 + self.spread * along_beam;
        let off = (on_ray - on_beam).length() / width;
        if off > 2.2 {
            return 0.0;
        }
        let smoke = rough_noise(on_ray.x * 2.2, on_ray.y * 1.6, on_ray.z * 1.2, seed, 3);
        let before = smooth_step(along_ray - width * 2.0, along_ray + width, up_to);
        // A beam's light thins with its section; the path through it grows with its width.
        let density = 1.0 / (width * 6.0) / under.sqrt();
        let fading = libm::exp(-0.22 * along_beam);
        self.level
            * SCATTERING
            * libm::exp(-off * off * 1.8)
            * density
            * fading
            * (0.45 + 1.1 * smoke)
            * before
    }

    /// How bright the lamp looks from a point: 1 on its axis, little from the side.
    pub(crate) fn towards(&self, point: Vector) -> f64 {
        let cosine = (point - self.from).unit().dot(self.axis).max(0.0);
        let square = cosine * cosine;
        0.03 + square * square * square
    }
}
