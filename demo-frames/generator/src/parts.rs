//! Parts placed in an object's own coordinates: what the properties on stage are put together from.

use crate::material::MaterialId;
use crate::shape::{Part, Solid};
use crate::vector::{Place, Vector, vector};

/// A block of this half size around a point in own coordinates.
pub(crate) fn block(
    place: Place,
    own: Vector,
    half: Vector,
    rounding: f64,
    material: MaterialId,
) -> Part {
    let place = Place {
        origin: place.out(own),
        ..place
    };
    let inner = half - vector(rounding, rounding, rounding);
    Part::new(Solid::Block(inner, rounding), place, material, 0.0)
}

/// A rod between two points in own coordinates.
pub(crate) fn rod(
    place: Place,
    from: Vector,
    to: Vector,
    radius: f64,
    material: MaterialId,
) -> Part {
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
pub(crate) fn drum(
    place: Place,
    own: Vector,
    axis: Vector,
    size: [f64; 3],
    material: MaterialId,
) -> Part {
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
