//! Laws of rendering that hold for every picture: flat stays flat, grey stays grey, the ends stay the ends, order stays.

#![allow(
    clippy::expect_used,
    reason = "a test that meets the unexpected should stop there"
)]

mod render_support;

use houselights::base::bands::Threads;
use houselights::colour::transfer::srgb_code;
use houselights::raw::frame::Layout;
use houselights::render::{Target, render};
use render_support::*;

/// 1, 2, below and above the demosaic's five rows, odd, around a band of 256 rows and a chunk of 1024 columns.
const SIZES: [(usize, usize); 14] = [
    (1, 1),
    (1, 2),
    (2, 1),
    (2, 2),
    (3, 3),
    (4, 5),
    (5, 4),
    (7, 1),
    (1, 7),
    (33, 17),
    (9, 255),
    (8, 256),
    (10, 257),
    (1025, 6),
];

fn layouts() -> Vec<Layout> {
    let mut layouts: Vec<Layout> = PHASES.map(Layout::Bayer).to_vec();
    layouts.push(Layout::XTrans(SIX_BY_SIX));
    layouts.push(Layout::Linear);
    layouts
}

#[test]
fn flat_stays_flat_and_grey_stays_grey() {
    for layout in layouts() {
        for (width, height) in SIZES {
            for long_edge in [None, Some(width.max(height) as u32 / 2), Some(3)] {
                for share in [0.0, 0.1807, 0.7] {
                    let counts = counts_of(share);
                    let frame = frame(width, height, layout, |_, _| counts);
                    let light = f32::from(counts - BLACK) / f32::from(WHITE - BLACK);
                    let picture = sized(&frame, &faithful(), long_edge);
                    let code = srgb_code(light);
                    assert!(
                        picture.rgb.iter().all(|value| *value == code),
                        "{layout:?} {width} x {height} to {long_edge:?}, {share}: {code} expected, {:?}",
                        &picture.rgb[..3]
                    );
                    let used = sized(&frame, &stage(), long_edge);
                    let first = used.rgb[0];
                    assert!(used.rgb.iter().all(|value| *value == first));
                }
            }
        }
    }
}

#[test]
fn the_ends_stay_the_ends() {
    for layout in layouts() {
        for (counts, code) in [
            (BLACK, 0),
            (BLACK / 2, 0),
            (0, 0),
            (WHITE, 255),
            (u16::MAX, 255),
        ] {
            let frame = frame(9, 8, layout, |_, _| counts);
            let picture = full(&frame, &faithful());
            assert!(
                picture.rgb.iter().all(|value| *value == code),
                "{layout:?} {counts}"
            );
        }
    }
}

#[test]
fn orientation_only_moves_pixels() {
    let mut next = unordered(11);
    let frame = frame(37, 22, Layout::Bayer(PHASES[1]), |_, _| next());
    let upright = full(&frame, &stage());
    for tag in 1..=8 {
        let turned = turned(frame.clone(), tag);
        let picture = full(&turned, &stage());
        let orientation = turned.facts.orientation;
        assert_eq!(
            (picture.width, picture.height),
            orientation.upright_size(37, 22)
        );
        for y in 0..picture.height {
            for x in 0..picture.width {
                let (sx, sy) = orientation.stored_pixel(x, y, 37, 22);
                let at = |p: &[u8], i: usize| p[3 * i..3 * i + 3].to_vec();
                assert_eq!(
                    at(&picture.rgb, y * picture.width + x),
                    at(&upright.rgb, sy * 37 + sx),
                    "tag {tag} at {x}, {y}"
                );
            }
        }
    }
}

#[test]
fn threads_change_no_byte() {
    let mut next = unordered(5);
    for layout in layouts() {
        let frame = frame(301, 613, layout, |_, _| next());
        for long_edge in [None, Some(400), Some(123)] {
            let target = Target {
                long_edge,
                ..Target::default()
            };
            let one = sized(&frame, &stage(), long_edge);
            let three = render(&frame, &stage(), &target, &Threads::new(3)).expect("renders");
            assert!(one == three, "{layout:?} {long_edge:?}");
        }
    }
}

#[test]
fn the_long_edge_is_exact_and_nothing_is_enlarged() {
    for (width, height, edge, expected) in [
        (300, 200, 150, (150, 100)),
        (300, 200, 100, (100, 67)),
        (200, 300, 100, (67, 100)),
        (301, 200, 299, (299, 199)),
        (300, 2, 100, (100, 1)),
        (300, 200, 301, (300, 200)),
        (5, 3, 2, (2, 1)),
        (300, 1, 7, (7, 1)),
    ] {
        let frame = frame(width, height, Layout::Bayer(PHASES[0]), |_, _| {
            counts_of(0.5)
        });
        let picture = sized(&frame, &faithful(), Some(edge));
        assert_eq!(
            (picture.width, picture.height),
            expected,
            "{width} x {height} to {edge}"
        );
        assert_eq!(picture.rgb.len(), picture.width * picture.height * 3);
    }
}
