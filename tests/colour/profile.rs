//! The embedded profile, read back byte by byte as ICC.1:2010 lays it out.

use houselights::base::matrix::Matrix3;
use houselights::colour::output_space::OutputSpace;
use houselights::colour::profile;

fn word(bytes: &[u8], at: usize) -> u32 {
    u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap())
}

fn tag<'a>(bytes: &'a [u8], signature: &[u8; 4]) -> &'a [u8] {
    let count = word(bytes, 128) as usize;
    let entry = (0..count)
        .map(|index| 132 + 12 * index)
        .find(|at| bytes[*at..*at + 4] == *signature)
        .expect("the tag is there");
    let start = word(bytes, entry + 4) as usize;
    &bytes[start..start + word(bytes, entry + 8) as usize]
}

fn fixed(bytes: &[u8], at: usize) -> f64 {
    f64::from(word(bytes, at) as i32) / 65_536.0
}

#[test]
fn the_profile_is_a_display_profile_of_srgb() {
    let bytes = profile::of(OutputSpace::Srgb).unwrap();
    assert_eq!(word(&bytes, 0) as usize, bytes.len(), "size");
    assert_eq!(bytes[8], 4, "version");
    assert_eq!(
        &bytes[12..24],
        b"mntrRGB XYZ ",
        "class, space, connection space"
    );
    assert_eq!(&bytes[36..40], b"acsp", "signature");
    // ICC.1 D50 in the header.
    for (at, wanted) in [(68, 0.9642), (72, 1.0), (76, 0.8249)] {
        assert!((fixed(&bytes, at) - wanted).abs() < 2e-5);
    }
    // ICC.1 9.2.36: for a display the media white is the connection space's white.
    let white = tag(&bytes, b"wtpt");
    assert!((fixed(white, 8) - 0.9642).abs() < 2e-5 && (fixed(white, 16) - 0.8249).abs() < 2e-5);
    // sRGB's colorants under D50 (Bradford), as the sRGB profiles of the ICC state them, and in their sum D50.
    let colorants = [b"rXYZ", b"gXYZ", b"bXYZ"].map(|name| {
        let colorant = tag(&bytes, name);
        [fixed(colorant, 8), fixed(colorant, 12), fixed(colorant, 16)]
    });
    let wanted = [
        [0.4361, 0.2225, 0.0139],
        [0.3851, 0.7169, 0.0971],
        [0.1431, 0.0606, 0.7141],
    ];
    for (colorant, wanted) in colorants.iter().zip(wanted) {
        for (value, wanted) in colorant.iter().zip(wanted) {
            assert!((value - wanted).abs() < 2e-4, "{value} {wanted}");
        }
    }
    for (index, wanted) in [0.9642, 1.0, 0.8249].into_iter().enumerate() {
        let sum: f64 = colorants.iter().map(|colorant| colorant[index]).sum();
        assert!((sum - wanted).abs() < 2e-4);
    }
    let tags =
        (0..word(&bytes, 128) as usize).map(|index| &bytes[132 + 12 * index..136 + 12 * index]);
    assert!(
        tags.into_iter().all(|tag| tag != b"cicp"),
        "no video code points"
    );
    // A parametric curve of type 3: IEC 61966-2-1's constants.
    let curve = tag(&bytes, b"rTRC");
    assert_eq!(&curve[0..4], b"para");
    assert_eq!(&curve[8..10], [0, 3]);
    for (index, wanted) in [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045]
        .into_iter()
        .enumerate()
    {
        assert!((fixed(curve, 12 + 4 * index) - wanted).abs() < 2e-5);
    }
}

#[test]
fn the_profile_is_the_same_every_time() {
    let bytes = profile::of(OutputSpace::Srgb).unwrap();
    assert_eq!(bytes, profile::of(OutputSpace::Srgb).unwrap());
    // The date is fixed: 1999-10-18.
    assert_eq!(&bytes[24..30], [7, 207, 0, 10, 0, 18]);
}

/// Colorants of a profile in its own space's matrix times the adaptation, back to the standard's primaries; the curve's
/// constants as the standard has them.
#[test]
fn every_space_has_its_primaries_and_its_curve() {
    // Bradford from D65 to ICC's D50 (ICC.1:2010, annex E), undone here.
    let to_d65 = Matrix3([
        [1.047_886, 0.022_919, -0.050_216],
        [0.029_582, 0.990_484, -0.017_079],
        [-0.009_252, 0.015_073, 0.751_678],
    ])
    .inverse()
    .unwrap();
    // SMPTE EG 432-1 and ITU-R BT.2020-2: x and y of red, green, blue; then g and d of the curve.
    for (space, primaries, curve) in [
        (
            OutputSpace::DisplayP3,
            [[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]],
            [2.4, 0.040_45],
        ),
        (
            OutputSpace::Rec2020,
            [[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]],
            [1.0 / 0.45, 4.5 * 0.018_05],
        ),
    ] {
        let bytes = profile::of(space).unwrap();
        for (name, wanted) in [b"rXYZ", b"gXYZ", b"bXYZ"].into_iter().zip(primaries) {
            let colorant = tag(&bytes, name);
            let xyz = to_d65.apply([8, 12, 16].map(|at| fixed(colorant, at)));
            let sum: f64 = xyz.iter().sum();
            for (value, wanted) in xyz.iter().zip(wanted) {
                assert!(
                    (value / sum - wanted).abs() < 3e-4,
                    "{space:?} {value} {sum} {wanted}"
                );
            }
        }
        let trc = tag(&bytes, b"gTRC");
        assert!((fixed(trc, 12) - curve[0]).abs() < 2e-5);
        assert!((fixed(trc, 28) - curve[1]).abs() < 1e-4);
    }
}
