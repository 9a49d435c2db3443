//! What every page of ours is made of: one file that opens anywhere, without a network and without a script.
//!
//! A page's own security policy forbids it to fetch anything. It follows the system's light or dark colours, prints, and fits
//! narrow windows. Nothing on it is told by colour alone, and nothing moves.

pub(super) mod cue;
pub(super) mod markup;
mod style;

use self::markup::{element, text};
use crate::raw::is_raw_name;
use std::path::Path;

/// A whole page; `body` is markup already.
pub(super) fn document(title: &str, body: &str) -> String {
    let head = [
        "<meta charset=\"utf-8\">".to_owned(),
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">".to_owned(),
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">".to_owned(),
        "<meta name=\"color-scheme\" content=\"light dark\">".to_owned(),
        element("title", "", &text(title)),
        element("style", "", style::SHEET),
    ];
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n{}\n</head>\n<body>\n{body}\n</body>\n</html>\n",
        head.join("\n")
    )
}

/// Why a page may not be written there; `None` when it may. A page may replace a page.
pub(super) fn refused_place(path: &Path) -> Option<String> {
    if is_raw_name(path) {
        return Some(format!(
            "{} has a raw file's name: the report would replace a frame; choose a name with .html",
            path.display()
        ));
    }
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
        return Some(format!(
            "there is no folder {} for the report; make it, or choose another place",
            folder.display()
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
