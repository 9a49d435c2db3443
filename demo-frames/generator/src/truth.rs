//! What is known of a frame because it was made: the key's white and level, the washes, and patches whose true colour
//! can be held against a picture.
//!
//! A patch's colour is its reflectance (with the texture's mean) under the light of the keys alone that falls on it, at
//! Y = 1 for a perfect white: `xyz_under_key`. `xyz_d65` is that XYZ adapted by Bradford from the keys' white to D65 (xy
//! 0.3127, 0.3290); `lab` is CIELAB of `xyz_d65` against the same D65. A corrected picture that is right shows this
//! colour times the patch's `shading`, plus whatever wash lies on it (`wash_share`).

use crate::colorimetry::{D65_XY, apply, bradford, lab, temperature, white_of, xy_of, xyz};
use crate::lamp::WashColour;
use crate::library::Library;
use crate::lighting::{Lighting, MOST_KEYS};
use crate::material::{Material, SurfaceKind};
use crate::plan::KEY_LUX;
use crate::shade::Seen;
use crate::spectrum::Spectrum;
use serde::{Deserialize, Serialize};

/// Truth of one frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FrameTruth {
    /// File name.
    pub file: String,
    /// Model of the body.
    pub body: String,
    /// Name of the cue; frames of one lighting state share it.
    pub cue: String,
    /// Share of the cue's light that has arrived: below 1 the frame lies in a cross-fade.
    pub arrived: f64,
    /// Name of the cue that is going, in a cross-fade.
    pub leaving_cue: Option<String>,
    /// The keys' light together; `None` when no key shines.
    pub key: Option<KeyTruth>,
    /// Washes of the cue.
    pub washes: Vec<WashTruth>,
    /// Exposure time in seconds.
    pub exposure_seconds: f64,
    /// f-number.
    pub f_number: f64,
    /// ISO speed.
    pub iso: u32,
    /// What the body's automatic took for neutral, green 1.
    pub as_shot_neutral: [f64; 3],
    /// Milliseconds of true time since the show's midnight: the body's own clock may be ahead.
    pub true_milliseconds: u64,
    /// Milliseconds by which the body's clock is ahead of true time.
    pub clock_ahead: i64,
    /// Share of the picture's pixels that the keys light with at least a quarter of their level.
    pub lit_share: f64,
    /// Share of the picture's pixels with a full channel.
    pub clipped_share: f64,
    /// Patches lit by a key and visible.
    pub patches: Vec<PatchTruth>,
}

/// Light of the keys in a frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeyTruth {
    /// Names of the lamps, brightest first.
    pub lamps: Vec<String>,
    /// Chromaticity of their light together, each weighted by its level (CIE 1931, 400 to 700 nm).
    pub xy: [f64; 2],
    /// Correlated colour temperature, kelvin.
    pub cct: f64,
    /// Distance from the Planckian locus.
    pub duv: f64,
    /// Level in stops against 1000 lux: that of the brightest key; in a cross-fade the coming cue's brightest and the going one's
    /// add up, as they do on a performer whom both light.
    pub stops: f64,
    /// Camera RGB of a perfect white under this light, green 1, by true integration.
    pub camera_neutral: [f64; 3],
}

/// A wash in a frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WashTruth {
    /// Its colour.
    pub colour: WashColour,
    /// Radiant power against that of 1000 lux of equal-energy light.
    pub power: f64,
    /// Chromaticity.
    pub xy: [f64; 2],
}

/// A patch of one surface.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatchTruth {
    /// Name of the surface.
    pub surface: String,
    /// What it is.
    pub kind: SurfaceKind,
    /// Middle, in fractions of the upright picture's width and height.
    pub at: [f64; 2],
    /// Radius as a fraction of the upright picture's width.
    pub radius: f64,
    /// Chromaticity of the keys' light on it.
    pub white_xy: [f64; 2],
    /// See the module's words.
    pub xyz_under_key: [f64; 3],
    /// Adapted to D65.
    pub xyz_d65: [f64; 3],
    /// CIELAB of that, white D65.
    pub lab: [f64; 3],
    /// Illuminance of the keys on it against their level.
    pub shading: f64,
    /// Mean camera RGB of all light on it without noise, 1 = a full photosite: what a perfect reading of the patch
    /// finds, wash and haze included.
    pub camera_rgb: [f64; 3],
    /// The part of `camera_rgb` that is the keys' own light, reflected diffusely: what a picture that is right in
    /// everything but the wash would be made from. By true integration.
    pub key_rgb: [f64; 3],
    /// Share of its green light that does not come from the keys by diffuse reflection: wash, haze, highlights.
    pub wash_share: f64,
}

/// Radii of patches that are tried, pixels, largest first.
const RADII: [usize; 8] = [14, 11, 8, 6, 5, 4, 3, 2];
/// Smallest share of the key's level on a patch.
const LEAST_SHADING: f64 = 0.3;
/// Smallest share of a patch's green that must be the keys' own.
const LEAST_KEY_SHARE: f64 = 0.5;
/// Largest share of a full photosite on a patch.
const MOST_LIGHT: f64 = 0.93;

/// A picture's rays with the exposed light of each pixel, as the upright picture has them.
pub(crate) struct Pictured<'a> {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) seen: &'a [Seen],
    /// Exposed camera RGB, 1 = full.
    pub(crate) exposed: &'a [[f64; 3]],
}

/// Shares of pixels that a key lights and that are full.
pub(crate) fn shares(picture: &Pictured, lighting: &Lighting) -> (f64, f64) {
    let level = lighting.level;
    let count = picture.seen.len() as f64;
    let lit = picture
        .seen
        .iter()
        .filter(|seen| level > 0.0 && seen.key_lux.iter().sum::<f64>() >= level / 4.0)
        .count();
    let full = picture
        .exposed
        .iter()
        .filter(|light| light.iter().any(|&value| value >= 1.0))
        .count();
    (lit as f64 / count, full as f64 / count)
}

/// The keys of a frame together.
pub(crate) fn key_truth(
    library: &Library,
    lighting: &Lighting,
    neutral: impl Fn(&Spectrum) -> [f64; 3],
) -> Option<KeyTruth> {
    let level = lighting.level;
    if level <= 0.0 {
        return None;
    }
    let mut keys = lighting.keys.clone();
    keys.sort_by(|a, b| b.2.total_cmp(&a.2));
    let mut sum = Spectrum::flat(0.0);
    for &(_, spectrum, level) in &keys {
        sum = sum.plus(&lighting.spectra[spectrum].scaled(level));
    }
    let xy = xy_of(xyz(library, &sum));
    let (cct, duv) = temperature(library, xy);
    Some(KeyTruth {
        lamps: keys.iter().map(|(key, _, _)| key.lamp.name()).collect(),
        xy,
        cct,
        duv,
        stops: libm::log2(level / KEY_LUX),
        camera_neutral: neutral(&sum),
    })
}

/// The best patch of each surface on each object.
pub(crate) fn patches(
    library: &Library,
    lighting: &Lighting,
    materials: &[Material],
    picture: &Pictured,
    response: impl Fn(&Spectrum) -> [f64; 3],
) -> Vec<PatchTruth> {
    let level = lighting.level;
    let mut found = Vec::new();
    if level <= 0.0 {
        return found;
    }
    for (number, material) in materials.iter().enumerate() {
        if material.kind == SurfaceKind::Set {
            continue;
        }
        let fits = |index: usize| {
            let seen = &picture.seen[index];
            seen.material == Some(number)
                && seen.key_lux.iter().sum::<f64>() >= LEAST_SHADING * level
                && seen.key_green > LEAST_KEY_SHARE * seen.light[1]
                && picture.exposed[index]
                    .iter()
                    .all(|&value| value < MOST_LIGHT)
        };
        if let Some((x, y, radius)) = largest_disc(picture, fits) {
            found.push(measure(
                library,
                lighting,
                material,
                picture,
                (x, y, radius),
                level,
                &response,
            ));
        }
    }
    found
}

/// Middle and radius of the largest square of pixels that all fit, of equals the one with the steadiest key light.
fn largest_disc(picture: &Pictured, fits: impl Fn(usize) -> bool) -> Option<(usize, usize, usize)> {
    let all = picture.width;
    // The box of pixels that fit, so that small things cost little.
    let (mut low, mut high) = ([usize::MAX; 2], [0; 2]);
    for index in (0..picture.seen.len()).filter(|&index| fits(index)) {
        let at = [index % all, index / all];
        for k in 0..2 {
            low[k] = low[k].min(at[k]);
            high[k] = high[k].max(at[k] + 1);
        }
    }
    if high[0] == 0 {
        return None;
    }
    let (width, height) = (high[0] - low[0], high[1] - low[1]);
    let mut sums = vec![0u32; (width + 1) * (height + 1)];
    for y in 0..height {
        for x in 0..width {
            let at = (y + 1) * (width + 1) + x + 1;
            let one = u32::from(fits((y + low[1]) * all + x + low[0]));
            sums[at] = one + sums[at - 1] + sums[at - width - 1] - sums[at - width - 2];
        }
    }
    for radius in RADII {
        let side = 2 * radius + 1;
        let mut best: Option<(f64, usize, usize)> = None;
        for top in 0..(height + 1).saturating_sub(side) {
            for left in 0..(width + 1).saturating_sub(side) {
                let corner = |dx: usize, dy: usize| sums[(top + dy) * (width + 1) + left + dx];
                let count = corner(side, side) + corner(0, 0) - corner(side, 0) - corner(0, side);
                if count as usize != side * side {
                    continue;
                }
                let (x, y) = (left + low[0] + radius, top + low[1] + radius);
                let unevenness = unevenness(picture, x, y, radius);
                if best.is_none_or(|(least, _, _)| unevenness < least) {
                    best = Some((unevenness, x, y));
                }
            }
        }
        if let Some((_, x, y)) = best {
            return Some((x, y, radius));
        }
    }
    None
}

/// Largest difference of key light between the middle and four points at the rim; infinite across objects.
fn unevenness(picture: &Pictured, x: usize, y: usize, radius: usize) -> f64 {
    let at = |x: usize, y: usize| &picture.seen[y * picture.width + x];
    let middle = at(x, y);
    let lux = |seen: &Seen| seen.key_lux.iter().sum::<f64>();
    [
        (x - radius, y),
        (x + radius, y),
        (x, y - radius),
        (x, y + radius),
    ]
    .into_iter()
    .map(|(x, y)| {
        let rim = at(x, y);
        if rim.object == middle.object {
            (lux(rim) / lux(middle) - 1.0).abs()
        } else {
            f64::MAX
        }
    })
    .fold(0.0, f64::max)
}

fn measure(
    library: &Library,
    lighting: &Lighting,
    material: &Material,
    picture: &Pictured,
    (x, y, radius): (usize, usize, usize),
    level: f64,
    response: &impl Fn(&Spectrum) -> [f64; 3],
) -> PatchTruth {
    let mut lux = [0.0; MOST_KEYS];
    let mut camera_rgb = [0.0; 3];
    let (mut base, mut accent, mut green, mut key_green, mut count) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for py in y - radius..=y + radius {
        for px in x - radius..=x + radius {
            let (dx, dy) = (px.abs_diff(x), py.abs_diff(y));
            if dx * dx + dy * dy > radius * radius {
                continue;
            }
            let seen = &picture.seen[py * picture.width + px];
            for (sum, value) in camera_rgb
                .iter_mut()
                .zip(picture.exposed[py * picture.width + px])
            {
                *sum += value;
            }
            for (sum, value) in lux.iter_mut().zip(seen.key_lux) {
                *sum += value;
            }
            base += seen.factor * (1.0 - seen.accent);
            accent += seen.factor * seen.accent;
            green += seen.light[1];
            key_green += seen.key_green;
            count += 1.0;
        }
    }
    let mut light = Spectrum::flat(0.0);
    for (&(_, spectrum, _), value) in lighting.keys.iter().zip(lux) {
        light = light.plus(&lighting.spectra[spectrum].scaled(value));
    }
    let white = xyz(library, &light);
    let light = light.scaled(1.0 / white[1]);
    let reflectance = material
        .base
        .scaled(base / count)
        .plus(&material.accent.scaled(accent / count));
    let white_xy = xy_of(white);
    let xyz_under_key = xyz(library, &light.times(&reflectance));
    let xyz_d65 = apply(&bradford(white_xy, D65_XY), xyz_under_key);
    let camera_rgb = camera_rgb.map(|sum| sum / count);
    let of_key = response(&light.times(&reflectance));
    let key_share = key_green / green;
    PatchTruth {
        key_rgb: of_key.map(|value| value / of_key[1] * camera_rgb[1] * key_share),
        surface: material.name.to_owned(),
        kind: material.kind,
        at: [
            (x as f64 + 0.5) / picture.width as f64,
            (y as f64 + 0.5) / picture.height as f64,
        ],
        radius: (radius as f64 + 0.5) / picture.width as f64,
        white_xy,
        xyz_under_key,
        xyz_d65,
        lab: lab(xyz_d65, white_of(D65_XY)),
        shading: lux.iter().sum::<f64>() / count / level,
        camera_rgb,
        wash_share: 1.0 - key_share,
    }
}
