//! The colour of the washes as the whole picture shows it where it is strongest.
//!
//! What glows beside the lit region is often lit by the key too, and is then nearly white. Somewhere in the picture, in a beam, on a
//! rim, on the drape, the washes are alone: the more a colour differs from every plausible white, the more it says.

use crate::light::keys::eyes::Eyes;
use crate::light::reading::FrameLight;

/// How much more the strong colours say than the pale ones: exponent of what sets them apart from white. With 4 instead of 12
/// the whites of simulated shows were as good; without this colour they were 0.25 degrees worse.
const STRONG: i32 = 12;

/// Camera RGB of the strongest colours of pictures, strongest channel = 1; each picture counts alike.
pub(super) fn strongest(frames: &[&FrameLight], eyes: &Eyes) -> Option<[f64; 3]> {
    let mut sum = [0.0; 3];
    for reading in frames.iter().filter_map(|frame| frame.reading.as_ref()) {
        let mut own = [0.0; 3];
        for trace in &reading.traces.colours {
            let balanced = [trace.chroma[0].exp(), 1.0, trace.chroma[1].exp()];
            let most = most_of(balanced);
            let rgb = [0, 1, 2].map(|c| balanced[c] / most * eyes.daylight[c]);
            let weight = trace.share * (1.0 - whiteness(rgb, eyes)).powi(STRONG);
            own = [0, 1, 2].map(|c| own[c] + weight * rgb[c]);
        }
        let most = most_of(own);
        if most > 0.0 {
            sum = [0, 1, 2].map(|c| sum[c] + own[c] / most);
        }
    }
    let most = most_of(sum);
    (most > 0.0).then(|| sum.map(|value| value / most))
}

/// How near a colour comes to a plausible white, 0 to 1: its weakest channel against its strongest under the white that suits it best.
fn whiteness(rgb: [f64; 3], eyes: &Eyes) -> f64 {
    eyes.whites
        .iter()
        .map(|white| {
            let balanced = [0, 1, 2].map(|c| rgb[c] / white[c]);
            balanced.iter().copied().fold(f64::INFINITY, f64::min) / most_of(balanced)
        })
        .fold(0.0, f64::max)
}

fn most_of(rgb: [f64; 3]) -> f64 {
    rgb.iter().copied().fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::matrix::Matrix3;
    use crate::base::units::{Chromaticity, Kelvin};
    use crate::colour::camera::{Calibration, CameraColour};

    #[test]
    fn no_white_is_far_from_white_and_a_bare_band_is() {
        // A camera whose channels are those of linear sRGB (IEC 61966-2-1).
        let matrix = Matrix3([
            [3.2406, -1.5372, -0.4986],
            [-0.9689, 1.8758, 0.0415],
            [0.0557, -0.2040, 1.0570],
        ]);
        let calibration = Calibration::of_matrix(Some(Kelvin(6504.0)), matrix);
        let colour = CameraColour {
            calibrations: vec![calibration],
            ..CameraColour::default()
        };
        let eyes = Eyes::of(&colour);
        let daylight = colour.neutral_of_white(Chromaticity::D65);
        assert!(daylight.is_ok_and(|white| whiteness(white, &eyes) > 0.9));
        assert!(whiteness([1.0, 0.0, 0.0], &eyes) < 1e-9);
        assert!(whiteness([0.1, 0.2, 1.0], &eyes) < 0.35);
    }
}
