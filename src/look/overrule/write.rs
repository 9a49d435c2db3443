//! A template of an overrule file: every cue of a show, with what was found, ready to be changed.

use super::VERSION;
use crate::base::units::{Chromaticity, Stops};
use crate::look::describe::white_in_words;
use std::fmt::Write as _;
use std::path::PathBuf;
use toml::Value;

/// A cue as the template tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct TemplateCue {
    /// Its number on the cue sheet.
    pub number: usize,
    /// A frame that stands in it.
    pub frame: PathBuf,
    /// How many frames it has.
    pub frames: usize,
    /// When it begins, as the cue sheet tells it.
    pub begins: Option<String>,
    /// The white that was found.
    pub white: Option<Chromaticity>,
    /// The level that was found.
    pub level: Option<Stops>,
}

const HEAD: &str = "\
# What you say here overrules what was solved; give the file with --overrule. Take the # off the lines that you want.
# A cue is named by a frame in it (frame = \"DSC_0815.NEF\"), by its number on the cue sheet (number = 3), which changes when frames
# are added, or by the times of its frames on the first body's clock (from = \"20:15:00\" and until = \"20:18:30\").
#   white  \"4200 K\", \"4200 K, Duv +0.003\", \"x 0.3805, y 0.3768\", \"as shot\", \"reference\", or \"key NAME\"
#   stops  added to what was solved, such as \"+0.3 stops\"
#   leave  \"as shot\": white, exposure and levels as the body made them
# Frames whose keys you know can be pinned, with something grey in them, fractions of the upright picture:
#   [[pin]]
#   frame = \"night-one/DSC_0931.NEF\"
#   name = \"front wash\"
#   neutral = [\"0.42,0.61\"]
";

/// Writes a template. As it stands it overrules nothing.
#[must_use]
pub fn template(cues: &[TemplateCue]) -> String {
    let mut text = format!("{HEAD}version = {VERSION}\n");
    for cue in cues {
        let begins = cue
            .begins
            .as_ref()
            .map_or(String::new(), |time| format!(" from {time} on,"));
        let _ = writeln!(
            text,
            "\n# Cue {}:{begins} {} {}. White {}; level {}.",
            cue.number,
            cue.frames,
            if cue.frames == 1 { "frame" } else { "frames" },
            cue.white.map_or_else(
                || "not found, the reference's is kept".to_owned(),
                |white| white_in_words(Some(white))
            ),
            cue.level
                .map_or_else(|| "not found".to_owned(), |level| level.to_string()),
        );
        let frame = Value::String(cue.frame.to_string_lossy().into_owned());
        let _ = writeln!(text, "# [[cue]]\n# frame = {frame}");
        if let Some(white) = cue.white {
            let _ = writeln!(text, "# white = \"x {:.4}, y {:.4}\"", white.x, white.y);
        }
        text.push_str("# stops = \"+0.0 stops\"\n");
    }
    text
}
