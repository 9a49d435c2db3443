//! A picture as a baseline JPEG file (ITU-T T.81) with EXIF, XMP and the profile of its space.

use crate::deliver::encoder::{self, Job};
use crate::deliver::error::DeliverError;
use crate::deliver::exif::block as exif_block;
use crate::deliver::segments::{self, START_OF_IMAGE};
use crate::deliver::tagged::Tagged;
use crate::deliver::wish::{ChromaSampling, Wish};
use crate::deliver::xmp;
use crate::raw::facts::Facts;
use crate::render::Rendered;

/// Name of the library that encodes, for reports: it depends on how the program was built.
pub const ENCODER: &str = encoder::NAME;

/// Bytes reserved for each pixel: what stage frames take at quality 92, rounded up, so that the buffer grows at most once.
const BYTES_A_PIXEL: usize = 1;

/// The bytes of a JPEG file: baseline, 4:4:4 from quality 90 on and 4:2:0 below, EXIF first, then XMP, then the profile of
/// its space. Equal arguments give equal bytes on every run of one build.
///
/// # Errors
/// A quality outside 1 to 100, a picture without pixels or with an edge over 65535, one whose values do not agree with its
/// size, or metadata that does not fit.
pub fn encode(picture: &Rendered, facts: &Facts, wish: &Wish) -> Result<Vec<u8>, DeliverError> {
    let tagged = Tagged::space(picture.space)?;
    encode_tagged(picture, &tagged, facts, wish)
}

/// The same for pixels in any RGB space.
pub(crate) fn encode_tagged(
    picture: &Rendered,
    tagged: &Tagged,
    facts: &Facts,
    wish: &Wish,
) -> Result<Vec<u8>, DeliverError> {
    let (width, height) = checked_size(picture, wish)?;
    let exif = exif_block(
        facts,
        (u32::from(width), u32::from(height)),
        wish,
        tagged.code,
    )
    .map_err(DeliverError::Exif)?;
    let xmp = xmp::packet(facts, wish, tagged.code);
    let mut file = segments::header(&exif, xmp.as_bytes(), &tagged.profile)?;
    let start = file.len();
    file.reserve(picture.rgb.len() / 3 * BYTES_A_PIXEL);

    encoder::append(
        &Job {
            rgb: &picture.rgb,
            width,
            height,
            quality: wish.quality,
            sampling: wish.chroma_sampling(),
        },
        &mut file,
    )?;
    remove_second_start(&mut file, start);
    Ok(file)
}

/// A picture as a JPEG file that holds nothing but pixels, 4:2:0: for pages that say everything else themselves.
///
/// # Errors
/// As [`encode`].
pub fn bare(picture: &Rendered, quality: u8) -> Result<Vec<u8>, DeliverError> {
    let wish = Wish {
        quality,
        ..Wish::default()
    };
    let (width, height) = checked_size(picture, &wish)?;
    let mut file = Vec::new();
    let job = Job {
        rgb: &picture.rgb,
        width,
        height,
        quality,
        sampling: ChromaSampling::Quarter,
    };
    encoder::append(&job, &mut file)?;
    Ok(file)
}

fn checked_size(picture: &Rendered, wish: &Wish) -> Result<(u16, u16), DeliverError> {
    if !(1..=100).contains(&wish.quality) {
        return Err(DeliverError::Quality(wish.quality));
    }
    let edge = |pixels: usize| u16::try_from(pixels).ok().filter(|&pixels| pixels > 0);
    let (Some(width), Some(height)) = (edge(picture.width), edge(picture.height)) else {
        return Err(DeliverError::Size {
            width: picture.width,
            height: picture.height,
        });
    };
    let wanted = picture.width * picture.height * 3;
    if picture.rgb.len() != wanted {
        return Err(DeliverError::Values {
            found: picture.rgb.len(),
            wanted,
        });
    }
    Ok((width, height))
}

/// Takes out what the encoder wrote at `start` before its tables: a start of image, which the file has already, and a JFIF
/// segment, whose place EXIF holds.
fn remove_second_start(file: &mut Vec<u8>, start: usize) {
    const APP0: [u8; 2] = [0xff, 0xe0];
    let mut end = start;
    if file[end..].starts_with(&START_OF_IMAGE) {
        end += START_OF_IMAGE.len();
    }
    if let [first, second, high, low, ..] = file[end..]
        && [first, second] == APP0
    {
        end += APP0.len() + usize::from(u16::from_be_bytes([high, low]));
    }
    file.drain(start..end.min(file.len()));
}
