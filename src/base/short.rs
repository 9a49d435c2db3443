//! Numbers that are written with the seven digits of a single: for measurements that are kept by the hundred.
//!
//! What passes through a file or a pipe once is such a number, and passes any further time unchanged.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// For `#[serde(with = "...")]`.
///
/// # Errors
/// Those of the serializer.
#[expect(
    clippy::cast_possible_truncation,
    reason = "seven digits are what is wanted"
)]
pub fn serialize<S: Serializer>(number: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f32(*number as f32)
}

/// For `#[serde(with = "...")]`.
///
/// # Errors
/// Those of the deserializer.
pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    f32::deserialize(deserializer).map(f64::from)
}

/// The same for pairs.
pub mod pair {
    use super::{Deserialize, Deserializer, Serialize, Serializer};

    /// For `#[serde(with = "...")]`.
    ///
    /// # Errors
    /// Those of the serializer.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "seven digits are what is wanted"
    )]
    pub fn serialize<S: Serializer>(pair: &[f64; 2], serializer: S) -> Result<S::Ok, S::Error> {
        pair.map(|number| number as f32).serialize(serializer)
    }

    /// For `#[serde(with = "...")]`.
    ///
    /// # Errors
    /// Those of the deserializer.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<[f64; 2], D::Error> {
        <[f32; 2]>::deserialize(deserializer).map(|pair| pair.map(f64::from))
    }
}

#[cfg(test)]
mod tests {
    use serde::{Deserialize, Serialize};

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Both {
        #[serde(with = "super")]
        one: f64,
        #[serde(with = "super::pair")]
        two: [f64; 2],
    }

    #[test]
    fn what_passed_once_passes_unchanged() {
        let first = Both {
            one: 1.0 / 3.0,
            two: [std::f64::consts::PI, -1e-9],
        };
        let pass = |both: &Both| -> Both {
            let text = serde_json::to_string(both).expect("text");
            serde_json::from_str(&text).expect("both")
        };
        let once = pass(&first);
        assert!((once.one / first.one - 1.0).abs() < 1e-7);
        assert_eq!(pass(&once), once);
        assert!(serde_json::to_string(&once).expect("text").len() < 50);
    }
}
