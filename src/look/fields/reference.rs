//! What a solved look remembers.

use crate::look::correction::Levels;
use crate::look::fields::{Kind, Number, Section, field, number, remembered};
use crate::look::file::{Look, Remembered};
use crate::look::quantity::Unit;
use crate::raw::facts::Body;

/// Puts a number into what the look remembers, if it remembers anything.
fn remember(look: &mut Look, put: impl FnOnce(&mut Remembered)) -> bool {
    look.reference.as_mut().map(put).is_some()
}

pub(super) const REFERENCE: Section = Section {
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
};

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
