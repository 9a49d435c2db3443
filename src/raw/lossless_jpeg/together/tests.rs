use super::*;
use crate::raw::lossless_jpeg::Known;
use encoder::{Options, encode};
use proptest::prelude::*;

#[path = "../../../../tests/raw_support/lossless.rs"]
#[allow(unreachable_pub, missing_docs, reason = "as the other tests have it")]
mod encoder;

/// Values without order that repeat themselves now and then, so that short and long codes occur; 12 bits.
fn values(seed: usize, count: usize) -> Vec<u16> {
    (0..count)
        .map(|at| match (at + seed) % 7 {
            0..4 => (2000 + (at * 31 + seed) % 13) as u16,
            _ => ((at * 7919 + seed * 104_729) % 4093) as u16,
        })
        .collect()
}

/// The rows of three streams in this way, and in the plain one: `None` where it refuses them.
type Both = (Option<Vec<Vec<u16>>>, Option<Vec<Vec<u16>>>);

fn both(streams: &[Vec<u8>; TOGETHER], length: usize, rows: usize) -> Both {
    let mut known = Known::default();
    let Ok(parsed) = streams
        .iter()
        .map(|bytes| LosslessJpeg::new(bytes, &mut known))
        .collect::<Result<Vec<_>, _>>()
    else {
        return (None, None);
    };
    // Beside each other, as in a picture with more behind, and one after the other.
    const BEHIND: usize = 5;
    let in_picture = Steps {
        stream: length,
        row: TOGETHER * length + BEHIND,
    };
    let apart = Steps {
        stream: length * rows + BEHIND,
        row: length,
    };
    let fast = [in_picture, apart].map(|steps| {
        let mut values = vec![1; (steps.row + BEHIND) * TOGETHER * (rows + 1)];
        let streams = std::array::from_fn(|at| &parsed[at]);
        let done = Together::default().decode(streams, rows, &mut values, steps);
        let of_streams: Vec<Vec<u16>> = (0..TOGETHER)
            .map(|at| {
                let starts = (0..rows).map(|y| at * steps.stream + y * steps.row);
                starts
                    .flat_map(|start| {
                        let line = &mut values[start..start + length];
                        let taken = line.to_vec();
                        line.fill(1);
                        taken
                    })
                    .collect()
            })
            .collect();
        assert!(
            values.iter().all(|value| *value == 1),
            "only rows are written"
        );
        done.then_some(of_streams)
    });
    assert_eq!(fast[0], fast[1], "{rows} rows of {length}");
    let [fast, _] = fast;
    let mut plain = vec![vec![1; length * rows]; TOGETHER];
    let all = parsed.iter().zip(&mut plain);
    let plain_done = all.fold(true, |done, (stream, values)| {
        stream.decode(values).is_ok() && done
    });
    (fast, plain_done.then_some(plain))
}

#[test]
fn the_values_are_those_of_the_plain_way() {
    for predictor in 1..=7 {
        for components in [1, 2] {
            for (long_codes, own_tables, point_transform) in [
                (false, false, 0),
                (true, false, 0),
                (true, false, 2),
                (false, true, 0),
            ] {
                let options = Options {
                    components,
                    predictor,
                    long_codes,
                    own_tables,
                    point_transform,
                    ..Options::default()
                };
                // One pixel, one line, and a line shorter and longer than what is looked up at a time.
                for (row, rows) in [(2, 1), (2, 9), (6, 1), (34, 5), (400, 3)] {
                    // The second stream's tables are not those of the others.
                    let streams = [0, 1, 2].map(|seed| {
                        let options = Options {
                            long_codes: long_codes ^ (seed == 1),
                            ..options
                        };
                        encode(&values(seed, row * rows), row, options, 12)
                    });
                    let (fast, plain) = both(&streams, row, rows);
                    assert!(fast.is_some(), "{options:?} {row} x {rows}");
                    assert_eq!(fast, plain, "{options:?} {row} x {rows}");
                }
            }
        }
    }
}

#[test]
fn what_is_not_for_this_way_is_left_alone() {
    let of = |options: Options| encode(&values(1, 48), 12, options, 12);
    let alike = of(Options::default());
    let restarts = Options {
        restart_lines: 2,
        ..Options::default()
    };
    let components = |components| Options {
        components,
        ..Options::default()
    };
    let predictor = Options {
        predictor: 2,
        ..Options::default()
    };
    for other in [restarts, components(2), components(3), predictor] {
        let (fast, plain) = both(&[alike.clone(), of(other), alike.clone()], 12, 4);
        assert_eq!(fast, None, "{other:?}");
        assert!(plain.is_some(), "{other:?}");
    }
    let (fast, plain) = both(&[alike.clone(), alike.clone(), alike], 12, 5);
    assert_eq!((fast, plain), (None, None));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    /// Whatever is done to streams: both ways refuse them, or both give the same values.
    #[test]
    fn damaged_streams_are_refused_by_both_ways(
        long_codes in any::<bool>(),
        two in any::<bool>(),
        own_tables in any::<bool>(),
        predictor in 1u8..=7,
        changes in prop::collection::vec((0..TOGETHER, any::<prop::sample::Index>(), any::<u8>()), 0..6),
        cut in prop::option::of((0..TOGETHER, any::<prop::sample::Index>())),
    ) {
        let options = Options {
            components: if two { 2 } else { 1 },
            predictor,
            long_codes,
            own_tables: two && own_tables,
            ..Options::default()
        };
        let mut streams = [0, 1, 2].map(|seed| encode(&values(seed, 240), 24, options, 12));
        // What states the shape stays: other shapes are the other test's.
        let first = streams[0].windows(2).position(|pair| pair == [0xff, 0xc4]).unwrap_or_default();
        let (untouched, scan) = (streams[0].clone(), streams[0].windows(2).position(|pair| pair == [0xff, 0xda]).unwrap_or_default() + 14);
        for (stream, at, value) in changes {
            let stream = &mut streams[stream];
            let at = first + at.index(stream.len() - first);
            stream[at] = value;
        }
        if let Some((stream, at)) = cut {
            let stream = &mut streams[stream];
            let at = first + at.index(stream.len() - first);
            stream.truncate(at);
        }
        let (fast, plain) = both(&streams, 24, 10);
        if let Some(fast) = fast {
            prop_assert_eq!(Some(fast), plain);
        } else {
            // A changed header may state what only the plain way reads.
            let is_changed = streams.iter().any(|stream| stream.get(..scan) != untouched.get(..scan));
            prop_assert!(plain.is_none() || is_changed);
        }
    }
}
