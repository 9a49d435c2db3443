//! The crate rawler: this decade's bodies and DNG in JPEG XL, with matrices by illuminant. Damaged headers can make it
//! abort, hang or take all memory, so what can be told from the header is checked before it is called.

use crate::base::geometry::Rect;
use crate::colour::camera::{Calibration, light_source_temperature};
use crate::raw::decoded::{Decoded, check_size};
use crate::raw::decoders::colour::{calibration, camera_colour};
use crate::raw::decoders::fence::fenced;
use crate::raw::decoders::{DngCounts, Refusal};
use crate::raw::frame::{BlackLevels, Layout};
use rawler::decoders::{RawDecodeParams, RawMetadata};
use rawler::imgop::xyz::Illuminant;
use rawler::rawimage::RawPhotometricInterpretation;
use rawler::rawsource::RawSource;
use rawler::{RawImage, RawImageData};
use std::collections::HashMap;
use std::sync::Arc;

/// Decodes a whole file.
pub(super) fn decode(bytes: &Arc<Vec<u8>>) -> Result<Decoded, Refusal> {
    decoded(raw_image(bytes)?)
}

/// Only the counts, for files whose own tags say all the rest.
pub(super) fn decode_counts(bytes: &Arc<Vec<u8>>) -> Result<DngCounts, Refusal> {
    let image = raw_image(bytes)?;
    let (values, was_float) = match image.data {
        RawImageData::Integer(counts) => (counts, false),
        RawImageData::Float(values) => {
            // Floating-point DNG: 1.0 is white (the specification's default WhiteLevel).
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to the range of u16; NaN becomes 0"
            )]
            let counts = values
                .iter()
                .map(|value| (value * 65_535.0 + 0.5).max(0.0).min(65_535.0) as u16)
                .collect();
            (counts, true)
        }
    };
    Ok(DngCounts {
        width: image.width,
        height: image.height,
        channels: image.cpp,
        values,
        was_float,
    })
}

/// The white level that its table of bodies states, without looking at the file.
pub(super) fn table_white(make: &str, model: &str) -> Option<f32> {
    fenced(|| {
        let key = (make.to_owned(), model.to_owned(), String::new());
        let camera = rawler::global_loader().get_cameras().get(&key)?;
        let levels = camera.whitelevel.as_ref()?;
        #[expect(clippy::cast_precision_loss, reason = "counts are 16-bit")]
        levels.iter().min().map(|level| *level as f32)
    })
    .ok()?
}

/// The calibrations that its table of bodies holds, without looking at the file.
pub(super) fn table_calibrations(make: &str, model: &str) -> Vec<Calibration> {
    fenced(|| {
        let key = (make.to_owned(), model.to_owned(), String::new());
        let camera = rawler::global_loader().get_cameras().get(&key)?;
        Some(calibrations(&camera.color_matrix))
    })
    .ok()
    .flatten()
    .unwrap_or_default()
}

/// A table's matrices by light.
fn calibrations(matrices: &HashMap<Illuminant, Vec<f32>>) -> Vec<Calibration> {
    let of = |(light, rows): (&Illuminant, &Vec<f32>)| {
        calibration(light_source_temperature(u16::from(*light)), rows)
    };
    matrices.iter().filter_map(of).collect()
}

/// What it knows of the frame without its pixels.
pub(super) fn metadata(bytes: &Arc<Vec<u8>>) -> Option<RawMetadata> {
    fenced(|| {
        let source = RawSource::new_from_shared_vec(Arc::clone(bytes));
        let decoder = rawler::get_decoder(&source).ok()?;
        decoder
            .raw_metadata(&source, &RawDecodeParams::default())
            .ok()
    })
    .ok()?
}

fn raw_image(bytes: &Arc<Vec<u8>>) -> Result<RawImage, Refusal> {
    fenced(|| {
        let source = RawSource::new_from_shared_vec(Arc::clone(bytes));
        rawler::decode(&source, &RawDecodeParams::default())
    })
    .map_err(Refusal::Damaged)?
    .map_err(|error| Refusal::from_words(&error.to_string()))
}

fn decoded(image: RawImage) -> Result<Decoded, Refusal> {
    let (width, height) = (image.width, image.height);
    check_size(width as u64, height as u64).map_err(Refusal::Fault)?;
    let RawImageData::Integer(counts) = image.data else {
        return Err(Refusal::Unsupported("floating-point counts".into()));
    };
    let rect = |area: rawler::imgop::Rect| Rect {
        left: area.p.x,
        top: area.p.y,
        width: area.d.w,
        height: area.d.h,
    };
    let active = image
        .active_area
        .map_or_else(|| Decoded::whole(width, height), rect);
    // Its recommended crop counts from the sensor's first photosite.
    let crop = image.crop_area.map(rect).and_then(|crop| {
        Some(Rect {
            left: crop.left.checked_sub(active.left)?,
            top: crop.top.checked_sub(active.top)?,
            ..crop
        })
    });
    let mut layout = match (&image.photometric, image.cpp) {
        (RawPhotometricInterpretation::Cfa(config), 1) => {
            let cfa = &config.cfa;
            let colours: Vec<u8> = (0..cfa.height)
                .flat_map(|y| (0..cfa.width).map(move |x| (x, y)))
                .map(|(x, y)| u8::try_from(cfa.color_at(y, x)).unwrap_or(u8::MAX))
                .collect();
            Layout::from_pattern(cfa.width, cfa.height, &colours).map_err(Refusal::Fault)?
        }
        (RawPhotometricInterpretation::LinearRaw, 3) => Layout::Linear,
        (_, values) => {
            return Err(Refusal::Unsupported(format!("{values} values a pixel")));
        }
    };
    layout = layout.shifted(active.left, active.top);
    let levels = image.blacklevel;
    if levels.levels.len() != levels.width * levels.height * image.cpp {
        return Err(Refusal::Damaged(
            "black levels do not fit their pattern".into(),
        ));
    }
    let black = BlackLevels {
        rows: levels.height,
        columns: levels.width,
        pattern: levels.levels.iter().map(|level| level.as_f32()).collect(),
        column_deviation: Vec::new(),
        row_deviation: Vec::new(),
    }
    .shifted(active.left, active.top);
    #[expect(clippy::cast_precision_loss, reason = "counts are 16-bit")]
    let white = match image.whitelevel.0.as_slice() {
        [] => return Err(Refusal::Damaged("no white level".into())),
        [red, green, blue, ..] => [*red as f32, *green as f32, *blue as f32],
        [one, ..] => [*one as f32; 3],
    };
    let calibrations = calibrations(&image.color_matrix);
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
        crop: crop.unwrap_or_else(|| Decoded::whole(active.width, active.height)),
        colour,
        notes: Vec::new(),
    })
}
