//! A reading as bytes: MessagePack, fields in order without their names.
//!
//! A reading is kept for the program that made it and for no other, so the bytes need no names and no versions.

use crate::colour::camera::CameraColour;
use crate::crew::task::{Metered, Stamp};
use crate::light::reading::Reading;
use crate::raw::facts::Facts;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Everything of [`Metered`] but the stamp of the file, which is the key.
#[derive(Serialize, Deserialize)]
struct Body<'a> {
    facts: Cow<'a, Facts>,
    reading: Cow<'a, Reading>,
    colour: Cow<'a, CameraColour>,
    notes: Cow<'a, [String]>,
}

/// The bytes of a reading; `None` where it cannot be written.
pub(super) fn encode(metered: &Metered) -> Option<Vec<u8>> {
    rmp_serde::to_vec(&Body {
        facts: Cow::Borrowed(&metered.facts),
        reading: Cow::Borrowed(&metered.reading),
        colour: Cow::Borrowed(&metered.colour),
        notes: Cow::Borrowed(&metered.notes),
    })
    .ok()
}

/// The reading of a file with this stamp; `None` for bytes that are none.
pub(super) fn decode(bytes: &[u8], input: Stamp) -> Option<Metered> {
    let body: Body<'static> = rmp_serde::from_slice(bytes).ok()?;
    Some(Metered {
        input,
        facts: body.facts.into_owned(),
        reading: body.reading.into_owned(),
        colour: body.colour.into_owned(),
        notes: body.notes.into_owned(),
    })
}
