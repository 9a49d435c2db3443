//! Furniture of the stage: riser, amplifiers, cases, and the chart with the grey card.

use crate::material::{MaterialId, id};
use crate::parts::{block, drum, rod};
use crate::shape::Object;
use crate::vector::{Place, Vector, vector};

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
