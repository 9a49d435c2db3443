//! Guitars, microphones on stands, a drum kit.

use crate::material::{MaterialId, id};
use crate::parts::{block, drum, rod};
use crate::shape::{Object, Part, Solid};
use crate::vector::{Place, Vector, vector};

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
