//! The stage of one frame: who stands where in which pose, with everything around them.

use crate::chance::Chance;
use crate::furniture::{amplifier, case, chart_and_card, riser};
use crate::instruments::{drum_kit, guitar, microphone_stand, stick};
use crate::lighting::TRUSS;
use crate::material::{MaterialId, id};
use crate::performer::{Person, Pose, build};
use crate::shape::{Object, Part, Solid};
use crate::surroundings::{crowd, truss};
use crate::vector::{Place, Vector, vector};

/// Depth of the drape behind everything, metres.
pub(crate) const DRAPE_DEPTH: f64 = -4.6;
/// Front edge of the stage floor.
pub(crate) const FLOOR_EDGE: f64 = 3.1;
/// Half the width of floor and drape.
pub(crate) const HALF_WIDTH: f64 = 7.5;

/// What stands on stage.
#[derive(Clone, Debug)]
pub(crate) struct Stage {
    pub(crate) objects: Vec<Object>,
    pub(crate) drape: MaterialId,
}

/// What a frame needs of the stage.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StageWish {
    pub(crate) seed: u64,
    /// Number of the frame, for poses.
    pub(crate) frame: u64,
    pub(crate) costume: u32,
    pub(crate) drape: usize,
    pub(crate) chart: bool,
    /// Whether the camera stands behind people.
    pub(crate) crowd: bool,
    /// Whether the truss can be seen.
    pub(crate) truss: bool,
}

/// The four of the band in the clothes of this costume.
fn band(seed: u64, costume: u32) -> [Person; 4] {
    let mut chance = Chance::new(seed, 20);
    // Skin and hair of four people.
    let mut people = [
        (id::SKIN[0], id::HAIR[3]),
        (id::SKIN[1], id::HAIR[1]),
        (id::SKIN[2], id::HAIR[1]),
        (id::SKIN[3], id::HAIR[0]),
    ];
    // Fisher and Yates.
    for last in (1..4).rev() {
        people.swap(last, chance.one_of(last + 1));
    }
    if chance.share() < 0.3 {
        people[0].1 = id::HAIR[2];
    }
    let mut clothes = Chance::new(seed, 30 + u64::from(costume));
    let first = clothes.one_of(id::TOPS.len());
    [0, 1, 2, 3].map(|who| {
        let top = id::TOPS[(first + who * 3 + clothes.one_of(2)) % id::TOPS.len()];
        // The singer opens the night in a white shirt.
        let singer_in_white = who == 0 && costume == 0;
        let shirt = if clothes.share() < 0.5 {
            id::WHITE_SHIRT
        } else {
            top
        };
        Person {
            skin: people[who].0,
            hair: people[who].1,
            long_hair: who == 0 || who == 3,
            beard: who == 2,
            top: if singer_in_white {
                id::WHITE_SHIRT
            } else {
                top
            },
            shirt: if who == 1 { id::WHITE_SHIRT } else { shirt },
            trousers: id::TROUSERS[clothes.one_of(id::TROUSERS.len())],
            height: 1.66 + 0.06 * ((who * 2) % 4) as f64 + 0.02 * who as f64,
        }
    })
}

impl Stage {
    pub(crate) fn new(wish: &StageWish) -> Self {
        let people = band(wish.seed, wish.costume);
        let mut chance = Chance::new(wish.seed, 1_000 + wish.frame);
        let mut objects = Vec::new();
        objects.extend(singer(&people[0], &mut chance));
        objects.extend(player(
            &people[1],
            vector(-1.65, 0.0, 0.5),
            0.35,
            id::BURST,
            false,
            &mut chance,
        ));
        objects.extend(player(
            &people[2],
            vector(1.75, 0.0, 0.35),
            -0.35,
            id::RED_LACQUER,
            true,
            &mut chance,
        ));
        objects.extend(drummer(&people[3], &mut chance));
        objects.push(amplifier(Place::standing(vector(-2.75, 0.0, -0.9), 0.15)));
        objects.push(amplifier(Place::standing(vector(2.9, 0.0, -1.0), -0.2)));
        objects.push(case(
            Place::standing(vector(-3.7, 0.0, -0.3), 0.3),
            vector(0.4, 0.45, 0.3),
            id::CASE,
        ));
        objects.push(case(
            Place::standing(vector(3.9, 0.0, -0.2), -0.25),
            vector(0.35, 0.3, 0.3),
            id::CASE,
        ));
        objects.push(case(
            Place::standing(vector(0.85, 0.0, 1.05), -0.06),
            vector(0.52, 0.34, 0.26),
            id::GREY_CASE,
        ));
        if wish.chart {
            let front = Place::standing(vector(0.85, 0.0, 1.05), -0.06);
            let on_front = Place {
                origin: front.out(vector(0.0, 0.37, 0.275)),
                ..front
            };
            objects.push(chart_and_card(on_front));
        }
        if wish.truss {
            objects.extend(truss(TRUSS[0], TRUSS[1], 5.0));
            objects.push(lamp_bodies());
        }
        if wish.crowd {
            objects.extend(crowd(&mut Chance::new(wish.seed, 40), 3));
        }
        Self {
            objects,
            drape: id::DRAPE[wish.drape.min(2)],
        }
    }
}

/// Where a pose's own point lies on stage, for the things that hands hold.
fn out(place: Place, scale: f64, own: Vector) -> Vector {
    place.out(own * scale)
}

fn singer(person: &Person, chance: &mut Chance) -> Vec<Object> {
    let place = Place::standing(
        vector(chance.between(-0.04, 0.04), 0.0, 1.2),
        chance.between(-0.3, 0.3),
    );
    let scale = person.height / 1.75;
    let reach = chance.share();
    // One hand at the microphone, the other down, out, or up.
    let free = if reach < 0.5 {
        vector(-0.3, 0.95 + 0.1 * reach, 0.12)
    } else if reach < 0.8 {
        vector(-0.48, 1.3, 0.28)
    } else {
        vector(-0.42, 1.85, 0.1)
    };
    let mouth = vector(0.0, 1.575, 0.12);
    let pose = Pose {
        place,
        head: [chance.between(-0.25, 0.25), chance.between(-0.05, 0.12)],
        hands: [free, vector(0.07, 1.42, 0.21)],
        lean: chance.between(-0.02, 0.02),
        seated: false,
    };
    let mut objects = build(person, &pose);
    let top = out(place, scale, mouth + vector(0.012, -0.03, 0.085));
    objects.push(microphone_stand(top, out(place, scale, mouth)));
    objects
}

fn player(
    person: &Person,
    at: Vector,
    yaw: f64,
    lacquer: MaterialId,
    bass: bool,
    chance: &mut Chance,
) -> Vec<Object> {
    let place = Place::standing(at, yaw + chance.between(-0.2, 0.2));
    let scale = person.height / 1.75;
    let lift = chance.between(0.0, 0.16);
    // The neck points to the player's left: the picture's right.
    let body = vector(-0.09, 1.0, 0.165);
    let neck_end = vector(0.62, 1.16 + lift, 0.2);
    let along = (neck_end - body).unit();
    let pose = Pose {
        place,
        head: [chance.between(-0.15, 0.4), chance.between(-0.4, 0.05)],
        hands: [
            body + vector(-0.04, 0.03, 0.07),
            body + along * 0.52 + vector(0.0, -0.02, 0.035),
        ],
        lean: chance.between(-0.04, 0.04),
        seated: false,
    };
    let mut objects = build(person, &pose);
    // The strap, over the shoulder that is right in the picture.
    let over = [
        vector(0.13, 1.36, -0.15),
        vector(0.135, 1.5, 0.0),
        vector(0.07, 1.34, 0.135),
        vector(-0.13, 1.1, 0.155),
    ];
    let strap = over
        .windows(2)
        .map(|ends| {
            let [from, to] = [ends[0], ends[1]].map(|own| out(place, scale, own));
            Part::limb(from, to, 0.02, 0.02, id::BLACK_PAINT, 0.01)
        })
        .collect();
    objects.push(Object::new(strap));
    let front = place.turn_out(vector(0.0, 0.12, 1.0));
    objects.push(guitar(
        out(place, scale, body),
        out(place, scale, neck_end),
        front,
        lacquer,
        bass,
    ));
    if !bass {
        let top = out(place, scale, vector(0.08, 1.57, 0.3));
        objects.push(microphone_stand(
            top,
            out(place, scale, vector(0.0, 1.58, 0.0)),
        ));
    }
    objects
}

fn drummer(person: &Person, chance: &mut Chance) -> Vec<Object> {
    const RISER: f64 = 0.4;
    let mut objects = vec![riser(vector(0.1, 0.0, -2.25), 2.6, 2.2, RISER)];
    let kit = Place::standing(vector(0.1, RISER, -2.75), 0.0);
    objects.extend(drum_kit(kit));
    let scale = person.height / 1.75;
    let up = chance.share();
    // Seated, own coordinates are 0.4 m lower on stage.
    let left = vector(-0.28, 1.22 + 0.35 * up, 0.34);
    let right = vector(0.27, 1.2 + 0.3 * (1.0 - up), 0.36);
    let pose = Pose {
        place: kit,
        head: [chance.between(-0.4, 0.4), chance.between(-0.25, 0.05)],
        hands: [left, right],
        lean: chance.between(-0.04, 0.04),
        seated: true,
    };
    objects.extend(build(person, &pose));
    for (hand, tip) in [
        (left, vector(-0.2, 1.2 + 0.2 * up, 0.68)),
        (right, vector(0.3, 1.2 + 0.25 * (1.0 - up), 0.7)),
    ] {
        let seat = vector(0.0, -0.4, 0.0);
        objects.push(stick(
            out(kit, scale, hand + seat),
            out(kit, scale, tip + seat),
        ));
    }
    objects
}

fn lamp_bodies() -> Object {
    let parts = [-3.3, -2.0, -0.7, 0.6, 1.9, 3.2]
        .into_iter()
        .map(|x| {
            let from = vector(x, TRUSS[0] - 0.35, TRUSS[1] + 0.1);
            let place = Place::facing(from, vector(-x * 0.1, -0.6, 1.0), Place::STAGE.up);
            Part::new(Solid::Drum(0.13, 0.12, 0.03), place, id::LAMP_BODY, 0.0)
        })
        .collect();
    Object::new(parts)
}
