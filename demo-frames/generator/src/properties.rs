//! Things on stage that are neither people nor light: instruments, stands, amplifiers, cases, riser, chart, truss,
//! crowd. In the trade they are the show's properties.

use crate::chance::Chance;
use crate::material::{MaterialId, id};
use crate::shape::{Object, Part, Solid};
use crate::vector::{Place, Vector, vector};

fn block(place: Place, own: Vector, half: Vector, rounding: f64, material: MaterialId) -> Part {
    let place = Place {
        origin: place.out(own),
        ..place
    };
    let inner = half - vector(rounding, rounding, rounding);
    Part::new(Solid::Block(inner, rounding), place, material, 0.0)
}

fn rod(place: Place, from: Vector, to: Vector, radius: f64, material: MaterialId) -> Part {
    Part::limb(
        place.out(from),
        place.out(to),
        radius,
        radius,
        material,
        0.0,
    )
}

/// A disc or drum around a direction in own axes.
fn drum(place: Place, own: Vector, axis: Vector, size: [f64; 3], material: MaterialId) -> Part {
    let side = if axis.y.abs() > 0.9 {
        Place::STAGE.front
    } else {
        Place::STAGE.up
    };
    let around = Place::facing(place.out(own), place.turn_out(axis), side);
    Part::new(
        Solid::Drum(size[0], size[1], size[2]),
        around,
        material,
        0.0,
    )
}

/// A guitar whose body's middle is at `body` and whose neck runs towards `neck_end`, its face along `front`.
pub(crate) fn guitar(
    body: Vector,
    neck_end: Vector,
    front: Vector,
    lacquer: MaterialId,
    bass: bool,
) -> Object {
    let along = (neck_end - body).unit();
    // Own axes: `up` along the neck, `front` the face.
    let place = Place::facing(body, front, along);
    let place = Place {
        up: along,
        front: along.cross(place.right).unit() * -1.0,
        ..place
    };
    let neck = if bass { 0.78 } else { 0.62 };
    let oval = |own: Vector, radii: Vector, blend: f64| {
        let place = Place {
            origin: place.out(own),
            ..place
        };
        Part::new(Solid::Ellipsoid(radii), place, lacquer, blend)
    };
    let mut parts = vec![
        oval(vector(0.0, -0.08, 0.0), vector(0.17, 0.14, 0.03), 0.06),
        oval(vector(0.0, 0.1, 0.0), vector(0.13, 0.12, 0.028), 0.06),
        oval(vector(0.12, 0.17, 0.0), vector(0.045, 0.075, 0.024), 0.05),
        oval(vector(-0.11, 0.19, 0.0), vector(0.042, 0.09, 0.024), 0.05),
        block(
            place,
            vector(0.0, 0.2 + neck / 2.0, 0.026),
            vector(0.028, neck / 2.0 + 0.1, 0.013),
            0.009,
            id::MAPLE,
        ),
        block(
            place,
            vector(0.012, 0.3 + neck, 0.02),
            vector(0.042, 0.095, 0.01),
            0.007,
            id::MAPLE,
        ),
        block(
            place,
            vector(0.065, 0.03, 0.026),
            vector(0.055, 0.12, 0.007),
            0.005,
            id::PICKGUARD,
        ),
        block(
            place,
            vector(0.0, -0.1, 0.034),
            vector(0.042, 0.014, 0.009),
            0.004,
            id::CHROME,
        ),
        block(
            place,
            vector(0.0, -0.01, 0.033),
            vector(0.04, 0.01, 0.006),
            0.003,
            id::BLACK_PAINT,
        ),
        block(
            place,
            vector(0.0, 0.07, 0.033),
            vector(0.04, 0.01, 0.006),
            0.003,
            id::BLACK_PAINT,
        ),
    ];
    for peg in 0..if bass { 4 } else { 6 } {
        let along = 0.24 + neck + 0.022 * f64::from(peg);
        parts.push(rod(
            place,
            vector(0.05, along, 0.02),
            vector(0.075, along, 0.02),
            0.006,
            id::CHROME,
        ));
    }
    for knob in 0..3 {
        let at = vector(
            0.07 - 0.012 * f64::from(knob),
            -0.07 - 0.035 * f64::from(knob),
            0.036,
        );
        parts.push(drum(
            place,
            at,
            vector(0.0, 0.0, 1.0),
            [0.011, 0.008, 0.002],
            id::CHROME,
        ));
    }
    Object::new(parts)
}

/// A microphone on a straight stand with a round base, its head at `top`.
pub(crate) fn microphone_stand(top: Vector, towards: Vector) -> Object {
    let foot = vector(top.x, 0.0, top.z + 0.06);
    let clip = vector(top.x, top.y - 0.09, top.z + 0.06);
    let place = Place::STAGE;
    let back = top - (towards - top).unit() * 0.17 - vector(0.0, 0.05, 0.0);
    Object::new(vec![
        drum(
            place,
            foot + vector(0.0, 0.015, 0.0),
            Place::STAGE.up,
            [0.13, 0.009, 0.006],
            id::CHROME,
        ),
        rod(place, foot, clip, 0.0115, id::CHROME),
        rod(
            place,
            foot + vector(0.0, 0.78, 0.0),
            foot + vector(0.0, 0.9, 0.0),
            0.018,
            id::BLACK_PAINT,
        ),
        rod(place, clip, top.towards(back, 0.6), 0.012, id::BLACK_PAINT),
        Part::limb(
            back,
            top.towards(back, 0.2),
            0.012,
            0.02,
            id::BLACK_PAINT,
            0.0,
        ),
        Part::limb(top, top.towards(back, 0.12), 0.029, 0.027, id::CHROME, 0.0),
    ])
}

/// A drum kit on its riser; the drummer sits at the origin of `place`, who looks to the audience.
pub(crate) fn drum_kit(place: Place) -> Vec<Object> {
    let up = Place::STAGE.up;
    let front = Place::STAGE.front;
    let shell = |own: Vector, axis: Vector, radius: f64, half: f64| {
        let axis = axis.unit();
        [
            drum(place, own, axis, [radius, half, 0.004], id::SHELL),
            drum(
                place,
                own + axis * (half + 0.004),
                axis,
                [radius - 0.006, 0.004, 0.002],
                id::DRUM_HEAD,
            ),
            drum(
                place,
                own + axis * (half - 0.012),
                axis,
                [radius + 0.008, 0.011, 0.004],
                id::CHROME,
            ),
            drum(
                place,
                own - axis * (half - 0.012),
                axis,
                [radius + 0.008, 0.011, 0.004],
                id::CHROME,
            ),
        ]
    };
    let mut drums: Vec<Part> = Vec::new();
    drums.extend(shell(vector(0.0, 0.31, 0.72), front, 0.29, 0.2));
    drums.extend(shell(
        vector(-0.24, 0.74, 0.62),
        vector(0.05, 1.0, -0.35),
        0.15,
        0.1,
    ));
    drums.extend(shell(
        vector(0.2, 0.74, 0.62),
        vector(-0.05, 1.0, -0.35),
        0.165,
        0.11,
    ));
    drums.extend(shell(
        vector(0.62, 0.4, 0.35),
        vector(-0.1, 1.0, -0.1),
        0.21,
        0.19,
    ));
    drums.extend(shell(
        vector(-0.36, 0.58, 0.34),
        vector(0.05, 1.0, -0.05),
        0.18,
        0.075,
    ));
    let mut metal: Vec<Part> = Vec::new();
    for (own, tilt, radius) in [
        (vector(-0.72, 0.86, 0.42), vector(0.05, 1.0, 0.05), 0.18),
        (vector(-0.62, 1.22, 0.66), vector(0.25, 1.0, -0.3), 0.22),
        (vector(0.66, 1.2, 0.62), vector(-0.3, 1.0, -0.3), 0.24),
        (vector(0.98, 1.02, 0.3), vector(-0.35, 1.0, -0.1), 0.26),
    ] {
        let axis = tilt.unit();
        metal.push(drum(place, own, axis, [radius, 0.002, 0.003], id::BRASS));
        metal.push(drum(
            place,
            own + axis * 0.008,
            axis,
            [radius * 0.24, 0.008, 0.006],
            id::BRASS,
        ));
        metal.push(rod(
            place,
            vector(own.x, 0.0, own.z),
            own + axis * 0.03,
            0.011,
            id::CHROME,
        ));
        for leg in [
            vector(0.2, 0.0, 0.1),
            vector(-0.2, 0.0, 0.1),
            vector(0.0, 0.0, -0.22),
        ] {
            let foot = vector(own.x, 0.01, own.z);
            metal.push(rod(
                place,
                foot + vector(0.0, 0.3, 0.0),
                foot + leg,
                0.009,
                id::CHROME,
            ));
        }
    }
    metal.push(rod(
        place,
        vector(-0.1, 0.55, 0.72),
        vector(-0.24, 0.66, 0.62),
        0.012,
        id::CHROME,
    ));
    metal.push(rod(
        place,
        vector(0.1, 0.55, 0.72),
        vector(0.2, 0.66, 0.62),
        0.012,
        id::CHROME,
    ));
    metal.push(drum(
        place,
        vector(0.0, 0.46, 0.0),
        up,
        [0.17, 0.035, 0.015],
        id::BLACK_PAINT,
    ));
    vec![Object::new(drums), Object::new(metal)]
}

/// A drum stick from a hand.
pub(crate) fn stick(hand: Vector, tip: Vector) -> Object {
    Object::new(vec![Part::limb(hand, tip, 0.009, 0.005, id::MAPLE, 0.0)])
}

/// A riser, so wide and deep, its top at `height`.
pub(crate) fn riser(middle: Vector, width: f64, depth: f64, height: f64) -> Object {
    let place = Place::standing(middle, 0.0);
    let mut parts = vec![
        block(
            place,
            vector(0.0, height - 0.03, 0.0),
            vector(width / 2.0, 0.03, depth / 2.0),
            0.006,
            id::BLACK_PAINT,
        ),
        block(
            place,
            vector(0.0, height / 2.0 - 0.04, 0.0),
            vector(width / 2.0 - 0.03, height / 2.0 - 0.04, depth / 2.0 - 0.03),
            0.004,
            id::CROWD,
        ),
    ];
    for side in [-1.0, 0.0, 1.0] {
        let x = side * (width / 2.0 - 0.03);
        parts.push(rod(
            place,
            vector(x, 0.0, depth / 2.0),
            vector(x, height, depth / 2.0),
            0.022,
            id::TRUSS,
        ));
    }
    Object::new(parts)
}

/// A loudspeaker cabinet with its amplifier on top.
pub(crate) fn amplifier(place: Place) -> Object {
    Object::new(vec![
        block(
            place,
            vector(0.0, 0.38, 0.0),
            vector(0.38, 0.38, 0.18),
            0.02,
            id::TOLEX,
        ),
        block(
            place,
            vector(0.0, 0.38, 0.17),
            vector(0.34, 0.34, 0.02),
            0.008,
            id::GRILLE,
        ),
        block(
            place,
            vector(0.0, 0.89, 0.0),
            vector(0.34, 0.12, 0.13),
            0.02,
            id::TOLEX,
        ),
        block(
            place,
            vector(0.0, 0.86, 0.125),
            vector(0.3, 0.05, 0.012),
            0.004,
            id::CHROME,
        ),
        drum(
            place,
            vector(-0.2, 0.86, 0.14),
            Place::STAGE.front,
            [0.018, 0.012, 0.003],
            id::BLACK_PAINT,
        ),
        drum(
            place,
            vector(-0.1, 0.86, 0.14),
            Place::STAGE.front,
            [0.018, 0.012, 0.003],
            id::BLACK_PAINT,
        ),
        drum(
            place,
            vector(0.0, 0.86, 0.14),
            Place::STAGE.front,
            [0.018, 0.012, 0.003],
            id::BLACK_PAINT,
        ),
        drum(
            place,
            vector(0.1, 0.86, 0.14),
            Place::STAGE.front,
            [0.018, 0.012, 0.003],
            id::BLACK_PAINT,
        ),
        rod(
            place,
            vector(-0.12, 1.02, 0.0),
            vector(0.12, 1.02, 0.0),
            0.014,
            id::BLACK_PAINT,
        ),
    ])
}

/// A road case with metal edges.
pub(crate) fn case(place: Place, half: Vector, material: MaterialId) -> Object {
    let middle = vector(0.0, half.y, 0.0);
    let mut parts = vec![block(place, middle, half, 0.008, material)];
    let edge = |from: Vector, to: Vector| {
        let scaled = |own: Vector| middle + vector(own.x * half.x, own.y * half.y, own.z * half.z);
        rod(place, scaled(from), scaled(to), 0.011, id::TRUSS)
    };
    for a in [-1.0, 1.0] {
        for b in [-1.0, 1.0] {
            parts.push(edge(vector(-1.0, a, b), vector(1.0, a, b)));
            parts.push(edge(vector(a, -1.0, b), vector(a, 1.0, b)));
            parts.push(edge(vector(a, b, -1.0), vector(a, b, 1.0)));
        }
    }
    if material == id::CASE {
        parts.push(block(
            place,
            vector(0.0, half.y, half.z + 0.004),
            vector(0.07, 0.05, 0.008),
            0.003,
            id::TRUSS,
        ));
    }
    Object::new(parts)
}

/// Size of the chart on stage: half width, half height in metres.
pub(crate) const CHART_HALF: [f64; 2] = [0.3, 0.205];

/// The chart and the grey card, taped side by side on a plane at `place` facing its front: centre of the pair.
pub(crate) fn chart_and_card(place: Place) -> Object {
    Object::new(vec![
        block(
            place,
            vector(-0.17, 0.0, 0.0),
            vector(CHART_HALF[0], CHART_HALF[1], 0.006),
            0.002,
            id::CHART_FRAME,
        ),
        block(
            place,
            vector(0.31, 0.0, 0.0),
            vector(0.14, 0.19, 0.005),
            0.002,
            id::GREY_CARD,
        ),
    ])
}

/// Which patch of the chart lies at own coordinates of the frame's front; `None` on the frame itself.
pub(crate) fn chart_patch(own: Vector) -> Option<usize> {
    /// Share of a cell that its patch fills.
    const FILL: f64 = 0.86;
    let column = (own.x / CHART_HALF[0] + 1.0) / 2.0 * 6.0;
    let row = (1.0 - own.y / CHART_HALF[1]) / 2.0 * 4.0;
    if own.z < 0.0 || !(0.0..6.0).contains(&column) || !(0.0..4.0).contains(&row) {
        return None;
    }
    let off = |at: f64| (at - at.floor() - 0.5).abs() < FILL / 2.0;
    (off(column) && off(row)).then(|| row as usize * 6 + column as usize)
}

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patches_are_counted_from_the_top_left() {
        let [half_width, half_height] = CHART_HALF;
        let at = |column: f64, row: f64| {
            chart_patch(vector(
                ((column + 0.5) / 3.0 - 1.0) * half_width,
                (1.0 - (row + 0.5) / 2.0) * half_height,
                0.006,
            ))
        };
        assert_eq!(at(0.0, 0.0), Some(0));
        assert_eq!(at(5.0, 0.0), Some(5));
        assert_eq!(at(0.0, 3.0), Some(18));
        assert_eq!(at(-0.5, 0.0), None);
    }
}
