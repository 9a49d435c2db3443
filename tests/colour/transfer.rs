//! IEC 61966-2-1:1999.

use crate::tables::{close, number, rows, table};
use houselights::colour::codes::encode_row_8bit;
use houselights::colour::transfer::{
    Transfer, linear_of_codes, srgb_code, srgb_decode, srgb_encode,
};

#[test]
fn every_row_of_the_transfer_table() {
    let table = table("srgb_transfer.json");
    for row in rows(&table, "encode") {
        let linear = number(&row["linear"]);
        // The table has ten digits.
        close(
            srgb_encode(linear),
            number(&row["encoded"]),
            1e-9,
            "encoded",
        );
        let single = linear as f32;
        let code = u64::from(srgb_code(single));
        let wanted = row["code8"].as_u64().unwrap();
        // 0.2140411 encodes to 127.49999: its nearest single precision number decides, and it lies below too.
        assert_eq!(code, wanted, "code of {linear}");
    }
    let codes = rows(&table, "decode_all_codes");
    assert_eq!(codes.len(), 256);
    for (code, row) in codes.iter().enumerate() {
        // The table has twelve decimals.
        let wanted = number(&row["linear"]);
        close(srgb_decode(code as f64 / 255.0), wanted, 1e-12, "linear");
        let single = linear_of_codes()[code];
        close(
            f64::from(single),
            wanted,
            6e-8,
            "linear in single precision",
        );
        assert_eq!(usize::from(srgb_code(single)), code, "code there and back");
    }
}

#[test]
fn code_to_light_and_back_through_the_row() {
    let linear = linear_of_codes();
    let mut codes = [0; 256];
    encode_row_8bit(Transfer::Srgb, linear, &mut codes);
    for (index, code) in codes.into_iter().enumerate() {
        assert_eq!(usize::from(code), index);
    }
}

#[test]
fn the_two_curves_undo_each_other() {
    for step in 0..=1000 {
        let value = f64::from(step) / 1000.0;
        // The standard's two rounded knees leave a step of some 1e-8 between them.
        close(srgb_encode(srgb_decode(value)), value, 1e-7, "round trip");
    }
}
