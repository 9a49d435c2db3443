//! Truss above the stage and people before it.

use crate::chance::Chance;
use crate::material::id;
use crate::parts::rod;
use crate::shape::{Object, Part, Solid};
use crate::vector::{Place, vector};

/// A lattice truss along x at this height and depth.
pub(crate) fn truss(y: f64, z: f64, half: f64) -> Vec<Object> {
    const SIDE: f64 = 0.2;
    const BAY: f64 = 0.5;
    let place = Place::STAGE;
    let bays = (2.0 * half / BAY) as usize;
    let mut objects = Vec::new();
    for section in 0..bays {
        let (from, to) = (
            -half + BAY * section as f64,
            -half + BAY * (section + 1) as f64,
        );
        let at = |x: f64, dy: f64, dz: f64| vector(x, y + dy * SIDE, z + dz * SIDE);
        let mut parts = Vec::new();
        for (dy, dz) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
            parts.push(rod(
                place,
                at(from, dy, dz),
                at(to, dy, dz),
                0.025,
                id::TRUSS,
            ));
        }
        let (low, high) = if section % 2 == 0 {
            (-1.0, 1.0)
        } else {
            (1.0, -1.0)
        };
        for dz in [-1.0, 1.0] {
            parts.push(rod(
                place,
                at(from, low, dz),
                at(to, high, dz),
                0.013,
                id::TRUSS,
            ));
        }
        for dy in [-1.0, 1.0] {
            parts.push(rod(
                place,
                at(from, dy, low),
                at(to, dy, high),
                0.013,
                id::TRUSS,
            ));
        }
        objects.push(Object::new(parts));
    }
    objects
}

/// Heads and shoulders of people before the stage, some with hands up, seen from behind.
pub(crate) fn crowd(chance: &mut Chance, rows: usize) -> Vec<Object> {
    let mut objects = Vec::new();
    for row in 0..rows {
        let z = 5.0 + 0.75 * row as f64;
        let mut x = -5.5 + chance.between(0.0, 0.5);
        while x < 5.5 {
            let top = chance.between(0.42, 0.66);
            let z = z + chance.between(-0.2, 0.2);
            let head = vector(x, top, z);
            let place = Place::standing(head, 0.0);
            let mut parts = vec![
                Part::new(
                    Solid::Ellipsoid(vector(0.082, 0.115, 0.1)),
                    place,
                    id::CROWD,
                    0.05,
                ),
                Part::limb(
                    head - vector(0.0, 0.1, 0.0),
                    head - vector(0.0, 0.24, 0.0),
                    0.06,
                    0.09,
                    id::CROWD,
                    0.05,
                ),
                Part::limb(
                    head + vector(-0.2, -0.28, 0.0),
                    head + vector(0.2, -0.28, 0.0),
                    0.09,
                    0.09,
                    id::CROWD,
                    0.08,
                ),
                Part::limb(
                    head - vector(0.0, 0.3, 0.0),
                    head - vector(0.0, 0.9, 0.0),
                    0.2,
                    0.2,
                    id::CROWD,
                    0.08,
                ),
            ];
            if chance.share() < 0.16 {
                let side = if chance.share() < 0.5 { -1.0 } else { 1.0 };
                let elbow = head + vector(side * 0.3, -0.05, -0.08);
                let hand = head
                    + vector(
                        side * chance.between(0.12, 0.3),
                        chance.between(0.2, 0.34),
                        -0.14,
                    );
                parts.push(Part::limb(
                    head + vector(side * 0.22, -0.26, 0.0),
                    elbow,
                    0.055,
                    0.045,
                    id::CROWD,
                    0.03,
                ));
                parts.push(Part::limb(elbow, hand, 0.042, 0.028, id::CROWD, 0.03));
                parts.push(Part::limb(
                    hand,
                    hand + vector(0.01, 0.09, 0.0),
                    0.036,
                    0.026,
                    id::CROWD,
                    0.02,
                ));
            }
            objects.push(Object::new(parts));
            x += chance.between(0.5, 0.85);
        }
    }
    objects
}
