//! What the header of a profile file says (ICC.1:2010, 7.2), and why a file cannot be converted into.

/// Why a profile cannot be used. The wording leaves out the file's name: whoever holds it says it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ProfileFault {
    /// Something else, or nothing.
    #[error("it is not an ICC profile; ask for the printer's .icc or .icm file")]
    NotAProfile,
    /// Shorter than it says.
    #[error("it is cut off: {found} bytes of {stated}; copy it again")]
    Truncated {
        /// Bytes there are.
        found: usize,
        /// Bytes that its header states.
        stated: usize,
    },
    /// A profile that describes no place to go to.
    #[error(
        "it is {0}, and pictures can be converted into a printer's or a display's only; ask for the printer's profile"
    )]
    WrongClass(&'static str),
    /// Colours that our files do not have.
    #[error(
        "its colours are {0}, and pictures are delivered as RGB; ask for an RGB profile, or deliver without --profile and let \
         the laboratory convert"
    )]
    NotRgb(String),
    /// No table for the intent.
    #[error("it has no table for the intent {0}; choose another --intent")]
    NoTable(&'static str),
    /// The colour management library refused.
    #[error(
        "the colour management library cannot convert into it ({0}); it may be damaged, ask for it again"
    )]
    Refused(String),
}

const HEADER_BYTES: usize = 128;

/// Checks what the header says.
///
/// # Errors
/// When the bytes are no RGB profile of an output device or a display, or fewer than stated.
pub(super) fn check(bytes: &[u8]) -> Result<(), ProfileFault> {
    let field = |at: usize| bytes.get(at..at + 4).unwrap_or_default();
    if bytes.len() < HEADER_BYTES || field(36) != b"acsp" {
        return Err(ProfileFault::NotAProfile);
    }
    let stated = field(0).try_into().map_or(0, u32::from_be_bytes) as usize;
    if stated > bytes.len() {
        return Err(ProfileFault::Truncated {
            found: bytes.len(),
            stated,
        });
    }
    match field(12) {
        b"prtr" | b"mntr" => {}
        b"scnr" => return Err(ProfileFault::WrongClass("a scanner's or camera's profile")),
        b"link" => return Err(ProfileFault::WrongClass("a link between two devices")),
        b"abst" => return Err(ProfileFault::WrongClass("an effect (abstract profile)")),
        b"nmcl" => return Err(ProfileFault::WrongClass("a list of named colours")),
        b"spac" => return Err(ProfileFault::WrongClass("a colour space's conversion")),
        _ => return Err(ProfileFault::WrongClass("of an unknown class")),
    }
    match field(16) {
        b"RGB " => {}
        b"CMYK" => return Err(ProfileFault::NotRgb("CMYK".to_owned())),
        b"GRAY" => return Err(ProfileFault::NotRgb("grey only".to_owned())),
        other => {
            let name = String::from_utf8_lossy(other).trim().to_owned();
            return Err(ProfileFault::NotRgb(name));
        }
    }
    match field(20) {
        b"XYZ " | b"Lab " => Ok(()),
        _ => Err(ProfileFault::Refused(
            "its connection space is neither XYZ nor Lab".to_owned(),
        )),
    }
}

/// Whether a tag is there.
pub(super) fn has_tag(bytes: &[u8], signature: &[u8; 4]) -> bool {
    const ENTRY: usize = 12;
    /// More tags than any profile has; a larger number is damage.
    const MOST_TAGS: usize = 1000;
    let count = bytes
        .get(HEADER_BYTES..HEADER_BYTES + 4)
        .and_then(|count| count.try_into().ok())
        .map_or(0, u32::from_be_bytes) as usize;
    (0..count.min(MOST_TAGS)).any(|index| {
        let at = HEADER_BYTES + 4 + ENTRY * index;
        bytes.get(at..at + 4) == Some(signature)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::output_space::OutputSpace;
    use crate::colour::profile;

    fn with(at: usize, word: &[u8; 4]) -> Vec<u8> {
        let mut bytes = profile::of(OutputSpace::Srgb).expect("a profile");
        bytes[at..at + 4].copy_from_slice(word);
        bytes
    }

    #[test]
    fn what_cannot_be_converted_into_is_refused_with_the_reason() {
        let good = profile::of(OutputSpace::Srgb).expect("a profile");
        assert_eq!(check(&good), Ok(()));
        assert_eq!(check(b"\xff\xd8\xff\xe0"), Err(ProfileFault::NotAProfile));
        assert_eq!(check(&[0xff; 4000]), Err(ProfileFault::NotAProfile));
        assert_eq!(check(&good[..127]), Err(ProfileFault::NotAProfile));
        assert!(matches!(
            check(&good[..good.len() - 1]),
            Err(ProfileFault::Truncated { .. })
        ));
        for class in [b"scnr", b"link", b"abst", b"nmcl", b"spac", b"????"] {
            let refused = check(&with(12, class));
            assert!(matches!(refused, Err(ProfileFault::WrongClass(_))));
        }
        for space in [b"CMYK", b"GRAY", b"6CLR"] {
            let refused = check(&with(16, space));
            assert!(matches!(refused, Err(ProfileFault::NotRgb(_))));
        }
        assert!(has_tag(&good, b"rXYZ") && !has_tag(&good, b"B2A0"));
        assert!(!has_tag(&good[..130], b"rXYZ"));
    }
}
