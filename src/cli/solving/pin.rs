//! A pinned frame as it is typed, `FRAME[=NAME][@X,Y[,R]...]`, or as it stands in an overrule file.

use super::SolvingError;
use super::neutral::{checked, parse_patch};
use crate::light::patch::Patch;
use crate::look::overrule::Overrules;
use crate::night::depot::is_stored;
use crate::show::solving::{NamedFrame, Neutral};
use std::path::{Path, PathBuf};

/// Reads a pin, from its end: patches after @, then the name after the last =. What is no patch after an @ belongs to the
/// path or to the name.
pub(super) fn parse(text: &str) -> Result<NamedFrame, String> {
    let mut rest = text;
    let mut patches = Vec::new();
    while let Some((before, last)) = rest.rsplit_once('@') {
        if !last
            .trim_start()
            .starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.')
        {
            break;
        }
        patches.push(parse_patch(last)?);
        rest = before;
    }
    patches.reverse();
    let (frame, name) = match rest.rsplit_once('=') {
        Some((frame, name)) => (frame, Some(name.trim())),
        None => (rest, None),
    };
    if frame.is_empty() {
        return Err("no frame is named; give FRAME, FRAME=NAME or FRAME=NAME@X,Y".to_owned());
    }
    if name == Some("") {
        return Err(
            "no name after the =; leave the = out, or name the key, such as =front wash".to_owned(),
        );
    }
    Ok(NamedFrame {
        frame: PathBuf::from(frame),
        name: name.map(str::to_owned),
        neutral: Neutral::Patches(patches),
    })
}

/// The pins of an overrule file; relative paths start at its folder.
pub(super) fn of_file(overrules: &Overrules, file: &Path) -> Result<Vec<NamedFrame>, SolvingError> {
    let folder = file.parent().unwrap_or(Path::new(""));
    let pins = overrules.pins.iter().map(|pin| {
        let patches = pin
            .neutral
            .iter()
            .map(|&(x, y, radius)| checked(x, y, radius.unwrap_or(Patch::RADIUS)))
            .collect::<Result<Vec<_>, String>>()
            .map_err(|reason| SolvingError::Patch {
                file: file.to_path_buf(),
                reason,
            })?;
        Ok(NamedFrame {
            frame: match is_stored(&pin.frame) {
                true => pin.frame.clone(),
                false => folder.join(&pin.frame),
            },
            name: pin.name.clone(),
            neutral: Neutral::Patches(patches),
        })
    });
    pins.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pins_are_read_from_their_end() {
        let pin = parse("a=b/x@y.nef=front wash@0.4,0.5@0.1,0.2,0.01").expect("a pin");
        assert_eq!(pin.frame, PathBuf::from("a=b/x@y.nef"));
        assert_eq!(pin.name.as_deref(), Some("front wash"));
        let Neutral::Patches(patches) = pin.neutral else {
            unreachable!("patches were given");
        };
        assert_eq!(patches.len(), 2);
        assert_eq!((patches[0].x, patches[1].radius), (0.4, 0.01));
        let bare = parse("x.nef").expect("a pin");
        assert_eq!(
            (bare.name, bare.neutral),
            (None, Neutral::Patches(Vec::new()))
        );
    }

    #[test]
    fn what_is_no_pin_is_refused() {
        for (text, words) in [
            ("=spot", "no frame"),
            ("x.nef=", "no name"),
            ("x.nef@1.5,0.5", "from 0 (left)"),
            ("x.nef@0.5", "two numbers"),
        ] {
            let error = parse(text).expect_err(text);
            assert!(error.contains(words), "{text}: {error}");
        }
    }
}
