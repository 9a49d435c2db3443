//! White and exposure.

use crate::base::units::Chromaticity;
use crate::look::fields::{Kind, Section, field, number_at, remembered};
use crate::look::file::ExposurePolicy;
use crate::look::quantity::Unit;

pub(super) const WHITE: Section = Section {
    name: "white",
    meaning: "The white of the light, rendered neutral. Without this table it is found in the reference frame.",
    optional: Some((
        |look| look.white.is_some(),
        |look| {
            look.white = Some(Chromaticity {
                x: f64::NAN,
                y: f64::NAN,
            });
        },
    )),
    fields: &[
        field(
            "x",
            "CIE 1931 x.",
            remembered(
                (0.05, 0.75),
                |look| look.white.map(|w| w.x),
                |look, v| look.white.as_mut().map(|w| w.x = v).is_some(),
            ),
        ),
        field(
            "y",
            "CIE 1931 y.",
            remembered(
                (0.05, 0.85),
                |look| look.white.map(|w| w.y),
                |look, v| look.white.as_mut().map(|w| w.y = v).is_some(),
            ),
        ),
    ],
};

pub(super) const EXPOSURE: Section = Section {
    name: "exposure",
    meaning: "How bright.",
    optional: None,
    fields: &[
        field(
            "policy",
            "Where the gain comes from.",
            Kind::Choice {
                words: &[
                    ("as-shot", "as the body exposed it"),
                    (
                        "lit",
                        "the lit region of the reference frame is brought to middle grey",
                    ),
                ],
                get: |look| match look.exposure.policy {
                    ExposurePolicy::AsShot => "as-shot",
                    ExposurePolicy::Lit => "lit",
                },
                set: |look, word| {
                    look.exposure.policy = match word {
                        "lit" => ExposurePolicy::Lit,
                        _ => ExposurePolicy::AsShot,
                    }
                },
            },
        ),
        field(
            "stops",
            "Added to every frame.",
            number_at!(Unit::Stops, 0.0, (-6.0, 6.0), look => look.exposure.stops.0),
        ),
        field(
            "kept-difference",
            "Share of a cue's own brightness difference that is kept when the light is followed: 0 brings every\n\
             lit region to the reference's level, 1 evens out the exposure settings only.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.exposure.kept_difference),
        ),
        field(
            "most-correction",
            "The most that a frame's level is moved beyond its exposure settings when the light is followed.",
            number_at!(Unit::Stops, 1.0, (0.0, 4.0), look => look.exposure.most_correction.0),
        ),
    ],
};
