//! Writing a look file: every field with a comment that says meaning, unit, range and neutral value.

use crate::look::describe;
use crate::look::fields::{Field, Kind, SECTIONS};
use crate::look::file::{Look, VERSION};
use crate::look::keys;
use crate::look::quantity::Unit;
use std::fmt::Write as _;
use toml::Value;

/// Writes a look with a comment before every field.
pub(super) fn write(look: &Look) -> String {
    let mut text = String::new();
    for section in &SECTIONS {
        if section.optional.is_some_and(|(has, _)| !has(look)) {
            continue;
        }
        if section.name.is_empty() {
            comment(&mut text, section.meaning);
            let _ = writeln!(text, "version = {VERSION}");
        } else {
            text.push('\n');
            comment(&mut text, section.meaning);
            if section.name == "white" {
                comment(&mut text, &describe::white_in_words(look.white));
            }
            let _ = writeln!(text, "[{}]", section.name);
        }
        for field in section.fields {
            if let Some(value) = written(field, look) {
                comment(&mut text, &field.comment());
                let _ = writeln!(text, "{} = {value}", field.key);
            }
        }
    }
    keys::write(&look.keys, &mut text);
    text
}

fn comment(text: &mut String, words: &str) {
    for line in words.lines().filter(|line| !line.is_empty()) {
        let _ = writeln!(text, "# {}", line.trim());
    }
}

/// A field's value as TOML, or `None` to leave it out.
fn written(field: &Field, look: &Look) -> Option<String> {
    let quoted = |text: &str| Value::String(text.to_owned()).to_string();
    match &field.kind {
        Kind::Text { get, .. } => get(look).map(|text| quoted(&text)),
        Kind::Choice { get, .. } => Some(quoted(get(look))),
        Kind::Number(number) => match (number.get)(look) {
            Some(value) if number.unit == Unit::None => Some(if number.whole {
                format!("{value:.0}")
            } else {
                number.unit.write(value)
            }),
            Some(value) => Some(quoted(&number.unit.write(value))),
            None => number.none.map(quoted),
        },
    }
}

impl Field {
    /// Meaning, unit, neutral value and range in words.
    #[must_use]
    pub fn comment(&self) -> String {
        let mut words = self.meaning.to_owned();
        match &self.kind {
            Kind::Text { .. } => {}
            Kind::Choice { words: list, .. } => {
                for (word, meaning) in *list {
                    let _ = write!(words, "\n  \"{word}\": {meaning}");
                }
            }
            Kind::Number(number) => {
                let show = |value: f64| match number.unit {
                    Unit::None => format!("{value}"),
                    unit => unit.write(value),
                };
                let _ = write!(
                    words,
                    " {} to {}",
                    show(number.range.0),
                    show(number.range.1)
                );
                if let Some(none) = number.none {
                    let _ = write!(words, ", or \"{none}\"");
                }
                if let Some(neutral) = number.neutral {
                    let _ = write!(words, "; neutral: {}", show(neutral));
                }
                words.push('.');
            }
        }
        words
    }
}
