//! What the timelines show, frame by frame: white and level, as the body had them and as they are carried.

use super::Material;
use crate::base::units::Chromaticity;
use crate::colour::temperature::ohno;
use crate::look::solve::correction;

/// One quantity before and after, in the order of the sheet's frames.
pub(super) struct Series {
    pub(super) before: Vec<Option<f64>>,
    pub(super) after: Vec<Option<f64>>,
}

/// The timelines of a show.
pub(super) struct AllSeries {
    /// Reciprocal megakelvins of the white.
    pub(super) mired: Series,
    /// Its distance from the black body.
    pub(super) duv: Series,
    /// Level of the key in the picture, stops against the reference's.
    pub(super) level: Series,
}

/// Reciprocal megakelvins of a temperature.
const MIRED: f64 = 1e6;

/// The series over these lights.
pub(super) fn series(material: &Material<'_>, lights: &[usize]) -> Option<AllSeries> {
    let show = material.show;
    let solved = show.solved.as_ref()?;
    let reading = |at: usize| show.lights.get(at)?.reading.as_ref();
    let whites = |white: &dyn Fn(usize) -> Option<Chromaticity>| {
        let found = lights.iter().map(|&at| white(at).and_then(ohno));
        let found: Vec<_> = found.collect();
        let mired = found.iter().map(|found| Some(MIRED / (*found)?.kelvin.0));
        let duv = found.iter().map(|found| Some((*found)?.duv));
        (mired.collect::<Vec<_>>(), duv.collect::<Vec<_>>())
    };
    let (mired_before, duv_before) = whites(&|at| reading(at)?.as_shot);
    let (mired_after, duv_after) = whites(&|at| Some(solved.carried.get(at)?.correction.white));
    let level = |at: usize| {
        let level = reading(at)?.lit?.key_level?;
        (level > 0.0).then(|| level.log2())
    };
    let base = correction(&solved.look)?.gain;
    let applied = |at: usize| Some((solved.carried.get(at)?.correction.gain / base).log2());
    // Where the reference is none of the show's frames, the level that most frames are carried to is the zero.
    let reference = show.lights.iter().position(|light| light.is_reference);
    let mut carried: Vec<f64> = lights
        .iter()
        .filter_map(|&at| Some(level(at)? + applied(at)?))
        .collect();
    let zero = reference
        .and_then(level)
        .or_else(|| crate::base::robust::median(&mut carried))?;
    let before = |at: &usize| Some(level(*at)? - zero);
    let after = |at: &usize| Some(level(*at)? - zero + applied(*at)?);
    Some(AllSeries {
        mired: Series {
            before: mired_before,
            after: mired_after,
        },
        duv: Series {
            before: duv_before,
            after: duv_after,
        },
        level: Series {
            before: lights.iter().map(before).collect(),
            after: lights.iter().map(after).collect(),
        },
    })
}
