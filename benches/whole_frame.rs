//! A whole frame, from the mosaic in memory to finished bytes, at full size and for the gallery.
//!
//! `cargo bench --bench whole_frame`. One thread; figures are in processor time: megapixels of the raw a second.
#![allow(missing_docs, reason = "criterion's macros make undocumented items")]

mod bench_support;

use bench_support::cpu_time::CpuTime;
use bench_support::file::dng_of;
use bench_support::frame::{SIZE, stage_frame, stage_look};
use criterion::{BenchmarkGroup, Criterion, Throughput, criterion_group, criterion_main};
use houselights::base::bands::Threads;
use houselights::base::geometry::Orientation;
use houselights::deliver::Wish;
use houselights::deliver::jpeg::encode;
use houselights::light::read_light;
use houselights::look::correction::{Correction, Sharpening};
use houselights::raw::frame::Frame;
use houselights::raw::read_frame;
use houselights::render::{Target, render};
use std::hint::black_box;

fn whole(criterion: &mut Criterion<CpuTime>) {
    let mut frame = stage_frame(SIZE.0, SIZE.1);
    let look = stage_look();
    let sharpened = Correction {
        sharpening: Sharpening {
            amount: 0.7,
            ..Sharpening::NEUTRAL
        },
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
        let target = Target {
            long_edge,
            ..Target::default()
        };
        group.bench_function(name, |bencher| {
            bencher.iter(|| black_box(render(&frame, correction, &target, &threads)));
        });
    }
    frame.facts.orientation = Orientation::Upright;
    for (name, long_edge) in [
        ("full size, to JPEG", None),
        ("2048 pixels, to JPEG", Some(2048)),
    ] {
        let target = Target {
            long_edge,
            ..Target::default()
        };
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                let picture = render(&frame, &look, &target, &threads).ok()?;
                black_box(encode(&picture, &frame.facts, &Wish::default())).ok()
            });
        });
    }
    group.finish();
}

/// What stands before and after rendering, on the invented frame in a file as most of them come: tiles of lossless JPEG.
fn around(criterion: &mut Criterion<CpuTime>) {
    let frame = stage_frame(SIZE.0, SIZE.1);
    let Ok(scratch) = tempfile::tempdir() else {
        return;
    };
    let path = scratch.path().join("frame.dng");
    if dng_of(&frame).is_none_or(|bytes| std::fs::write(&path, bytes).is_err()) {
        return;
    }
    let mut group = criterion.benchmark_group("around rendering");
    group
        .sample_size(20)
        .throughput(Throughput::Elements((SIZE.0 * SIZE.1) as u64));
    group.bench_function("decode tiles of lossless JPEG", |bencher| {
        bencher.iter(|| black_box(read_frame(&path)));
    });
    light_and_jpeg(&mut group, &frame);
    group.finish();
}

/// What is done with a frame before and after it is rendered.
fn light_and_jpeg(group: &mut BenchmarkGroup<'_, CpuTime>, frame: &Frame) {
    group.bench_function("read the light", |bencher| {
        bencher.iter(|| black_box(read_light(frame, None)));
    });
    if let Ok(picture) = render(frame, &stage_look(), &Target::default(), &Threads::one()) {
        group.bench_function("encode as JPEG", |bencher| {
            bencher.iter(|| black_box(encode(&picture, &frame.facts, &Wish::default())));
        });
    }
}

/// A real frame from its file to a JPEG, where `HOUSELIGHTS_RAWS` names a folder with frames.
fn real(criterion: &mut Criterion<CpuTime>) {
    let Some(folder) = std::env::var_os("HOUSELIGHTS_RAWS") else {
        return;
    };
    let path = std::path::Path::new(&folder)
        .join("good")
        .join("stage-blue.arw");
    let Ok(frame) = read_frame(&path) else {
        return;
    };
    let pixels = frame.mosaic.crop.width * frame.mosaic.crop.height;
    let mut group = criterion.benchmark_group("real frame");
    group
        .sample_size(10)
        .throughput(Throughput::Elements(pixels as u64));
    group.bench_function("decode", |bencher| {
        bencher.iter(|| black_box(read_frame(&path)))
    });
    group.bench_function("render", |bencher| {
        let (look, target) = (stage_look(), Target::default());
        bencher.iter(|| black_box(render(&frame, &look, &target, &Threads::one())));
    });
    light_and_jpeg(&mut group, &frame);
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().with_measurement(CpuTime);
    targets = around, whole, real
}
criterion_main!(benches);
