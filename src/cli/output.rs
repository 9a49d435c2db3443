//! The two streams: results to standard output, words for people to standard error.

use serde::Serialize;
use std::io::{self, Write};

/// Results. Once the reader is gone (a closed pipe) the rest is dropped without a word, and the work goes on.
#[derive(Debug, Default)]
pub(super) struct Results {
    reader_gone: bool,
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
        self.reader_gone = written.is_err();
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
    let _ = writeln!(io::stderr().lock(), "{line}");
}
