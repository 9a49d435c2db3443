//! The conversion into a profile's space, by LittleCMS: the one place that knows it.

use super::header::{self, ProfileFault};
use super::{FROM, Intent, Printing};
use crate::colour::difference::ciede2000;
use crate::colour::lab::Lab;
use crate::colour::profile;
use lcms2::{Flags, PixelFormat, Profile, ThreadContext, Transform};

/// Signals of 16 bits to signals of 16 bits.
type Signals = Transform<[u16; 3], [u16; 3], ThreadContext>;
/// Signals of 16 bits to CIELAB.
type Colours = Transform<[u16; 3], [f64; 3], ThreadContext>;

/// The distance, in CIEDE2000, from which a colour that went through the profile and back counts as lost. Tables of a profile
/// have 9 to 33 nodes a side and bring colours that the medium does have back within about two (common practice, no source).
pub const LOST: f64 = 3.0;

/// A profile that pictures can be converted into, and how.
pub struct Conversion {
    profile: Vec<u8>,
    signals: Signals,
    /// For the soft proof: the picture's colour, the medium's signal for it, and the medium's colour.
    asked: Colours,
    there: Signals,
    back: Colours,
}

impl std::fmt::Debug for Conversion {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        to.debug_struct("Conversion").finish_non_exhaustive()
    }
}

impl Conversion {
    /// From [`FROM`] into the space of a profile file's bytes.
    ///
    /// # Errors
    /// When the bytes are no profile that RGB pictures can be converted into with this intent.
    pub fn new(bytes: Vec<u8>, printing: Printing) -> Result<Self, ProfileFault> {
        header::check(&bytes)?;
        let refused = |error: lcms2::Error| ProfileFault::Refused(error.to_string());
        let context = ThreadContext::new();
        let source = profile::of(FROM).map_err(|error| ProfileFault::Refused(error.to_string()))?;
        let source = Profile::new_icc_context(&context, &source).map_err(refused)?;
        let medium = Profile::new_icc_context(&context, &bytes).map_err(refused)?;
        let lab = Profile::new_lab4_context(&context, &D50).map_err(refused)?;
        let intent = intent_of(printing.intent);
        if !has_table(&bytes, printing.intent) {
            return Err(ProfileFault::NoTable(printing.intent.word()));
        }
        let compensation = if printing.black_point_compensation {
            Flags::BLACKPOINT_COMPENSATION
        } else {
            Flags::default()
        };
        // With more nodes than usual: 16 bits are meant.
        let fine = Flags::HIGHRES_PRECALC;
        let relative = lcms2::Intent::RelativeColorimetric;
        let signals = |intent| {
            Signals::new_flags_context(
                &context,
                &source,
                PixelFormat::RGB_16,
                &medium,
                PixelFormat::RGB_16,
                intent,
                fine | compensation,
            )
        };
        let colours = |from: &Profile<ThreadContext>| {
            Colours::new_flags_context(
                &context,
                from,
                PixelFormat::RGB_16,
                &lab,
                PixelFormat::Lab_DBL,
                relative,
                compensation,
            )
        };
        Ok(Self {
            signals: signals(intent).map_err(refused)?,
            asked: colours(&source).map_err(refused)?,
            there: signals(relative).map_err(refused)?,
            back: colours(&medium).map_err(refused)?,
            profile: bytes,
        })
    }

    /// The bytes of the profile, for the delivered file.
    #[must_use]
    pub fn profile(&self) -> &[u8] {
        &self.profile
    }

    /// Converts interleaved signals of [`FROM`] into the medium's, in place. What is beyond the last whole pixel stays.
    pub fn convert(&self, rgb: &mut [u16]) {
        self.signals.transform_in_place(rgb.as_chunks_mut::<3>().0);
    }

    /// How many of these colours (signals of [`FROM`]) the medium does not have: those that come back from the trip there, by
    /// the relative intent, changed by more than [`LOST`]. With black point compensation the way back undoes it, so that
    /// darkness alone is no loss.
    #[must_use]
    pub fn count_lost(&self, colours: &[[u16; 3]]) -> usize {
        let mut asked = vec![[0.0; 3]; colours.len()];
        let mut there = vec![[0; 3]; colours.len()];
        let mut back = vec![[0.0; 3]; colours.len()];
        self.asked.transform_pixels(colours, &mut asked);
        self.there.transform_pixels(colours, &mut there);
        self.back.transform_pixels(&there, &mut back);
        let pairs = asked.into_iter().zip(back);
        pairs
            .filter(|(asked, back)| ciede2000(lab_of(*asked), lab_of(*back)) > LOST)
            .count()
    }
}

/// The white of the connection space, for LittleCMS's Lab profile (ICC.1:2010, 7.2.16).
const D50: lcms2::CIExyY = lcms2::CIExyY {
    x: 0.3457,
    y: 0.3585,
    Y: 1.0,
};

fn lab_of([lightness, a, b]: [f64; 3]) -> Lab {
    Lab { lightness, a, b }
}

fn intent_of(intent: Intent) -> lcms2::Intent {
    match intent {
        Intent::Relative => lcms2::Intent::RelativeColorimetric,
        Intent::Perceptual => lcms2::Intent::Perceptual,
        Intent::Saturation => lcms2::Intent::Saturation,
        Intent::Absolute => lcms2::Intent::AbsoluteColorimetric,
    }
}

/// Whether the profile can serve an intent: a matrix serves the colorimetric ones, as does a single table (ICC.1:2010, 8.3 to
/// 8.5: B2A0 is the table that every one has, and stands in for colorimetric ones that are left out).
fn has_table(bytes: &[u8], intent: Intent) -> bool {
    let has = |signature| header::has_tag(bytes, signature);
    let is_matrix = has(b"rXYZ") && has(b"gXYZ") && has(b"bXYZ");
    match intent {
        Intent::Relative | Intent::Absolute => has(b"B2A1") || has(b"B2A0") || is_matrix,
        Intent::Perceptual => has(b"B2A0"),
        Intent::Saturation => has(b"B2A2"),
    }
}
