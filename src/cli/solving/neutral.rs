//! What is neutral in a frame, as it is typed: `X,Y`, `X,Y,R` or `auto`.

use crate::light::patch::Patch;

/// What is neutral in the reference frame, as typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum NeutralWord {
    /// A patch that a person points at.
    Patch(Patch),
    /// What is found.
    Auto,
}

/// Reads a patch, or the word for what is found.
pub(super) fn parse(text: &str) -> Result<NeutralWord, String> {
    match text.trim() {
        "auto" => Ok(NeutralWord::Auto),
        text => parse_patch(text).map(NeutralWord::Patch),
    }
}

/// Reads a patch.
pub(super) fn parse_patch(text: &str) -> Result<Patch, String> {
    let numbers: Result<Vec<f64>, _> = text.split(',').map(|part| part.trim().parse()).collect();
    let numbers = numbers
        .map_err(|_| "give X,Y or X,Y,R as decimal fractions, such as 0.42,0.61".to_owned())?;
    match numbers[..] {
        [x, y] => checked(x, y, Patch::RADIUS),
        [x, y, radius] => checked(x, y, radius),
        _ => Err("give two numbers, X,Y, or three, X,Y,R".to_owned()),
    }
}

/// A patch whose numbers are in range.
pub(super) fn checked(x: f64, y: f64, radius: f64) -> Result<Patch, String> {
    for (name, value, start, side) in [("X", x, "left", "right"), ("Y", y, "top", "bottom")] {
        if !(0.0..=1.0).contains(&value) {
            return Err(format!(
                "{name} is {value}, and goes from 0 ({start}) to 1 ({side}): a fraction of the upright picture, not pixels"
            ));
        }
    }
    if !(radius > 0.0 && radius <= Patch::LARGEST_RADIUS) {
        return Err(format!(
            "R is {radius}, and is above 0 and at most {}: a fraction of the picture's width",
            Patch::LARGEST_RADIUS
        ));
    }
    Ok(Patch { x, y, radius })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patches_are_read_with_and_without_a_radius() {
        let patch = parse_patch("0.25, 1").expect("a patch");
        assert_eq!((patch.x, patch.y, patch.radius), (0.25, 1.0, 0.006));
        assert_eq!(parse_patch("0,0,0.25").expect("a patch").radius, 0.25);
    }

    #[test]
    fn what_is_no_patch_is_refused_with_the_range() {
        let refused = |text: &str, with: &str| {
            let error = parse(text).expect_err(text);
            assert!(error.contains(with), "{text}: {error}");
        };
        refused("1.2,0.5", "from 0 (left) to 1 (right)");
        refused("0.5,-0.1", "from 0 (top) to 1 (bottom)");
        refused("NaN,0.5", "from 0 (left)");
        refused("0.5,inf", "from 0 (top)");
        refused("0.5,0.5,0", "above 0 and at most 0.25");
        refused("0.5,0.5,NaN", "above 0");
        refused("0.5", "two numbers");
        refused("0.5,0.5,0.1,0.1", "two numbers");
        refused("left,top", "decimal fractions");
        assert_eq!(parse("auto"), Ok(NeutralWord::Auto));
        refused("", "decimal fractions");
    }
}
