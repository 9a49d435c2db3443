//! ICC profiles of delivered pictures, made by moxcms: the one place that knows it.
//!
//! Each is a version 4 matrix profile with the parametric curve of its space. Its bytes are the same on every run and
//! machine: the date is fixed, the texts are ours.

use crate::colour::adaptation::{D50_OF_PROFILES, bradford_xyz};
use crate::colour::output_space::OutputSpace;
use moxcms::{ColorProfile, LocalizableString, Matrix3d, ProfileText, ToneReprCurve, Xyzd};
use thiserror::Error;

/// Why a profile could not be made.
#[derive(Debug, Error)]
#[error(
    "the colour management library could not write the profile of the output space: {reason}; please report this"
)]
pub struct ProfileError {
    reason: String,
}

/// Where a profile's header has its date (ICC.1:2010, table 15): six big-endian numbers of 16 bits.
const DATE_AT: std::ops::Range<usize> = 24..36;
/// The date in the header: that of IEC 61966-2-1's first edition, for all of them. A profile must have one, and the day of the run
/// (which the library writes there, whatever it was told) must not change the file.
const DATE: [u16; 6] = [1999, 10, 18, 0, 0, 0];

/// The numbers of a standard are nobody's.
const COPYRIGHT: &str = "No copyright, use freely";

/// The profile of a space as ICC bytes (ICC.1:2010, version 4), about 600 bytes.
///
/// # Errors
/// When the library refuses its own profile.
pub fn of(space: OutputSpace) -> Result<Vec<u8>, ProfileError> {
    let mut profile = ColorProfile::new_srgb();
    // The library's own colorants miss the published ones by 0.0003: its D65 has other digits than the standard's.
    let adaptation = bradford_xyz(space.primaries().white().to_xyz(), D50_OF_PROFILES);
    let [red, green, blue] = (adaptation * space.primaries().to_xyz()).transposed().0;
    profile.red_colorant = tristimulus(red);
    profile.green_colorant = tristimulus(green);
    profile.blue_colorant = tristimulus(blue);
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the library takes single precision"
    )]
    let curve = ToneReprCurve::Parametric(
        space
            .transfer()
            .parameters()
            .map(|value| value as f32)
            .to_vec(),
    );
    profile.red_trc = Some(curve.clone());
    profile.green_trc = Some(curve.clone());
    profile.blue_trc = Some(curve);
    profile.chromatic_adaptation = Some(Matrix3d { v: adaptation.0 });
    // ICC.1, 9.2.36: the media white of a display is stated as the profile connection space's white, which is D50.
    profile.white_point = tristimulus(D50_OF_PROFILES);
    profile.media_white_point = Some(tristimulus(D50_OF_PROFILES));
    // The library adds video code points of limited range, which are not those of a picture's full range.
    profile.cicp = None;
    profile.description = Some(text(space.title()));
    profile.copyright = Some(text(COPYRIGHT));
    let mut bytes = profile.encode().map_err(|error| ProfileError {
        reason: error.to_string(),
    })?;
    let date = bytes.get_mut(DATE_AT).ok_or_else(|| ProfileError {
        reason: "it is shorter than its header".to_string(),
    })?;
    for (place, number) in date.as_chunks_mut::<2>().0.iter_mut().zip(DATE) {
        *place = number.to_be_bytes();
    }
    Ok(bytes)
}

fn tristimulus([x, y, z]: [f64; 3]) -> Xyzd {
    Xyzd { x, y, z }
}

fn text(words: &str) -> ProfileText {
    ProfileText::Localizable(vec![LocalizableString::new(
        "en".to_string(),
        "GB".to_string(),
        words.to_string(),
    )])
}
