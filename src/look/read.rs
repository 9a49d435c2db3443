//! Reading a look file, strictly: what is not understood is refused by name.

use crate::look::curve::{Curve, Shoulder};
use crate::look::fields::{Field, Kind, Number, SECTIONS, Section};
use crate::look::file::{Look, VERSION};
use crate::look::keys;
use crate::look::quantity::{self, QuantityError, Unit};
use toml::{Table, Value};

/// Why a text is not a look. Every message names the field and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FieldError {
    /// Not TOML.
    #[error("it is not a TOML file: {0}")]
    Syntax(String),
    /// No version.
    #[error("it has no version; the file begins with: version = {VERSION}")]
    NoVersion,
    /// No version that there ever was.
    #[error("its version is {0}, which is none; the file begins with: version = {VERSION}")]
    NotAVersion(String),
    /// A later version.
    #[error(
        "it has version {0}, this program knows version {VERSION}: it was made by a later houselights; \
         update houselights, or save the look again as version {VERSION}"
    )]
    Version(String),
    /// A field that this table does not have.
    #[error("{table} has no field \"{key}\"; its fields are {known}. Correct or remove \"{key}\"")]
    Unknown {
        /// The table, in brackets as in the file.
        table: String,
        /// The field.
        key: String,
        /// The fields there are, with commas.
        known: String,
    },
    /// A field that must be there.
    #[error("{field} is missing; give it, or remove its whole table")]
    Missing {
        /// Table and key.
        field: String,
    },
    /// Wrong unit, or not a number.
    #[error("{field}: {source}")]
    Quantity {
        /// Table and key.
        field: String,
        /// What is wrong with it.
        source: QuantityError,
    },
    /// Another kind of value.
    #[error("{field} is {found}, wanted {wanted}")]
    Kind {
        /// Table and key.
        field: String,
        /// What stands there.
        found: String,
        /// What should.
        wanted: String,
    },
    /// Outside the range, or not finite.
    #[error("{field} is {value}, allowed is {least} to {greatest}")]
    Range {
        /// Table and key.
        field: String,
        /// What stands there.
        value: f64,
        /// Least value.
        least: f64,
        /// Greatest value.
        greatest: f64,
    },
    /// A shoulder that cannot reach its ceiling.
    #[error(
        "curve.ceiling is {ceiling}, but a shoulder of curve.contrast {contrast} does not rise to display white before \
         {least:.2} times diffuse white; raise curve.ceiling above that, or curve.contrast"
    )]
    NoCurve {
        /// The contrast in the file.
        contrast: f64,
        /// The ceiling in the file.
        ceiling: f64,
        /// What the ceiling must exceed.
        least: f64,
    },
    /// More of a kind than there may be.
    #[error("{field}: {found} are too many, at most {greatest} are allowed; remove some")]
    TooMany {
        /// Table and key.
        field: String,
        /// How many there are.
        found: usize,
        /// How many there may be.
        greatest: usize,
    },
    /// One name for two things.
    #[error("{field}: \"{name}\" stands there twice; rename or remove one of them")]
    Twice {
        /// Table and key.
        field: String,
        /// The name.
        name: String,
    },
    /// Two fields that do not go together.
    #[error("{0}")]
    Together(&'static str),
}

/// Reads the text of a look file.
pub(super) fn read(text: &str) -> Result<Look, FieldError> {
    let mut whole: Table = text.parse().map_err(|error: toml::de::Error| {
        FieldError::Syntax(error.to_string().trim().to_owned())
    })?;
    match whole.remove("version") {
        None => return Err(FieldError::NoVersion),
        Some(Value::Integer(VERSION)) => {}
        Some(Value::Integer(later)) if later > VERSION => {
            return Err(FieldError::Version(later.to_string()));
        }
        Some(other) => return Err(FieldError::NotAVersion(other.to_string())),
    }
    let mut look = Look::default();
    for section in SECTIONS.iter().filter(|section| !section.name.is_empty()) {
        match whole.remove(section.name) {
            None => {}
            Some(Value::Table(table)) => read_section(section, table, &mut look)?,
            Some(other) => {
                return Err(FieldError::Kind {
                    field: section.name.to_owned(),
                    found: kind_of(&other),
                    wanted: format!("a table that begins with [{}]", section.name),
                });
            }
        }
    }
    if let Some(value) = whole.remove("key") {
        look.keys = keys::read(value)?;
    }
    // What is left belongs to no table: its own fields, and whatever nobody knows.
    read_section(&SECTIONS[0], whole, &mut look)?;
    if look.white.is_some_and(|white| !white.is_plausible_white()) {
        return Err(FieldError::Together(
            "white.x and white.y together are no colour of light: their sum must stay below 1",
        ));
    }
    if look.roll_off.end <= look.roll_off.start {
        return Err(FieldError::Together(
            "roll-off.end must be above roll-off.start",
        ));
    }
    check_curve(look.curve)?;
    if look.monochrome.shares().is_none() {
        return Err(FieldError::Together(
            "monochrome.red, monochrome.green and monochrome.blue are all 0; give at least one of them some weight",
        ));
    }
    Ok(look)
}

fn check_curve(curve: Curve) -> Result<(), FieldError> {
    match curve {
        Curve::Shoulder { contrast, ceiling } if curve.shoulder().is_none() => {
            Err(FieldError::NoCurve {
                contrast,
                ceiling,
                // Rounded up, so that the number shown is enough.
                least: (100.0 * Shoulder::least_ceiling(contrast)).ceil() / 100.0,
            })
        }
        _ => Ok(()),
    }
}

fn read_section(section: &Section, mut table: Table, look: &mut Look) -> Result<(), FieldError> {
    let name = |key: &str| match section.name {
        "" => key.to_owned(),
        table => format!("{table}.{key}"),
    };
    if let Some((_, begin)) = section.optional {
        begin(look);
    }
    for field in section.fields {
        match table.remove(field.key) {
            Some(value) => take(field, &name(field.key), value, look)?,
            None if section.optional.is_some() && field.is_required() => {
                return Err(FieldError::Missing {
                    field: name(field.key),
                });
            }
            None => {}
        }
    }
    let Some(key) = table.keys().next() else {
        return Ok(());
    };
    let mut known: Vec<&str> = section.fields.iter().map(|field| field.key).collect();
    if section.name.is_empty() {
        known.push("version");
        known.extend(
            SECTIONS
                .iter()
                .map(|section| section.name)
                .filter(|name| !name.is_empty()),
        );
        known.push("key");
    }
    Err(FieldError::Unknown {
        table: match section.name {
            "" => "the look".to_owned(),
            table => format!("[{table}]"),
        },
        key: key.clone(),
        known: known.join(", "),
    })
}

impl Field {
    /// Whether it must stand in an optional table: a number without a neutral value and without a word for none.
    fn is_required(&self) -> bool {
        matches!(&self.kind, Kind::Number(number) if number.neutral.is_none() && number.none.is_none())
    }
}

pub(super) fn kind_of(value: &Value) -> String {
    match value {
        Value::String(text) => format!("\"{text}\""),
        Value::Integer(_) | Value::Float(_) => format!("the bare number {value}"),
        other => format!("a {}", other.type_str()),
    }
}

/// Puts one value of a file into the look.
fn take(field: &Field, name: &str, value: Value, look: &mut Look) -> Result<(), FieldError> {
    let wrong_kind = |value: &Value, wanted: String| FieldError::Kind {
        field: name.to_owned(),
        found: kind_of(value),
        wanted,
    };
    match &field.kind {
        Kind::Text { set, .. } => match value {
            Value::String(text) => set(look, text),
            other => return Err(wrong_kind(&other, "text in quotes".to_owned())),
        },
        Kind::Choice { words, set, .. } => match &value {
            Value::String(word) if words.iter().any(|(known, _)| known == word) => set(look, word),
            other => {
                let list: Vec<String> = words
                    .iter()
                    .map(|(word, _)| format!("\"{word}\""))
                    .collect();
                return Err(wrong_kind(other, format!("one of {}", list.join(", "))));
            }
        },
        Kind::Number(number) => {
            let Some(value) = number.read(name, &value)? else {
                return Ok(());
            };
            let (least, greatest) = number.range;
            if !(least..=greatest).contains(&value) {
                return Err(FieldError::Range {
                    field: name.to_owned(),
                    value,
                    least,
                    greatest,
                });
            }
            if number.whole && value.fract() != 0.0 {
                return Err(FieldError::Kind {
                    field: name.to_owned(),
                    found: value.to_string(),
                    wanted: "a whole number".to_owned(),
                });
            }
            if !(number.set)(look, value) {
                return Err(FieldError::Together(
                    "curve.contrast and curve.ceiling belong to kind = \"shoulder\"; change the kind or remove them",
                ));
            }
        }
    }
    Ok(())
}

impl Number {
    /// The number in a TOML value; `None` for the word that stands for no number.
    fn read(&self, name: &str, value: &Value) -> Result<Option<f64>, FieldError> {
        let wrong = |found: String| FieldError::Quantity {
            field: name.to_owned(),
            source: QuantityError::Unit {
                found,
                wanted: quantity::wanted(self.unit, self.neutral.unwrap_or(self.range.0)),
            },
        };
        match value {
            Value::String(text) if self.none == Some(text.as_str()) => Ok(None),
            Value::String(text) => match quantity::parse(text, self.unit) {
                Ok(_) if self.unit == Unit::None => Err(wrong(format!("\"{text}\" in quotes"))),
                Ok(number) => Ok(Some(number)),
                Err(source) => Err(FieldError::Quantity {
                    field: name.to_owned(),
                    source,
                }),
            },
            Value::Integer(_) | Value::Float(_) if self.unit != Unit::None => {
                Err(wrong(format!("the bare number {value}")))
            }
            #[expect(
                clippy::cast_precision_loss,
                reason = "checked against a range far below 2^53"
            )]
            Value::Integer(number) => Ok(Some(*number as f64)),
            Value::Float(number) => Ok(Some(*number)),
            other => Err(wrong(kind_of(other))),
        }
    }
}
