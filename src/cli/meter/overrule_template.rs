//! A file for a person's last word: every cue that was found, ready to be overruled.

use super::sheet::rows;
use crate::base::units::Stops;
use crate::look::overrule::{TemplateCue, template};
use crate::raw::is_raw_name;
use crate::show::meter::MeteredShow;
use crate::show::runs::RunRow;
use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// Why a template may not be written there; `None` when it may. What is there already may hold a person's words.
pub(super) fn refused_place(path: &Path) -> Option<String> {
    if is_raw_name(path) {
        return Some(format!(
            "{} has a raw file's name: the template would be taken for a frame; choose a name with .toml",
            path.display()
        ));
    }
    path.symlink_metadata().is_ok().then(|| {
        format!(
            "{} is there already, and may hold what somebody said about cues; choose another name for the template",
            path.display()
        )
    })
}

/// The text of the file, in order of the cues' numbers.
pub(super) fn text(show: &MeteredShow) -> String {
    let names = Names::of(show);
    let mut cues: BTreeMap<usize, TemplateCue> = BTreeMap::new();
    for row in rows(show) {
        match cues.get_mut(&row.cue) {
            Some(cue) => cue.frames += row.frames.len(),
            None => {
                cues.insert(row.cue, cue_of(show, &row, &names));
            }
        }
    }
    let cues: Vec<TemplateCue> = cues.into_values().collect();
    template(&cues)
}

/// A cue as its first run tells it.
fn cue_of(show: &MeteredShow, row: &RunRow, names: &Names) -> TemplateCue {
    let first = row.frames.first().map(|&light| show.path_of(light));
    TemplateCue {
        number: row.cue,
        frame: first.map_or_else(PathBuf::new, |path| names.shortest(path)),
        frames: row.frames.len(),
        begins: row.from.map(|time| time.strftime("%H:%M:%S").to_string()),
        white: row.white.map(|white| white.white),
        level: row.level.map(Stops),
    }
}

/// File names that several frames of a show have.
struct Names(BTreeSet<std::ffi::OsString>);

impl Names {
    fn of(show: &MeteredShow) -> Self {
        let (mut seen, mut several) = (BTreeSet::new(), BTreeSet::new());
        for name in (0..show.lights.len()).filter_map(|light| show.path_of(light).file_name()) {
            if !seen.insert(name) {
                several.insert(name.to_owned());
            }
        }
        Self(several)
    }

    /// The file name alone where it is enough, so that the file still holds when the show is moved.
    fn shortest(&self, path: &Path) -> PathBuf {
        let name = path.file_name().unwrap_or(OsStr::new(""));
        if self.0.contains(name) {
            path.to_path_buf()
        } else {
            PathBuf::from(name)
        }
    }
}
