//! A whole frame, from the mosaic in memory to finished bytes, at full size and for the gallery.
//!
//! `cargo bench --bench whole_frame`. One thread; figures are megapixels of the raw a second.
#![allow(missing_docs, reason = "criterion's macros make undocumented items")]

mod bench_support;

use bench_support::{SIZE, stage_frame, stage_look};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use houselights::base::bands::Threads;
use houselights::base::geometry::Orientation;
use houselights::look::correction::Correction;
use houselights::render::{Target, render};
use std::hint::black_box;

fn whole(criterion: &mut Criterion) {
    let mut frame = stage_frame(SIZE.0, SIZE.1);
    let look = stage_look();
    let sharpened = Correction {
        sharpening: 0.7,
        ..look.clone()
    };
    let mut group = criterion.benchmark_group("whole frame");
    group
        .sample_size(10)
        .throughput(Throughput::Elements((SIZE.0 * SIZE.1) as u64));
    let threads = Threads::one();
    for (name, orientation, long_edge, correction) in [
        ("full size", Orientation::Upright, None, &look),
        ("full size, on its side", Orientation::Turn90, None, &look),
        ("4000 pixels", Orientation::Upright, Some(4000), &look),
        ("2048 pixels", Orientation::Upright, Some(2048), &look),
        (
            "2048 pixels, sharpened",
            Orientation::Upright,
            Some(2048),
            &sharpened,
        ),
    ] {
        frame.facts.orientation = orientation;
        let target = Target { long_edge };
        group.bench_function(name, |bencher| {
            bencher.iter(|| black_box(render(&frame, correction, &target, &threads)));
        });
    }
    group.finish();
}

criterion_group!(benches, whole);
criterion_main!(benches);
