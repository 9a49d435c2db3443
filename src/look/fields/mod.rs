//! Every field of a look file, listed once: reading, writing, describing and range checks all walk this list.
//!
//! A field says where it stands (table and key), what it means, and how to get it from and put it into a [`Look`]. What
//! a number's unit, neutral value and range are stands beside it, so the comment in a written file, the error for a
//! wrong value and the program's own behaviour cannot drift apart.

mod colour;
mod detail;
mod exposure;
mod name;
mod output;
mod reference;
mod tone;

use crate::look::file::Look;
use crate::look::quantity::Unit;

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

/// A number with a neutral value that stands at a place of every look.
macro_rules! number_at {
    ($unit:expr, $neutral:expr, $range:expr, $look:ident => $place:expr) => {
        $crate::look::fields::number(
            $unit,
            $neutral,
            $range,
            |$look| Some($place),
            |$look, value| {
                $place = value;
                true
            },
        )
    };
}
use number_at;

/// The tables of a look file, in the order in which they are written.
pub static SECTIONS: [Section; 14] = [
    name::NAME,
    exposure::WHITE,
    exposure::EXPOSURE,
    tone::LEVELS,
    tone::CURVE,
    tone::ROLL_OFF,
    colour::COLOUR,
    colour::MONOCHROME,
    colour::TINT,
    detail::NOISE,
    detail::DETAIL,
    detail::SHARPENING,
    output::OUTPUT,
    reference::REFERENCE,
];
