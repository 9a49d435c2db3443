//! What is found of a mosaic before its first row is made: faulty photosites, and the colour around clipped ones. Both are found on
//! one walk over the counts where that can be: fetching these from memory is most of what either takes.

use crate::base::bands::Threads;
use crate::raw::frame::Mosaic;
use crate::render::faulty::{FaultySites, Replacements, ReplacementsOfRow};
use crate::render::highlights::{Cell, Counted, HighlightStep, Sums, Surroundings, is_any_clipped};
use crate::render::sensor::{Sensor, SensorStep};

/// What is found in the rows of photosites that one row of cells covers.
#[derive(Clone, Debug, Default)]
struct Found {
    replacements: Vec<ReplacementsOfRow>,
    cells: Vec<Cell>,
}

/// The sensor with its faulty photosites, and what is around clipped ones, where there are any and the plan rebuilds them.
pub(crate) fn walk<'a>(
    step: &'a SensorStep,
    highlights: Option<&HighlightStep>,
    mosaic: &'a Mosaic,
    threads: &Threads,
) -> (Sensor<'a>, Option<Surroundings>) {
    let highlights = highlights.filter(|_| is_any_clipped(mosaic));
    let counted = highlights.and_then(|highlights| Counted::new(step, mosaic, highlights.full));
    let Some(counted) = counted else {
        let sensor = Sensor::new(step, mosaic, threads);
        let around = highlights.map(|step| Surroundings::of(step, &sensor, threads));
        return (sensor, around);
    };
    let faulty = step.noise.and_then(|noise| FaultySites::new(mosaic, noise));
    let mut found = vec![Found::default(); counted.rows()];
    threads.for_each_band(&mut found, 1, 1, Sums::default, |sums, first, rows| {
        for (row, found) in (first..).zip(rows) {
            let photosites = counted.photosites_of(row);
            found.replacements = match &faulty {
                Some(faulty) => photosites.map(|y| faulty.of_row(y)).collect(),
                None => vec![Vec::new(); photosites.len()],
            };
            found.cells = counted.gather(sums, row, &found.replacements);
        }
    });
    let (replacements, cells): (Vec<_>, Vec<_>) = found
        .into_iter()
        .map(|found| (found.replacements, found.cells))
        .unzip();
    let rows = replacements.into_iter().flatten().collect();
    let replacements = faulty.map(|_| Replacements::of_rows(rows));
    let sensor = Sensor::with(step, mosaic, replacements);
    (sensor, Some(Surroundings::filled(mosaic, &cells.concat())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::geometry::Rect;
    use crate::base::kernel::unordered_row;
    use crate::base::plane::Plane;
    use crate::raw::frame::{BlackLevels, Layout};
    use crate::raw::noise::{NoiseModel, SensorNoise};

    const WIDTH: usize = 331;
    const HEIGHT: usize = 77;
    const WHITE: u16 = 15_871;

    /// Hot photosites, far from each other, at the seams of cells, and inside.
    const HOT: [(usize, usize); 6] = [(7, 3), (8, 15), (16, 8), (23, 7), (200, 40), (301, 71)];

    /// A lamp in the dark, and hot photosites.
    fn mosaic(layout: Layout, lamp: u16) -> Mosaic {
        let counts = (0..HEIGHT).flat_map(|y| {
            let light = unordered_row(y, WIDTH).into_iter().enumerate();
            light.map(move |(x, light)| match (x, y) {
                (100..140, 30..60) => lamp,
                _ if HOT.contains(&(x, y)) => 9000,
                _ => (600.0 + 100.0 * light) as u16,
            })
        });
        Mosaic {
            counts: Plane::from_values(WIDTH, HEIGHT, counts.collect()).expect("as many"),
            layout,
            black: BlackLevels::flat(512.0, 1),
            white: [f32::from(WHITE); 3],
            crop: Rect {
                left: 0,
                top: 0,
                width: WIDTH,
                height: HEIGHT,
            },
        }
    }

    #[test]
    fn one_walk_finds_what_two_do() {
        let six = Layout::XTrans(crate::raw::frame::EXAMPLE_SIX_BY_SIX);
        let model = NoiseModel {
            slope: 1e-4,
            floor: 1e-6,
        };
        let noise = SensorNoise {
            channels: [model; 3],
        };
        for layout in [Layout::Bayer([[1, 0], [2, 1]]), six] {
            for (lamp, noise) in [(WHITE, Some(noise)), (WHITE, None), (9000, Some(noise))] {
                let mosaic = mosaic(layout, lamp);
                let step = SensorStep {
                    black: mosaic.black.clone(),
                    white: mosaic.white,
                    neutral: [0.5, 1.0, 0.75],
                    noise,
                };
                let highlights = HighlightStep {
                    full: step.full(),
                    white: 1.0,
                };
                let one = Threads::one();
                let alone = Sensor::new(&step, &mosaic, &one);
                let rows =
                    |sensor: &Sensor<'_>| sensor.replacements().map(|all| all.rows().to_vec());
                // Not all: the ground's own texture spares some.
                let found = rows(&alone).map(|rows| rows.concat().len());
                assert_eq!(
                    found.map(|found| found > HOT.len() / 2),
                    noise.map(|_| true)
                );
                let around = (lamp == WHITE).then(|| Surroundings::of(&highlights, &alone, &one));
                for threads in [one, Threads::new(3)] {
                    let (sensor, found) = walk(&step, Some(&highlights), &mosaic, &threads);
                    assert_eq!(rows(&sensor), rows(&alone));
                    assert_eq!(found.is_some(), around.is_some());
                    let error = around
                        .as_ref()
                        .zip(found)
                        .map(|(one, other)| one.error(&other));
                    // The rounding of sums, as the cells have it, and of what is filled in from them.
                    assert!(error.is_none_or(|error| error < 1e-4), "{error:?}");
                    assert!(walk(&step, None, &mosaic, &threads).1.is_none());
                }
            }
        }
    }
}
