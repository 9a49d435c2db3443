//! What the report says in words, on the page and in JSON alike.

use crate::base::format::Format;
use crate::cli::meter::table::settings_in_words;
use crate::colour::output_space::OutputSpace;
use crate::crew::task::Cause;
use crate::night::depot::is_stored;
use crate::night::exposure::{ExposureNote, MOST};
use crate::night::queue::OutputWish;
use std::path::Path;

/// What stands instead of the free space of a folder that has none to tell.
pub(super) fn without_free(folder: &Path) -> &'static str {
    if is_stored(folder) {
        "in an object store"
    } else {
        "away now"
    }
}

/// What kind of failure it is.
pub(super) fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Unreadable => "the raw cannot be read",
        Cause::Profile => "the profile cannot be used",
        Cause::Patch => "no white from the neutral patches",
        Cause::Unrenderable => "the picture cannot be made",
        Cause::PlaceTaken => "another file is in the picture's place",
        Cause::AnotherRaw => "another frame lies at its path now",
        Cause::Unwritable => "the picture cannot be written",
        Cause::FolderUnusable => "the output folder takes no picture",
        Cause::DiskFull => "no space",
        Cause::Memory => "more memory than allowed",
        Cause::Time => "more time than allowed",
        Cause::WorkerLost => "its worker died",
        Cause::Killed => "its worker was killed",
        Cause::NoWorker => "no worker could be started",
        Cause::Defect => "a defect of the program or of a decoder",
        Cause::Interrupted => "interrupted",
    }
}

/// What solving found cannot be read.
pub(super) fn unread(reason: &str) -> String {
    format!(
        "what was found of its light cannot be read ({reason}): another version of the program wrote it, and shows it; no picture is touched by that"
    )
}

/// A wish: what kind of picture, how large.
pub(in crate::cli::night) fn wish(wish: &OutputWish) -> String {
    let delivery = &wish.delivery;
    let kind = match delivery.wish.format {
        Format::Jpeg => format!("JPEG, quality {}", delivery.wish.quality),
        Format::Tiff => "TIFF of 16 bits".to_owned(),
    };
    let size = match delivery.long_edge {
        Some(edge) => format!("{edge} pixels long"),
        None => "full size".to_owned(),
    };
    let space = match (&wish.profile, delivery.space) {
        (Some(profile), _) => {
            let name = profile.file_name().unwrap_or(profile.as_os_str());
            name.to_string_lossy().into_owned()
        }
        (None, OutputSpace::Srgb) => "sRGB".to_owned(),
        (None, OutputSpace::DisplayP3) => "Display P3".to_owned(),
        (None, OutputSpace::Rec2020) => "Rec. 2020".to_owned(),
    };
    format!("{kind}, {size}, {space}")
}

/// Stops to the third, as dials have them: `1 1/3 stops`.
pub(super) fn thirds(stops: f64) -> String {
    let thirds = (3.0 * stops.abs()).round();
    let whole = (thirds / 3.0).floor();
    let part = match (thirds - 3.0 * whole).round() {
        0.0 => "",
        1.0 => "1/3",
        _ => "2/3",
    };
    let number = match (whole > 0.0, part) {
        (true, "") => format!("{whole:.0}"),
        (true, part) => format!("{whole:.0} {part}"),
        (false, "") => "0".to_owned(),
        (false, part) => part.to_owned(),
    };
    let unit = if whole > 1.0 || (whole == 1.0 && !part.is_empty()) {
        "stops"
    } else {
        "stop"
    };
    let more = if stops.abs() >= MOST { " or more" } else { "" };
    format!("{number} {unit}{more}")
}

/// What an exposure note finds.
pub(super) fn finding(note: &ExposureNote) -> String {
    if !note.is_told() {
        return "well exposed".to_owned();
    }
    let stops = thirds(note.off);
    if note.off > 0.0 {
        format!("{stops} too hot")
    } else {
        format!("{stops} too dark")
    }
}

/// What it rests on.
pub(super) fn evidence(note: &ExposureNote) -> String {
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let mut parts = Vec::new();
    if note.off > 0.0 || note.blown > 0.02 {
        parts.push(format!(
            "{} of what the key lights is blown",
            percent(note.blown)
        ));
    }
    if note.off < 0.0 {
        parts.push("it could have had more before anything is blown".to_owned());
    }
    if note.blocked > 0.1 {
        parts.push(format!(
            "{} of the performer drowns in noise",
            percent(note.blocked)
        ));
    }
    let [least, most] = note.between;
    if most - least > 1.0 / 3.0 {
        parts.push(format!("frames from {least:+.1} to {most:+.1} stops"));
    }
    parts.join("; ")
}

/// The settings that most frames had.
pub(super) fn settings(note: &ExposureNote) -> String {
    note.settings.map_or_else(
        || "unknown".to_owned(),
        |settings| {
            format!(
                "{} ({} of {})",
                settings_in_words(
                    Some(settings.seconds),
                    Some(settings.f_number),
                    Some(settings.iso)
                ),
                settings.frames,
                note.frames
            )
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stops_are_told_as_dials_have_them() {
        for (stops, words) in [
            (0.3, "1/3 stop"),
            (-0.7, "2/3 stop"),
            (1.0, "1 stop"),
            (-1.3, "1 1/3 stops"),
            (2.9, "3 stops"),
            (4.0, "4 stops or more"),
        ] {
            assert_eq!(thirds(stops), words);
        }
    }
}
