//! ICC profiles of delivered pictures, made by moxcms: the one place that knows it.
//!
//! The profile is a version 4 matrix profile with the parametric curve of IEC 61966-2-1. Its bytes are the same on
//! every run and machine: the date is fixed, the texts are ours.

use moxcms::{ColorDateTime, ColorProfile, LocalizableString, ProfileText};
use thiserror::Error;

/// Why a profile could not be made.
#[derive(Debug, Error)]
#[error(
    "the colour management library could not write the sRGB profile: {reason}; please report this"
)]
pub struct ProfileError {
    reason: String,
}

/// The date in the profile's header: that of IEC 61966-2-1's first edition, because a profile must have one and the
/// day of the run must not change the file.
const DATE: ColorDateTime = ColorDateTime {
    year: 1999,
    month: 10,
    day_of_the_month: 18,
    hours: 0,
    minutes: 0,
    seconds: 0,
};

/// What programs show a person.
const DESCRIPTION: &str = "sRGB (IEC 61966-2-1)";
/// The numbers of a standard are nobody's.
const COPYRIGHT: &str = "No copyright, use freely";

/// The sRGB profile as ICC bytes (ICC.1:2010, version 4), about 600 bytes.
///
/// # Errors
/// When the library refuses its own profile.
pub fn srgb() -> Result<Vec<u8>, ProfileError> {
    let mut profile = ColorProfile::new_srgb();
    profile.creation_date_time = DATE;
    // ICC.1, 9.2.36: the media white of a display is stated as the profile connection space's white, which is D50.
    profile.media_white_point = Some(profile.white_point);
    profile.description = Some(text(DESCRIPTION));
    profile.copyright = Some(text(COPYRIGHT));
    profile.encode().map_err(|error| ProfileError {
        reason: error.to_string(),
    })
}

fn text(words: &str) -> ProfileText {
    ProfileText::Localizable(vec![LocalizableString::new(
        "en".to_string(),
        "GB".to_string(),
        words.to_string(),
    )])
}
