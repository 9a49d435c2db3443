//! Solid shapes as signed distances, and rays that find them by sphere tracing (Hart 1996, "Sphere tracing: a geometric
//! method for the antialiased ray tracing of implicit surfaces", The Visual Computer 12).
//!
//! An object is a handful of parts that flow into each other: arms into shoulders, jaw into head. Parts whose bounding
//! sphere a ray misses are left out before the march, which is what makes whole shows affordable in tests.

use crate::material::MaterialId;
use crate::vector::{Place, Vector, vector};

/// A solid.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Solid {
    /// Half axes along the place's axes.
    Ellipsoid(Vector),
    /// A rod with round ends along the place's `front`: length, radius at the origin, radius at the far end.
    Limb(f64, f64, f64),
    /// Half sizes along the place's axes, and the radius of its edges.
    Block(Vector, f64),
    /// A disc or drum around the place's `front`: radius, half length, radius of its edges.
    Drum(f64, f64, f64),
}

/// A solid of one material at a place.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Part {
    pub(crate) solid: Solid,
    pub(crate) place: Place,
    pub(crate) material: MaterialId,
    /// Width over which it flows into its neighbours, metres.
    pub(crate) blend: f64,
    /// Whether it is the front of a head: the texture draws a face there.
    pub(crate) face: bool,
    centre: Vector,
    reach: f64,
}

impl Part {
    pub(crate) fn new(solid: Solid, place: Place, material: MaterialId, blend: f64) -> Self {
        let (centre, reach) = match solid {
            Solid::Ellipsoid(radii) => (place.origin, radii.x.max(radii.y).max(radii.z)),
            Solid::Limb(length, near, far) => (
                place.origin + place.front * (length / 2.0),
                length / 2.0 + near.max(far),
            ),
            Solid::Block(half, rounding) => (place.origin, half.length() + rounding),
            Solid::Drum(radius, half, rounding) => {
                (place.origin, vector(radius, half, 0.0).length() + rounding)
            }
        };
        Self {
            solid,
            place,
            material,
            blend,
            face: false,
            centre,
            reach: reach + blend,
        }
    }

    /// A limb between two points.
    pub(crate) fn limb(
        from: Vector,
        to: Vector,
        near: f64,
        far: f64,
        material: MaterialId,
        blend: f64,
    ) -> Self {
        let along = to - from;
        let side = if along.x.abs() < along.y.abs() {
            vector(1.0, 0.0, 0.0)
        } else {
            vector(0.0, 1.0, 0.0)
        };
        let place = Place::facing(from, along, side);
        Self::new(
            Solid::Limb(along.length(), near, far),
            place,
            material,
            blend,
        )
    }

    pub(crate) fn distance(&self, point: Vector) -> f64 {
        let own = self.place.into_own(point);
        match self.solid {
            Solid::Ellipsoid(radii) => {
                // First-order distance: exact on the surface, a little short inside a flat one.
                let k0 = vector(own.x / radii.x, own.y / radii.y, own.z / radii.z).length();
                let k1 = vector(
                    own.x / (radii.x * radii.x),
                    own.y / (radii.y * radii.y),
                    own.z / (radii.z * radii.z),
                )
                .length();
                if k1 > 0.0 {
                    k0 * (k0 - 1.0) / k1
                } else {
                    -radii.x.min(radii.y).min(radii.z)
                }
            }
            Solid::Limb(length, near, far) => {
                let along = (own.z / length).clamp(0.0, 1.0);
                let off = vector(own.x, own.y, own.z - along * length);
                off.length() - (near + (far - near) * along)
            }
            Solid::Block(half, rounding) => {
                let q = vector(
                    own.x.abs() - half.x,
                    own.y.abs() - half.y,
                    own.z.abs() - half.z,
                );
                let outside = vector(q.x.max(0.0), q.y.max(0.0), q.z.max(0.0)).length();
                outside + q.x.max(q.y).max(q.z).min(0.0) - rounding
            }
            Solid::Drum(radius, half, rounding) => {
                let radial = (own.x * own.x + own.y * own.y).sqrt() - radius;
                let axial = own.z.abs() - half;
                let outside = vector(radial.max(0.0), axial.max(0.0), 0.0).length();
                outside + radial.max(axial).min(0.0) - rounding
            }
        }
    }
}

/// Parts that flow together, with a sphere around them.
#[derive(Clone, Debug)]
pub(crate) struct Object {
    pub(crate) parts: Vec<Part>,
    centre: Vector,
    reach: f64,
}

/// Where a ray met an object.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Meeting {
    pub(crate) distance: f64,
    pub(crate) object: usize,
    pub(crate) part: usize,
}

/// A half line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ray {
    pub(crate) from: Vector,
    /// Unit direction.
    pub(crate) along: Vector,
}

impl Ray {
    pub(crate) fn at(&self, distance: f64) -> Vector {
        self.from + self.along * distance
    }

    /// Where it enters and leaves a sphere, when it does.
    fn through(&self, centre: Vector, radius: f64) -> Option<(f64, f64)> {
        let to = self.from - centre;
        let b = to.dot(self.along);
        let c = to.dot(to) - radius * radius;
        let under = b * b - c;
        if under <= 0.0 {
            return None;
        }
        let root = under.sqrt();
        (root - b > 0.0).then(|| ((-b - root).max(0.0), root - b))
    }
}

/// Parts of one object that a ray may meet; more than this many are cut off, which no object here reaches.
const MOST_ACTIVE: usize = 48;
/// Steps of a march; grazing rays end here and count as a miss.
const MOST_STEPS: usize = 72;

impl Object {
    pub(crate) fn new(parts: Vec<Part>) -> Self {
        let mut low = vector(f64::MAX, f64::MAX, f64::MAX);
        let mut high = -low;
        for part in &parts {
            let (c, r) = (part.centre, part.reach);
            low = vector(low.x.min(c.x - r), low.y.min(c.y - r), low.z.min(c.z - r));
            high = vector(
                high.x.max(c.x + r),
                high.y.max(c.y + r),
                high.z.max(c.z + r),
            );
        }
        let centre = low.towards(high, 0.5);
        let reach = parts
            .iter()
            .map(|part| (part.centre - centre).length() + part.reach)
            .fold(0.0, f64::max);
        Self {
            parts,
            centre,
            reach,
        }
    }

    /// Distance of the flowing union of the parts named, and the nearest of them.
    fn distance_among(&self, active: &[usize], point: Vector) -> (f64, usize) {
        let mut joined = f64::MAX;
        let (mut nearest, mut smallest) = (0, f64::MAX);
        for &index in active {
            let part = &self.parts[index];
            let distance = part.distance(point);
            if distance < smallest {
                (smallest, nearest) = (distance, index);
            }
            // Polynomial smooth minimum.
            let overlap = if part.blend > 0.0 {
                (part.blend - (joined - distance).abs()).max(0.0) / part.blend
            } else {
                0.0
            };
            joined = joined.min(distance) - overlap * overlap * part.blend / 4.0;
        }
        (joined, nearest)
    }

    /// Distance to the whole object, up to `limit`: what is farther away counts as `limit`.
    pub(crate) fn distance(&self, point: Vector, limit: f64) -> f64 {
        let mut slots = [0; MOST_ACTIVE];
        let count = self.near(point, limit, &mut slots);
        self.distance_among(&slots[..count], point).0.min(limit)
    }

    /// Parts that a point may be nearer to than `limit`.
    fn near(&self, point: Vector, limit: f64, slots: &mut [usize; MOST_ACTIVE]) -> usize {
        let mut count = 0;
        for (index, part) in self.parts.iter().enumerate() {
            let reach = part.reach + limit;
            let to = point - part.centre;
            if count < MOST_ACTIVE && to.dot(to) < reach * reach {
                slots[count] = index;
                count += 1;
            }
        }
        count
    }

    fn active(&self, ray: &Ray, active: &mut [usize; MOST_ACTIVE]) -> (usize, f64, f64) {
        let (mut count, mut enter, mut leave) = (0, f64::MAX, 0.0f64);
        for (index, part) in self.parts.iter().enumerate() {
            if count == MOST_ACTIVE {
                break;
            }
            if let Some((near, far)) = ray.through(part.centre, part.reach) {
                active[count] = index;
                count += 1;
                enter = enter.min(near);
                leave = leave.max(far);
            }
        }
        (count, enter, leave)
    }

    /// Where a ray meets it, nearer than `limit`.
    fn meet(&self, ray: &Ray, limit: f64) -> Option<(f64, usize)> {
        ray.through(self.centre, self.reach)?;
        let mut slots = [0; MOST_ACTIVE];
        let (count, mut at, leave) = self.active(ray, &mut slots);
        let leave = leave.min(limit);
        for _ in 0..MOST_STEPS {
            if count == 0 || at > leave {
                return None;
            }
            let (distance, part) = self.distance_among(&slots[..count], ray.at(at));
            if distance < 2e-4 * at.max(1.0) {
                return Some((at, part));
            }
            // Ellipsoids' first-order distances overshoot when they are flat: step short.
            at += distance * 0.85;
        }
        None
    }

    /// Share of light that passes along the ray before `limit`: 0 blocked, 1 free, between near an edge.
    fn lets_through(&self, ray: &Ray, limit: f64) -> f64 {
        /// Reciprocal of the lamp's apparent radius: how soft shadow edges are.
        const SHARPNESS: f64 = 40.0;
        if ray.through(self.centre, self.reach).is_none() {
            return 1.0;
        }
        let mut slots = [0; MOST_ACTIVE];
        let (count, enter, leave) = self.active(ray, &mut slots);
        let (mut at, leave) = (enter.max(0.012), leave.min(limit));
        let mut open = 1.0f64;
        for _ in 0..MOST_STEPS / 2 {
            if count == 0 || at > leave {
                break;
            }
            let (distance, _) = self.distance_among(&slots[..count], ray.at(at));
            if distance < 5e-4 {
                return 0.0;
            }
            open = open.min(SHARPNESS * distance / at.max(0.15));
            at += distance.max(0.006);
        }
        open * open * (3.0 - 2.0 * open)
    }

    /// Outward unit normal by a tetrahedron of differences.
    pub(crate) fn normal(&self, point: Vector) -> Vector {
        const STEP: f64 = 1.5e-3;
        let mut slots = [0; MOST_ACTIVE];
        let count = self.near(point, 2.0 * STEP, &mut slots);
        let at = |x: f64, y: f64, z: f64| {
            let direction = vector(x, y, z);
            direction
                * self
                    .distance_among(&slots[..count], point + direction * STEP)
                    .0
        };
        (at(1.0, -1.0, -1.0) + at(-1.0, -1.0, 1.0) + at(-1.0, 1.0, -1.0) + at(1.0, 1.0, 1.0)).unit()
    }
}

/// The nearest meeting of a ray with any object.
pub(crate) fn meet(objects: &[Object], ray: &Ray, limit: f64) -> Option<Meeting> {
    let mut best: Option<Meeting> = None;
    for (index, object) in objects.iter().enumerate() {
        let limit = best.map_or(limit, |found| found.distance);
        if let Some((distance, part)) = object.meet(ray, limit) {
            best = Some(Meeting {
                distance,
                object: index,
                part,
            });
        }
    }
    best
}

/// Share of light that passes from a point towards a lamp.
pub(crate) fn lets_through(objects: &[Object], ray: &Ray, limit: f64) -> f64 {
    let mut open = 1.0;
    for object in objects {
        open *= object.lets_through(ray, limit);
        if open <= 0.0 {
            return 0.0;
        }
    }
    open
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ball(radius: f64) -> Object {
        let radii = vector(radius, radius, radius);
        Object::new(vec![Part::new(
            Solid::Ellipsoid(radii),
            Place::STAGE,
            3,
            0.0,
        )])
    }

    #[test]
    fn a_ray_meets_a_ball_on_its_surface_and_the_normal_points_out() {
        let ray = Ray {
            from: vector(0.0, 0.0, 5.0),
            along: vector(0.0, 0.0, -1.0),
        };
        let objects = [ball(1.0)];
        let meeting = meet(&objects, &ray, 100.0);
        let distance = meeting.map_or(f64::NAN, |found| found.distance);
        // The march ends within 2e-4 of the distance travelled.
        assert!((distance - 4.0).abs() < 2e-3, "{distance}");
        let normal = objects[0].normal(ray.at(distance));
        assert!((normal - vector(0.0, 0.0, 1.0)).length() < 1e-3);
    }

    #[test]
    fn a_ball_casts_a_shadow_and_only_behind_itself() {
        let objects = [ball(0.5)];
        let up = vector(0.0, 1.0, 0.0);
        let under = Ray {
            from: vector(0.0, -2.0, 0.0),
            along: up,
        };
        let beside = Ray {
            from: vector(3.0, -2.0, 0.0),
            along: up,
        };
        assert_eq!(lets_through(&objects, &under, 10.0), 0.0);
        assert_eq!(lets_through(&objects, &beside, 10.0), 1.0);
    }
}
