use super::*;
use crate::base::kernel::{hold_together, unordered_row};

fn matrix(factor: f64, meaning: &str) -> PointOperation {
    PointOperation::Matrix {
        matrix: Matrix3([[factor, 0.1, 0.0], [0.0, factor, 0.2], [0.3, 0.0, factor]]),
        meaning: meaning.to_owned(),
    }
}

#[test]
fn matrices_and_gains_fold_across_what_is_indifferent_to_scale() {
    let folded = fold(vec![
        PointOperation::CutNegative,
        matrix(1.0, "first"),
        matrix(2.0, "second"),
        PointOperation::MapInto(SRGB),
        PointOperation::Gain(4.0),
        PointOperation::Gain(1.0),
        PointOperation::RollOff {
            roll_off: RollOff {
                amount: 0.0,
                start: 1.0,
                end: 2.0,
            },
            space: SRGB,
        },
    ]);
    assert_eq!(folded.len(), 3, "{folded:?}");
    let PointOperation::Matrix {
        matrix: product,
        meaning,
    } = &folded[1]
    else {
        panic!("a matrix expected: {folded:?}");
    };
    assert_eq!(meaning, "first, second, gain 4.0000");
    let PointOperation::Matrix { matrix: first, .. } = matrix(1.0, "") else {
        panic!()
    };
    let PointOperation::Matrix { matrix: second, .. } = matrix(2.0, "") else {
        panic!()
    };
    assert_eq!(*product, Matrix3::diagonal([4.0; 3]) * (second * first));
}

#[test]
fn a_gain_does_not_cross_a_threshold() {
    let roll_off = PointOperation::RollOff {
        roll_off: RollOff {
            amount: 1.0,
            start: 1.0,
            end: 2.0,
        },
        space: SRGB,
    };
    let folded = fold(vec![
        matrix(1.0, "m"),
        roll_off.clone(),
        PointOperation::Gain(2.0),
    ]);
    assert_eq!(
        folded,
        vec![matrix(1.0, "m"), roll_off, PointOperation::Gain(2.0)]
    );
}

#[test]
fn folding_keeps_the_picture() {
    let list = vec![
        PointOperation::CutNegative,
        matrix(1.0, "first"),
        matrix(0.7, "second"),
        PointOperation::MapInto(SRGB),
        PointOperation::Gain(1.7),
    ];
    let colours: Vec<f32> = (0..300)
        .map(|i| (i * 7919 % 1009) as f32 / 700.0 - 0.1)
        .collect();
    let run = |operations: &[PointOperation]| {
        let mut planes = [
            colours[..100].to_vec(),
            colours[100..200].to_vec(),
            colours[200..].to_vec(),
        ];
        let [red, green, blue] = &mut planes;
        Prepared::new(operations).apply([red, green, blue]);
        planes.concat()
    };
    for (one, other) in run(&list).iter().zip(run(&fold(list.clone()))) {
        assert!(
            (one - other).abs() < 2e-6 * one.abs().max(1.0),
            "{one} {other}"
        );
    }
}

#[test]
fn outside_is_what_is_bright_enough_and_clearly_negative() {
    let cases = [
        ([1.0, 0.5, 0.0], 0),
        ([1.0, 0.5, -0.019], 0),
        ([1.0, 0.5, -0.021], 1),
        ([-0.3, -0.2, 0.9], 1),
        ([0.009, 0.0, -0.009], 0),
        ([0.011, 0.0, -0.009], 1),
        ([f32::NAN, -1.0, 1.0], 1),
        ([1.0, -1.0, f32::NAN], 1),
    ];
    for ([red, green, blue], wanted) in cases {
        let mut outside = 0;
        count_outside(&[red], &[green], &[blue], &mut outside);
        assert_eq!(outside, wanted);
    }
}

#[test]
fn every_copy_counts_the_same() {
    hold_together(&count_outside::levels(), |kernel, length| {
        let [red, green, blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
        let mut outside = 0;
        kernel(&red, &green, &blue, &mut outside);
        vec![outside as f32]
    });
}
