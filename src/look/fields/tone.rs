//! Levels, tone curve, roll-off to white.

use crate::look::curve::Curve;
use crate::look::fields::{Kind, Section, field, number, number_at};
use crate::look::file::LevelsPolicy;
use crate::look::quantity::Unit;

/// Exponent and ceiling of a shoulder whose file leaves them out: softest exponent, 3 stops above diffuse white.
const PLAIN_SHOULDER: Curve = Curve::Shoulder {
    contrast: 1.0,
    ceiling: 8.0,
};

pub(super) const LEVELS: Section = Section {
    name: "levels",
    meaning: "Black point, middle and white point, in scene light after the exposure; 1 is diffuse white.",
    optional: None,
    fields: &[
        field(
            "policy",
            "Where they come from.",
            Kind::Choice {
                words: &[
                    ("fixed", "the numbers below"),
                    (
                        "measured",
                        "black from the reference's dark, white from its lit region; the numbers below where it has none",
                    ),
                ],
                get: |look| match look.levels.policy {
                    LevelsPolicy::Fixed => "fixed",
                    LevelsPolicy::Measured => "measured",
                },
                set: |look, word| {
                    look.levels.policy = match word {
                        "measured" => LevelsPolicy::Measured,
                        _ => LevelsPolicy::Fixed,
                    }
                },
            },
        ),
        field(
            "black",
            "What becomes black.",
            number_at!(Unit::None, 0.0, (-0.05, 0.2), look => look.levels.fixed.black),
        ),
        field(
            "middle",
            "Above 1 lifts the tones between the two ends.",
            number_at!(Unit::None, 1.0, (0.25, 4.0), look => look.levels.fixed.middle),
        ),
        field(
            "white",
            "What becomes white.",
            number_at!(Unit::None, 1.0, (0.25, 16.0), look => look.levels.fixed.white),
        ),
    ],
};

pub(super) const CURVE: Section = Section {
    name: "curve",
    meaning: "Tone curve on the brightest channel; the ratios of the channels are kept.",
    optional: None,
    fields: &[
        field(
            "kind",
            "Its form.",
            Kind::Choice {
                words: &[
                    ("straight", "none: what is above diffuse white clips"),
                    (
                        "shoulder",
                        "keeps middle grey and lets highlights up to the ceiling arrive softly",
                    ),
                ],
                get: |look| match look.curve {
                    Curve::Straight => "straight",
                    Curve::Shoulder { .. } => "shoulder",
                },
                set: |look, word| {
                    look.curve = match word {
                        "shoulder" => PLAIN_SHOULDER,
                        _ => Curve::Straight,
                    }
                },
            },
        ),
        field(
            "contrast",
            "Shoulder only: 1 is soft, 1.5 is hard.",
            number(
                Unit::None,
                1.0,
                (0.8, 2.0),
                |look| match look.curve {
                    Curve::Shoulder { contrast, .. } => Some(contrast),
                    Curve::Straight => None,
                },
                |look, v| match &mut look.curve {
                    Curve::Shoulder { contrast, .. } => {
                        *contrast = v;
                        true
                    }
                    Curve::Straight => false,
                },
            ),
        ),
        field(
            "ceiling",
            "Shoulder only: the scene light that becomes display white, in multiples of diffuse white.",
            number(
                Unit::None,
                8.0,
                (1.05, 64.0),
                |look| match look.curve {
                    Curve::Shoulder { ceiling, .. } => Some(ceiling),
                    Curve::Straight => None,
                },
                |look, v| match &mut look.curve {
                    Curve::Shoulder { ceiling, .. } => {
                        *ceiling = v;
                        true
                    }
                    Curve::Straight => false,
                },
            ),
        ),
    ],
};

pub(super) const ROLL_OFF: Section = Section {
    name: "roll-off",
    meaning: "How bright colours go to white, in multiples of diffuse white.",
    optional: None,
    fields: &[
        field(
            "amount",
            "0 is off, 1 goes all the way to white.",
            number_at!(Unit::None, 0.0, (0.0, 1.0), look => look.roll_off.amount),
        ),
        field(
            "start",
            "Scene light of the brightest channel at which it begins.",
            number_at!(Unit::None, 1.0, (0.1, 64.0), look => look.roll_off.start),
        ),
        field(
            "end",
            "Scene light at which a colour has gone white; above the start.",
            number_at!(Unit::None, 16.0, (0.2, 256.0), look => look.roll_off.end),
        ),
    ],
};
