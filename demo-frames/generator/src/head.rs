//! Heads: skull, jaw, nose, brow, cheeks, lips, eyes, ears, hair, in own coordinates around the middle of the skull.

use crate::chance::Chance;
use crate::material::{MaterialId, id};
use crate::performer::{Person, Pose};
use crate::shape::{Object, Part, Solid};
use crate::vector::{Place, Vector, vector};

/// A head under construction: makes parts in own coordinates.
struct Head {
    place: Place,
    scale: f64,
    parts: Vec<Part>,
}

impl Head {
    fn oval(&mut self, own: Vector, radii: Vector, material: MaterialId, blend: f64) {
        let place = Place {
            origin: self.place.out(own * self.scale),
            ..self.place
        };
        self.parts.push(Part::new(
            Solid::Ellipsoid(radii * self.scale),
            place,
            material,
            blend,
        ));
    }

    fn rod(&mut self, from: Vector, to: Vector, radii: [f64; 2], material: MaterialId, blend: f64) {
        let [near, far] = radii.map(|radius| radius * self.scale);
        let (from, to) = (
            self.place.out(from * self.scale),
            self.place.out(to * self.scale),
        );
        self.parts
            .push(Part::limb(from, to, near, far, material, blend));
    }

    /// The same rod on both sides.
    fn rods(
        &mut self,
        from: Vector,
        to: Vector,
        radii: [f64; 2],
        material: MaterialId,
        blend: f64,
    ) {
        for side in [-1.0, 1.0] {
            let mirror = |own: Vector| vector(side * own.x, own.y, own.z);
            self.rod(mirror(from), mirror(to), radii, material, blend);
        }
    }

    /// The same oval on both sides.
    fn ovals(&mut self, own: Vector, radii: Vector, material: MaterialId, blend: f64) {
        for side in [-1.0, 1.0] {
            self.oval(vector(side * own.x, own.y, own.z), radii, material, blend);
        }
    }
}

/// Builds a head at `origin`.
pub(crate) fn build(person: &Person, pose: &Pose, origin: Vector, scale: f64) -> Object {
    let (turn, lift) = (pose.head[0], pose.head[1]);
    let level = pose
        .place
        .turn_out(vector(libm::sin(turn), 0.0, libm::cos(turn)));
    let front = level * libm::cos(lift) + Place::STAGE.up * libm::sin(lift);
    let mut head = Head {
        place: Place::facing(origin, front, Place::STAGE.up),
        scale,
        parts: Vec::new(),
    };
    face(&mut head, person);
    hair(&mut head, person);
    Object::new(head.parts)
}

fn face(head: &mut Head, person: &Person) {
    let skin = person.skin;
    head.oval(
        vector(0.0, 0.02, -0.008),
        vector(0.074, 0.1, 0.092),
        skin,
        0.03,
    );
    head.oval(
        vector(0.0, -0.05, 0.018),
        vector(0.054, 0.064, 0.06),
        skin,
        0.045,
    );
    head.oval(
        vector(0.0, -0.097, 0.05),
        vector(0.023, 0.016, 0.021),
        skin,
        0.03,
    );
    // Nose: bridge, tip, wings.
    head.rod(
        vector(0.0, 0.022, 0.079),
        vector(0.0, -0.02, 0.096),
        [0.008, 0.011],
        skin,
        0.016,
    );
    head.rods(
        vector(0.004, -0.025, 0.088),
        vector(0.012, -0.026, 0.081),
        [0.007, 0.006],
        skin,
        0.01,
    );
    // Brow ridge, cheeks, ears.
    head.rod(
        vector(-0.036, 0.034, 0.068),
        vector(0.036, 0.034, 0.068),
        [0.011, 0.011],
        skin,
        0.022,
    );
    head.ovals(
        vector(0.042, -0.02, 0.05),
        vector(0.021, 0.02, 0.021),
        skin,
        0.035,
    );
    head.ovals(
        vector(0.076, -0.005, -0.008),
        vector(0.009, 0.03, 0.018),
        skin,
        0.008,
    );
    // Lips.
    head.rods(
        vector(0.0, -0.0545, 0.0775),
        vector(0.02, -0.059, 0.0715),
        [0.0042, 0.0028],
        id::LIPS,
        0.004,
    );
    head.rods(
        vector(0.0, -0.0655, 0.0765),
        vector(0.017, -0.062, 0.0715),
        [0.0052, 0.003],
        id::LIPS,
        0.005,
    );
    // Eyes, with the lids over and under them.
    head.ovals(
        vector(0.031, 0.011, 0.068),
        vector(0.0125, 0.0075, 0.0115),
        id::EYE,
        0.001,
    );
    head.rods(
        vector(0.0195, 0.0165, 0.0765),
        vector(0.043, 0.0165, 0.0675),
        [0.0042, 0.0042],
        skin,
        0.006,
    );
    head.rods(
        vector(0.0205, 0.0042, 0.0745),
        vector(0.042, 0.0048, 0.0665),
        [0.003, 0.003],
        skin,
        0.008,
    );
    head.rods(
        vector(0.0165, 0.0405, 0.0795),
        vector(0.031, 0.0435, 0.0765),
        [0.0022, 0.0027],
        person.hair,
        0.001,
    );
    head.rods(
        vector(0.031, 0.0435, 0.0765),
        vector(0.047, 0.0395, 0.0655),
        [0.0027, 0.0014],
        person.hair,
        0.001,
    );
    // The eyes tell the texture which way to look.
    for part in &mut head.parts {
        part.face = part.material == id::EYE;
    }
}

fn hair(head: &mut Head, person: &Person) {
    let hair = person.hair;
    head.oval(
        vector(0.0, 0.054, -0.026),
        vector(0.083, 0.086, 0.094),
        hair,
        0.012,
    );
    // Locks, each person's own.
    let mut chance = Chance::new(hair as u64, 50);
    for lock in 0..16 {
        let around = f64::from(lock) / 16.0 * std::f64::consts::TAU + chance.between(-0.2, 0.2);
        let (sine, cosine) = libm::sincos(around);
        // From the crown outwards; shorter to the front, where the face begins.
        let down = if cosine > 0.3 {
            chance.between(0.068, 0.095)
        } else {
            chance.between(-0.04, 0.02)
        };
        let from = vector(
            sine * 0.04,
            0.118 + chance.between(-0.006, 0.008),
            -0.02 + cosine * 0.045,
        );
        let to = vector(sine * 0.08, down, -0.024 + cosine * 0.088);
        head.rod(from, to, [0.022, chance.between(0.008, 0.015)], hair, 0.016);
    }
    if person.long_hair {
        for strand in 0..4 {
            let back = 0.03 * f64::from(strand);
            let end = vector(
                0.095 + chance.between(-0.012, 0.02),
                -0.2 + chance.between(-0.05, 0.05),
                -0.02 - back,
            );
            head.rods(vector(0.072, 0.05, -back), end, [0.024, 0.012], hair, 0.02);
        }
        head.oval(
            vector(0.0, -0.08, -0.075),
            vector(0.09, 0.15, 0.045),
            hair,
            0.04,
        );
    }
    if person.beard {
        head.oval(
            vector(0.0, -0.082, 0.024),
            vector(0.055, 0.043, 0.056),
            hair,
            0.014,
        );
        head.rods(
            vector(0.0, -0.0435, 0.0815),
            vector(0.023, -0.05, 0.071),
            [0.0045, 0.003],
            hair,
            0.003,
        );
    }
}
