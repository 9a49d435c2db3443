//! The delivered pictures.

use crate::base::format::Format;
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::Intent;
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
            "format",
            "The kind of file.",
            Kind::Choice {
                words: &[
                    ("jpeg", "8 bits a channel"),
                    ("tiff", "16 bits a channel, for retouching elsewhere"),
                ],
                get: |look| look.output.format.word(),
                set: |look, word| look.output.format = Format::of_word(word).unwrap_or_default(),
            },
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
            "profile",
            "ICC profile of a printer that the pictures are converted into, instead of a space: a path, from this file's\n\
             folder on. Empty: none.",
            Kind::Text {
                get: |look| Some(look.output.profile.clone()),
                set: |look, text| look.output.profile = text,
            },
        ),
        field(
            "intent",
            "Rendering intent of that conversion.",
            Kind::Choice {
                words: &[
                    (
                        "relative",
                        "colours that the paper has stay exact, relative to its white",
                    ),
                    (
                        "perceptual",
                        "all colours move a little, to keep their differences",
                    ),
                    ("saturation", "vividness before hue and lightness"),
                    ("absolute", "with the paper's white too, as for a proof"),
                ],
                get: |look| look.output.printing.intent.word(),
                set: |look, word| {
                    look.output.printing.intent = Intent::of_word(word).unwrap_or_default();
                },
            },
        ),
        field(
            "black-point-compensation",
            "Whether black becomes the paper's deepest black and everything above moves in proportion (ISO 18619).",
            Kind::Choice {
                words: &[
                    ("on", "details in the dark stay"),
                    ("off", "what is darker than the paper's black is lost in it"),
                ],
                get: |look| {
                    if look.output.printing.black_point_compensation {
                        "on"
                    } else {
                        "off"
                    }
                },
                set: |look, word| {
                    look.output.printing.black_point_compensation = word != "off";
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
