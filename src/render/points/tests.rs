use super::*;
use crate::base::kernel::unordered_row;

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
fn pixels_outside_are_counted_in_their_columns_only() {
    let prepared = Prepared::new(&[PointOperation::MapInto(SRGB)]);
    let planes = [1, 2, 3].map(|seed| unordered_row(seed, 1009));
    let run = |counted: Range<usize>| {
        let mut memory = ChunkMemory {
            counted,
            outside: 0,
        };
        let [mut red, mut green, mut blue] = planes.clone();
        prepared.run([&mut red, &mut green, &mut blue], &mut memory);
        (memory.outside, [red, green, blue])
    };
    let (all, mapped) = run(0..1009);
    assert!(all > 20, "{all}");
    let mut sum = 0;
    for columns in [0..0, 0..7, 7..500, 500..1009, 1009..4000] {
        let (outside, also_mapped) = run(columns);
        // The pixels are the same wherever the count begins and ends.
        assert_eq!(mapped, also_mapped);
        sum += outside;
    }
    assert_eq!(sum, all);
}

#[test]
fn a_cut_before_a_matrix_is_the_cut_and_then_the_matrix() {
    let grey = Matrix3([[0.7, 0.2, 0.1], [-0.3, 1.15, 0.15], [0.04, -0.5, 1.46]]);
    for matrix in [
        grey,
        Matrix3([[0.7, 0.2, 0.2], [0.1, 0.9, 0.3], [0.0, 0.2, 1.1]]),
    ] {
        let matrix = PointOperation::Matrix {
            matrix,
            meaning: String::new(),
        };
        let run = |lists: &[&[PointOperation]]| {
            let [mut red, mut green, mut blue] = [1, 2, 3].map(|seed| unordered_row(seed, 1009));
            for list in lists {
                Prepared::new(list).apply([&mut red, &mut green, &mut blue]);
            }
            [red, green, blue]
        };
        let apart = run(&[
            &[PointOperation::CutNegative],
            std::slice::from_ref(&matrix),
        ]);
        assert_eq!(run(&[&[PointOperation::CutNegative, matrix]]), apart);
    }
}
