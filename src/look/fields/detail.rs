//! Noise and sharpness.

use crate::look::fields::{Section, field, number_at};
use crate::look::quantity::Unit;

pub(super) const NOISE: Section = Section {
    name: "noise",
    meaning: "Noise.",
    optional: None,
    fields: &[field(
        "reduction",
        "0 is none, 1 takes away all of the measured noise. Kept for a later version: pictures keep their noise until then.",
        number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.noise_reduction),
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
