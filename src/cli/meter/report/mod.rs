//! The page: one file that opens anywhere, without a network and without a script.
//!
//! Text, drawings (SVG) and pictures (JPEG in base64) stand in the file itself, and its own security policy forbids it to
//! fetch anything. It follows the system's light or dark colours, prints, and fits narrow windows. Nothing on it is told
//! by colour alone: bands have numbers, washes have names, dots and lines differ in shape. It does not move, so it cannot
//! flash; the strobe of a show is not shown as one.

mod cards;
mod markup;
mod sections;
mod series;
mod style;
mod timeline;

use self::markup::{element, text};
use super::sheet::{RunRow, rows};
use crate::raw::is_raw_name;
use crate::show::meter::{EyeReason, MeteredShow, SmallPictures};
use std::collections::BTreeMap;
use std::path::Path;

/// What goes onto a page.
pub(super) struct Material<'a> {
    pub(super) show: &'a MeteredShow,
    pub(super) rows: Vec<RunRow>,
    pub(super) eye: &'a [(usize, Vec<EyeReason>)],
    pub(super) pictures: &'a BTreeMap<usize, SmallPictures>,
}

impl Material<'_> {
    /// The file name of a light's frame.
    fn name_of(&self, light: usize) -> String {
        name(self.show.path_of(light))
    }
}

fn name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

/// Why a page may not be written there; `None` when it may. A page may replace a page.
pub(super) fn refused_place(path: &Path) -> Option<String> {
    if is_raw_name(path) {
        return Some(format!(
            "{} has a raw file's name: the report would replace a frame; choose a name with .html",
            path.display()
        ));
    }
    let is_page = |ending: &std::ffi::OsStr| {
        ending.eq_ignore_ascii_case("html") || ending.eq_ignore_ascii_case("htm")
    };
    let is_other = path.symlink_metadata().is_ok() && !path.extension().is_some_and(is_page);
    is_other.then(|| {
        format!(
            "{} is there already and has no name of a page; choose a name with .html for the report",
            path.display()
        )
    })
}

/// The page.
pub(super) fn page(
    show: &MeteredShow,
    eye: &[(usize, Vec<EyeReason>)],
    pictures: &BTreeMap<usize, SmallPictures>,
) -> String {
    let material = Material {
        show,
        rows: rows(show),
        eye,
        pictures,
    };
    let title = sections::title(&material);
    let body = [
        sections::head(&material, &title),
        sections::held_against(&material),
        timeline::section(&material),
        cards::section(&material),
        sections::for_the_eye(&material),
        sections::cue_sheet(&material),
        sections::clocks(&material),
    ];
    let notes = sections::notes(&material, body.iter().map(String::len).sum());
    let head = [
        "<meta charset=\"utf-8\">".to_owned(),
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">".to_owned(),
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">".to_owned(),
        "<meta name=\"color-scheme\" content=\"light dark\">".to_owned(),
        element("title", "", &text(&title)),
        element("style", "", style::SHEET),
    ];
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n{}\n</head>\n<body>\n{}\n{notes}\n</body>\n</html>\n",
        head.join("\n"),
        body.join("\n")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_replaces_pages_only() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let path = |name: &str| scratch.path().join(name);
        for name in ["letter.txt", "page.HTML", "DSC_1.NEF"] {
            std::fs::write(path(name), b"x").expect("written");
        }
        assert!(refused_place(&path("new")).is_none());
        assert!(refused_place(&path("page.HTML")).is_none());
        assert!(refused_place(&path("letter.txt")).is_some());
        assert!(refused_place(&path("DSC_1.NEF")).is_some());
        assert!(refused_place(&path("none-yet.dng")).is_some());
    }
}
