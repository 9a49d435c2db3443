//! Every field of a look file, listed once: reading, writing, describing and range checks all walk this list.
//!
//! A field says where it stands (table and key), what it means, and how to get it from and put it into a [`Look`]. What
//! a number's unit, neutral value and range are stands beside it, so the comment in a written file, the error for a
//! wrong value and the program's own behaviour cannot drift apart.

use crate::base::units::{Chromaticity, Stops};
use crate::look::correction::{Curve, Levels};
use crate::look::file::{ExposurePolicy, LevelsPolicy, Look, Remembered};
use crate::look::quantity::Unit;
use crate::raw::facts::Body;

/// Whether a look has a table that may be missing, and how to begin it.
pub type Presence = (fn(&Look) -> bool, fn(&mut Look));

/// One table of a look file.
pub struct Section {
    /// The table's name; empty for the fields before the first table.
    pub name: &'static str,
    /// What it is about.
    pub meaning: &'static str,
    /// For a table that may be missing as a whole: whether this look has it, and how to begin it. Such a table's fields
    /// must all be there, except those marked as optional.
    pub optional: Option<Presence>,
    /// Its fields in order.
    pub fields: &'static [Field],
}

/// One field of a look file.
pub struct Field {
    /// Its key.
    pub key: &'static str,
    /// What it means, for the comment before it.
    pub meaning: &'static str,
    /// What it holds.
    pub kind: Kind,
}

/// What a field holds.
pub enum Kind {
    /// A number, bare or with a unit.
    Number(Number),
    /// One of a few words; the neutral one first.
    Choice {
        /// The words and what each means.
        words: &'static [(&'static str, &'static str)],
        /// The word of this look.
        get: fn(&Look) -> &'static str,
        /// Takes a word of the list.
        set: fn(&mut Look, &str),
    },
    /// Free text, neutral: empty.
    Text {
        /// The text of this look; `None` to leave it out.
        get: fn(&Look) -> Option<String>,
        /// Takes a text.
        set: fn(&mut Look, String),
    },
}

/// A number's unit, bounds and place.
pub struct Number {
    /// Its unit.
    pub unit: Unit,
    /// The value that changes nothing, or that is taken when the field is left out; `None`: no such value.
    pub neutral: Option<f64>,
    /// Least and greatest value.
    pub range: (f64, f64),
    /// The word that stands for no number at all, where there is one.
    pub none: Option<&'static str>,
    /// Whole numbers only.
    pub whole: bool,
    /// The number of this look; `None` to leave it out (or to write the word for none).
    pub get: fn(&Look) -> Option<f64>,
    /// Takes a number; `false` when this look has no place for it.
    pub set: fn(&mut Look, f64) -> bool,
}

const fn number(
    unit: Unit,
    neutral: f64,
    range: (f64, f64),
    get: fn(&Look) -> Option<f64>,
    set: fn(&mut Look, f64) -> bool,
) -> Kind {
    Kind::Number(Number {
        unit,
        neutral: Some(neutral),
        range,
        none: None,
        whole: false,
        get,
        set,
    })
}

/// A number without a neutral value, in a table that may be missing.
const fn remembered(
    range: (f64, f64),
    get: fn(&Look) -> Option<f64>,
    set: fn(&mut Look, f64) -> bool,
) -> Kind {
    Kind::Number(Number {
        unit: Unit::None,
        neutral: None,
        range,
        none: None,
        whole: false,
        get,
        set,
    })
}

const fn field(key: &'static str, meaning: &'static str, kind: Kind) -> Field {
    Field { key, meaning, kind }
}

/// Puts a number into what the look remembers, if it remembers anything.
fn remember(look: &mut Look, put: impl FnOnce(&mut Remembered)) -> bool {
    look.reference.as_mut().map(put).is_some()
}

/// Exponent and ceiling of a shoulder whose file leaves them out: softest exponent, 3 stops above diffuse white.
const PLAIN_SHOULDER: Curve = Curve::Shoulder {
    contrast: 1.0,
    ceiling: 8.0,
};

/// The tables of a look file, in the order in which they are written.
pub static SECTIONS: [Section; 11] = [
    Section {
        name: "",
        meaning: "A houselights look. Numbers with a unit stand in quotes with it; a field that is left out takes its\n\
                  neutral value. Comments are not kept when the program writes the file again.",
        optional: None,
        fields: &[
            field(
                "name",
                "What the look is called.",
                Kind::Text {
                    get: |look| Some(look.name.clone()),
                    set: |look, text| look.name = text,
                },
            ),
            field(
                "note",
                "What it is for, in your own words.",
                Kind::Text {
                    get: |look| Some(look.note.clone()),
                    set: |look, text| look.note = text,
                },
            ),
        ],
    },
    Section {
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
    },
    Section {
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
                number(
                    Unit::Stops,
                    0.0,
                    (-6.0, 6.0),
                    |look| Some(look.exposure.stops.0),
                    |look, v| {
                        look.exposure.stops = Stops(v);
                        true
                    },
                ),
            ),
            field(
                "kept-difference",
                "Share of a cue's own brightness difference that is kept when the light is followed: 0 brings every\n\
                 lit region to the reference's level, 1 evens out the exposure settings only.",
                number(
                    Unit::None,
                    0.0,
                    (0.0, 1.0),
                    |look| Some(look.exposure.kept_difference),
                    |look, v| {
                        look.exposure.kept_difference = v;
                        true
                    },
                ),
            ),
            field(
                "most-correction",
                "The most that a frame's level is moved beyond its exposure settings when the light is followed.",
                number(
                    Unit::Stops,
                    1.0,
                    (0.0, 4.0),
                    |look| Some(look.exposure.most_correction.0),
                    |look, v| {
                        look.exposure.most_correction = Stops(v);
                        true
                    },
                ),
            ),
        ],
    },
    Section {
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
                number(
                    Unit::None,
                    0.0,
                    (-0.05, 0.2),
                    |look| Some(look.levels.fixed.black),
                    |look, v| {
                        look.levels.fixed.black = v;
                        true
                    },
                ),
            ),
            field(
                "middle",
                "Above 1 lifts the tones between the two ends.",
                number(
                    Unit::None,
                    1.0,
                    (0.25, 4.0),
                    |look| Some(look.levels.fixed.middle),
                    |look, v| {
                        look.levels.fixed.middle = v;
                        true
                    },
                ),
            ),
            field(
                "white",
                "What becomes white.",
                number(
                    Unit::None,
                    1.0,
                    (0.25, 16.0),
                    |look| Some(look.levels.fixed.white),
                    |look, v| {
                        look.levels.fixed.white = v;
                        true
                    },
                ),
            ),
        ],
    },
    Section {
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
    },
    Section {
        name: "roll-off",
        meaning: "How bright colours go to white, in multiples of diffuse white.",
        optional: None,
        fields: &[
            field(
                "amount",
                "0 is off, 1 goes all the way to white.",
                number(
                    Unit::None,
                    0.0,
                    (0.0, 1.0),
                    |look| Some(look.roll_off.amount),
                    |look, v| {
                        look.roll_off.amount = v;
                        true
                    },
                ),
            ),
            field(
                "start",
                "Scene light of the brightest channel at which it begins.",
                number(
                    Unit::None,
                    1.0,
                    (0.1, 64.0),
                    |look| Some(look.roll_off.start),
                    |look, v| {
                        look.roll_off.start = v;
                        true
                    },
                ),
            ),
            field(
                "end",
                "Scene light at which a colour has gone white; above the start.",
                number(
                    Unit::None,
                    16.0,
                    (0.2, 256.0),
                    |look| Some(look.roll_off.end),
                    |look, v| {
                        look.roll_off.end = v;
                        true
                    },
                ),
            ),
        ],
    },
    Section {
        name: "colour",
        meaning: "Colour.",
        optional: None,
        fields: &[field(
            "saturation",
            "Factor on colourfulness: 0 is grey.",
            number(
                Unit::None,
                1.0,
                (0.0, 2.0),
                |look| Some(look.saturation),
                |look, v| {
                    look.saturation = v;
                    true
                },
            ),
        )],
    },
    Section {
        name: "noise",
        meaning: "Noise.",
        optional: None,
        fields: &[field(
            "reduction",
            "0 is none, 1 takes away all of the measured noise. Kept for a later version: pictures keep their noise until then.",
            number(
                Unit::None,
                0.0,
                (0.0, 1.0),
                |look| Some(look.noise_reduction),
                |look, v| {
                    look.noise_reduction = v;
                    true
                },
            ),
        )],
    },
    Section {
        name: "sharpening",
        meaning: "Sharpening of the delivered picture, after resizing.",
        optional: None,
        fields: &[field(
            "amount",
            "0 is none, 2 is the most.",
            number(
                Unit::None,
                0.0,
                (0.0, 2.0),
                |look| Some(look.sharpening),
                |look, v| {
                    look.sharpening = v;
                    true
                },
            ),
        )],
    },
    Section {
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
    },
    Section {
        name: "reference",
        meaning: "What the look remembers of its reference frame, so that it carries to another night without it. Remove\n\
                  this table and [white] to solve the look anew.",
        optional: Some((
            |look| look.reference.is_some(),
            |look| {
                look.reference = Some(Remembered {
                    frame: String::new(),
                    body: Body::default(),
                    gain: f64::NAN,
                    levels: Levels::NEUTRAL,
                    relative_exposure: None,
                    key_level: None,
                });
            },
        )),
        fields: &[
            field(
                "frame",
                "Its file name.",
                Kind::Text {
                    get: |look| look.reference.as_ref().map(|r| r.frame.clone()),
                    set: |look, text| {
                        remember(look, |r| r.frame = text);
                    },
                },
            ),
            field(
                "make",
                "Maker of the body that took it.",
                Kind::Text {
                    get: |look| look.reference.as_ref().map(|r| r.body.make.clone()),
                    set: |look, text| {
                        remember(look, |r| r.body.make = text);
                    },
                },
            ),
            field(
                "model",
                "Model of that body.",
                Kind::Text {
                    get: |look| look.reference.as_ref().map(|r| r.body.model.clone()),
                    set: |look, text| {
                        remember(look, |r| r.body.model = text);
                    },
                },
            ),
            field(
                "serial",
                "Serial number of that body.",
                Kind::Text {
                    get: |look| look.reference.as_ref().and_then(|r| r.body.serial.clone()),
                    set: |look, text| {
                        remember(look, |r| r.body.serial = Some(text));
                    },
                },
            ),
            field(
                "gain",
                "Factor on its light after the white balance.",
                remembered(
                    (1e-4, 1e4),
                    |look| look.reference.as_ref().map(|r| r.gain),
                    |look, v| remember(look, |r| r.gain = v),
                ),
            ),
            field(
                "black",
                "Its black point, in scene light after the gain.",
                number(
                    Unit::None,
                    0.0,
                    (-0.05, 0.2),
                    |look| look.reference.as_ref().map(|r| r.levels.black),
                    |look, v| remember(look, |r| r.levels.black = v),
                ),
            ),
            field(
                "middle",
                "Its middle.",
                number(
                    Unit::None,
                    1.0,
                    (0.25, 4.0),
                    |look| look.reference.as_ref().map(|r| r.levels.middle),
                    |look, v| remember(look, |r| r.levels.middle = v),
                ),
            ),
            field(
                "white",
                "Its white point.",
                number(
                    Unit::None,
                    1.0,
                    (0.25, 16.0),
                    |look| look.reference.as_ref().map(|r| r.levels.white),
                    |look, v| remember(look, |r| r.levels.white = v),
                ),
            ),
            field(
                "relative-exposure",
                "Its exposure time in seconds, times ISO, divided by the square of its f-number.",
                OPTIONAL_EXPOSURE,
            ),
            field(
                "key-level",
                "Level of the key on its lit region, fraction of the sensor's range; \"none\" when it has none.",
                OPTIONAL_LEVEL,
            ),
        ],
    },
];

const OPTIONAL_EXPOSURE: Kind = Kind::Number(Number {
    unit: Unit::None,
    neutral: None,
    range: (1e-9, 1e12),
    none: Some("unknown"),
    whole: false,
    get: |look| look.reference.as_ref().and_then(|r| r.relative_exposure),
    set: |look, v| remember(look, |r| r.relative_exposure = Some(v)),
});

const OPTIONAL_LEVEL: Kind = Kind::Number(Number {
    unit: Unit::None,
    neutral: None,
    range: (1e-9, 4.0),
    none: Some("none"),
    whole: false,
    get: |look| look.reference.as_ref().and_then(|r| r.key_level),
    set: |look, v| remember(look, |r| r.key_level = Some(v)),
});
