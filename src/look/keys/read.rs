//! Reading the keys of a look file, as strictly as the rest of it.

use super::{Key, MOST_ENTRIES, MOST_KEYS};
use crate::base::units::{Chromaticity, Stops};
use crate::light::sheet::KeyMemory;
use crate::look::quantity::{self, Unit};
use crate::look::read::{FieldError, kind_of};
use toml::{Table, Value};

const FIELDS: &str = "name, x, y, level, colours, surfaces";
/// Least and greatest CIE x and y, and stops: those of a look's white and exposure.
const X: (f64, f64) = (0.05, 0.75);
const Y: (f64, f64) = (0.05, 0.85);
const LEVELS: (f64, f64) = (-12.0, 12.0);

/// Reads what stands under `key`.
pub(in crate::look) fn read(value: Value) -> Result<Vec<Key>, FieldError> {
    let wrong = |found: &Value| FieldError::Kind {
        field: "key".to_owned(),
        found: kind_of(found),
        wanted: "tables that begin with [[key]]".to_owned(),
    };
    let Value::Array(entries) = value else {
        return Err(wrong(&value));
    };
    if entries.len() > MOST_KEYS {
        return Err(FieldError::TooMany {
            field: "key".to_owned(),
            found: entries.len(),
            greatest: MOST_KEYS,
        });
    }
    let mut keys: Vec<Key> = Vec::new();
    for (at, entry) in entries.into_iter().enumerate() {
        let Value::Table(table) = entry else {
            return Err(wrong(&entry));
        };
        let key = read_key(table, at + 1)?;
        if keys.iter().any(|known| known.name == key.name) {
            return Err(FieldError::Twice {
                field: "key.name".to_owned(),
                name: key.name,
            });
        }
        keys.push(key);
    }
    Ok(keys)
}

fn read_key(mut table: Table, number: usize) -> Result<Key, FieldError> {
    let name = match table.remove("name") {
        Some(Value::String(name)) => name,
        Some(other) => {
            return Err(FieldError::Kind {
                field: format!("key {number}: name"),
                found: kind_of(&other),
                wanted: "text in quotes".to_owned(),
            });
        }
        None => {
            return Err(FieldError::Missing {
                field: format!("key {number}: name"),
            });
        }
    };
    let field = |key: &str| format!("key \"{name}\": {key}");
    let mut coordinate = |key: &str, range: (f64, f64)| match table.remove(key) {
        None => Err(FieldError::Missing { field: field(key) }),
        Some(value) => in_range(field(key), number_of(&value, field(key))?, range),
    };
    let white = Chromaticity {
        x: coordinate("x", X)?,
        y: coordinate("y", Y)?,
    };
    if !white.is_plausible_white() {
        return Err(FieldError::Together(
            "x and y of a key together are no colour of light: their sum must stay below 1",
        ));
    }
    let level = match table.remove("level") {
        None => None,
        Some(Value::String(text)) => {
            let stops =
                quantity::parse(&text, Unit::Stops).map_err(|source| FieldError::Quantity {
                    field: field("level"),
                    source,
                })?;
            Some(Stops(in_range(field("level"), stops, LEVELS)?))
        }
        Some(other) => {
            return Err(FieldError::Kind {
                field: field("level"),
                found: kind_of(&other),
                wanted: quantity::wanted(Unit::Stops, 0.0),
            });
        }
    };
    let palette = groups::<3>(table.remove("colours"), field("colours"))?
        .into_iter()
        .map(|[a, b, weight]| ([a, b], weight))
        .collect();
    let surfaces = groups::<4>(table.remove("surfaces"), field("surfaces"))?
        .into_iter()
        .map(|[a, b, level, share]| ([a, b], level, share))
        .collect();
    if let Some(key) = table.keys().next() {
        return Err(FieldError::Unknown {
            table: "[[key]]".to_owned(),
            key: key.clone(),
            known: FIELDS.to_owned(),
        });
    }
    Ok(Key {
        name,
        white,
        level,
        memory: KeyMemory { palette, surfaces },
    })
}

#[expect(
    clippy::cast_precision_loss,
    reason = "checked against a range far below 2^53"
)]
fn number_of(value: &Value, field: String) -> Result<f64, FieldError> {
    match value {
        Value::Float(number) => Ok(*number),
        Value::Integer(number) => Ok(*number as f64),
        other => Err(FieldError::Kind {
            field,
            found: kind_of(other),
            wanted: quantity::wanted(Unit::None, 0.35),
        }),
    }
}

fn in_range(field: String, value: f64, (least, greatest): (f64, f64)) -> Result<f64, FieldError> {
    if (least..=greatest).contains(&value) {
        Ok(value)
    } else {
        Err(FieldError::Range {
            field,
            value,
            least,
            greatest,
        })
    }
}

/// Groups of `N` numbers, the last of them a weight above 0, with commas between the groups or at the ends of lines.
fn groups<const N: usize>(
    value: Option<Value>,
    field: String,
) -> Result<Vec<[f64; N]>, FieldError> {
    let text = match value {
        None => return Ok(Vec::new()),
        Some(Value::String(text)) => text,
        Some(other) => {
            return Err(FieldError::Kind {
                field,
                found: kind_of(&other),
                wanted: format!("text with groups of {N} numbers"),
            });
        }
    };
    let mut found = Vec::new();
    for group in text.split([',', '\n']).map(str::trim) {
        if group.is_empty() {
            continue;
        }
        let numbers: Vec<f64> = group
            .split_whitespace()
            .map_while(|word| word.parse().ok().filter(|number: &f64| number.is_finite()))
            .collect();
        let is_whole = numbers.len() == N && group.split_whitespace().count() == N;
        match <[f64; N]>::try_from(numbers) {
            Ok(numbers) if is_whole && numbers[N - 1] > 0.0 => found.push(numbers),
            _ => {
                return Err(FieldError::Kind {
                    field,
                    found: format!("\"{group}\" in one place"),
                    wanted: format!(
                        "groups of {N} numbers, the last of each above 0; save the look again, or remove this text"
                    ),
                });
            }
        }
    }
    if found.len() > MOST_ENTRIES {
        return Err(FieldError::TooMany {
            field,
            found: found.len(),
            greatest: MOST_ENTRIES,
        });
    }
    Ok(found)
}
