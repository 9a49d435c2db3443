//! Reading the tables: JSON to numbers, and comparing with a stated tolerance.

use houselights::base::matrix::Matrix3;
use serde_json::Value;
use std::path::Path;

pub(crate) fn table(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name);
    let text = std::fs::read_to_string(&path).expect("the table is committed");
    serde_json::from_str(&text).expect("the table is JSON")
}

/// The rows under a name; never none, so that no test passes by reading nothing.
pub(crate) fn rows<'a>(value: &'a Value, name: &str) -> &'a Vec<Value> {
    let rows = value[name].as_array().expect("an array");
    assert!(!rows.is_empty());
    rows
}

pub(crate) fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

pub(crate) fn triple(value: &Value) -> [f64; 3] {
    [0, 1, 2].map(|index| number(&value[index]))
}

pub(crate) fn matrix(value: &Value) -> Matrix3 {
    Matrix3([0, 1, 2].map(|row| triple(&value[row])))
}

#[track_caller]
pub(crate) fn close(found: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{what}: {found} is not {wanted} within {tolerance}"
    );
}

#[track_caller]
pub(crate) fn close3(found: [f64; 3], wanted: [f64; 3], tolerance: f64, what: &str) {
    for (found, wanted) in found.into_iter().zip(wanted) {
        close(found, wanted, tolerance, what);
    }
}

#[track_caller]
pub(crate) fn close_matrix(found: &Matrix3, wanted: &Matrix3, tolerance: f64, what: &str) {
    for (found, wanted) in found.0.into_iter().zip(wanted.0) {
        close3(found, wanted, tolerance, what);
    }
}
