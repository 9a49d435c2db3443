//! Colour, black and white, tone tint.

use crate::look::fields::{Section, field, number_at};
use crate::look::quantity::Unit;

pub(super) const COLOUR: Section = Section {
    name: "colour",
    meaning: "Colour.",
    optional: None,
    fields: &[field(
        "saturation",
        "0 is grey. Above 1 it acts less on what is saturated already, so that skin stays skin and a wash keeps its shape.",
        number_at!(Unit::None, 1.0, (0.0, 2.0), look => look.saturation),
    )],
};

pub(super) const MONOCHROME: Section = Section {
    name: "monochrome",
    meaning: "Black and white, from scene light before the curve. Of the three weights only the proportions count; a wash\n\
              is as bright as the weight of its own channel makes it.",
    optional: None,
    fields: &[
        field(
            "amount",
            "0 is colour, 1 is black and white.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.monochrome.amount),
        ),
        field(
            "red",
            "Weight of red light.",
            number_at!(Unit::None, 1.0, (0.0, 1.0), look => look.monochrome.red),
        ),
        field(
            "green",
            "Weight of green light.",
            number_at!(Unit::None, 1.0, (0.0, 1.0), look => look.monochrome.green),
        ),
        field(
            "blue",
            "Weight of blue light.",
            number_at!(Unit::None, 1.0, (0.0, 1.0), look => look.monochrome.blue),
        ),
    ],
};

pub(super) const TINT: Section = Section {
    name: "tint",
    meaning: "Tone tint after the curve, at constant lightness; black and white themselves stay. Hues are those of Oklab:\n\
              about 30 is red, 75 amber, 110 yellow, 145 green, 195 cyan, 260 blue, 320 violet.",
    optional: None,
    fields: &[
        field(
            "shadows-hue",
            "Hue of the darker tones.",
            number_at!(Unit::Degrees, 75.0, (0.0, 360.0), look => look.tint.shadows.hue),
        ),
        field(
            "shadows-strength",
            "0 is none, 1 a strongly toned print.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.tint.shadows.strength),
        ),
        field(
            "highlights-hue",
            "Hue of the brighter tones.",
            number_at!(Unit::Degrees, 75.0, (0.0, 360.0), look => look.tint.highlights.hue),
        ),
        field(
            "highlights-strength",
            "0 is none, 1 a strongly toned print.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.tint.highlights.strength),
        ),
    ],
};
