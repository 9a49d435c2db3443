//! The page: one file that opens anywhere, without a network and without a script.
//!
//! Text, drawings (SVG) and pictures (JPEG in base64) stand in the file itself, and its own security policy forbids it to
//! fetch anything. It follows the system's light or dark colours, prints, and fits narrow windows. Nothing on it is told
//! by colour alone: bands have numbers, washes have names, dots and lines differ in shape. It does not move, so it cannot
//! flash; the strobe of a show is not shown as one.

mod cards;
mod sections;
mod series;
mod timeline;

use super::super::page::document;
use super::sheet::rows;
use crate::show::meter::{EyeReason, MeteredShow, SmallPictures};
use crate::show::runs::RunRow;
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
    document(&title, &format!("{}\n{notes}", body.join("\n")))
}
