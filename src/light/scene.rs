//! Scenes of tiles for tests: what each tile looks like and what it is, as a function of its place.

use crate::base::matrix::Matrix3;
use crate::base::plane::Plane;
use crate::base::units::Kelvin;
use crate::colour::camera::{Calibration, CameraColour};
use crate::light::locus::{candidates, on_locus};
use crate::light::reduce::Reduced;
use crate::light::region::Region;
use crate::light::tiles::Tiles;
use crate::raw::noise::NoiseModel;

/// What a tile is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    Lit,
    Beside,
    Lamp,
}

/// A camera whose channels are those of linear sRGB (IEC 61966-2-1), so that daylight is neutral as it is.
pub(super) fn camera() -> CameraColour {
    let matrix = Matrix3([
        [3.2406, -1.5372, -0.4986],
        [-0.9689, 1.8758, 0.0415],
        [0.0557, -0.2040, 1.0570],
    ]);
    CameraColour {
        calibrations: vec![Calibration::of_matrix(Some(Kelvin(6504.0)), matrix)],
        ..CameraColour::default()
    }
}

/// Tiles of these colours and kinds, with hardly any noise, handed on.
pub(super) fn with_scene<T>(
    (width, height): (usize, usize),
    of: impl Fn(usize, usize) -> ([f64; 3], Kind),
    then: impl FnOnce(&Tiles<'_>, &Region) -> T,
) -> T {
    let all: Vec<([f64; 3], Kind)> = (0..width * height)
        .map(|at| of(at % width, at / width))
        .collect();
    let plane = |kind: Kind| {
        let is = all.iter().map(|(_, of)| *of == kind).collect();
        Plane::from_values(width, height, is).expect("as many")
    };
    let colours = all.iter().map(|(colour, _)| *colour).collect();
    let reduced = Reduced {
        colour: Plane::from_values(width, height, colours).expect("as many"),
        clipped: Plane::filled(width, height, 0.0),
        noise: NoiseModel {
            slope: 1e-5,
            floor: 1e-8,
        },
        sites: [36.0, 72.0, 36.0],
    };
    let region = Region {
        levels: Plane::filled(width, height, 0.5),
        lit: plane(Kind::Lit),
        lamps: plane(Kind::Lamp),
        weakest: Plane::filled(width, height, 0.1),
        threshold: None,
    };
    let whites = on_locus(&candidates(&camera()));
    then(&Tiles::of(&reduced, &whites), &region)
}
