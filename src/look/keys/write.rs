//! Writing the keys of a look file.

use super::Key;
use crate::look::describe::white_in_words;
use crate::look::quantity::Unit;
use std::fmt::Write as _;
use toml::Value;

/// Groups of numbers on one line of a text.
const GROUPS_A_LINE: usize = 6;

/// Writes the keys, each as a table `[[key]]` of its own.
pub(in crate::look) fn write(keys: &[Key], text: &mut String) {
    if keys.is_empty() {
        return;
    }
    text.push_str(
        "\n# Keys of the venue: lights on the performer that were solved, the reference's first. Another night's cues are\n\
         # recognised by them. Rename them, or remove the ones that you do not want.\n\
         # x, y: the white, CIE 1931. level: against the reference's key, exposure settings evened out.\n\
         # colours: how the key is recognised, groups of three numbers: (ln L/M, ln S/M) of Bradford's cones under this white,\n\
         # where 0 0 is grey, and a weight. surfaces: groups of four: the same two, ln of luminance for one second at f/1 and\n\
         # ISO 1, and a share of the picture.\n",
    );
    for key in keys {
        let _ = writeln!(text, "\n# {}", white_in_words(Some(key.white)));
        let _ = writeln!(text, "[[key]]");
        let _ = writeln!(text, "name = {}", Value::String(key.name.clone()));
        let _ = writeln!(text, "x = {:?}\ny = {:?}", key.white.x, key.white.y);
        if let Some(level) = key.level {
            let _ = writeln!(text, "level = \"{}\"", Unit::Stops.write(level.0));
        }
        let colours = key.memory.palette.iter();
        let colours = colours.map(|([a, b], weight)| format!("{a} {b} {weight}"));
        groups(text, "colours", colours.collect());
        let surfaces = key.memory.surfaces.iter();
        let surfaces = surfaces.map(|([a, b], level, share)| format!("{a} {b} {level} {share}"));
        groups(text, "surfaces", surfaces.collect());
    }
}

fn groups(text: &mut String, name: &str, groups: Vec<String>) {
    if groups.is_empty() {
        return;
    }
    let _ = writeln!(text, "{name} = \"\"\"");
    for line in groups.chunks(GROUPS_A_LINE) {
        let _ = writeln!(text, "{}", line.join(", "));
    }
    text.push_str("\"\"\"\n");
}
