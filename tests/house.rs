//! The house's rules, held by reading the source: who may import whom, and where each third-party engine lives.
//!
//! DEVELOPERS.md draws the same table for people.

#![allow(
    clippy::expect_used,
    reason = "a test that meets the unexpected should stop there"
)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// A room and the rooms that its code may name.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    ("base", &[]),
    ("colour", &["base"]),
    ("raw", &["base", "colour"]),
    ("light", &["base", "colour", "raw"]),
    ("look", &["base", "colour", "light", "raw"]),
    ("render", &["base", "colour", "raw", "look"]),
    ("deliver", &["base", "colour", "render", "raw"]),
    (
        "crew",
        &[
            "base", "colour", "raw", "light", "look", "render", "deliver",
        ],
    ),
    (
        "show",
        &[
            "base", "colour", "raw", "light", "look", "render", "deliver", "crew",
        ],
    ),
    (
        "night",
        &[
            "base", "colour", "raw", "light", "look", "render", "deliver", "crew", "show",
        ],
    ),
    (
        "cli",
        &[
            "base", "colour", "raw", "light", "look", "render", "deliver", "crew", "show", "night",
        ],
    ),
];

/// Rooms that may use another room's types but not run it: (room, other room, the modules it may name there).
const ONLY_TYPES: &[(&str, &str, &[&str])] = &[
    ("light", "raw", &["facts", "frame", "noise", "photosites"]),
    ("look", "raw", &["facts"]),
    ("look", "light", &["reading", "patch", "sheet"]),
    ("render", "raw", &["facts", "frame", "noise"]),
    ("render", "look", &["correction"]),
    ("deliver", "raw", &["facts", "frame"]),
];

/// A third-party engine (as its crate is named in code) and the places under `src` where it may be named.
const ENGINE_HOMES: &[(&str, &[&str])] = &[
    ("rayon", &["base/bands.rs"]),
    ("rawloader", &["raw/"]),
    ("rawler", &["raw/"]),
    ("exif", &["raw/"]),
    ("nom_exif", &["raw/"]),
    ("moxcms", &["colour/profile.rs"]),
    ("palette", &["colour/"]),
    (
        "image",
        &[
            "raw/",
            "light/",
            "deliver/baseline/tests.rs",
            "render/demosaic/figures/",
            "render/noise/photograph.rs",
        ],
    ),
    ("toml", &["look/"]),
    (
        "blake3",
        &["crew/", "show/", "night/queue/tests/", "night/depot/"],
    ),
    (
        "rustix",
        &["crew/", "show/", "night/", "cli/night/display/"],
    ),
    // Tests only: it is no dependency of the program.
    ("jpeg_encoder", &["deliver/baseline/tests.rs"]),
    ("little_exif", &["deliver/"]),
    ("lcms2", &["colour/printer/"]),
    ("tiff", &["deliver/"]),
    // Tests only: it is no dependency of the program.
    ("fast_image_resize", &["render/resize/tests.rs"]),
    ("xmp_writer", &["deliver/"]),
    ("imageproc", &["light/"]),
    ("aligned_vec", &["render/row.rs"]),
    ("clap", &["cli/"]),
    ("clap_complete", &["cli/"]),
    ("indicatif", &["cli/"]),
    ("signal_hook", &["cli/", "crew/"]),
    ("walkdir", &["show/"]),
    ("base64", &["crew/"]),
    ("rusqlite", &["show/readings/", "night/engine/"]),
    ("postgres", &["night/engine/"]),
    ("rustls", &["night/engine/"]),
    ("rustls_native_certs", &["night/engine/"]),
    ("tokio_postgres_rustls", &["night/engine/"]),
    ("object_store", &["night/depot/"]),
    ("tokio", &["night/depot/"]),
    ("futures_util", &["night/depot/"]),
    ("rmp_serde", &["show/readings/", "night/queue/"]),
    ("etcetera", &["show/readings/", "night/engine/"]),
    ("thread_priority", &["crew/gentle.rs"]),
    ("starship_battery", &["night/run/power.rs"]),
];

/// Standard output and error belong to the room that talks to the person, and to the worker's side of the pipe. Tests that are
/// skipped for want of a server or of a right say so.
const PRINTING_HOMES: &[&str] = &[
    "cli/",
    "crew/",
    "night/depot/tests.rs",
    "night/queue/tests/",
    "night/run/tests/",
];

struct Source {
    /// Path below `src`, with forward slashes.
    path: String,
    /// The code with line comments taken off.
    code: String,
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let mut waiting = vec![root.clone()];
    while let Some(folder) = waiting.pop() {
        for entry in fs::read_dir(&folder).expect("src is readable") {
            let path: PathBuf = entry.expect("an entry of src").path();
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let text = fs::read_to_string(&path).expect("source is text");
                let code = text
                    .lines()
                    .map(|line| line.split("//").next().unwrap_or_default());
                let code = code.collect::<Vec<_>>().join("\n");
                let path = path.strip_prefix(&root).expect("below src");
                found.push(Source {
                    path: path.to_string_lossy().replace('\\', "/"),
                    code,
                });
            }
        }
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    found
}

/// Every `crate::room::module` that the code names, groups in braces included: (room, module or "").
fn rooms_named(code: &str) -> BTreeSet<(String, String)> {
    let is_word = |character: char| character.is_alphanumeric() || character == '_';
    let word = |text: &str| {
        text.chars()
            .take_while(|&character| is_word(character))
            .collect::<String>()
    };
    let mut named = BTreeSet::new();
    for (at, marker) in code.match_indices("crate::") {
        if code[..at].chars().next_back().is_some_and(is_word) {
            continue;
        }
        let rest = &code[at + marker.len()..];
        assert!(
            !rest.starts_with('{'),
            "write one `use crate::room::…` a room, so that it can be read: {rest:.40}"
        );
        let room = word(rest);
        let inner = rest[room.len()..].strip_prefix("::").unwrap_or_default();
        if let Some(group) = inner.strip_prefix('{') {
            let mut depth = 0usize;
            let mut start = true;
            for (index, character) in group.char_indices() {
                match character {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => start = true,
                    _ if depth == 0 && start && is_word(character) => {
                        named.insert((room.clone(), word(&group[index..])));
                        start = false;
                    }
                    _ => {}
                }
            }
        } else {
            named.insert((room, word(inner)));
        }
    }
    named
}

fn names_crate(code: &str, engine: &str) -> bool {
    let is_word =
        |character: char| character.is_alphanumeric() || character == '_' || character == ':';
    code.match_indices(&format!("{engine}::"))
        .any(|(at, _)| !code[..at].chars().next_back().is_some_and(is_word))
        || code.contains(&format!("use {engine};"))
}

#[test]
fn every_room_imports_only_what_it_may() {
    let mut wrong = Vec::new();
    for source in sources() {
        let Some((room, _)) = source.path.split_once('/') else {
            continue;
        };
        let Some((_, allowed)) = MAY_IMPORT.iter().find(|(name, _)| *name == room) else {
            wrong.push(format!(
                "{}: the room {room} is not in the table",
                source.path
            ));
            continue;
        };
        for (named, module) in rooms_named(&source.code) {
            let is_room = MAY_IMPORT.iter().any(|(name, _)| *name == named);
            if is_room && named != room && !allowed.contains(&named.as_str()) {
                wrong.push(format!("{}: {room} may not import {named}", source.path));
            }
            for (from, to, modules) in ONLY_TYPES {
                if *from == room && *to == named && !modules.contains(&module.as_str()) {
                    wrong.push(format!(
                        "{}: {room} may name only {modules:?} of {to}, not {module:?}",
                        source.path
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_engine_stays_in_its_home() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (engine, homes) in ENGINE_HOMES {
            if names_crate(&source.code, engine)
                && !homes.iter().any(|home| source.path.starts_with(home))
            {
                wrong.push(format!(
                    "{}: {engine} may be named only in {homes:?}",
                    source.path
                ));
            }
        }
        let prints = [
            "println!",
            "eprintln!",
            "print!",
            "eprint!",
            "io::stdout",
            "io::stderr",
        ];
        if prints
            .iter()
            .any(|macro_name| source.code.contains(macro_name))
            && !PRINTING_HOMES
                .iter()
                .any(|home| source.path.starts_with(home))
        {
            wrong.push(format!(
                "{}: only {PRINTING_HOMES:?} talk to the terminal",
                source.path
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_reader_of_imports_sees_groups_and_paths() {
    let code = "use crate::base::{plane::{Plane, Picture}, units::Stops};\nlet x = crate::raw::frame::Frame;";
    let expected = [("base", "plane"), ("base", "units"), ("raw", "frame")];
    let expected = expected.map(|(room, module)| (room.to_owned(), module.to_owned()));
    assert_eq!(rooms_named(code), BTreeSet::from(expected));
    assert!(names_crate("use rayon::prelude::*;", "rayon"));
    assert!(!names_crate("use other::rayon::x;", "rayon"));
}
