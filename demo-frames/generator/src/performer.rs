//! Bodies of performers, built from flowing parts: measured in own coordinates of a person standing at the origin and
//! looking to +z, 1.75 m tall.

use crate::head;
use crate::material::{MaterialId, id};
use crate::shape::{Object, Part, Solid};
use crate::vector::{Place, Vector, vector};

/// What a performer looks like and wears.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Person {
    pub(crate) skin: MaterialId,
    pub(crate) hair: MaterialId,
    pub(crate) long_hair: bool,
    pub(crate) beard: bool,
    pub(crate) top: MaterialId,
    /// Shown between the open fronts of the top.
    pub(crate) shirt: MaterialId,
    pub(crate) trousers: MaterialId,
    /// Height in metres.
    pub(crate) height: f64,
}

/// How a performer stands, own coordinates in metres of a 1.75 m person.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pose {
    /// Where, and which way the body looks.
    pub(crate) place: Place,
    /// Turn of the head against the body, radians: to the audience's right, and up.
    pub(crate) head: [f64; 2],
    /// Hands: left and right of the picture.
    pub(crate) hands: [Vector; 2],
    /// Sideways lean at the shoulders, metres.
    pub(crate) lean: f64,
    pub(crate) seated: bool,
}

/// Lengths of upper arm and forearm, metres (anthropometric means, rounded).
const UPPER_ARM: f64 = 0.29;
const FOREARM: f64 = 0.26;
/// Width over which cloth and skin parts flow together, metres.
const FLOW: f64 = 0.05;

/// Builds the body: trunk with arms and legs, and the head apart so that faces blend on their own scale.
pub(crate) fn build(person: &Person, pose: &Pose) -> Vec<Object> {
    let scale = person.height / 1.75;
    let drop = if pose.seated { 0.40 } else { 0.0 };
    // From own coordinates to stage space; what is above the hips leans.
    let at = |own: Vector| {
        let share = ((own.y - 0.9) / 0.7).clamp(0.0, 1.3);
        pose.place
            .out((own + vector(pose.lean * share, -drop, 0.0)) * scale)
    };
    let oval = |own: Vector, radii: Vector, material: MaterialId, blend: f64| {
        let place = Place {
            origin: at(own),
            ..pose.place
        };
        Part::new(Solid::Ellipsoid(radii * scale), place, material, blend)
    };
    let limb = |from: Vector, to: Vector, near: f64, far: f64, material: MaterialId| {
        Part::limb(at(from), at(to), near * scale, far * scale, material, FLOW)
    };

    let top = person.top;
    let mut trunk = vec![
        oval(vector(0.0, 1.31, 0.0), vector(0.185, 0.21, 0.12), top, 0.09),
        oval(vector(0.0, 1.1, 0.005), vector(0.16, 0.2, 0.115), top, 0.09),
        oval(
            vector(0.0, 0.95, 0.0),
            vector(0.168, 0.14, 0.125),
            top,
            0.06,
        ),
        limb(
            vector(-0.15, 1.44, 0.0),
            vector(0.15, 1.44, 0.0),
            0.068,
            0.068,
            top,
        ),
        limb(
            vector(0.0, 1.46, -0.01),
            vector(0.0, 1.56, 0.012),
            0.06,
            0.05,
            person.skin,
        ),
        // Collar.
        limb(
            vector(-0.055, 1.485, 0.02),
            vector(0.0, 1.475, 0.075),
            0.022,
            0.016,
            person.shirt,
        ),
        limb(
            vector(0.055, 1.485, 0.02),
            vector(0.0, 1.475, 0.075),
            0.022,
            0.016,
            person.shirt,
        ),
    ];
    if person.shirt != person.top {
        trunk.push(oval(
            vector(0.0, 1.24, 0.034),
            vector(0.082, 0.235, 0.1),
            person.shirt,
            0.012,
        ));
    }
    for (side, hand) in [(-1.0, pose.hands[0]), (1.0, pose.hands[1])] {
        let shoulder = vector(side * 0.195, 1.425, 0.0);
        let elbow = elbow(shoulder, hand, side);
        let cuff = elbow.towards(hand, 0.55);
        trunk.push(limb(shoulder, elbow, 0.064, 0.05, top));
        trunk.push(limb(elbow, cuff, 0.05, 0.044, top));
        trunk.push(limb(cuff, hand, 0.036, 0.027, person.skin));
        trunk.extend(hand_parts(&at, elbow, hand, scale, person.skin));
    }
    for side in [-1.0, 1.0] {
        let hip = vector(side * 0.09, 0.92, 0.0);
        let (knee, ankle) = if pose.seated {
            (
                vector(side * 0.17, 0.9, 0.42),
                vector(side * 0.17, 0.45, 0.4),
            )
        } else {
            (
                vector(side * 0.11, 0.5, 0.03),
                vector(side * 0.13, 0.07, 0.0),
            )
        };
        trunk.push(limb(hip, knee, 0.092, 0.066, person.trousers));
        trunk.push(limb(knee, ankle, 0.064, 0.052, person.trousers));
        trunk.push(oval(
            ankle + vector(0.0, -0.03, 0.06),
            vector(0.05, 0.045, 0.13),
            id::SHOE,
            0.02,
        ));
    }
    vec![
        Object::new(trunk),
        head::build(person, pose, at(vector(0.0, 1.645, 0.02)), scale),
    ]
}

/// Where the elbow goes: below and outside of the line from shoulder to hand.
fn elbow(shoulder: Vector, hand: Vector, side: f64) -> Vector {
    let line = hand - shoulder;
    let length = line.length().clamp(1e-3, UPPER_ARM + FOREARM - 1e-3);
    let along = (UPPER_ARM * UPPER_ARM - FOREARM * FOREARM + length * length) / (2.0 * length);
    let off = (UPPER_ARM * UPPER_ARM - along * along).max(0.0).sqrt();
    let direction = line.unit();
    let wish = vector(side * 0.6, -1.0, -0.35);
    let out = (wish - direction * wish.dot(direction)).unit();
    shoulder + direction * along + out * off
}

/// A fist: palm, four bent fingers and a thumb.
fn hand_parts(
    at: &impl Fn(Vector) -> Vector,
    elbow: Vector,
    hand: Vector,
    scale: f64,
    skin: MaterialId,
) -> Vec<Part> {
    let forward = (at(hand) - at(elbow)).unit();
    let palm = Place::facing(
        at(hand) + forward * (0.035 * scale),
        forward,
        vector(0.0, 0.2, 1.0),
    );
    let mut parts = vec![Part::new(
        Solid::Ellipsoid(vector(0.04, 0.022, 0.048) * scale),
        palm,
        skin,
        0.02,
    )];
    for finger in 0..4 {
        let across = -0.027 + 0.018 * f64::from(finger);
        let from = palm.out(vector(across, 0.008, 0.03) * scale);
        let to = palm.out(vector(across * 0.9, -0.028, 0.052) * scale);
        parts.push(Part::limb(
            from,
            to,
            0.0105 * scale,
            0.0085 * scale,
            skin,
            0.006,
        ));
    }
    let thumb = palm.out(vector(-0.035, -0.012, 0.0) * scale);
    parts.push(Part::limb(
        thumb,
        palm.out(vector(-0.03, -0.035, 0.03) * scale),
        0.011 * scale,
        0.009 * scale,
        skin,
        0.01,
    ));
    parts
}
