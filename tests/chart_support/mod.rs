//! A chart in a picture against the chart in the scene.

use houselights::base::bands::Threads;
use houselights::base::units::Chromaticity;
use houselights::colour::difference::ciede2000;
use houselights::colour::lab::{Lab, lab_of_xyz};
use houselights::colour::spaces::SRGB;
use houselights::colour::transfer::srgb_decode;
use houselights::look::correction::Correction;
use houselights::raw::Frame;
use houselights::render::{Rendered, Target, render};
use serde_json::Value;

/// Share of wash in a patch's green that still leaves it nearly the key's colour: a blue wash of this share shifts a dark
/// patch by 0.7 CIEDE2000, the chart's mean by 0.1. Measured on the demo's reference frame.
const MOST_WASH: f64 = 0.01;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn triple(value: &Value) -> [f64; 3] {
    [0, 1, 2].map(|at| number(&value[at]))
}

/// What a patch of the picture shows: mean linear light as XYZ, white at Y = 1.
fn shown(picture: &Rendered, patch: &Value) -> [f64; 3] {
    let (x, y) = (number(&patch["at"][0]), number(&patch["at"][1]));
    let (width, height) = (picture.width as f64, picture.height as f64);
    // Inside the patch with room for the demosaic, which looks two pixels around.
    let reach = (number(&patch["radius"]) * width - 1.0).max(1.0);
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for row in (y * height - reach) as usize..=(y * height + reach) as usize {
        for column in (x * width - reach) as usize..=(x * width + reach) as usize {
            let at = 3 * (row * picture.width + column);
            for (channel, total) in sum.iter_mut().enumerate() {
                *total += srgb_decode(f64::from(picture.rgb[at + channel]) / 255.0);
            }
            count += 1.0;
        }
    }
    SRGB.to_xyz().apply(sum.map(|total| total / count))
}

/// CIEDE2000 of every chart patch that the key alone lights, rendered with this white and no taste; exposure is
/// free and matches the luminances best. `truth` is what is known of the frame.
pub(crate) fn differences(frame: &Frame, white: Chromaticity, truth: &Value) -> Vec<(String, f64)> {
    let patches: Vec<&Value> = truth["patches"]
        .as_array()
        .expect("patches")
        .iter()
        .filter(|patch| patch["kind"] == "chart" && number(&patch["wash_share"]) < MOST_WASH)
        .collect();
    let scene = |patch: &Value| {
        let shading = number(&patch["shading"]);
        triple(&patch["xyz_d65"]).map(|value| value * shading)
    };
    let make = |gain| {
        let correction = Correction {
            gain,
            ..Correction::neutral(white)
        };
        render(frame, &correction, &Target::default(), &Threads::one()).expect("a picture")
    };
    let first = make(1.0);
    let (mut over, mut under) = (0.0, 0.0);
    for patch in &patches {
        let (found, wanted) = (shown(&first, patch)[1], scene(patch)[1]);
        over += found * wanted;
        under += found * found;
    }
    let picture = make(over / under);
    let d65 = Chromaticity::D65.to_xyz();
    let lab = |xyz| -> Lab { lab_of_xyz(xyz, d65) };
    patches
        .iter()
        .map(|patch| {
            let name = patch["surface"].as_str().expect("a name").to_owned();
            let difference = ciede2000(lab(shown(&picture, patch)), lab(scene(patch)));
            (name, difference)
        })
        .collect()
}
