//! A look in words and numbers.

use crate::base::units::Chromaticity;
use crate::colour::temperature;
use crate::look::fields::{Kind, SECTIONS};
use crate::look::file::Look;
use crate::look::quantity::Unit;
use std::fmt::Write as _;

/// A white as people speak of it: chromaticity, temperature, distance from the Planckian locus.
#[must_use]
pub fn white_in_words(white: Option<Chromaticity>) -> String {
    let Some(white) = white else {
        return "from the reference frame".to_owned();
    };
    let xy = format!("x {:.4}, y {:.4}", white.x, white.y);
    match temperature::ohno(white) {
        Some(found) => format!("{xy}: {}, Duv {:+.4}", found.kelvin, found.duv),
        None => xy,
    }
}

/// What a look does, field by field, as lines of text.
#[must_use]
pub fn in_words(look: &Look) -> String {
    let mut text = String::new();
    for section in &SECTIONS {
        if section.optional.is_some_and(|(has, _)| !has(look)) {
            continue;
        }
        if !section.name.is_empty() {
            let _ = writeln!(text, "{}", section.name);
        }
        if section.name == "white" {
            let _ = writeln!(text, "  {}", white_in_words(look.white));
            continue;
        }
        for field in section.fields {
            let value = match &field.kind {
                Kind::Text { get, .. } => get(look).filter(|text| !text.is_empty()),
                Kind::Choice { words, get, .. } => {
                    let word = get(look);
                    words
                        .iter()
                        .find(|(known, _)| *known == word)
                        .map(|(word, meaning)| format!("{word}: {meaning}"))
                }
                Kind::Number(number) => match (number.get)(look) {
                    Some(value) => {
                        let neutral = if number.neutral == Some(value) {
                            " (neutral)"
                        } else {
                            ""
                        };
                        let shown = match number.unit {
                            Unit::None => format!("{value}"),
                            unit => unit.write(value),
                        };
                        Some(format!("{shown}{neutral}"))
                    }
                    None => number.none.map(str::to_owned),
                },
            };
            if let Some(value) = value {
                let indent = if section.name.is_empty() { "" } else { "  " };
                let _ = writeln!(text, "{indent}{:<20} {value}", field.key);
            }
        }
    }
    for key in &look.keys {
        let _ = writeln!(text, "key {}", key.name);
        let _ = writeln!(text, "  {}", white_in_words(Some(key.white)));
        let level = match key.level {
            Some(level) => format!("{level} against the reference's"),
            None => "not known".to_owned(),
        };
        let _ = writeln!(text, "  {:<20} {level}", "level");
        let _ = writeln!(
            text,
            "  {:<20} {} colours, {} surfaces",
            "recognised by",
            key.memory.palette.len(),
            key.memory.surfaces.len()
        );
    }
    if look.white.is_none() {
        text.push_str(
            "The white, the exposure and measured levels come from the reference frame.\n",
        );
    }
    text
}
