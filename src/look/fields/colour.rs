//! Colour.

use crate::look::fields::{Section, field, number_at};
use crate::look::quantity::Unit;

pub(super) const COLOUR: Section = Section {
    name: "colour",
    meaning: "Colour.",
    optional: None,
    fields: &[field(
        "saturation",
        "Factor on colourfulness: 0 is grey.",
        number_at!(Unit::None, 1.0, (0.0, 2.0), look => look.saturation),
    )],
};
