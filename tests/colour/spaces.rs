//! RGB spaces, adaptation, Oklab, ICtCp.

use crate::tables::{close_matrix, close3, matrix, number, rows, table, triple};
use houselights::base::matrix::Matrix3;
use houselights::base::units::Chromaticity;
use houselights::colour::adaptation::{bradford, cat16};
use houselights::colour::ictcp::ictcp_of_bt2020;
use houselights::colour::oklab::{hue, oklab_of_srgb, oklab_of_xyz, srgb_of_oklab};
use houselights::colour::spaces::{AP1, BT2020, DISPLAY_P3, ROMM, RgbSpace, SRGB, conversion};
use houselights::colour::transfer::srgb_decode;

/// IEC 61966-2-1, ITU-R BT.2020-2, SMPTE EG 432-1, ISO 22028-2, Academy S-2014-004: derived matrices, seven decimals.
#[test]
fn working_spaces() {
    let table = table("working_spaces.json");
    let ours: [(&str, RgbSpace); 5] = [
        ("sRGB", SRGB),
        ("ITU-R BT.2020", BT2020),
        ("ROMM RGB", ROMM),
        ("Display P3", DISPLAY_P3),
        ("ACEScg", AP1),
    ];
    for (name, space) in ours {
        let entry = &table["spaces"][name];
        for (primary, wanted) in space.primaries().iter().zip(rows(entry, "primaries")) {
            assert_eq!(
                [primary.x, primary.y],
                [number(&wanted[0]), number(&wanted[1])]
            );
        }
        close_matrix(
            &space.to_xyz(),
            &matrix(&entry["RGB_to_XYZ_derived"]),
            1e-6,
            name,
        );
    }
    for (from_name, from) in ours {
        for (to_name, to) in ours {
            let key = format!("{from_name} -> {to_name} (Bradford, derived NPMs)");
            let entry = &table["linear_matrices"][&key];
            if !entry.is_null() {
                close_matrix(&conversion(&from, &to), &matrix(entry), 1e-6, &key);
            }
            let there_and_back = conversion(&to, &from) * conversion(&from, &to);
            close_matrix(&there_and_back, &Matrix3::IDENTITY, 1e-12, &key);
        }
    }
}

/// Bradford: ICC.1 Annex E. CAT16: Li and others 2017. Matrices and 40 samples, eight decimals.
#[test]
fn chromatic_adaptation() {
    let table = table("chromatic_adaptation.json");
    let white = |value| Chromaticity::from_xyz(triple(value)).unwrap();
    let pairs = table["adaptation_matrices"].as_object().unwrap();
    assert_eq!(pairs.len(), 8);
    for (name, pair) in pairs {
        let (from, to) = (white(&pair["src_XYZ"]), white(&pair["dst_XYZ"]));
        close_matrix(&bradford(from, to), &matrix(&pair["Bradford"]), 1e-6, name);
        close_matrix(&cat16(from, to), &matrix(&pair["CAT16"]), 1e-6, name);
    }
    for row in rows(&table, "examples") {
        let name = format!(
            "{}->{}",
            row["src"].as_str().unwrap(),
            row["dst"].as_str().unwrap()
        );
        let pair = &pairs[&name];
        let (from, to) = (white(&pair["src_XYZ"]), white(&pair["dst_XYZ"]));
        let xyz = triple(&row["XYZ_in"]);
        close3(
            bradford(from, to).apply(xyz),
            triple(&row["Bradford"]),
            1e-6,
            &name,
        );
        close3(
            cat16(from, to).apply(xyz),
            triple(&row["CAT16"]),
            1e-6,
            &name,
        );
    }
}

#[test]
fn adaptation_takes_white_to_white_and_back() {
    let whites = [
        Chromaticity::D50,
        Chromaticity::D65,
        Chromaticity {
            x: 0.447_57,
            y: 0.407_45,
        },
    ];
    for from in whites {
        for to in whites {
            for matrix in [bradford(from, to), cat16(from, to)] {
                close3(matrix.apply(from.to_xyz()), to.to_xyz(), 1e-12, "white");
            }
            close_matrix(
                &(bradford(to, from) * bradford(from, to)),
                &Matrix3::IDENTITY,
                1e-12,
                "back",
            );
        }
    }
}

/// Ottosson 2020: the published pairs (three decimals), and twelve sRGB colours by another library (seven decimals).
#[test]
fn oklab() {
    let table = table("oklab.json");
    for row in rows(&table, "published_pairs") {
        let lab = oklab_of_xyz(triple(&row["XYZ"]));
        close3(lab, triple(&row["published_Lab"]), 6e-4, "published");
        close3(lab, triple(&row["colour_science"]), 1e-6, "recomputed");
    }
    for row in rows(&table, "srgb_hex") {
        let hex = row["hex"].as_str().unwrap();
        let linear = [1, 3, 5].map(|start| {
            let code = u8::from_str_radix(&hex[start..start + 2], 16).unwrap();
            srgb_decode(f64::from(code) / 255.0)
        });
        let lab = oklab_of_srgb(linear);
        // That library derives its matrices anew; Ottosson's have ten digits from a rounded sRGB matrix.
        close3(lab, triple(&row["oklab"]), 2e-6, hex);
        close3(srgb_of_oklab(lab), linear, 1e-6, hex);
        let [_, chroma, wanted] = triple(&row["oklch"]);
        if chroma > 0.01 {
            close3([hue(lab); 3], [wanted; 3], 1e-3, hex);
        }
    }
}

/// ITU-R BT.2100-2, PQ, white at 100 cd/m².
#[test]
fn ictcp() {
    for row in rows(&table("jzazbz_ictcp.json"), "rows") {
        let rgb = BT2020.from_xyz().apply(triple(&row["XYZ"]));
        close3(
            ictcp_of_bt2020(rgb, 100.0),
            triple(&row["ICtCp_BT2100_PQ_Lw100"]),
            1e-6,
            row["name"].as_str().unwrap(),
        );
    }
}
