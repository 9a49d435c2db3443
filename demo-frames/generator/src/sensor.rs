//! From light to counts: colour filter array, photon noise, amplifier, clipping, masked border.
//!
//! The noise is Poisson-Gaussian (Foi, Trimeche, Katkovnik and Egiazarian 2008): photoelectrons are Poisson, read noise
//! before the amplifier is Gaussian in electrons, after it Gaussian in counts.

use crate::body::Body;
use crate::chance::Chance;

/// Where the picture lies on the sensor, for a picture of this size.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SensorLayout {
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Left, top, width, height on the sensor.
    pub(crate) active: [usize; 4],
    /// Left, top, width, height within the active area.
    pub(crate) crop: [usize; 4],
}

impl SensorLayout {
    pub(crate) fn new(body: &Body, width: usize, height: usize) -> Self {
        let active = [
            body.border[0],
            body.border[1],
            width + 2 * body.margin,
            height + 2 * body.margin,
        ];
        Self {
            width: active[0] + active[2],
            height: active[1] + active[3],
            active,
            crop: [body.margin, body.margin, width, height],
        }
    }
}

/// Counts of the whole sensor for the light on the active area: `light` holds red, green and blue of each photosite of
/// the active area, 1 = a full photosite.
pub(crate) fn expose(
    body: &Body,
    layout: &SensorLayout,
    light: &[[f64; 3]],
    iso: u32,
    mut chance: Chance,
) -> Vec<u16> {
    let full = body.full_at(iso);
    let [left, top, active_width, _] = layout.active;
    let mut counts = Vec::with_capacity(layout.width * layout.height);
    for y in 0..layout.height {
        for x in 0..layout.width {
            let site = [(y + top) % 2, (x + left) % 2];
            let black = body.black[site[0]][site[1]];
            let electrons = if x >= left && y >= top {
                let channel = body.pattern[(y - top) % 2][(x - left) % 2];
                let share = light[(y - top) * active_width + x - left][usize::from(channel)];
                // Beyond twice full nothing changes any more.
                chance.poisson(share.min(2.0) * full)
            } else {
                0.0
            };
            let read = electrons + body.noise_before * chance.normal();
            let range = f64::from(body.white - black);
            let count = f64::from(black) + read * range / full + body.noise_after * chance.normal();
            counts.push(count.round().clamp(0.0, f64::from(body.white)) as u16);
        }
    }
    counts
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::library::Library;

    #[test]
    fn noise_follows_the_stated_model() {
        let library = Library::load().unwrap();
        let body = Body::first(&library).unwrap();
        let layout = SensorLayout::new(&body, 240, 160);
        for (iso, share) in [(400, 0.3), (3200, 0.02), (6400, 0.4)] {
            let light = vec![[share; 3]; layout.active[2] * layout.active[3]];
            let counts = expose(&body, &layout, &light, iso, Chance::new(5, 1));
            let [left, top, width, height] = layout.active;
            // One place of the pattern, whose black level is the same throughout.
            let sites: Vec<f64> = (top..top + height)
                .step_by(2)
                .flat_map(|y| (left..left + width).step_by(2).map(move |x| (x, y)))
                .map(|(x, y)| f64::from(counts[y * layout.width + x]) - f64::from(body.black[0][0]))
                .collect();
            let mean = sites.iter().sum::<f64>() / sites.len() as f64;
            let variance =
                sites.iter().map(|c| (c - mean) * (c - mean)).sum::<f64>() / sites.len() as f64;
            let expected_mean = share * f64::from(body.white - body.black[0][0]);
            let (slope, floor) = body.noise(iso);
            let expected = slope * expected_mean + floor;
            // Four standard errors of 10,400 sites: 4 sqrt(2/n) = 5.5 % of the variance.
            assert!(
                (variance / expected - 1.0).abs() < 0.055,
                "ISO {iso}: {variance} for {expected}"
            );
            assert!(
                (mean - expected_mean).abs() < 4.0 * (expected / sites.len() as f64).sqrt(),
                "ISO {iso}"
            );
        }
    }

    #[test]
    fn the_masked_border_counts_no_light_and_bright_light_clips() {
        let library = Library::load().unwrap();
        let body = Body::second(&library).unwrap();
        let layout = SensorLayout::new(&body, 32, 16);
        let light = vec![[5.0; 3]; layout.active[2] * layout.active[3]];
        let counts = expose(&body, &layout, &light, 800, Chance::new(1, 1));
        assert!(counts[..layout.width].iter().all(|&count| count < 400));
        assert_eq!(
            counts[layout.width * layout.active[1] + layout.active[0]],
            body.white
        );
    }
}
