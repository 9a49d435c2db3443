//! Which frames a show has: files and folders as named, searched for raw files.
//!
//! Folders are searched to the bottom. Links in them are not followed (a loop of links would never end, and a linked
//! folder is somebody else's); a link that was named outright is. Passed over are: files without a raw file's name
//! (sidecars, JPEGs), hidden files and folders (a drive's trash lies there, and `._` files are AppleDouble halves, RFC
//! 1740, that carry the raw's name and no picture), and the output folder where it lies inside a searched folder. Two
//! names of one file count once. The order is that of the paths' bytes, whatever the system lists first.

use crate::raw::is_raw_name;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use walkdir::{DirEntry, WalkDir};

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gathered {
    /// Raw files, sorted, each once.
    pub frames: Vec<PathBuf>,
    /// What could not be read on the way: path and the system's reason.
    pub unreadable: Vec<(PathBuf, String)>,
    /// How many files were named outright but have no raw file's name.
    pub passed_over: usize,
    /// How many raw files lie inside the output folder and were passed over with it.
    pub in_output_folder: usize,
}

/// Why there is nothing to do.
#[derive(Debug, thiserror::Error)]
pub enum GatherError {
    /// A name that leads nowhere.
    #[error("cannot read {}: {source}; check the name", path.display())]
    Missing {
        /// As it was named.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// No frame at all.
    #[error(
        "no raw files in what was named ({looked_at}); name raw files, or folders that hold some (JPEGs and sidecars \
         are passed over)"
    )]
    NoFrames {
        /// The names, with commas.
        looked_at: String,
    },
}

/// Searches `named` files and folders for raw files. `output_folder` is not searched when it lies inside one of them.
///
/// # Errors
/// A name that leads nowhere, or no raw file at all. An unreadable folder further down is reported in the result.
pub fn gather(named: &[PathBuf], output_folder: Option<&Path>) -> Result<Gathered, GatherError> {
    let mut found = Gathered::default();
    // By real path, so that two names of one file meet; the name shown is the first in order.
    let mut frames: BTreeMap<PathBuf, PathBuf> = BTreeMap::new();
    let output_folder = output_folder.and_then(|folder| fs::canonicalize(folder).ok());
    let mut add = |path: PathBuf, real: PathBuf| {
        let known = frames.entry(real).or_insert_with(|| path.clone());
        if path < *known {
            *known = path;
        }
    };
    for name in named {
        let (metadata, real) = fs::metadata(name)
            .and_then(|metadata| Ok((metadata, fs::canonicalize(name)?)))
            .map_err(|source| GatherError::Missing {
                path: name.clone(),
                source,
            })?;
        if metadata.is_dir() {
            search(name, &real, output_folder.as_deref(), &mut found, &mut add);
        } else if is_raw_name(name) {
            add(name.clone(), real);
        } else {
            found.passed_over += 1;
        }
    }
    found.frames = frames.into_values().collect();
    found.frames.sort();
    found.unreadable.sort();
    if found.frames.is_empty() && found.unreadable.is_empty() {
        let names: Vec<String> = named.iter().map(|n| n.display().to_string()).collect();
        return Err(GatherError::NoFrames {
            looked_at: names.join(", "),
        });
    }
    Ok(found)
}

fn search(
    root: &Path,
    real_root: &Path,
    output_folder: Option<&Path>,
    found: &mut Gathered,
    add: &mut impl FnMut(PathBuf, PathBuf),
) {
    let wanted = |entry: &DirEntry| entry.depth() == 0 || !is_hidden(entry);
    for entry in WalkDir::new(root).into_iter().filter_entry(wanted) {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                let path = error.path().unwrap_or(root).to_path_buf();
                let reason = error
                    .io_error()
                    .map_or_else(|| error.to_string(), ToString::to_string);
                found.unreadable.push((path, reason));
                continue;
            }
        };
        if !entry.file_type().is_file() || !is_raw_name(entry.path()) {
            continue;
        }
        // No link below the root is followed, so the rest of the path is real as it stands.
        let below = entry.path().strip_prefix(root).unwrap_or(entry.path());
        let real = real_root.join(below);
        if output_folder.is_some_and(|folder| {
            folder != real_root && real.starts_with(folder) && folder.starts_with(real_root)
        }) {
            found.in_output_folder += 1;
        } else {
            add(entry.into_path(), real);
        }
    }
}

fn is_hidden(entry: &DirEntry) -> bool {
    entry.file_name().as_encoded_bytes().starts_with(b".")
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Scratch(tempfile::TempDir);

    impl Scratch {
        fn with(files: &[&str]) -> Self {
            let scratch = Self(tempfile::tempdir().expect("a scratch folder"));
            for file in files {
                let path = scratch.path(file);
                fs::create_dir_all(path.parent().expect("a folder")).expect("made");
                fs::write(path, b"x").expect("written");
            }
            scratch
        }

        fn path(&self, name: &str) -> PathBuf {
            self.0.path().join(name)
        }

        fn names(&self, found: &Gathered) -> Vec<String> {
            let names = found.frames.iter().map(|frame| {
                frame
                    .strip_prefix(self.0.path())
                    .expect("inside")
                    .to_string_lossy()
                    .into_owned()
            });
            names.collect()
        }
    }

    #[test]
    fn raws_of_any_case_and_depth_and_nothing_else() {
        let scratch = Scratch::with(&[
            "b/two.NEF",
            "b/c/three.Arw",
            "a/one.dng",
            "a/one.JPG",
            "a/one.xmp",
            "a/._one.dng",
            ".Trash/gone.dng",
            "noending",
        ]);
        let found = gather(&[scratch.path("")], None).expect("frames");
        assert_eq!(
            scratch.names(&found),
            ["a/one.dng", "b/c/three.Arw", "b/two.NEF"]
        );
        assert_eq!(found.passed_over, 0);
    }

    #[test]
    fn order_and_repetition_of_names_do_not_matter() {
        let scratch = Scratch::with(&["a/one.dng", "b/two.dng", "b/notes.txt"]);
        let once = gather(&[scratch.path("")], None).expect("frames");
        let names = [
            scratch.path("b/two.dng"),
            scratch.path("b"),
            scratch.path("a/../a/one.dng"),
            scratch.path("a/one.dng"),
        ];
        let again = gather(&names, None).expect("frames");
        assert_eq!(again.frames.len(), 2);
        assert_eq!(
            again
                .frames
                .iter()
                .map(|f| fs::canonicalize(f).expect("there"))
                .collect::<Vec<_>>(),
            once.frames
                .iter()
                .map(|f| fs::canonicalize(f).expect("there"))
                .collect::<Vec<_>>(),
        );
    }

    #[test]
    fn the_output_folder_inside_is_not_searched_but_may_be_the_folder_itself() {
        let scratch = Scratch::with(&["one.dng", "out/two.dng", "out/one.jpg"]);
        let found = gather(&[scratch.path("")], Some(&scratch.path("out"))).expect("frames");
        assert_eq!(scratch.names(&found), ["one.dng"]);
        assert_eq!(found.in_output_folder, 1);
        let found = gather(&[scratch.path("out")], Some(&scratch.path("out"))).expect("frames");
        assert_eq!(scratch.names(&found), ["out/two.dng"]);
        let found = gather(&[scratch.path("out")], Some(&scratch.path(""))).expect("frames");
        assert_eq!(scratch.names(&found), ["out/two.dng"]);
    }

    #[test]
    fn nothing_found_and_nothing_there_are_told_apart() {
        let scratch = Scratch::with(&["photo.jpg"]);
        let error = gather(&[scratch.path("")], None).expect_err("no raws");
        assert!(error.to_string().contains("no raw files"), "{error}");
        let error = gather(&[scratch.path("photo.jpg")], None).expect_err("no raws");
        assert!(error.to_string().contains("photo.jpg"), "{error}");
        let error = gather(&[scratch.path("absent.nef")], None).expect_err("nothing there");
        assert!(matches!(error, GatherError::Missing { .. }), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn links_in_folders_are_not_followed_and_named_ones_are() {
        use std::os::unix::fs::symlink;
        let scratch = Scratch::with(&["real/one.dng", "show/two.dng"]);
        symlink(scratch.path("real"), scratch.path("show/linked")).expect("linked");
        symlink(scratch.path("real/one.dng"), scratch.path("show/one.dng")).expect("linked");
        symlink(scratch.path("show"), scratch.path("show/loop")).expect("linked");
        let found = gather(&[scratch.path("show")], None).expect("frames");
        assert_eq!(scratch.names(&found), ["show/two.dng"]);
        let found = gather(&[scratch.path("show/one.dng")], None).expect("frames");
        assert_eq!(scratch.names(&found), ["show/one.dng"]);
        let found = gather(&[scratch.path("show/linked")], None).expect("frames");
        assert_eq!(scratch.names(&found), ["show/linked/one.dng"]);
    }

    #[cfg(unix)]
    #[test]
    fn ten_thousand_links_in_a_loop_do_no_harm() {
        let scratch = Scratch::with(&["one.dng"]);
        for index in 0..10_000 {
            let next = format!("{}.nef", (index + 1) % 10_000);
            std::os::unix::fs::symlink(next, scratch.path(&format!("{index}.nef")))
                .expect("linked");
        }
        let found = gather(&[scratch.path("")], None).expect("frames");
        assert_eq!(scratch.names(&found), ["one.dng"]);
        let error = gather(&[scratch.path("7.nef")], None).expect_err("a loop");
        assert!(matches!(error, GatherError::Missing { .. }), "{error}");
    }
}
