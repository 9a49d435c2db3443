//! The delivered pictures.

use crate::colour::output_space::OutputSpace;
use crate::look::fields::{Kind, Number, Section, field};
use crate::look::quantity::Unit;

pub(super) const OUTPUT: Section = Section {
    name: "output",
    meaning: "The delivered pictures.",
    optional: None,
    fields: &[
        field(
            "long-edge",
            "Longest edge.",
            Kind::Number(Number {
                unit: Unit::Pixels,
                neutral: None,
                range: (16.0, 65_500.0),
                none: Some("full"),
                whole: true,
                get: |look| look.output.long_edge.map(f64::from),
                set: |look, v| {
                    #[expect(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        reason = "whole and in range"
                    )]
                    let pixels = v as u32;
                    look.output.long_edge = Some(pixels);
                    true
                },
            }),
        ),
        field(
            "space",
            "Space of the pixels; its profile goes into the file.",
            Kind::Choice {
                words: &[
                    ("srgb", "for screens, the web and most laboratories"),
                    (
                        "display-p3",
                        "more red, green and cyan, for screens that have them",
                    ),
                    (
                        "rec2020",
                        "wide (ITU-R BT.2020), for retouching elsewhere in 16 bits",
                    ),
                ],
                get: |look| look.output.space.word(),
                set: |look, word| {
                    look.output.space = OutputSpace::of_word(word).unwrap_or_default();
                },
            },
        ),
        field(
            "quality",
            "JPEG quality.",
            Kind::Number(Number {
                unit: Unit::None,
                neutral: Some(92.0),
                range: (1.0, 100.0),
                none: None,
                whole: true,
                get: |look| Some(f64::from(look.output.quality)),
                set: |look, v| {
                    #[expect(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        reason = "whole and in range"
                    )]
                    let quality = v as u8;
                    look.output.quality = quality;
                    true
                },
            }),
        ),
    ],
};
