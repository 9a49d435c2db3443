//! The light that reaches the lens along a ray: surfaces under every source, haze, beams, lamps.
//!
//! All colour is spectral, yet cheap: for each source and each material the integral of sensitivity, light and
//! reflectance is taken once a frame, and a pixel only adds multiples of these triples. The sum is exact, because light
//! adds and a texture mixes reflectances linearly.

use crate::body::Body;
use crate::chance::rough_noise;
use crate::lighting::{Lighting, MOST_KEYS};
use crate::material::{Material, MaterialId};
use crate::shape::{Ray, lets_through, meet};
use crate::stage::{DRAPE_DEPTH, FLOOR_EDGE, HALF_WIDTH, Stage};
use crate::texture::{Texture, drape, floor, of_part};
use crate::vector::{Vector, smooth_step, vector};

/// What one ray brings.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    /// Camera RGB at relative exposure 1, as share of a full photosite.
    pub(crate) light: [f64; 3],
    /// The material met; `None` for nothing but air.
    pub(crate) material: Option<MaterialId>,
    /// Which object, so that patches do not straddle two of one material; floor and drape have numbers of their own.
    pub(crate) object: usize,
    pub(crate) distance: f64,
    /// Texture at that point: factor on the reflectance and share of the accent.
    pub(crate) factor: f64,
    pub(crate) accent: f64,
    /// Illuminance of each key on the surface, lux.
    pub(crate) key_lux: [f64; MOST_KEYS],
    /// Green light that comes from keys by diffuse reflection.
    pub(crate) key_green: f64,
}

/// Object numbers of what is not an object.
const FLOOR_OBJECT: usize = usize::MAX - 1;
const DRAPE_OBJECT: usize = usize::MAX - 2;
/// Farther than anything.
const FAR: f64 = 60.0;
/// Radius of a lamp's lens, metres.
const LAMP_RADIUS: f64 = 0.1;
/// How much brighter than a white surface under it a lamp looks from its axis.
const LAMP_BRIGHTNESS: f64 = 160.0;

/// Responses of one body to one frame's light.
pub(crate) struct Shader<'a> {
    pub(crate) stage: &'a Stage,
    pub(crate) lighting: &'a Lighting,
    pub(crate) materials: &'a [Material],
    /// By spectrum: response to a perfect white at one lux.
    white: Vec<[f64; 3]>,
    /// By spectrum, then material: base and accent at one lux.
    responses: Vec<Vec<[[f64; 3]; 2]>>,
    /// By lamp: share of it that the camera sees.
    unhidden: Vec<f64>,
    smoke_seed: u32,
}

fn add(sum: &mut [f64; 3], triple: [f64; 3], factor: f64) {
    for (total, value) in sum.iter_mut().zip(triple) {
        *total += value * factor;
    }
}

/// A surface point ready to be lit.
struct Surface {
    point: Vector,
    normal: Vector,
    texture: Texture,
    object: usize,
    distance: f64,
    /// Share of the surroundings that the point sees.
    open: f64,
    is_drape: bool,
}

impl<'a> Shader<'a> {
    pub(crate) fn new(
        body: &Body,
        stage: &'a Stage,
        lighting: &'a Lighting,
        materials: &'a [Material],
        eye: Vector,
        smoke_seed: u32,
    ) -> Self {
        let white = lighting
            .spectra
            .iter()
            .map(|light| body.response(light))
            .collect();
        let responses = lighting
            .spectra
            .iter()
            .map(|light| {
                let of = |reflectance| body.response(&light.times(reflectance));
                materials
                    .iter()
                    .map(|material| [of(&material.base), of(&material.accent)])
                    .collect()
            })
            .collect();
        let unhidden = lighting
            .lamps
            .iter()
            .map(|lamp| {
                let start = lamp.from + lamp.axis * 0.3;
                let to = eye - start;
                let ray = Ray {
                    from: start,
                    along: to.unit(),
                };
                lets_through(&stage.objects, &ray, to.length())
            })
            .collect();
        Self {
            stage,
            lighting,
            materials,
            white,
            responses,
            unhidden,
            smoke_seed,
        }
    }

    /// Everything along a ray; `pixel` is the angle of a pixel.
    pub(crate) fn see(&self, ray: &Ray, pixel: f64) -> Seen {
        let surface = self.surface(ray, pixel);
        let up_to = surface.as_ref().map_or(FAR, |surface| surface.distance);
        let mut seen = Seen {
            light: [0.0; 3],
            material: None,
            object: 0,
            distance: up_to,
            factor: 1.0,
            accent: 0.0,
            key_lux: [0.0; MOST_KEYS],
            key_green: 0.0,
        };
        if let Some(surface) = surface {
            self.light_surface(&surface, ray, &mut seen);
        }
        self.add_air(ray, up_to, &mut seen.light);
        seen
    }

    fn surface(&self, ray: &Ray, pixel: f64) -> Option<Surface> {
        let (mut limit, mut plane) = (FAR, None);
        let to_drape = (DRAPE_DEPTH - ray.from.z) / ray.along.z;
        if to_drape > 0.0 && to_drape < limit {
            let point = ray.at(to_drape);
            if point.x.abs() < HALF_WIDTH && point.y > -0.1 && point.y < 5.6 {
                (limit, plane) = (to_drape, Some(true));
            }
        }
        let to_floor = -ray.from.y / ray.along.y;
        if to_floor > 0.0 && to_floor < limit {
            let point = ray.at(to_floor);
            if point.x.abs() < HALF_WIDTH && point.z < FLOOR_EDGE {
                (limit, plane) = (to_floor, Some(false));
            }
        }
        if let Some(found) = meet(&self.stage.objects, ray, limit) {
            let point = ray.at(found.distance);
            let object = &self.stage.objects[found.object];
            let part = &object.parts[found.part];
            let plain = object.normal(point);
            let texture = of_part(self.materials, part, point, pixel * found.distance);
            // Creases and armpits see less of the room.
            let near = object.distance(point + plain * 0.05, 0.05) / 0.05;
            let above_floor = smooth_step(-0.05, 0.5, point.y);
            return Some(Surface {
                point: point + plain * 1e-3,
                normal: bent(plain, texture.slope),
                texture,
                object: found.object,
                distance: found.distance,
                open: near.clamp(0.25, 1.0) * (0.6 + 0.4 * above_floor),
                is_drape: false,
            });
        }
        let is_drape = plane?;
        let point = ray.at(limit);
        let (texture, plain, object) = if is_drape {
            (
                drape(self.stage.drape, point),
                vector(0.0, 0.0, 1.0),
                DRAPE_OBJECT,
            )
        } else {
            (
                floor(point, pixel * limit),
                vector(0.0, 1.0, 0.0),
                FLOOR_OBJECT,
            )
        };
        Some(Surface {
            point: point + plain * 1e-3,
            normal: bent(plain, texture.slope),
            texture,
            object,
            distance: limit,
            open: 1.0,
            is_drape,
        })
    }

    fn light_surface(&self, surface: &Surface, ray: &Ray, seen: &mut Seen) {
        let texture = &surface.texture;
        let material = &self.materials[texture.material];
        let toward_eye = -ray.along;
        let grazing = 1.0 - surface.normal.dot(toward_eye).clamp(0.0, 1.0);
        // Schlick 1994: the mirror-like share grows towards grazing.
        let fifth = grazing * grazing * grazing * grazing * grazing;
        let mirror = material.gloss + (0.5 * material.gloss.min(0.1)) * fifth * 4.0;
        for source in &self.lighting.sources {
            let (towards, mut level, distance) = source.at(surface.point);
            if surface.is_drape {
                level *= source.on_drape;
            }
            let flood = distance == f64::MAX;
            let taken =
                source.on_normal(towards, surface.normal) * if flood { surface.open } else { 1.0 };
            let mut lux = level * taken;
            if lux <= 1e-3 {
                continue;
            }
            if source.casts_shadow {
                let shadow = Ray {
                    from: surface.point,
                    along: towards,
                };
                lux *= lets_through(&self.stage.objects, &shadow, distance.min(7.0));
            }
            let [base, accent] = self.responses[source.spectrum][texture.material];
            let before = seen.light[1];
            add(
                &mut seen.light,
                base,
                lux * texture.factor * (1.0 - texture.accent),
            );
            add(
                &mut seen.light,
                accent,
                lux * texture.factor * texture.accent,
            );
            if let Some(key) = source.key {
                seen.key_lux[key] += lux;
                seen.key_green += seen.light[1] - before;
            }
            let half = (towards + toward_eye).unit().dot(surface.normal);
            if half > 0.0 && !flood && mirror > 0.0 {
                let spread = (material.sharpness + 8.0) / 8.0;
                add(
                    &mut seen.light,
                    self.white[source.spectrum],
                    lux * mirror * spread * libm::pow(half, material.sharpness),
                );
            } else if flood && mirror > 0.05 {
                // Metal mirrors the room rather than one lamp.
                add(
                    &mut seen.light,
                    self.white[source.spectrum],
                    lux * mirror * 0.8,
                );
            }
        }
        seen.material = Some(texture.material);
        seen.object = surface.object;
        seen.factor = texture.factor;
        seen.accent = texture.accent;
    }

    /// Haze, beams and lamps.
    fn add_air(&self, ray: &Ray, up_to: f64, light: &mut [f64; 3]) {
        let haze = self.lighting.haze;
        if haze > 0.0 {
            let depth = up_to.min(16.0);
            let middle = ray.at(depth * 0.75);
            let cloud = rough_noise(
                middle.x * 0.5,
                middle.y * 0.7,
                middle.z * 0.4,
                self.smoke_seed,
                3,
            );
            // Haze hangs upstage and high, where its machines and the lamps are; little of it before the performers.
            let height = 0.4 + 0.6 * smooth_step(-0.5, 4.0, middle.y);
            let upstage = 0.2 + 0.8 * smooth_step(3.0, -1.5, middle.z);
            let amount =
                haze * (1.0 - libm::exp(-depth / 14.0)) * (0.4 + 1.2 * cloud) * height * upstage;
            for &(spectrum, strength) in &self.lighting.glow {
                add(light, self.white[spectrum], strength * amount);
            }
        }
        for (lamp, &unhidden) in self.lighting.lamps.iter().zip(&self.unhidden) {
            let white = self.white[lamp.spectrum];
            if haze > 0.0 {
                add(light, white, haze * lamp.beam(ray, up_to, self.smoke_seed));
            }
            let to = lamp.from + lamp.axis * 0.14 - ray.from;
            let along = to.dot(ray.along);
            if along <= 0.0 {
                continue;
            }
            let off = (to - ray.along * along).length();
            let bright = lamp.level * LAMP_BRIGHTNESS * lamp.towards(ray.from);
            if along < up_to + 0.2 {
                let disc = 1.0 - smooth_step(LAMP_RADIUS * 0.8, LAMP_RADIUS, off);
                add(light, white, bright * disc);
            }
            // Glare in lens and haze: two wide skirts.
            let near = off / (along * 0.012);
            let wide = off / (along * 0.07);
            let skirt = 1.0 + wide * wide;
            let core = 1.0 + near * near;
            let glare = 3.0e-3 / (core * core.sqrt()) + 4.0e-4 / (skirt * skirt);
            add(light, white, bright * unhidden * glare);
        }
    }
}

/// A normal bent by a texture's slope.
fn bent(normal: Vector, slope: Vector) -> Vector {
    let along = slope - normal * slope.dot(normal);
    (normal - along).unit()
}
