//! Numbered circles on a finished picture, to show a person which places are meant.
//!
//! Each line is drawn twice, dark and wide below light and narrow, so that it stands out on a white shirt as on a black curtain.
//! Numbers are figures of seven strokes, as on a counter: no font is needed for them.

use crate::render::Rendered;

/// A place to be marked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// Centre, fractions of the picture's width and height from the left and top, 0 to 1.
    pub centre: (f64, f64),
    /// Radius, fraction of the picture's width.
    pub radius: f64,
}

/// Smallest radius in pixels that a circle is drawn with, however small the place.
const LEAST_RADIUS: f64 = 6.0;
/// Half widths in pixels of the light line and of the dark one below it, and their levels.
const LINES: [(f64, u8); 2] = [(2.4, 0), (1.0, 255)];
/// Width and half height of a figure in pixels, and the space between figures and beside the circle.
const FIGURE: (f64, f64) = (9.0, 8.0);
const SPACE: f64 = 6.0;

/// Which of the seven strokes each figure has: top, upper left, upper right, middle, lower left, lower right, bottom.
const STROKES: [[bool; 7]; 10] = {
    const T: bool = true;
    const F: bool = false;
    [
        [T, T, T, F, T, T, T],
        [F, F, T, F, F, T, F],
        [T, F, T, T, T, F, T],
        [T, F, T, T, F, T, T],
        [F, T, T, T, F, T, F],
        [T, T, F, T, F, T, T],
        [T, T, F, T, T, T, T],
        [T, F, T, F, F, T, F],
        [T, T, T, T, T, T, T],
        [T, T, T, T, F, T, T],
    ]
};

/// A straight line or a circle, pixels.
enum Line {
    Straight((f64, f64), (f64, f64)),
    Circle((f64, f64), f64),
}

/// Draws a circle around each place and its number, from 1, beside it.
pub fn draw_marks(picture: &mut Rendered, marks: &[Mark]) {
    let (width, height) = (picture.width as f64, picture.height as f64);
    let lines: Vec<Line> = marks
        .iter()
        .enumerate()
        .flat_map(|(at, mark)| {
            let centre = (mark.centre.0 * width, mark.centre.1 * height);
            let radius = (mark.radius * width).max(LEAST_RADIUS);
            let number = (at + 1).to_string();
            let long = number.len() as f64 * (FIGURE.0 + SPACE);
            // To the right of the circle, or to its left where the picture ends.
            let right = centre.0 + radius + SPACE;
            let left = if right + long <= width {
                right
            } else {
                centre.0 - radius - long
            };
            let middle = centre
                .1
                .min(height - FIGURE.1 - SPACE)
                .max(FIGURE.1 + SPACE);
            let figures = number.into_bytes().into_iter().enumerate();
            let mut lines: Vec<Line> = figures
                .flat_map(|(place, digit)| {
                    let left = left + place as f64 * (FIGURE.0 + SPACE);
                    figure(usize::from(digit - b'0'), (left, middle))
                })
                .collect();
            lines.push(Line::Circle(centre, radius));
            lines
        })
        .collect();
    for (half_width, level) in LINES {
        for line in &lines {
            draw(picture, line, half_width, level);
        }
    }
}

/// The strokes of a figure whose left edge and middle are given.
fn figure(digit: usize, (left, middle): (f64, f64)) -> Vec<Line> {
    let (right, top, bottom) = (left + FIGURE.0, middle - FIGURE.1, middle + FIGURE.1);
    let strokes = [
        ((left, top), (right, top)),
        ((left, top), (left, middle)),
        ((right, top), (right, middle)),
        ((left, middle), (right, middle)),
        ((left, middle), (left, bottom)),
        ((right, middle), (right, bottom)),
        ((left, bottom), (right, bottom)),
    ];
    strokes
        .into_iter()
        .zip(STROKES[digit % 10])
        .filter(|(_, drawn)| *drawn)
        .map(|((from, to), _)| Line::Straight(from, to))
        .collect()
}

impl Line {
    /// Left, top, right and bottom.
    fn bounds(&self) -> (f64, f64, f64, f64) {
        match *self {
            Self::Straight(from, to) => (
                from.0.min(to.0),
                from.1.min(to.1),
                from.0.max(to.0),
                from.1.max(to.1),
            ),
            Self::Circle((x, y), radius) => (x - radius, y - radius, x + radius, y + radius),
        }
    }

    fn distance(&self, x: f64, y: f64) -> f64 {
        match *self {
            Self::Straight(from, to) => {
                let (dx, dy) = (to.0 - from.0, to.1 - from.1);
                let along = ((x - from.0) * dx + (y - from.1) * dy) / (dx * dx + dy * dy);
                let along = along.clamp(0.0, 1.0);
                (x - from.0 - along * dx).hypot(y - from.1 - along * dy)
            }
            Self::Circle((cx, cy), radius) => ((x - cx).hypot(y - cy) - radius).abs(),
        }
    }
}

/// Draws one line with soft edges, as far as it lies in the picture.
fn draw(picture: &mut Rendered, line: &Line, half_width: f64, level: u8) {
    let (left, top, right, bottom) = line.bounds();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the picture"
    )]
    let range = |from: f64, to: f64, length: usize| {
        let end = ((to + half_width + 2.0).max(0.0) as usize).min(length);
        ((from - half_width - 1.0).max(0.0) as usize).min(end)..end
    };
    let columns = range(left, right, picture.width);
    for y in range(top, bottom, picture.height) {
        for x in columns.clone() {
            let distance = line.distance(x as f64 + 0.5, y as f64 + 0.5);
            let cover = (half_width + 0.5 - distance).clamp(0.0, 1.0);
            let at = (y * picture.width + x) * 3;
            for value in &mut picture.rgb[at..at + 3] {
                let mixed = f64::from(*value) + cover * (f64::from(level) - f64::from(*value));
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "between two bytes"
                )]
                let mixed = mixed.round() as u8;
                *value = mixed;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::output_space::OutputSpace;

    fn grey(width: usize, height: usize) -> Rendered {
        Rendered {
            width,
            height,
            space: OutputSpace::default(),
            rgb: vec![128; width * height * 3],
        }
    }

    #[test]
    fn a_circle_stands_around_its_place_and_its_middle_stays() {
        let mut picture = grey(200, 100);
        let mark = Mark {
            centre: (0.5, 0.5),
            radius: 0.1,
        };
        draw_marks(&mut picture, &[mark]);
        let at = |x: usize, y: usize| picture.rgb[(y * 200 + x) * 3];
        assert_eq!(at(100, 50), 128, "the place itself");
        assert_eq!(at(100, 30), 255, "the light line above it");
        assert!(at(100, 28) < 64, "the dark line outside");
        assert!(at(100, 31) < 64, "the dark line inside");
        assert_eq!(at(5, 5), 128, "far away");
        assert!((122..150).any(|x| at(x, 50) == 255), "its number");
    }

    #[test]
    fn marks_at_and_beyond_every_edge_of_small_pictures_stay_inside() {
        for (width, height) in [(0, 0), (1, 1), (2, 3), (40, 30)] {
            let mut picture = grey(width, height);
            let marks: Vec<Mark> = [(0.0, 0.0), (1.0, 1.0), (0.0, 1.0), (1.5, -0.5)]
                .into_iter()
                .map(|centre| Mark {
                    centre,
                    radius: 0.25,
                })
                .collect();
            draw_marks(&mut picture, &marks);
            assert_eq!(picture.rgb.len(), width * height * 3);
        }
    }
}
