//! The lens: blur out of focus, a little softness everywhere, falling off to the corners.

/// A picture of light, three channels a pixel.
#[derive(Clone, Debug)]
pub(crate) struct Light {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) pixels: Vec<[f64; 3]>,
}

/// Largest radius of blur, pixels: a bound on the work.
const LARGEST_BLUR: f64 = 9.0;
/// Light above this share of full is cut before blurring, so that a lamp's core does not flood its surroundings.
const LAMP_LIMIT: f64 = 60.0;

/// Blurs each pixel over the disc of its own circle of confusion; a pixel gives to a neighbour only what its own disc
/// reaches, so that a sharp performer does not bleed into the drape behind.
pub(crate) fn defocus(light: &Light, radius: &[f64]) -> Light {
    let mut out = light.clone();
    let (width, height) = (light.width as isize, light.height as isize);
    let largest = radius
        .iter()
        .fold(0.0f64, |a, &b| a.max(b))
        .min(LARGEST_BLUR);
    if largest < 0.7 {
        return out;
    }
    for y in 0..height {
        for x in 0..width {
            let own = radius[(y * width + x) as usize].min(LARGEST_BLUR);
            if own < 0.7 {
                continue;
            }
            let reach = own.ceil() as isize;
            let (mut sum, mut weights) = ([0.0; 3], 0.0);
            for dy in -reach..=reach {
                for dx in -reach..=reach {
                    let (px, py) = (x + dx, y + dy);
                    if px < 0 || py < 0 || px >= width || py >= height {
                        continue;
                    }
                    let off = ((dx * dx + dy * dy) as f64).sqrt();
                    let at = (py * width + px) as usize;
                    let reaches = radius[at].clamp(0.7, LARGEST_BLUR);
                    let weight = (own + 0.5 - off).clamp(0.0, 1.0)
                        * (reaches + 0.5 - off).clamp(0.0, 1.0)
                        / (reaches * reaches);
                    for (total, value) in sum.iter_mut().zip(light.pixels[at]) {
                        *total += weight * value.min(LAMP_LIMIT);
                    }
                    weights += weight;
                }
            }
            if weights > 0.0 {
                out.pixels[(y * width + x) as usize] = sum.map(|value| value / weights);
            }
        }
    }
    out
}

/// A small symmetric blur, the same everywhere: what lens, filter stack and photosites do together.
pub(crate) fn soften(light: &Light) -> Light {
    /// Weights of a Gaussian of 0.6 pixels at 0, 1 and 2, summing to one.
    const KERNEL: [f64; 3] = [0.662_8, 0.166_0, 0.002_6];
    let across = blur_along(light, &KERNEL, true);
    blur_along(&across, &KERNEL, false)
}

fn blur_along(light: &Light, kernel: &[f64; 3], horizontal: bool) -> Light {
    let mut out = light.clone();
    let (width, height) = (light.width, light.height);
    let total = kernel[0] + 2.0 * (kernel[1] + kernel[2]);
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0.0; 3];
            for offset in -2isize..=2 {
                let (dx, dy) = if horizontal { (offset, 0) } else { (0, offset) };
                let px = (x as isize + dx).clamp(0, width as isize - 1) as usize;
                let py = (y as isize + dy).clamp(0, height as isize - 1) as usize;
                let weight = kernel[offset.unsigned_abs()] / total;
                for (total, value) in sum.iter_mut().zip(light.pixels[py * width + px]) {
                    *total += weight * value.min(LAMP_LIMIT);
                }
            }
            out.pixels[y * width + x] = sum;
        }
    }
    out
}

/// Multiplies by the exposure and by the lens's falling off: 1 in the middle, less by `loss` in the corners, growing
/// with the square of the distance.
pub(crate) fn expose_through(light: &mut Light, exposure: f64, loss: f64) {
    let (width, height) = (light.width as f64, light.height as f64);
    let corner = width * width / 4.0 + height * height / 4.0;
    for y in 0..light.height {
        for x in 0..light.width {
            let (dx, dy) = (x as f64 + 0.5 - width / 2.0, y as f64 + 0.5 - height / 2.0);
            let factor = exposure * (1.0 - loss * (dx * dx + dy * dy) / corner);
            for value in &mut light.pixels[y * light.width + x] {
                *value *= factor;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flat_stays_flat() {
        let flat = Light {
            width: 17,
            height: 9,
            pixels: vec![[0.25, 0.5, 0.75]; 17 * 9],
        };
        for blurred in [soften(&flat), defocus(&flat, &[4.0; 17 * 9])] {
            for pixel in blurred.pixels {
                for (found, expected) in pixel.into_iter().zip([0.25, 0.5, 0.75]) {
                    assert!((found - expected).abs() < 1e-12);
                }
            }
        }
    }
}
