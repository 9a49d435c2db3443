//! Each stage by itself, on rows of the invented stage.
//!
//! `cargo bench --bench stages`. One thread; figures are in processor time: megapixels a second. Point operations run on chunks in the
//! cache, as they do in a plan; what comes before the first of them is measured as a plan without any.
#![allow(missing_docs, reason = "criterion's macros make undocumented items")]

mod bench_support;

use bench_support::cpu_time::CpuTime;
use bench_support::frame::{SIZE, stage_frame, stage_look};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use houselights::base::bands::Threads;
use houselights::colour::camera::HueMap;
use houselights::colour::codes::encode_row_8bit;
use houselights::colour::transfer::Transfer;
use houselights::look::correction::{Correction, Lean, NoiseReduction, Tint};
use houselights::raw::frame::{Frame, Layout};
use houselights::raw::noise::NoiseModel;
use houselights::render::Target;
use houselights::render::demosaic::Method;
use houselights::render::demosaic::directional::{Smoothing, Tuning};
use houselights::render::plan::Plan;
use houselights::render::points::{PointOperation, Prepared};
use std::hint::black_box;

/// Rows of white-balanced camera colour from the middle of the frame: every eighth quad of photosites of some rows.
fn camera_rows(frame: &Frame, plan: &Plan) -> [Vec<f32>; 3] {
    let mosaic = &frame.mosaic;
    let full = plan.sensor.full();
    let light = |x: usize, y: usize| {
        let channel = mosaic.channel_at(x, y);
        let black = mosaic.black.at(x, y, 0);
        (f32::from(mosaic.counts.at(x, y)) - black) / (mosaic.white[channel] - black)
            * full[channel]
    };
    let mut planes = [Vec::new(), Vec::new(), Vec::new()];
    for y in (0..SIZE.1).step_by(80) {
        for x in (0..SIZE.0 - 1).step_by(6) {
            planes[0].push(light(x, y));
            planes[1].push(light(x + 1, y));
            planes[2].push(light(x + 1, y + 1));
        }
    }
    planes
}

/// A table of the size that DNG files hold, changing nothing.
fn usual_hue_map() -> Option<HueMap> {
    const SIDES: (usize, usize) = (90, 30);
    HueMap::new(SIDES.0, SIDES.1, &[0.0, 1.0, 1.0].repeat(SIDES.0 * SIDES.1))
}

fn name(operation: &PointOperation) -> &'static str {
    match operation {
        PointOperation::CutNegative => "cut negative",
        PointOperation::Matrix { .. } => "matrix",
        PointOperation::HueMap(_) => "the body's corrections",
        PointOperation::CompressGamut(_) => "gamut guard",
        PointOperation::MapInto(_) => "map to the space",
        PointOperation::RollOff { .. } => "roll-off",
        PointOperation::Gain(_) => "gain",
        PointOperation::Saturate(_) => "saturation",
        PointOperation::Tint { .. } => "tint",
        PointOperation::Tone { .. } => "levels and curve",
    }
}

/// A tint, so that its cost shows.
const SOME_LEAN: Lean = Lean {
    hue: 75.0,
    strength: 0.2,
};

fn points(criterion: &mut Criterion<CpuTime>) {
    let frame = stage_frame(SIZE.0, SIZE.1);
    let toned = Correction {
        saturation: 1.2,
        tint: Tint {
            shadows: SOME_LEAN,
            highlights: SOME_LEAN,
        },
        ..stage_look()
    };
    let Ok(plan) = Plan::compile(&frame, &toned, &Target::default()) else {
        return;
    };
    let mut input = camera_rows(&frame, &plan);
    let mut group = criterion.benchmark_group("stages");
    group
        .sample_size(20)
        .throughput(Throughput::Elements(input[0].len() as u64));
    for (number, operation) in plan.points.iter().enumerate() {
        let ready = Prepared::new(std::slice::from_ref(operation));
        let mut planes = input.clone();
        group.bench_function(format!("{} {}", number + 1, name(operation)), |bencher| {
            bencher.iter(|| {
                for (to, from) in planes.iter_mut().zip(&input) {
                    to.copy_from_slice(from);
                }
                let [red, green, blue] = &mut planes;
                ready.apply(black_box([red, green, blue]));
            });
        });
        let [red, green, blue] = &mut input;
        ready.apply([red, green, blue]);
    }
    if let Some(map) = usual_hue_map() {
        let ready = Prepared::new(&[PointOperation::HueMap(map)]);
        group.bench_function("a body's corrections", |bencher| {
            let [red, green, blue] = &mut input;
            bencher.iter(|| ready.apply(black_box([red, green, blue])));
        });
    }
    let mut codes = vec![0u8; input[0].len() * 3];
    group.bench_function("encode", |bencher| {
        bencher.iter(|| {
            for (linear, codes) in input.iter().zip(codes.chunks_exact_mut(input[0].len())) {
                encode_row_8bit(Transfer::Srgb, linear, black_box(codes));
            }
        });
    });
    group.finish();
    before(criterion, &frame, &plan);
}

/// Everything that comes before the point operations, and encoding.
fn before(criterion: &mut Criterion<CpuTime>, frame: &Frame, plan: &Plan) {
    let mut group = criterion.benchmark_group("sensor, demosaic, encode");
    group
        .sample_size(10)
        .throughput(Throughput::Elements((SIZE.0 * SIZE.1) as u64));
    let alone = |demosaic: Method| Plan {
        demosaic,
        noise: None,
        detail: None,
        highlights: None,
        points: Vec::new(),
        ..plan.clone()
    };
    let clean = NoiseModel {
        slope: 2e-5,
        floor: 1e-7,
    };
    let tuning = Tuning::for_noise(clean);
    for smoothing in [Smoothing::Short, Smoothing::Long] {
        let plan = alone(Method::Directional(Tuning {
            smoothing,
            ..tuning
        }));
        group.bench_function(format!("{smoothing:?} smoothing"), |bencher| {
            bencher.iter(|| black_box(plan.run(&frame.mosaic, &Threads::one())));
        });
    }
    // What this takes beyond the first line is the rebuilding of clipped channels: a look at the whole mosaic, and the
    // pixels of some lamps.
    let clipped = Plan {
        highlights: plan.highlights,
        ..alone(plan.demosaic)
    };
    group.bench_function("with highlights", |bencher| {
        bencher.iter(|| black_box(clipped.run(&frame.mosaic, &Threads::one())));
    });
    // Each of these by what it takes beyond the plan with the same demosaic and nothing else.
    let mut faulty_kept = alone(plan.demosaic);
    faulty_kept.sensor.noise = None;
    let asked = Correction {
        noise: NoiseReduction {
            luminance: 0.5,
            colour: 1.0,
            grain: 0.0,
        },
        detail: 0.5,
        ..stage_look()
    };
    if let Ok(asked) = Plan::compile(frame, &asked, &Target::default()) {
        let quiet = Plan {
            noise: asked.noise,
            ..alone(plan.demosaic)
        };
        let sharp = Plan {
            detail: asked.detail,
            ..alone(plan.demosaic)
        };
        for (name, plan) in [
            ("sensor and demosaic of the plan", alone(plan.demosaic)),
            ("the same, faulty photosites kept", faulty_kept),
            ("with noise reduction", quiet),
            ("with capture sharpening", sharp),
        ] {
            group.bench_function(name, |bencher| {
                bencher.iter(|| black_box(plan.run(&frame.mosaic, &Threads::one())));
            });
        }
    }
    // Measuring the frame's noise and what the demosaic makes of it: once a frame.
    let measured = Correction {
        noise: NoiseReduction {
            luminance: 0.5,
            ..NoiseReduction::NEUTRAL
        },
        ..stage_look()
    };
    for (name, correction) in [
        ("compiling the plan", stage_look()),
        ("compiling it with noise reduction", measured),
    ] {
        group.bench_function(name, |bencher| {
            bencher.iter(|| black_box(Plan::compile(frame, &correction, &Target::default())));
        });
    }
    // The same counts under other filters: no picture, but the work does not depend on the counts.
    let mut mosaic = frame.mosaic.clone();
    mosaic.layout = Layout::XTrans([
        [1, 2, 1, 1, 0, 1],
        [0, 1, 0, 2, 1, 2],
        [1, 2, 1, 1, 0, 1],
        [1, 0, 1, 1, 2, 1],
        [2, 1, 2, 0, 1, 0],
        [1, 0, 1, 1, 2, 1],
    ]);
    let six_by_six = alone(Method::XTrans {
        offset: tuning.offset,
    });
    group.bench_function("6 x 6 pattern", |bencher| {
        bencher.iter(|| black_box(six_by_six.run(&mosaic, &Threads::one())));
    });
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().with_measurement(CpuTime);
    targets = points
}
criterion_main!(benches);
