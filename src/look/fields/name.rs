//! Name and note.

use crate::look::fields::{Kind, Section, field};

pub(super) const NAME: Section = Section {
    name: "",
    meaning: "A houselights look. Numbers with a unit stand in quotes with it; a field that is left out takes its\n\
              neutral value. Comments are not kept when the program writes the file again.",
    optional: None,
    fields: &[
        field(
            "name",
            "What the look is called.",
            Kind::Text {
                get: |look| Some(look.name.clone()),
                set: |look, text| look.name = text,
            },
        ),
        field(
            "note",
            "What it is for, in your own words.",
            Kind::Text {
                get: |look| Some(look.note.clone()),
                set: |look, text| look.note = text,
            },
        ),
    ],
};
