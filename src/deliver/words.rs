//! Words from a raw file, made safe for a delivered one.
//!
//! The text fields of EXIF before version 3.0 are ASCII by the letter, but lens names come with °, é and µ. Following the
//! Metadata Working Group's guidelines (version 2.0, 2010, chapter "Exif"), they are written as UTF-8, which every reader of
//! ASCII reads as before. XML 1.0 (section 2.2) forbids most control characters even in escaped form, and a NUL ends an EXIF
//! string, so control characters are taken out for both.

/// Longest text that goes into a file, in bytes. No maker's name comes near it, and a damaged file's field of a megabyte would
/// burst the segment of 64 KiB that holds all of the metadata.
const LONGEST: usize = 500;

/// `text` without control characters and without space around it, cut at a character boundary; `None` when nothing is left.
pub(crate) fn cleaned(text: &str) -> Option<String> {
    let mut clean: String = text
        .chars()
        // U+FFFE and U+FFFF are no characters to XML.
        .filter(|c| !c.is_control() && !matches!(c, '\u{fffe}' | '\u{ffff}'))
        .collect();
    while clean.len() > LONGEST {
        clean.pop();
    }
    let clean = clean.trim();
    (!clean.is_empty()).then(|| clean.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_of_every_script_stay_and_controls_go() {
        assert_eq!(
            cleaned(" 50 mm ƒ/1.8 “Été” 撮影\0\r\n"),
            Some("50 mm ƒ/1.8 “Été” 撮影".to_string())
        );
        assert_eq!(cleaned("a\u{1}b\u{ffff}c"), Some("abc".to_string()));
        assert_eq!(cleaned(" \0 "), None);
        assert_eq!(cleaned(""), None);
    }

    #[test]
    fn a_long_text_is_cut_between_characters() {
        let cut = cleaned(&"é".repeat(LONGEST)).expect("some");
        assert_eq!(cut.len(), LONGEST);
        assert!(cut.chars().all(|c| c == 'é'));
    }
}
