//! What pictures are called: the frame's own stem, and where that is not enough something that tells frames apart.
//!
//! Two bodies count alike, so two frames of one show often share a stem. All frames of such a group get a suffix: the name
//! of the nearest folder level on which they all differ (`DSC_0042_card-two.jpg`), else several levels, else the raw's
//! ending, else a number in the order of paths. Names that differ only in case count as equal, since pictures go to
//! drives that do not tell case. A frame keeps the name under which an earlier run made its picture, and no frame takes a
//! name that another frame's picture has, so that a run over a part of the show never replaces the other part.

use std::collections::{BTreeMap, HashSet};
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

/// Names already given in the output folder.
pub trait GivenNames {
    /// The name that the frame at this index has from an earlier run, with this run's ending.
    fn name_of(&self, frame: usize) -> Option<OsString>;
    /// Every name that some frame has, in this run's frames or not.
    fn all(&self) -> Vec<OsString>;
}

/// No names given yet.
impl GivenNames for () {
    fn name_of(&self, _frame: usize) -> Option<OsString> {
        None
    }

    fn all(&self) -> Vec<OsString> {
        Vec::new()
    }
}

/// File names of the pictures of `frames` with this ending, in their order; no two are equal, ignoring case. `frames` are real paths (no
/// links, from the root), sorted, each once: then the names do not depend on how the frames were named.
#[must_use]
pub fn picture_names(frames: &[PathBuf], ending: &str, given: &dyn GivenNames) -> Vec<OsString> {
    let mut taken: HashSet<Vec<u8>> = given.all().iter().map(|name| folded(name)).collect();
    let mut kept: HashSet<Vec<u8>> = HashSet::new();
    let mut names: Vec<Option<OsString>> = (0..frames.len())
        .map(|frame| {
            given
                .name_of(frame)
                .filter(|name| kept.insert(folded(name)))
        })
        .collect();
    // Two frames may claim one name; the one that keeps it need not be among what `all` knows.
    taken.extend(kept);
    let mut groups: BTreeMap<Vec<u8>, Vec<usize>> = BTreeMap::new();
    for (index, frame) in frames.iter().enumerate() {
        groups.entry(folded(stem(frame))).or_default().push(index);
    }
    for group in groups.values() {
        let members: Vec<&Path> = group.iter().map(|&index| frames[index].as_path()).collect();
        let suffixes = suffixes(&members);
        for (&index, suffix) in group.iter().zip(&suffixes) {
            if names[index].is_none() {
                let name = free_name(&frames[index], suffix.as_deref(), ending, &taken);
                taken.insert(folded(&name));
                names[index] = Some(name);
            }
        }
    }
    names.into_iter().map(Option::unwrap_or_default).collect()
}

/// The first of: stem with suffix; stem with suffix, or the folder's name, and a number from 2.
fn free_name(
    frame: &Path,
    suffix: Option<&OsStr>,
    ending: &str,
    taken: &HashSet<Vec<u8>>,
) -> OsString {
    let folder = frame.parent().and_then(Path::file_name);
    let with = |suffix: Option<&OsStr>, number: Option<usize>| {
        let mut name = stem(frame).to_os_string();
        if let Some(suffix) = suffix {
            name.push("_");
            name.push(suffix);
        }
        if let Some(number) = number {
            name.push(format!("_{number}"));
        }
        name.push(".");
        name.push(ending);
        name
    };
    let first = [with(suffix, None), with(suffix.or(folder), None)];
    let numbered = (2..).map(|number| with(suffix.or(folder), Some(number)));
    first
        .into_iter()
        .chain(numbered)
        .find(|name| !taken.contains(&folded(name)))
        .unwrap_or_default()
}

/// What tells the frames of one stem apart, for each of them; `None` for a frame that is alone.
fn suffixes(frames: &[&Path]) -> Vec<Option<OsString>> {
    if frames.len() < 2 {
        return vec![None; frames.len()];
    }
    let deepest = frames
        .iter()
        .map(|frame| frame.components().count())
        .max()
        .unwrap_or(0);
    let one_level = (1..deepest).map(|level| each(frames, |frame| folder_at(frame, level)));
    let several_levels =
        (2..deepest).map(|levels| each(frames, |frame| last_folders(frame, levels)));
    let ending = std::iter::once(each(frames, |frame| {
        frame.extension().map(OsStr::to_os_string)
    }));
    let both = std::iter::once(each(frames, |frame| {
        let mut text = last_folders(frame, deepest)?;
        text.push("_");
        text.push(frame.extension()?);
        Some(text)
    }));
    one_level
        .chain(several_levels)
        .chain(ending)
        .chain(both)
        .flatten()
        .find(|suffixes| all_differ(suffixes))
        .map_or_else(
            || {
                (1..=frames.len())
                    .map(|number| Some(number.to_string().into()))
                    .collect()
            },
            |suffixes| suffixes.into_iter().map(Some).collect(),
        )
}

fn each(frames: &[&Path], of: impl Fn(&Path) -> Option<OsString>) -> Option<Vec<OsString>> {
    frames.iter().map(|frame| of(frame)).collect()
}

/// The name of the folder `level` levels above the file, 1 for its own folder.
fn folder_at(frame: &Path, level: usize) -> Option<OsString> {
    let folder = frame.ancestors().nth(level)?;
    folder.file_name().map(OsStr::to_os_string)
}

/// The names of up to `levels` folders above the file, the outermost first.
fn last_folders(frame: &Path, levels: usize) -> Option<OsString> {
    let mut names: Vec<&OsStr> = frame
        .ancestors()
        .skip(1)
        .take(levels)
        .filter_map(Path::file_name)
        .collect();
    names.reverse();
    (!names.is_empty()).then(|| names.join(OsStr::new("_")))
}

fn all_differ(names: &[OsString]) -> bool {
    let mut seen = HashSet::new();
    names.iter().all(|name| seen.insert(folded(name)))
}

fn stem(frame: &Path) -> &OsStr {
    frame.file_stem().unwrap_or_default()
}

/// A key that is equal for names that a drive which ignores case takes for one. Bytes that are no text stay as they are.
#[must_use]
pub fn folded(name: &OsStr) -> Vec<u8> {
    match name.to_str() {
        Some(text) => text.to_lowercase().into_bytes(),
        None => name.as_encoded_bytes().to_ascii_lowercase(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(frames: &[&str]) -> Vec<String> {
        let frames: Vec<PathBuf> = frames.iter().map(PathBuf::from).collect();
        text(picture_names(&frames, "jpg", &()))
    }

    fn text(names: Vec<OsString>) -> Vec<String> {
        names
            .into_iter()
            .map(|name| name.into_string().expect("text"))
            .collect()
    }

    #[test]
    fn a_stem_that_is_alone_is_kept() {
        assert_eq!(
            names(&["/a/it's one.two.nef", "/a/b.nef"]),
            ["it's one.two.jpg", "b.jpg"]
        );
    }

    #[test]
    fn the_level_that_tells_frames_apart_becomes_the_suffix() {
        assert_eq!(
            names(&["/s/left/1.nef", "/s/right/1.nef"]),
            ["1_left.jpg", "1_right.jpg"]
        );
        assert_eq!(
            names(&["/card-one/dcim/100/1.nef", "/card-two/dcim/100/1.nef"]),
            ["1_card-one.jpg", "1_card-two.jpg"]
        );
        assert_eq!(
            names(&["/x/d/1.nef", "/x/e/1.nef", "/y/d/1.nef"]),
            ["1_x_d.jpg", "1_x_e.jpg", "1_y_d.jpg"]
        );
        assert_eq!(names(&["/s/1.arw", "/s/1.nef"]), ["1_arw.jpg", "1_nef.jpg"]);
        assert_eq!(names(&["/s/1.NEF", "/s/1.nef"]), ["1_1.jpg", "1_2.jpg"]);
    }

    #[test]
    fn names_that_differ_in_case_only_are_told_apart() {
        assert_eq!(
            names(&["/s/a/img.nef", "/s/b/IMG.NEF"]),
            ["img_a.jpg", "IMG_b.jpg"]
        );
    }

    #[test]
    fn a_suffix_that_makes_another_frames_name_gets_a_number() {
        assert_eq!(
            names(&["/s/a/1.nef", "/s/a/1_a.nef", "/s/b/1.nef"]),
            ["1_a.jpg", "1_a_a.jpg", "1_b.jpg"]
        );
    }

    struct Earlier(Vec<Option<&'static str>>, Vec<&'static str>);

    impl GivenNames for Earlier {
        fn name_of(&self, frame: usize) -> Option<OsString> {
            self.0[frame].map(OsString::from)
        }

        fn all(&self) -> Vec<OsString> {
            self.1.iter().map(OsString::from).collect()
        }
    }

    #[test]
    fn earlier_names_stay_and_are_nobody_elses() {
        let frames: Vec<PathBuf> = ["/s/a/1.nef", "/s/b/1.nef"].map(PathBuf::from).to_vec();
        // An earlier run had only the first.
        let given = Earlier(vec![Some("1.jpg"), None], vec!["1.jpg"]);
        assert_eq!(
            text(picture_names(&frames, "jpg", &given)),
            ["1.jpg", "1_b.jpg"]
        );
        // This run has only the second.
        let given = Earlier(vec![None], vec!["1.JPG"]);
        assert_eq!(
            text(picture_names(&frames[1..], "jpg", &given)),
            ["1_b.jpg"]
        );
    }

    #[test]
    fn a_name_that_an_earlier_frame_keeps_is_not_given_to_one_that_claims_it_too() {
        let frames: Vec<PathBuf> = ["/s/1.nef", "/s/2.nef", "/s/3.nef"]
            .map(PathBuf::from)
            .to_vec();
        // What the folder knows says nothing of the first's name, which is the third's own.
        let given = Earlier(vec![Some("3.jpg"), Some("3.jpg"), None], Vec::new());
        assert_eq!(
            text(picture_names(&frames, "jpg", &given)),
            ["3.jpg", "2.jpg", "3_s.jpg"]
        );
    }

    #[cfg(unix)]
    #[test]
    fn bytes_that_are_no_text_stay() {
        use std::os::unix::ffi::OsStrExt;
        let frame = PathBuf::from(OsStr::from_bytes(b"/s/\xff\xfe.nef"));
        assert_eq!(
            picture_names(&[frame], "jpg", &())[0].as_bytes(),
            b"\xff\xfe.jpg"
        );
    }
}
