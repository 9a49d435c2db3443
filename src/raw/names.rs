//! Which files are taken for raws when a folder is searched: by suffix alone, in any case, since opening thousands of
//! files to look inside is slow on a card and a raw file without its suffix is nobody's habit.

use std::path::Path;

/// Suffixes of the raw formats that the decoders know, lower case.
const SUFFIXES: [&str; 33] = [
    "3fr", "ari", "arw", "cr2", "cr3", "crm", "crw", "dcr", "dcs", "dng", "erf", "fff", "gpr",
    "iiq", "kdc", "mef", "mos", "mrw", "nef", "nrw", "orf", "ori", "pef", "qtk", "raf", "raw",
    "rw2", "rwl", "sr2", "srf", "srw", "x3f", "nkd",
];

/// Whether the file's suffix is one of a raw format.
#[must_use]
pub fn is_raw_name(path: &Path) -> bool {
    path.extension()
        .and_then(|suffix| suffix.to_str())
        .is_some_and(|suffix| {
            SUFFIXES
                .iter()
                .any(|known| known.eq_ignore_ascii_case(suffix))
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_suffix_counts_in_any_case() {
        for name in [
            "a.nef",
            "b.NEF",
            "dir.jpg/c.Cr3",
            "two words.ARW",
            "x.y.dng",
        ] {
            assert!(is_raw_name(Path::new(name)), "{name}");
        }
        for name in ["a.jpg", "nef", ".nef", "a.nef.xmp", "a.", ""] {
            assert!(!is_raw_name(Path::new(name)), "{name}");
        }
    }
}
