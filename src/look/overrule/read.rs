//! Reading an overrule file, strictly.

use super::white::{self, WhiteWish};
use super::{CueWish, Moment, Overrule, Overrules, Pin, Place, VERSION};
use crate::base::units::Stops;
use crate::look::quantity::{self, Unit};
use crate::look::read::{FieldError, kind_of};
use jiff::civil::{DateTime, Time};
use std::path::PathBuf;
use toml::{Table, Value};

const CUE_FIELDS: &str = "number, frame, from, until, white, stops, leave";
const PIN_FIELDS: &str = "frame, name, neutral";
/// Stops that a cue may be changed by: those of a look's exposure.
const STOPS: (f64, f64) = (-6.0, 6.0);
/// Times in a file: with or without seconds, with or without a date.
const TIMES: &str = "a time of day such as \"20:15:00\", or with its date, \"2026-05-09 20:15:00\"";
const PLACES: &str = "[[cue]] names no cue; give number = 3 (as the cue sheet counts), frame = \"DSC_0815.NEF\" (a frame in it), or \
                      from = \"20:15:00\" and until = \"20:18:30\"";

pub(super) fn read(text: &str) -> Result<Overrules, FieldError> {
    let mut whole: Table = text.parse().map_err(|error: toml::de::Error| {
        FieldError::Syntax(error.to_string().trim().to_owned())
    })?;
    match whole.remove("version") {
        Some(Value::Integer(VERSION)) => {}
        Some(Value::Integer(later)) if later > VERSION => {
            return Err(FieldError::Version(later.to_string()));
        }
        Some(other) => return Err(FieldError::NotAVersion(other.to_string())),
        None => return Err(FieldError::NoVersion),
    }
    let cues = tables(whole.remove("cue"), "cue")?
        .into_iter()
        .map(read_cue)
        .collect::<Result<_, _>>()?;
    let pins = tables(whole.remove("pin"), "pin")?
        .into_iter()
        .map(read_pin)
        .collect::<Result<_, _>>()?;
    nothing_else(&whole, "the overrule file", "version, cue, pin")?;
    Ok(Overrules { cues, pins })
}

fn tables(value: Option<Value>, name: &str) -> Result<Vec<Table>, FieldError> {
    let wrong = |found: &Value| FieldError::Kind {
        field: name.to_owned(),
        found: kind_of(found),
        wanted: format!("tables that begin with [[{name}]]"),
    };
    let entries = match value {
        None => return Ok(Vec::new()),
        Some(Value::Array(entries)) => entries,
        Some(other) => return Err(wrong(&other)),
    };
    entries
        .into_iter()
        .map(|entry| match entry {
            Value::Table(table) => Ok(table),
            other => Err(wrong(&other)),
        })
        .collect()
}

fn nothing_else(table: &Table, name: &str, known: &str) -> Result<(), FieldError> {
    match table.keys().next() {
        None => Ok(()),
        Some(key) => Err(FieldError::Unknown {
            table: name.to_owned(),
            key: key.clone(),
            known: known.to_owned(),
        }),
    }
}

fn text(table: &mut Table, field: &str, wanted: &str) -> Result<Option<String>, FieldError> {
    let key = field.rsplit('.').next().unwrap_or(field);
    match table.remove(key) {
        None => Ok(None),
        Some(Value::String(text)) => Ok(Some(text)),
        Some(other) => Err(FieldError::Kind {
            field: field.to_owned(),
            found: kind_of(&other),
            wanted: wanted.to_owned(),
        }),
    }
}

fn read_cue(mut table: Table) -> Result<Overrule, FieldError> {
    let place = read_place(&mut table)?;
    let white = match text(&mut table, "cue.white", white::WANTED)? {
        None => None,
        Some(text) => Some(WhiteWish::parse(&text).ok_or_else(|| FieldError::Kind {
            field: "cue.white".to_owned(),
            found: format!("\"{text}\""),
            wanted: white::WANTED.to_owned(),
        })?),
    };
    let wanted = quantity::wanted(Unit::Stops, 0.3);
    let stops = match text(&mut table, "cue.stops", &wanted)? {
        None => None,
        Some(text) => Some(stops(&text)?),
    };
    let as_shot = match text(&mut table, "cue.leave", "\"as shot\"")?.as_deref() {
        None => false,
        Some("as shot") => true,
        Some(other) => {
            return Err(FieldError::Kind {
                field: "cue.leave".to_owned(),
                found: format!("\"{other}\""),
                wanted: "\"as shot\"".to_owned(),
            });
        }
    };
    nothing_else(&table, "[[cue]]", CUE_FIELDS)?;
    if as_shot && (white.is_some() || stops.is_some()) {
        return Err(FieldError::Together(
            "a [[cue]] that is left as shot takes no white and no stops: remove leave, or the others",
        ));
    }
    if !as_shot && white.is_none() && stops.is_none() {
        return Err(FieldError::Together(
            "a [[cue]] says nothing; give it white, stops or leave = \"as shot\", or remove it",
        ));
    }
    Ok(Overrule {
        place,
        wish: CueWish {
            white,
            stops,
            as_shot,
        },
    })
}

fn stops(text: &str) -> Result<Stops, FieldError> {
    let field = || "cue.stops".to_owned();
    let value = quantity::parse(text, Unit::Stops).map_err(|source| FieldError::Quantity {
        field: field(),
        source,
    })?;
    if (STOPS.0..=STOPS.1).contains(&value) {
        Ok(Stops(value))
    } else {
        Err(FieldError::Range {
            field: field(),
            value,
            least: STOPS.0,
            greatest: STOPS.1,
        })
    }
}

fn read_place(table: &mut Table) -> Result<Place, FieldError> {
    let number = match table.remove("number") {
        None => None,
        Some(Value::Integer(number)) if number >= 1 => {
            Some(usize::try_from(number).map_err(|_| {
                FieldError::Together("cue.number is far beyond any cue sheet; correct it")
            })?)
        }
        Some(other) => {
            return Err(FieldError::Kind {
                field: "cue.number".to_owned(),
                found: kind_of(&other),
                wanted: "a whole number from 1 on, as the cue sheet counts".to_owned(),
            });
        }
    };
    let frame = text(table, "cue.frame", "a frame's file name in quotes")?;
    let from = moment(table, "cue.from")?;
    let until = moment(table, "cue.until")?;
    match (number, frame, from, until) {
        (Some(number), None, None, None) => Ok(Place::Number(number)),
        (None, Some(frame), None, None) => Ok(Place::Frame(PathBuf::from(frame))),
        (None, None, Some(from), Some(until)) => Ok(Place::Times { from, until }),
        (None, None, None, None) => Err(FieldError::Together(PLACES)),
        (None, None, _, _) => Err(FieldError::Together(
            "a [[cue]] has one of from and until; give both",
        )),
        _ => Err(FieldError::Together(
            "a [[cue]] is named in two ways; keep one of number, frame, or from and until",
        )),
    }
}

fn moment(table: &mut Table, field: &str) -> Result<Option<Moment>, FieldError> {
    let Some(text) = text(table, field, TIMES)? else {
        return Ok(None);
    };
    let with_date = |text: &str| {
        let moment: DateTime = text.parse().ok()?;
        Some(Moment {
            date: Some(moment.date()),
            time: moment.time(),
        })
    };
    let time_only = |text: &str| {
        let time: Time = text.parse().ok()?;
        Some(Moment { date: None, time })
    };
    let trimmed = text.trim();
    // A date alone parses as a moment at midnight, which nobody means.
    let found = if trimmed.contains(':') {
        time_only(trimmed).or_else(|| with_date(trimmed))
    } else {
        None
    };
    found.map(Some).ok_or_else(|| FieldError::Kind {
        field: field.to_owned(),
        found: format!("\"{text}\""),
        wanted: TIMES.to_owned(),
    })
}

fn read_pin(mut table: Table) -> Result<Pin, FieldError> {
    const WANTED: &str =
        "a list of patches such as [\"0.42,0.61\"], fractions of the upright picture";
    let frame = text(&mut table, "pin.frame", "a frame's path in quotes")?.ok_or_else(|| {
        FieldError::Missing {
            field: "pin.frame".to_owned(),
        }
    })?;
    let name = text(&mut table, "pin.name", "text in quotes")?;
    let wrong = |found: String| FieldError::Kind {
        field: "pin.neutral".to_owned(),
        found,
        wanted: WANTED.to_owned(),
    };
    let patches = match table.remove("neutral") {
        None => Vec::new(),
        Some(Value::Array(patches)) => patches,
        Some(other) => return Err(wrong(kind_of(&other))),
    };
    let neutral = patches
        .iter()
        .map(|patch| {
            let found = || wrong(kind_of(patch));
            let text = patch.as_str().ok_or_else(found)?;
            let numbers: Option<Vec<f64>> = text
                .split(',')
                .map(|part| part.trim().parse().ok())
                .collect();
            match numbers.as_deref() {
                Some([x, y]) => Ok((*x, *y, None)),
                Some([x, y, radius]) => Ok((*x, *y, Some(*radius))),
                _ => Err(found()),
            }
        })
        .collect::<Result<_, _>>()?;
    nothing_else(&table, "[[pin]]", PIN_FIELDS)?;
    Ok(Pin {
        frame: PathBuf::from(frame),
        name,
        neutral,
    })
}
