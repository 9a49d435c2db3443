//! Makes the picture of the stages in the documents: pairs of crops of demo frames, without a stage and with it.
//!
//! `cargo run --release --example stage-pictures -- LOOK OUT.jpg`, where LOOK was solved and kept by `carry --save-look`.
//! A pair differs in one thing only: the step is taken out of the plan (or out of the correction), the rest stays.

use houselights::base::bands::Threads;
use houselights::colour::transfer::srgb_encode;
use houselights::light::reading::FrameLight;
use houselights::light::{read_light, read_show};
use houselights::look::carry::{Follow, carry};
use houselights::look::correction::{Correction, Curve, Levels};
use houselights::look::file::Look;
use houselights::look::overrule::Overruling;
use houselights::look::presets::preset;
use houselights::raw::frame::Frame;
use houselights::raw::read_frame;
use houselights::render::Target;
use houselights::render::plan::Plan;
use houselights::render::points::PointOperation;
use image::{RgbImage, imageops};
use std::error::Error;
use std::path::{Path, PathBuf};

/// Size of one crop in the picture, and the gaps between them, in pixels.
const CROP: (u32, u32) = (300, 200);
const GAP: u32 = 6;
/// Pairs in a row.
const PAIRS: u32 = 2;

/// Makes the picture of one frame without the stage.
type Without = fn(&Frame, &Correction) -> Result<RgbImage, Box<dyn Error>>;

/// One pair: frame, left and upper edge of the crop, how many times it is enlarged.
struct Pair {
    frame: &'static str,
    at: (u32, u32),
    enlarged: u32,
    without: Without,
    with: Without,
}

const ROWS: [Pair; 10] = [
    Pair {
        frame: "one-0405.dng",
        at: (40, 62),
        enlarged: 4,
        without: photosites,
        with: whole,
    },
    Pair {
        frame: "two-0707.dng",
        at: (330, 150),
        enlarged: 4,
        without: |frame, correction| {
            changed(frame, correction, |plan| {
                plan.noise = None;
                plan.detail = None;
            })
        },
        with: |frame, correction| changed(frame, correction, |plan| plan.detail = None),
    },
    Pair {
        frame: "two-0702.dng",
        at: (330, 210),
        enlarged: 4,
        without: |frame, correction| changed(frame, correction, |plan| plan.detail = None),
        with: whole,
    },
    Pair {
        frame: "one-0412.dng",
        at: (300, 140),
        enlarged: 2,
        without: |frame, correction| changed(frame, correction, |plan| plan.highlights = None),
        with: whole,
    },
    Pair {
        frame: "one-0407.dng",
        at: (0, 0),
        enlarged: 1,
        without: |frame, correction| {
            changed(frame, correction, |plan| {
                plan.points
                    .retain(|step| !matches!(step, PointOperation::HueMap(_)));
            })
        },
        with: whole,
    },
    Pair {
        frame: "two-0705.dng",
        at: (90, 60),
        enlarged: 1,
        without: |frame, correction| {
            changed(frame, correction, |plan| {
                plan.points.retain(|step| {
                    !matches!(
                        step,
                        PointOperation::CompressGamut(_) | PointOperation::MapInto(_)
                    )
                });
            })
        },
        with: whole,
    },
    Pair {
        frame: "one-0406.dng",
        at: (180, 0),
        enlarged: 1,
        without: |frame, correction| {
            let mut straight = correction.clone();
            straight.curve = Curve::Straight;
            straight.levels = Levels::NEUTRAL;
            straight.roll_off.amount = 0.0;
            whole(frame, &straight)
        },
        with: whole,
    },
    Pair {
        frame: "one-0411.dng",
        at: (200, 60),
        enlarged: 1,
        without: whole,
        with: |frame, correction| {
            let mut vivid = correction.clone();
            vivid.saturation = 1.5;
            whole(frame, &vivid)
        },
    },
    Pair {
        frame: "one-0410.dng",
        at: (200, 100),
        enlarged: 1,
        without: whole,
        with: |frame, correction| {
            let limelight = preset("limelight")?;
            let mut grey = correction.clone();
            grey.monochrome = limelight.monochrome;
            grey.tint = limelight.tint;
            whole(frame, &grey)
        },
    },
    Pair {
        frame: "two-0702.dng",
        at: (250, 150),
        enlarged: 2,
        without: |frame, correction| changed(frame, correction, |plan| plan.sharpen = None),
        with: whole,
    },
];

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args_os().skip(1).map(PathBuf::from);
    let (Some(look), Some(out)) = (arguments.next(), arguments.next()) else {
        return Err("usage: stage-pictures LOOK OUT.jpg".into());
    };
    let look = Look::load(&look)?;
    let rows = u32::try_from(ROWS.len())?.div_ceil(PAIRS);
    let (width, height) = (CROP.0 + GAP, CROP.1 + GAP);
    let mut sheet = RgbImage::from_pixel(
        PAIRS * (2 * width + GAP),
        rows * height,
        image::Rgb([24, 24, 24]),
    );
    for (number, pair) in ROWS.iter().enumerate() {
        let number = u32::try_from(number)?;
        let (left, top) = (number % PAIRS * (2 * width + GAP), number / PAIRS * height);
        for (crop, left) in crops(pair, &look)?.iter().zip([left, left + width]) {
            imageops::replace(&mut sheet, crop, i64::from(left), i64::from(top));
        }
    }
    sheet.save(out)?;
    Ok(())
}

fn crops(pair: &Pair, look: &Look) -> Result<[RgbImage; 2], Box<dyn Error>> {
    let frame = read_frame(&Path::new("demo-frames").join(pair.frame))?;
    let light = FrameLight {
        facts: frame.facts.clone(),
        reading: Some(read_light(&frame, None)),
        colour: frame.colour.without_hue_maps(),
        is_reference: false,
    };
    let light = [light];
    let carried = carry(
        look,
        &light,
        &read_show(&light, &[], &[]),
        Follow::Light,
        &Overruling::default(),
    )?
    .remove(0);
    let crop = |make: Without| -> Result<RgbImage, Box<dyn Error>> {
        let picture = make(&frame, &carried.correction)?;
        let (width, height) = (CROP.0 / pair.enlarged, CROP.1 / pair.enlarged);
        let part = imageops::crop_imm(&picture, pair.at.0, pair.at.1, width, height).to_image();
        Ok(imageops::resize(
            &part,
            CROP.0,
            CROP.1,
            imageops::FilterType::Nearest,
        ))
    };
    Ok([crop(pair.without)?, crop(pair.with)?])
}

/// The frame as the whole plan makes it.
fn whole(frame: &Frame, correction: &Correction) -> Result<RgbImage, Box<dyn Error>> {
    changed(frame, correction, |_| ())
}

/// The frame as the plan makes it after a change.
fn changed(
    frame: &Frame,
    correction: &Correction,
    change: impl FnOnce(&mut Plan),
) -> Result<RgbImage, Box<dyn Error>> {
    let mut plan = Plan::compile(frame, correction, &Target::default())?;
    change(&mut plan);
    let made = plan.run(&frame.mosaic, &Threads::one());
    let (width, height) = (u32::try_from(made.width)?, u32::try_from(made.height)?);
    RgbImage::from_raw(width, height, made.rgb).ok_or_else(|| "a picture of another size".into())
}

/// What the photosites hold, each in its own colour: before the demosaic. For frames that lie upright.
fn photosites(frame: &Frame, correction: &Correction) -> Result<RgbImage, Box<dyn Error>> {
    let plan = Plan::compile(frame, correction, &Target::default())?;
    let mosaic = &frame.mosaic;
    let crop = mosaic.crop;
    let (width, height) = (u32::try_from(crop.width)?, u32::try_from(crop.height)?);
    Ok(RgbImage::from_fn(width, height, |x, y| {
        let (x, y) = (crop.left + x as usize, crop.top + y as usize);
        let channel = mosaic.channel_at(x, y);
        let black = f64::from(plan.sensor.black.at(x, y, 0));
        let full = f64::from(plan.sensor.white[channel]);
        let light = (f64::from(mosaic.counts.row(y)[x]) - black)
            / (full - black)
            / plan.sensor.neutral[channel]
            * correction.gain;
        let mut pixel = [0; 3];
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to a byte"
        )]
        let code = (255.0 * srgb_encode(light.clamp(0.0, 1.0))).round() as u8;
        pixel[channel] = code;
        image::Rgb(pixel)
    }))
}
