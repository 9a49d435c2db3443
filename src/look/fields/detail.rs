//! Noise, detail and sharpness.

use crate::look::correction::Medium;
use crate::look::fields::{Kind, Number, Section, field, number_at};
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
    fields: &[
        field(
            "amount",
            "0 is none, 1 what the medium needs, 2 the most.",
            number_at!(Unit::None, 0.0, (0.0, 2.0), look => look.sharpening.amount),
        ),
        field(
            "medium",
            "What the picture is looked at on.",
            Kind::Choice {
                words: &[
                    ("screen", "a screen"),
                    ("glossy", "a print on glossy paper"),
                    (
                        "matte",
                        "a print on matte paper, which takes more from edges",
                    ),
                ],
                get: |look| match look.sharpening.medium {
                    Medium::Screen => "screen",
                    Medium::Glossy => "glossy",
                    Medium::Matte => "matte",
                },
                set: |look, word| {
                    look.sharpening.medium = match word {
                        "glossy" => Medium::Glossy,
                        "matte" => Medium::Matte,
                        _ => Medium::Screen,
                    }
                },
            },
        ),
        field(
            "resolution",
            "Its pixels there; a number goes into the file as its density. Usual are 110 px/inch on a screen, 300 px/inch on paper.",
            Kind::Number(Number {
                unit: Unit::PixelsPerInch,
                neutral: None,
                range: (60.0, 720.0),
                none: Some("usual"),
                whole: false,
                get: |look| look.sharpening.resolution,
                set: |look, v| {
                    look.sharpening.resolution = Some(v);
                    true
                },
            }),
        ),
    ],
};
