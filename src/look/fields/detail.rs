//! Noise, detail and sharpness.

use crate::look::fields::{Section, field, number_at};
use crate::look::quantity::Unit;

pub(super) const NOISE: Section = Section {
    name: "noise",
    meaning: "Noise reduction. The noise is measured in each frame, so that one number serves every sensitivity.",
    optional: None,
    fields: &[
        field(
            "reduction",
            "Of the noise in luminance: 0 is none, 1 takes away all that is measured.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.noise.luminance),
        ),
        field(
            "colour",
            "Of the noise in colour: 0 is none, 1 takes away all that is measured.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.noise.colour),
        ),
        field(
            "grain",
            "Share of the fine noise in luminance that stays as grain, however much of it is taken away.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.noise.grain),
        ),
    ],
};

pub(super) const DETAIL: Section = Section {
    name: "detail",
    meaning: "Detail that lens and sensor have softened, brought back at full size and held back where there is noise.",
    optional: None,
    fields: &[field(
        "amount",
        "0 is none, 1 is the most.",
        number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.detail),
    )],
};

pub(super) const SHARPENING: Section = Section {
    name: "sharpening",
    meaning: "Sharpening of the delivered picture, after resizing.",
    optional: None,
    fields: &[field(
        "amount",
        "0 is none, 2 is the most.",
        number_at!(Unit::None, 0.0, (0.0, 2.0), look => look.sharpening),
    )],
};
