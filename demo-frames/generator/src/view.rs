//! Where the camera stands and what it frames.

use crate::body::Body;
use crate::chance::Chance;
use crate::lighting::CHESTS;
use crate::plan::{FramePlan, Framing};
use crate::shape::Ray;
use crate::vector::{Place, Vector, vector};

/// A camera's view for one frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct View {
    place: Place,
    /// Half size of the picture at distance 1: across and up, of the upright picture.
    half: [f64; 2],
    /// Distance in focus.
    pub(crate) focus: f64,
    pub(crate) focal_length: u32,
    /// Radius of the lens opening, metres.
    pub(crate) opening: f64,
}

/// Sides of a full-frame sensor, mm.
const SENSOR: [f64; 2] = [36.0, 24.0];

impl View {
    pub(crate) fn new(body: &Body, frame: &FramePlan, chance: &mut Chance) -> Self {
        let mut jitter = |size: f64| chance.between(-size, size);
        let long_lens = body.lens.shortest >= 70;
        // Subject, height of the picture there, distance and side of the camera.
        let (subject, height, distance) = match frame.framing {
            Framing::Wide => (
                vector(jitter(0.3), 1.75, -0.8),
                4.6,
                if long_lens { 15.5 } else { 9.2 },
            ),
            Framing::Stage => (
                vector(jitter(0.2), 1.3, 0.4),
                2.7,
                if long_lens { 10.0 } else { 5.2 },
            ),
            Framing::HalfLength(who) => {
                let chest = CHESTS[who.min(3)];
                (
                    chest + vector(jitter(0.06), -0.02 + jitter(0.04), 0.0),
                    1.3,
                    if long_lens { 7.0 } else { 3.6 },
                )
            }
            Framing::CloseUp(who) => {
                let chest = CHESTS[who.min(3)];
                (
                    chest + vector(jitter(0.03), 0.3 + jitter(0.02), 0.0),
                    0.72,
                    if long_lens { 6.5 } else { 3.0 },
                )
            }
            Framing::Chart => (
                vector(0.5 + jitter(0.06), 0.98, 1.3),
                1.95,
                if long_lens { 6.0 } else { 3.4 },
            ),
        };
        // A turned body fits a tall subject tighter across.
        let tall = if frame.portrait { 1.25 } else { 1.0 };
        // The drummer is seen past the singer.
        let drums = matches!(frame.framing, Framing::HalfLength(3) | Framing::CloseUp(3));
        let (side, distance) = if drums {
            (-0.24 + jitter(0.03), f64::max(distance, 7.0))
        } else {
            (jitter(0.22), distance)
        };
        let eye = match frame.framing {
            Framing::Wide => {
                if long_lens {
                    2.3
                } else {
                    0.9
                }
            }
            _ if long_lens || drums => 1.9,
            _ => 0.75 + jitter(0.1),
        };
        let flat = vector(libm::sin(side), 0.0, libm::cos(side));
        let from = vector(subject.x, 0.0, subject.z) + flat * distance + vector(0.0, eye, 0.0);
        let real = (subject - from).length();
        let focal = focal_length(frame.portrait, height * tall, real, body);
        let tilt = jitter(0.02);
        let forward = (subject - from).unit();
        let level = Place::facing(from, forward, Place::STAGE.up);
        let up = (level.up + level.right * tilt).unit();
        // `facing` makes `right` for someone who looks along +front; a camera's right is the other way round.
        let place = Place::facing(from, forward, up);
        let [across, upward] = if frame.portrait {
            [SENSOR[1], SENSOR[0]]
        } else {
            SENSOR
        };
        Self {
            place,
            half: [
                across / (2.0 * f64::from(focal)),
                upward / (2.0 * f64::from(focal)),
            ],
            focus: real,
            focal_length: focal,
            opening: f64::from(focal) / 1000.0 / frame.exposure.f_number() / 2.0,
        }
    }

    /// The ray through a point of the upright picture, fractions from the top left.
    pub(crate) fn ray(&self, x: f64, y: f64) -> Ray {
        let own = vector(
            (1.0 - 2.0 * x) * self.half[0],
            (1.0 - 2.0 * y) * self.half[1],
            1.0,
        );
        Ray {
            from: self.place.origin,
            along: self.place.turn_out(own).unit(),
        }
    }

    /// Where a point of the stage lies in the upright picture, in fractions; `None` behind the camera.
    #[cfg(test)]
    pub(crate) fn project(&self, point: Vector) -> Option<[f64; 2]> {
        let own = self.place.into_own(point);
        (own.z > 0.05).then(|| {
            [
                (1.0 - own.x / own.z / self.half[0]) / 2.0,
                (1.0 - own.y / own.z / self.half[1]) / 2.0,
            ]
        })
    }

    /// Radius of the blur of a point at this distance, as a fraction of the upright picture's width.
    pub(crate) fn blur(&self, distance: f64) -> f64 {
        let gap = (1.0 / distance.max(0.1) - 1.0 / self.focus).abs();
        self.opening * gap / (2.0 * self.half[0])
    }

    /// Angle of a pixel when the upright picture is so many pixels wide, radians.
    pub(crate) fn pixel(&self, width: usize) -> f64 {
        2.0 * self.half[0] / width as f64
    }

    pub(crate) fn from(&self) -> Vector {
        self.place.origin
    }
}

/// Focal length in whole mm that makes the picture so high at that distance, within the lens's range.
fn focal_length(portrait: bool, height: f64, distance: f64, body: &Body) -> u32 {
    let side = if portrait { SENSOR[0] } else { SENSOR[1] };
    let wanted = (side * distance / height).round() as u32;
    wanted.clamp(body.lens.shortest, body.lens.longest)
}

/// From a fraction of the stored picture to one of the upright picture, by EXIF orientation 1, 3, 6 or 8 (TIFF 6.0, tag
/// 274).
pub(crate) fn upright(orientation: u16, x: f64, y: f64) -> [f64; 2] {
    match orientation {
        3 => [1.0 - x, 1.0 - y],
        6 => [1.0 - y, x],
        8 => [y, 1.0 - x],
        _ => [x, y],
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::dng::Storage;
    use crate::library::Library;
    use crate::settings::Exposure;

    #[test]
    fn projection_undoes_the_ray() {
        let body = Body::first(&Library::load().unwrap()).unwrap();
        for portrait in [false, true] {
            let frame = FramePlan {
                body: 0,
                framing: Framing::HalfLength(1),
                portrait,
                exposure: Exposure {
                    time: (1, 250),
                    f_number_tenths: 28,
                    iso: 800,
                },
                storage: Storage::LosslessJpeg,
                after_seconds: 1.0,
            };
            let view = View::new(&body, &frame, &mut Chance::new(3, 4));
            for (x, y) in [(0.2, 0.7), (0.5, 0.5), (0.9, 0.1)] {
                let found = view.project(view.ray(x, y).at(4.0)).unwrap();
                assert!((found[0] - x).abs() < 1e-9 && (found[1] - y).abs() < 1e-9);
            }
        }
        // What stands at the audience's right is right in the picture.
        let frame_right = |view: &View| view.project(vector(0.5, 1.2, 1.0)).unwrap()[0];
        let frame = FramePlan {
            body: 0,
            framing: Framing::Stage,
            portrait: false,
            exposure: Exposure {
                time: (1, 250),
                f_number_tenths: 28,
                iso: 800,
            },
            storage: Storage::LosslessJpeg,
            after_seconds: 1.0,
        };
        assert!(frame_right(&View::new(&body, &frame, &mut Chance::new(3, 4))) > 0.5);
    }
}
