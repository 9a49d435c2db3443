//! A body's own corrections by hue and saturation, on rows of linear ROMM RGB.

use crate::base::kernel::row_kernel;
use crate::colour::camera::HueMap;

row_kernel! {
    /// Each pixel as [`HueMap::apply`] has it.
    fn correct_hues(map: &HueMap, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        map.apply_row(red, green, blue);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        let values: Vec<f32> = (0..36 * 5)
            .flat_map(|at| [(at % 13) as f32 - 6.0, 0.9 + 0.01 * (at % 17) as f32, 1.0])
            .collect();
        let map = HueMap::new(36, 5, &values).expect("a map");
        hold_together(&correct_hues::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            let one_by_one: Vec<[f32; 3]> = (0..length)
                .map(|x| map.apply([red[x], green[x], blue[x]]))
                .collect();
            kernel(&map, &mut red, &mut green, &mut blue);
            for (x, one) in one_by_one.iter().enumerate() {
                assert_eq!([red[x], green[x], blue[x]], *one, "{x} of {length}");
            }
            [red, green, blue].concat()
        });
    }
}
