//! The two streams: results to standard output, words for people to standard error.

use serde::Serialize;
use std::io::{self, Write};

/// Results. Once the reader is gone (a closed pipe) the rest is dropped without a word, and the work goes on. Any other
/// trouble (no space left) is told once and remembered, because results that were asked for are then lost.
#[derive(Debug, Default)]
pub(super) struct Results {
    reader_gone: bool,
    is_lost: bool,
}

impl Results {
    /// Writes text as it is.
    pub(super) fn text(&mut self, text: &str) {
        if self.reader_gone {
            return;
        }
        let mut stream = io::stdout().lock();
        let written = stream
            .write_all(text.as_bytes())
            .and_then(|()| stream.flush());
        if let Err(error) = written {
            self.reader_gone = true;
            if error.kind() != io::ErrorKind::BrokenPipe {
                self.is_lost = true;
                say(&format!(
                    "cannot write to standard output: {error}; its results are not complete, make room and run the command again"
                ));
            }
        }
    }

    /// Whether results could not be written although somebody wanted them.
    pub(super) fn is_lost(&self) -> bool {
        self.is_lost
    }

    /// Writes a value as one line of JSON.
    pub(super) fn json(&mut self, value: &impl Serialize) {
        if let Ok(mut line) = serde_json::to_string(value) {
            line.push('\n');
            self.text(&line);
        }
    }
}

/// Says something to the person: a line on standard error. Nobody there to read it is no error.
pub(super) fn say(line: &str) {
    let _ = writeln!(io::stderr().lock(), "{}", printable(line));
}

/// The text with control characters spelled out, so that a file's name cannot steer the terminal; lines stay lines.
pub(super) fn printable(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for character in text.chars() {
        if character.is_control() && character != '\n' {
            shown.extend(character.escape_default());
        } else {
            shown.push(character);
        }
    }
    shown
}
