//! What things on stage are made of: reflectances mixed from the published tables, with a texture and some gloss.
//!
//! Hardly anything on a stage is exactly grey: cloth, drape, boards and cases lean a few per cent to a colour. A few
//! things are truly neutral, and are marked so for the truth file: the grey card, the chart's lower row, the singer's
//! white shirt, one grey case and the microphone stands.

use crate::SimulatorError;
use crate::library::Library;
use crate::spectrum::Spectrum;
use serde::{Deserialize, Serialize};

/// What a surface is for those who measure pictures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SurfaceKind {
    /// Truly grey, white or black.
    Neutral,
    /// Human skin.
    Skin,
    /// A patch of the chart.
    Chart,
    /// Anything else on performers: cloth, hair, instruments.
    Performer,
    /// Set, floor, crowd.
    Set,
}

/// How a surface varies over its extent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Pattern {
    /// Slightly uneven.
    Plain,
    /// Threads crossing, and folds.
    Cloth,
    /// Folds and stripes of the accent.
    Striped,
    /// Skin, with a face drawn where the part is a face.
    Skin,
    /// Strands.
    Hair,
    /// Long fibres, darker to the rim.
    Wood,
    /// Boards of a floor.
    Boards,
    /// Grille of a loudspeaker: fine mesh.
    Mesh,
    /// The 24 patches.
    Chart,
    /// Brushed or polished metal.
    Metal,
}

/// One material, mixed.
#[derive(Clone, Debug)]
pub(crate) struct Material {
    pub(crate) name: &'static str,
    pub(crate) kind: SurfaceKind,
    pub(crate) base: Spectrum,
    pub(crate) accent: Spectrum,
    pub(crate) pattern: Pattern,
    /// Mirror-like share at normal incidence.
    pub(crate) gloss: f64,
    /// Exponent of the highlight.
    pub(crate) sharpness: f64,
    /// Depth of the texture's relief, as slope.
    pub(crate) relief: f64,
}

/// Index into the list of materials.
pub(crate) type MaterialId = usize;

type Mix = &'static [(&'static str, f64)];
type Recipe = (&'static str, SurfaceKind, Mix, Mix, Pattern, f64, f64, f64);

/// The ids, in the order of [`RECIPES`].
pub(crate) mod id {
    use super::MaterialId;
    pub(crate) const SKIN: [MaterialId; 4] = [0, 1, 2, 3];
    pub(crate) const LIPS: MaterialId = 4;
    pub(crate) const EYE: MaterialId = 5;
    pub(crate) const HAIR: [MaterialId; 4] = [6, 7, 8, 9];
    pub(crate) const WHITE_SHIRT: MaterialId = 10;
    /// Cloth for tops, any of which a costume may take.
    pub(crate) const TOPS: [MaterialId; 8] = [11, 12, 13, 14, 15, 16, 17, 18];
    pub(crate) const TROUSERS: [MaterialId; 3] = [19, 20, 21];
    pub(crate) const SHOE: MaterialId = 22;
    pub(crate) const BURST: MaterialId = 23;
    pub(crate) const RED_LACQUER: MaterialId = 24;
    pub(crate) const MAPLE: MaterialId = 25;
    pub(crate) const PICKGUARD: MaterialId = 26;
    pub(crate) const CHROME: MaterialId = 27;
    pub(crate) const BRASS: MaterialId = 28;
    pub(crate) const SHELL: MaterialId = 29;
    pub(crate) const DRUM_HEAD: MaterialId = 30;
    pub(crate) const BLACK_PAINT: MaterialId = 31;
    pub(crate) const CASE: MaterialId = 32;
    pub(crate) const GREY_CASE: MaterialId = 33;
    pub(crate) const TOLEX: MaterialId = 34;
    pub(crate) const GRILLE: MaterialId = 35;
    pub(crate) const DRAPE: [MaterialId; 3] = [36, 37, 38];
    pub(crate) const FLOOR: MaterialId = 39;
    pub(crate) const TRUSS: MaterialId = 40;
    pub(crate) const CROWD: MaterialId = 41;
    pub(crate) const GREY_CARD: MaterialId = 42;
    pub(crate) const CHART_FRAME: MaterialId = 43;
    pub(crate) const LAMP_BODY: MaterialId = 44;
    /// First of the 24 patches, which follow the recipes.
    pub(crate) const CHART: MaterialId = 45;
}

use Pattern::{Boards, Cloth, Hair, Mesh, Metal, Plain, Skin, Striped, Wood};
use SurfaceKind::{Neutral, Performer, Set};

const NONE: Mix = &[];
/// One line a material: name, kind, base, accent, pattern, gloss, sharpness of the highlight, relief.
#[rustfmt::skip]
const RECIPES: [Recipe; id::CHART] = [
    ("skin one", SurfaceKind::Skin, &[("skin_caucasian", 1.0)], &[("skin_caucasian", 0.7), ("moderate_red", 0.3)], Skin, 0.03, 14.0, 0.05),
    ("skin two", SurfaceKind::Skin, &[("skin_south_asian", 1.0)], &[("skin_south_asian", 0.8), ("red", 0.1)], Skin, 0.03, 14.0, 0.05),
    ("skin three", SurfaceKind::Skin, &[("skin_african", 1.0)], &[("skin_african", 0.8), ("dark_skin", 0.2)], Skin, 0.035, 16.0, 0.05),
    ("skin four", SurfaceKind::Skin, &[("skin_east_asian", 1.0)], &[("skin_east_asian", 0.8), ("moderate_red", 0.2)], Skin, 0.03, 14.0, 0.05),
    ("lips", Performer, &[("moderate_red", 0.4), ("dark_skin", 0.55)], NONE, Plain, 0.03, 20.0, 0.0),
    ("eye", Performer, &[("white", 0.42)], &[("black", 0.7), ("dark_skin", 0.15)], Plain, 0.05, 60.0, 0.0),
    ("dark hair", Performer, &[("black", 0.75), ("dark_skin", 0.12)], &[("dark_skin", 0.45)], Hair, 0.05, 22.0, 0.55),
    ("black hair", Performer, &[("black", 0.7)], &[("black", 1.1)], Hair, 0.06, 26.0, 0.55),
    ("fair hair", Performer, &[("light_skin", 0.35), ("orange_yellow", 0.22)], &[("light_skin", 0.3), ("dark_skin", 0.4)], Hair, 0.05, 20.0, 0.55),
    ("auburn hair", Performer, &[("dark_skin", 0.5), ("orange", 0.16)], &[("black", 0.9)], Hair, 0.05, 22.0, 0.55),
    ("white shirt", Neutral, &[("white", 0.86)], &[("white", 0.78)], Cloth, 0.01, 6.0, 0.5),
    ("rust jacket", Performer, &[("moderate_red", 0.4), ("dark_skin", 0.45)], &[("dark_skin", 0.7)], Cloth, 0.015, 8.0, 0.55),
    ("indigo jacket", Performer, &[("purplish_blue", 0.3), ("gray_35", 0.35)], &[("black", 1.2)], Cloth, 0.015, 8.0, 0.55),
    ("charcoal shirt", Performer, &[("gray_35", 0.55), ("blue_flower", 0.06)], &[("gray_35", 0.4)], Cloth, 0.01, 7.0, 0.5),
    ("moss shirt", Performer, &[("foliage", 0.7), ("gray_50", 0.15)], &[("foliage", 0.5)], Cloth, 0.01, 7.0, 0.5),
    ("striped jersey", Performer, &[("white", 0.6), ("light_skin", 0.12)], &[("blue", 0.6), ("black", 0.5)], Striped, 0.01, 7.0, 0.5),
    ("mustard shirt", Performer, &[("orange_yellow", 0.5), ("dark_skin", 0.25)], &[("dark_skin", 0.7)], Cloth, 0.01, 7.0, 0.5),
    ("black tee", Performer, &[("black", 0.9), ("dark_skin", 0.06)], &[("black", 0.8)], Cloth, 0.01, 7.0, 0.5),
    ("wine blouse", Performer, &[("purple", 0.5), ("red", 0.35)], &[("purple", 0.7)], Cloth, 0.03, 10.0, 0.5),
    ("blue denim", Performer, &[("purplish_blue", 0.25), ("gray_35", 0.5)], &[("gray_50", 0.5)], Cloth, 0.01, 7.0, 0.5),
    ("black trousers", Performer, &[("black", 0.95), ("purple", 0.05)], &[("black", 0.8)], Cloth, 0.01, 7.0, 0.5),
    ("tan trousers", Performer, &[("light_skin", 0.35), ("foliage", 0.3)], &[("dark_skin", 0.5)], Cloth, 0.01, 7.0, 0.5),
    ("boots", Performer, &[("black", 0.7), ("dark_skin", 0.15)], NONE, Plain, 0.04, 30.0, 0.1),
    ("sunburst lacquer", Performer, &[("orange_yellow", 0.55), ("orange", 0.4)], &[("dark_skin", 0.25), ("black", 0.5)], Wood, 0.05, 80.0, 0.0),
    ("red lacquer", Performer, &[("red", 0.9)], &[("red", 0.5), ("black", 0.3)], Wood, 0.05, 80.0, 0.0),
    ("maple neck", Performer, &[("light_skin", 0.6), ("orange_yellow", 0.25)], &[("dark_skin", 0.7)], Wood, 0.04, 50.0, 0.0),
    ("pickguard", Performer, &[("white", 0.8), ("yellow", 0.05)], NONE, Plain, 0.05, 60.0, 0.0),
    ("chrome", Neutral, &[("gray_50", 0.9)], NONE, Metal, 0.25, 40.0, 0.1),
    ("brass", Performer, &[("orange_yellow", 0.5), ("gray_50", 0.3)], &[("dark_skin", 0.6), ("orange_yellow", 0.15)], Metal, 0.3, 24.0, 0.2),
    ("drum shell", Performer, &[("bluish_green", 0.5), ("cyan", 0.25)], &[("white", 0.7)], Metal, 0.08, 40.0, 0.05),
    ("drum head", Performer, &[("white", 0.78), ("orange_yellow", 0.05)], &[("gray_50", 1.0)], Plain, 0.02, 20.0, 0.02),
    ("black paint", Set, &[("black", 0.85), ("blue", 0.06)], NONE, Plain, 0.03, 20.0, 0.1),
    ("road case", Set, &[("black", 0.9), ("blue", 0.22)], &[("gray_50", 0.9)], Metal, 0.05, 26.0, 0.1),
    ("grey case", Neutral, &[("gray_80", 0.5)], &[("gray_80", 0.46)], Plain, 0.01, 10.0, 0.05),
    ("amplifier covering", Set, &[("gray_35", 0.5), ("dark_skin", 0.3)], &[("black", 0.8)], Plain, 0.03, 20.0, 0.3),
    ("loudspeaker grille", Set, &[("gray_50", 0.6), ("dark_skin", 0.3)], &[("black", 0.9)], Mesh, 0.01, 10.0, 0.2),
    ("black drape", Set, &[("black", 0.9), ("purple", 0.08)], NONE, Cloth, 0.01, 5.0, 0.3),
    ("wine drape", Set, &[("red", 0.25), ("black", 0.8)], NONE, Cloth, 0.02, 5.0, 0.3),
    ("grey-green drape", Set, &[("gray_35", 0.55), ("foliage", 0.25)], NONE, Cloth, 0.01, 5.0, 0.3),
    ("stage floor", Set, &[("black", 1.1), ("dark_skin", 0.2)], &[("black", 0.7)], Boards, 0.05, 12.0, 0.15),
    ("truss", Set, &[("gray_50", 0.7), ("blue_sky", 0.1)], NONE, Metal, 0.2, 20.0, 0.1),
    ("crowd", Set, &[("black", 0.6), ("dark_skin", 0.2)], NONE, Plain, 0.01, 8.0, 0.2),
    ("grey card", Neutral, &[("neutral_5_70_D", 1.0)], NONE, Plain, 0.0, 1.0, 0.0),
    ("chart frame", Set, &[("black_2_15_D", 1.0)], NONE, Pattern::Chart, 0.0, 1.0, 0.0),
    ("lamp body", Set, &[("black", 0.9)], NONE, Plain, 0.04, 20.0, 0.1),
];

/// Every material.
pub(crate) fn mix_all(library: &Library) -> Result<Vec<Material>, SimulatorError> {
    let mix = |parts: Mix| -> Result<Spectrum, SimulatorError> {
        let mut sum = Spectrum::flat(0.0);
        for &(name, weight) in parts {
            sum = sum.plus(&library.reflectance(name)?.scaled(weight));
        }
        Ok(sum)
    };
    let mut materials = Vec::new();
    for (name, kind, base, accent, pattern, gloss, sharpness, relief) in RECIPES {
        let base = mix(base)?;
        let accent = if accent.is_empty() {
            base.scaled(0.8)
        } else {
            mix(accent)?
        };
        materials.push(Material {
            name,
            kind,
            base,
            accent,
            pattern,
            gloss,
            sharpness,
            relief,
        });
    }
    for (name, reflectance) in library.chart() {
        materials.push(Material {
            name: chart_name(name),
            kind: SurfaceKind::Chart,
            base: reflectance.clone(),
            accent: reflectance.clone(),
            pattern: Plain,
            gloss: 0.0,
            sharpness: 1.0,
            relief: 0.0,
        });
    }
    Ok(materials)
}

/// The table's name as a constant; an unknown one is only called a patch.
fn chart_name(name: &str) -> &'static str {
    const NAMES: [&str; 24] = [
        "dark_skin",
        "light_skin",
        "blue_sky",
        "foliage",
        "blue_flower",
        "bluish_green",
        "orange",
        "purplish_blue",
        "moderate_red",
        "purple",
        "yellow_green",
        "orange_yellow",
        "blue",
        "green",
        "red",
        "yellow",
        "magenta",
        "cyan",
        "white_95_05_D",
        "neutral_8_23_D",
        "neutral_65_44_D",
        "neutral_5_70_D",
        "neutral_35_105_D",
        "black_2_15_D",
    ];
    NAMES
        .into_iter()
        .find(|known| *known == name)
        .unwrap_or("patch")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::colorimetry::{lab, xyz};

    #[test]
    fn reflectances_stay_below_one_and_neutrals_are_grey() {
        let library = Library::load().unwrap();
        let materials = mix_all(&library).unwrap();
        assert_eq!(materials.len(), id::CHART + 24);
        let light = library.light("cie_d65").unwrap();
        let white = xyz(&library, &light);
        for material in &materials {
            for value in material
                .base
                .samples()
                .iter()
                .chain(material.accent.samples())
            {
                assert!((0.0..=1.0).contains(value), "{}: {value}", material.name);
            }
            if material.kind == Neutral {
                let [_, a, b] = lab(xyz(&library, &light.times(&material.base)), white);
                // Painted greys of the published charts are within 2.5 of grey.
                assert!((a * a + b * b).sqrt() < 2.5, "{}: {a} {b}", material.name);
            }
        }
    }
}
