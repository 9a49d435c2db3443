//! Application segments: what stands in a JPEG file before its picture.
//!
//! EXIF comes first, right after the start of the image, as CIPA DC-008 (4.5.4) asks and as bodies write it; the JFIF segment, which
//! would claim the same place, is left out, and its density is stated in EXIF. XMP follows (ISO 16684-3), then the profile
//! (ICC.1:2010, B.4), in pieces where it is long.

use crate::deliver::error::DeliverError;

/// Start of image.
pub(crate) const START_OF_IMAGE: [u8; 2] = [0xff, 0xd8];
/// Marker codes of the segments used here (ITU-T T.81, table B.1).
const APP1: u8 = 0xe1;
const APP2: u8 = 0xe2;

const EXIF_SIGNATURE: &[u8] = b"Exif\0\0";
const XMP_SIGNATURE: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
const PROFILE_SIGNATURE: &[u8] = b"ICC_PROFILE\0";

/// A segment's length field has 16 bits and counts itself.
const MOST_IN_A_SEGMENT: usize = u16::MAX as usize - 2;
/// A piece of a profile also carries its number and the number of pieces, a byte each.
const MOST_OF_A_PROFILE: usize = MOST_IN_A_SEGMENT - PROFILE_SIGNATURE.len() - 2;
/// Pieces are counted from 1 in a byte.
const MOST_PIECES: usize = u8::MAX as usize;

/// Start of image, EXIF, XMP and profile.
///
/// # Errors
/// [`DeliverError::SegmentTooLong`] when a part does not fit.
pub(crate) fn header(exif: &[u8], xmp: &[u8], profile: &[u8]) -> Result<Vec<u8>, DeliverError> {
    let mut bytes = START_OF_IMAGE.to_vec();
    push(&mut bytes, APP1, "EXIF", &[EXIF_SIGNATURE, exif])?;
    push(&mut bytes, APP1, "XMP", &[XMP_SIGNATURE, xmp])?;
    let pieces = profile.len().div_ceil(MOST_OF_A_PROFILE);
    let count = u8::try_from(pieces).map_err(|_| DeliverError::SegmentTooLong {
        what: "the profile",
        length: profile.len(),
        most: MOST_PIECES * MOST_OF_A_PROFILE,
    })?;
    for (number, piece) in (1..=count).zip(profile.chunks(MOST_OF_A_PROFILE)) {
        let place = [number, count];
        push(
            &mut bytes,
            APP2,
            "the profile",
            &[PROFILE_SIGNATURE, &place, piece],
        )?;
    }
    Ok(bytes)
}

fn push(
    bytes: &mut Vec<u8>,
    marker: u8,
    what: &'static str,
    parts: &[&[u8]],
) -> Result<(), DeliverError> {
    let length: usize = parts.iter().map(|part| part.len()).sum();
    let field = u16::try_from(length + 2).map_err(|_| DeliverError::SegmentTooLong {
        what,
        length,
        most: MOST_IN_A_SEGMENT,
    })?;
    bytes.extend([0xff, marker]);
    bytes.extend(field.to_be_bytes());
    for part in parts {
        bytes.extend_from_slice(part);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Marker, content without the length field, of each segment.
    fn segments(mut bytes: &[u8]) -> Vec<(u8, Vec<u8>)> {
        let mut found = Vec::new();
        assert_eq!(bytes[..2], START_OF_IMAGE);
        bytes = &bytes[2..];
        while !bytes.is_empty() {
            assert_eq!(bytes[0], 0xff);
            let length = usize::from(u16::from_be_bytes([bytes[2], bytes[3]]));
            found.push((bytes[1], bytes[4..2 + length].to_vec()));
            bytes = &bytes[2 + length..];
        }
        found
    }

    #[test]
    fn a_long_profile_is_cut_and_can_be_put_together_again() {
        // One piece, a full piece, one byte more, and many.
        for length in [
            1,
            MOST_OF_A_PROFILE,
            MOST_OF_A_PROFILE + 1,
            5 * MOST_OF_A_PROFILE,
        ] {
            let profile: Vec<u8> = (0..length).map(|i| (i % 251) as u8).collect();
            let bytes = header(b"exif", b"xmp", &profile).expect("fits");
            let found = segments(&bytes);
            let pieces: Vec<_> = found.iter().filter(|(marker, _)| *marker == APP2).collect();
            let mut whole = Vec::new();
            for (index, (_, content)) in pieces.iter().enumerate() {
                assert_eq!(&content[..12], PROFILE_SIGNATURE);
                assert_eq!(usize::from(content[12]), index + 1);
                assert_eq!(usize::from(content[13]), pieces.len());
                whole.extend_from_slice(&content[14..]);
            }
            assert_eq!(whole, profile, "length {length}");
        }
    }

    #[test]
    fn what_does_not_fit_is_refused_at_the_very_byte() {
        let most = MOST_IN_A_SEGMENT - EXIF_SIGNATURE.len();
        assert!(header(&vec![0; most], b"", b"").is_ok());
        assert!(matches!(
            header(&vec![0; most + 1], b"", b""),
            Err(DeliverError::SegmentTooLong { what: "EXIF", .. })
        ));
        assert!(header(b"", b"", &vec![0; MOST_PIECES * MOST_OF_A_PROFILE]).is_ok());
        assert!(header(b"", b"", &vec![0; MOST_PIECES * MOST_OF_A_PROFILE + 1]).is_err());
    }
}
