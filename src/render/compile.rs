//! Compiling a plan: one short function a stage, the order in one list.

use crate::base::geometry::Rect;
use crate::base::matrix::Matrix3;
use crate::colour::camera::HueMap;
use crate::colour::gamut::Compression;
use crate::colour::spaces::{AP1, BT2020, ROMM, RgbSpace, SRGB, conversion};
use crate::look::correction::{Correction, Curve, Monochrome, Shoulder};
use crate::raw::frame::{Frame, Layout, Mosaic};
use crate::raw::noise::{self, NoiseModel, SensorNoise};
use crate::render::demosaic::Method;
use crate::render::demosaic::directional::Tuning;
use crate::render::demosaic::root;
use crate::render::detail::DetailStep;
use crate::render::highlights::HighlightStep;
use crate::render::noise::reduction as noise_reduction;
use crate::render::plan::{Plan, Size};
use crate::render::points::{PointOperation, fold};
use crate::render::sensor::SensorStep;
use crate::render::sharpen::SharpenStep;
use crate::render::{RenderError, Target};

/// Largest repeating pattern of black levels, per side. The sensors that are known repeat after two or six; a larger
/// number is damage and would cost memory.
const LARGEST_BLACK_PATTERN: usize = 64;

/// Longest side of a picture: what a JPEG can hold (ITU-T T.81, B.2.2), and far beyond any sensor.
const LONGEST_SIDE: usize = 65_535;

pub(crate) fn plan(
    frame: &Frame,
    correction: &Correction,
    target: &Target,
) -> Result<Plan, RenderError> {
    check_mosaic(&frame.mosaic)?;
    check_correction(correction)?;
    let neutral = frame.colour.neutral_of_white(correction.white)?;
    let body = BodyColour {
        to_working: frame.colour.to_working(correction.white)?,
        hue_map: frame.colour.hue_map(correction.white)?,
    };
    let noise = noise::of_frame(frame);
    let sensor = sensor(&frame.mosaic, neutral, noise);
    let size = size(&frame.mosaic, target);
    let halves = size.made != whole(frame.mosaic.crop);
    let demosaic = demosaic(&frame.mosaic.layout, halves, noise.green());
    Ok(Plan {
        demosaic,
        // Two photosites a pixel blur nothing that could be brought back.
        detail: (correction.detail > 0.0 && demosaic.reduction() == 1)
            .then(|| DetailStep::new(correction.detail, &noise, &sensor)),
        noise: correction.noise.is_asked_for().then(|| {
            noise_reduction(
                &noise,
                &sensor,
                &frame.mosaic.layout,
                demosaic,
                correction.noise,
            )
        }),
        highlights: Some(HighlightStep {
            full: sensor.full(),
            white: (display_white(correction) / correction.gain) as f32,
        }),
        points: fold(points(&body, correction, target.space.primaries())),
        crop: frame.mosaic.crop,
        sensor,
        size,
        sharpen: SharpenStep::new(&correction.sharpening, target.space.primaries()),
        space: target.space,
        orientation: frame.facts.orientation,
    })
}

/// How the body's colour becomes that of the scene under the correction's white.
struct BodyColour {
    /// White-balanced camera RGB to linear BT.2020.
    to_working: Matrix3,
    /// Corrections on linear ROMM RGB after it.
    hue_map: Option<HueMap>,
}

impl BodyColour {
    /// White-balanced camera RGB to linear AP1.
    fn to_ap1(&self, camera: [f64; 3]) -> [f64; 3] {
        let working = self.to_working.apply(camera);
        match &self.hue_map {
            None => conversion(&BT2020, &AP1).apply(working),
            Some(map) => {
                let romm = conversion(&BT2020, &ROMM).apply(working);
                let corrected = map.apply(romm.map(|value| value as f32));
                conversion(&ROMM, &AP1).apply(corrected.map(f64::from))
            }
        }
    }
}

/// Point operations in order, before folding.
fn points(body: &BodyColour, correction: &Correction, space: &RgbSpace) -> Vec<PointOperation> {
    let matrix = |matrix: Matrix3, meaning: &str| PointOperation::Matrix {
        matrix,
        meaning: meaning.to_owned(),
    };
    // Noise below black has done its work in the demosaic; a matrix would turn it into colour.
    let mut operations = vec![
        PointOperation::CutNegative,
        matrix(body.to_working, "camera to linear BT.2020"),
    ];
    operations.extend(match &body.hue_map {
        None => vec![matrix(conversion(&BT2020, &AP1), "to AP1")],
        Some(map) => vec![
            matrix(conversion(&BT2020, &ROMM), "to ROMM RGB"),
            PointOperation::HueMap(map.clone()),
            matrix(conversion(&ROMM, &AP1), "to AP1"),
        ],
    });
    operations.extend([
        PointOperation::CompressGamut(Compression::for_camera(|camera| body.to_ap1(camera))),
        matrix(conversion(&AP1, &SRGB), "to linear sRGB"),
        // Before the map, whose business is all that lies outside; this pushes nothing out that was inside. In sRGB, so
        // that a look is the same colours in every picture's space.
        PointOperation::Saturate(saturation(correction)),
        matrix(conversion(&SRGB, space), "to the picture's linear RGB"),
        matrix(monochrome(&correction.monochrome, space), "black and white"),
        PointOperation::MapInto(*space),
        PointOperation::Gain(correction.gain),
        // Before the curve, because its thresholds are scene light; it keeps the brightest channel, which is all that
        // the curve looks at.
        PointOperation::RollOff {
            roll_off: correction.roll_off,
            space: *space,
        },
        PointOperation::Tone {
            levels: correction.levels,
            curve: correction.curve,
        },
        PointOperation::Tint {
            tint: correction.tint,
            space: *space,
        },
    ]);
    operations
}

fn check_mosaic(mosaic: &Mosaic) -> Result<(), RenderError> {
    let (width, height) = (mosaic.width(), mosaic.height());
    if !mosaic.crop.fits(width, height)
        || !mosaic
            .counts
            .width()
            .is_multiple_of(mosaic.values_per_pixel())
    {
        return Err(RenderError::NoPicture("the crop lies outside the sensor"));
    }
    if mosaic.crop.width > LONGEST_SIDE || mosaic.crop.height > LONGEST_SIDE {
        return Err(RenderError::NoPicture("a side is longer than 65535 pixels"));
    }
    let has_colours = |colours: &mut dyn Iterator<Item = u8>| {
        let seen = colours.fold([false; 3], |mut seen, colour| {
            if let Some(mark) = seen.get_mut(usize::from(colour)) {
                *mark = true;
            }
            seen
        });
        seen == [true; 3]
    };
    let layout_is_right = match &mosaic.layout {
        Layout::Bayer([[a, b], [c, d]]) => {
            let green_diagonal = (a == &1 && d == &1) || (b == &1 && c == &1);
            green_diagonal && has_colours(&mut [*a, *b, *c, *d].into_iter())
        }
        Layout::XTrans(pattern) => has_colours(&mut pattern.iter().flatten().copied()),
        Layout::Linear => true,
    };
    if !layout_is_right {
        return Err(RenderError::NoPicture(
            "the colour filters form no known pattern",
        ));
    }
    let black = &mosaic.black;
    let sane_pattern = (1..=LARGEST_BLACK_PATTERN).contains(&black.rows)
        && (1..=LARGEST_BLACK_PATTERN).contains(&black.columns)
        && black.pattern.len() == black.rows * black.columns * mosaic.values_per_pixel();
    let finite = |levels: &[f32]| levels.iter().all(|level| level.is_finite());
    if !sane_pattern
        || !finite(&black.pattern)
        || !finite(&black.column_deviation)
        || !finite(&black.row_deviation)
    {
        return Err(RenderError::NoPicture("the black levels make no sense"));
    }
    let deepest = black.pattern.iter().fold(f32::MIN, |a, b| a.max(*b));
    if !mosaic
        .white
        .iter()
        .all(|white| white.is_finite() && *white > deepest)
    {
        return Err(RenderError::NoPicture(
            "the white level is not above the black level",
        ));
    }
    Ok(())
}

fn check_correction(correction: &Correction) -> Result<(), RenderError> {
    let check = |field, value: f64, holds: bool, range| {
        if value.is_finite() && holds {
            Ok(())
        } else {
            Err(RenderError::OutOfRange {
                field,
                value,
                range,
            })
        }
    };
    let Correction {
        gain,
        levels,
        roll_off,
        saturation,
        noise,
        detail,
        sharpening,
        ..
    } = *correction;
    check("gain", gain, gain > 0.0, "above 0")?;
    check("black level", levels.black, true, "a finite number")?;
    check(
        "white level",
        levels.white,
        levels.white > levels.black,
        "above the black level",
    )?;
    check("middle", levels.middle, levels.middle > 0.0, "above 0")?;
    check(
        "roll-off amount",
        roll_off.amount,
        (0.0..=1.0).contains(&roll_off.amount),
        "0 to 1",
    )?;
    check(
        "roll-off start",
        roll_off.start,
        roll_off.start > 0.0,
        "above 0",
    )?;
    check(
        "roll-off end",
        roll_off.end,
        roll_off.end > roll_off.start,
        "above the roll-off start",
    )?;
    check("saturation", saturation, saturation >= 0.0, "0 or more")?;
    for (field, share) in [
        ("noise reduction", noise.luminance),
        ("colour noise reduction", noise.colour),
        ("grain", noise.grain),
        ("detail", detail),
    ] {
        check(field, share, (0.0..=1.0).contains(&share), "0 to 1")?;
    }
    check(
        "sharpening",
        sharpening.amount,
        (0.0..=2.0).contains(&sharpening.amount),
        "0 to 2",
    )?;
    if let Some(resolution) = sharpening.resolution {
        check(
            "sharpening's resolution",
            resolution,
            (10.0..=10_000.0).contains(&resolution),
            "10 to 10000 pixels an inch",
        )?;
    }
    let Monochrome { amount, .. } = correction.monochrome;
    check(
        "black and white",
        amount,
        (0.0..=1.0).contains(&amount),
        "0 to 1",
    )?;
    check(
        "black and white's red weight",
        correction.monochrome.red,
        correction.monochrome.shares().is_some(),
        "none of the three weights negative, one above 0",
    )?;
    for (field, lean) in [
        ("tint of shadows", correction.tint.shadows),
        ("tint of highlights", correction.tint.highlights),
    ] {
        let holds = lean.hue.is_finite() && (0.0..=1.0).contains(&lean.strength);
        check(field, lean.strength, holds, "0 to 1, with a finite hue")?;
    }
    if let Curve::Shoulder { contrast, ceiling } = correction.curve {
        check("curve's contrast", contrast, contrast > 0.0, "above 0")?;
        check(
            "curve's ceiling",
            ceiling,
            Shoulder::new(contrast, ceiling).is_some(),
            "above 1, and so far above that a shoulder of this contrast reaches it",
        )?;
    }
    Ok(())
}

fn sensor(mosaic: &Mosaic, neutral: [f64; 3], noise: SensorNoise) -> SensorStep {
    SensorStep {
        black: mosaic.black.clone(),
        white: mosaic.white,
        neutral,
        noise: Some(noise),
    }
}

fn whole(crop: Rect) -> (usize, usize) {
    (crop.width, crop.height)
}

/// Half the resolution serves when the picture's long edge is at most half of the crop's.
fn size(mosaic: &Mosaic, target: &Target) -> Size {
    let crop = whole(mosaic.crop);
    let long = crop.0.max(crop.1);
    let wanted = target
        .long_edge
        .map_or(long, |edge| (edge as usize).clamp(1, long));
    let scaled = |side: usize| {
        let exact = side as f64 * wanted as f64 / long as f64;
        (exact.round() as usize).max(1)
    };
    let finished = (scaled(crop.0), scaled(crop.1));
    let halves = matches!(mosaic.layout, Layout::Bayer(_)) && 2 * wanted <= long;
    if halves {
        Size {
            made: (crop.0.div_ceil(2), crop.1.div_ceil(2)),
            span: (crop.0 as f64 / 2.0, crop.1 as f64 / 2.0),
            finished,
        }
    } else {
        Size {
            made: crop,
            span: (crop.0 as f64, crop.1 as f64),
            finished,
        }
    }
}

fn demosaic(layout: &Layout, halves: bool, noise: NoiseModel) -> Method {
    match layout {
        Layout::Bayer(_) if halves => Method::HalfSize,
        Layout::Bayer(_) => Method::Directional(Tuning::for_noise(noise)),
        Layout::XTrans(_) => Method::XTrans {
            offset: root::offset_for(noise),
        },
        Layout::Linear => Method::Linear,
    }
}

/// Scene light, after the gain, that levels and curve make display white.
fn display_white(correction: &Correction) -> f64 {
    let levels = correction.levels;
    let ceiling: f64 = match correction.curve {
        Curve::Straight => 1.0,
        Curve::Shoulder { ceiling, .. } => ceiling,
    };
    // The middle's power is undone before the range is.
    levels.black + (levels.white - levels.black) * ceiling.powf(levels.middle)
}

/// The factor on saturation; 1 where no colour is left for it.
fn saturation(correction: &Correction) -> f64 {
    if correction.monochrome.amount < 1.0 {
        correction.saturation
    } else {
        1.0
    }
}

/// Black and white as a matrix on linear RGB of this space, from weights of the channels of linear AP1: those are wide
/// enough that the gamut guard has left nothing negative in them. Its rows are one row, so that all three channels come
/// out the same.
fn monochrome(monochrome: &Monochrome, space: &RgbSpace) -> Matrix3 {
    let shares = monochrome.shares().filter(|_| monochrome.amount > 0.0);
    let Some(shares) = shares else {
        return Matrix3::IDENTITY;
    };
    let row = conversion(space, &AP1).transposed().apply(shares);
    let sum: f64 = row.iter().sum();
    Matrix3::IDENTITY.blend(
        &Matrix3([row.map(|weight| weight / sum); 3]),
        monochrome.amount,
    )
}
