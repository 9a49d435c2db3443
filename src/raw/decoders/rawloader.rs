//! The crate rawloader: exact where it knows the body, no abort or hang seen in thousands of damaged files, but no body of
//! recent years.

use crate::base::geometry::Rect;
use crate::base::units::Kelvin;
use crate::raw::decoded::{Decoded, check_size};
use crate::raw::decoders::colour::{calibration, camera_colour};
use crate::raw::decoders::fence::fenced;
use crate::raw::decoders::{Refusal, pattern_black};
use crate::raw::frame::{BlackLevels, Layout};

/// Decodes a whole file.
pub(super) fn decode(bytes: &[u8]) -> Result<Decoded, Refusal> {
    let image = fenced(|| rawloader::decode(&mut &*bytes))
        .map_err(Refusal::Damaged)?
        .map_err(|error| Refusal::from_words(&error.to_string()))?;
    let (width, height) = (image.width, image.height);
    check_size(width as u64, height as u64).map_err(Refusal::Fault)?;
    let rawloader::RawImageData::Integer(counts) = image.data else {
        return Err(Refusal::Unsupported("floating-point counts".into()));
    };
    let [top, right, bottom, left] = image.crops;
    let active = Rect {
        left,
        top,
        width: width.saturating_sub(left).saturating_sub(right),
        height: height.saturating_sub(top).saturating_sub(bottom),
    };
    let layout = match image.cpp {
        1 => {
            let cfa = &image.cfa;
            let colours: Vec<u8> = (0..cfa.height)
                .flat_map(|y| (0..cfa.width).map(move |x| (x, y)))
                .map(|(x, y)| u8::try_from(cfa.color_at(y + top, x + left)).unwrap_or(u8::MAX))
                .collect();
            Layout::from_pattern(cfa.width, cfa.height, &colours).map_err(Refusal::Fault)?
        }
        3 => Layout::Linear,
        other => {
            return Err(Refusal::Unsupported(format!("{other} values a pixel")));
        }
    };
    let black: [f32; 3] = std::array::from_fn(|channel| f32::from(image.blacklevels[channel]));
    let white: [f32; 3] = std::array::from_fn(|channel| f32::from(image.whitelevels[channel]));
    let black = match layout {
        Layout::Linear => BlackLevels {
            rows: 1,
            columns: 1,
            pattern: black.to_vec(),
            column_deviation: Vec::new(),
            row_deviation: Vec::new(),
        },
        _ => pattern_black(&layout, black),
    };
    /// Its table holds the published four digits as whole numbers.
    const MATRIX_UNIT: f32 = 10_000.0;
    let rows: Vec<f32> = image.xyz_to_cam[..3]
        .iter()
        .flatten()
        .map(|value| value / MATRIX_UNIT)
        .collect();
    // Its table holds the matrices for D65 (its documentation; rawler's table names them so for the same bodies).
    let calibrations = calibration(Some(Kelvin(6500.0)), &rows)
        .into_iter()
        .collect();
    let multipliers = std::array::from_fn(|channel| image.wb_coeffs[channel]);
    let colour = camera_colour(calibrations, multipliers)
        .ok_or_else(|| Refusal::Unsupported("no colour matrix for this body".into()))?;
    Ok(Decoded {
        width,
        height,
        counts,
        layout,
        black,
        white,
        active,
        crop: Decoded::whole(active.width, active.height),
        colour,
        notes: Vec::new(),
    })
}
