//! Numbers with their unit, as they stand in a look file: `"+0.3 stops"`, `"2048 px"`.
//!
//! A number that has a unit is written as text with the unit, so that nobody has to remember whether an exposure of 2 is
//! a factor or two stops. Numbers without a unit are bare. Each mix-up is refused with the unit found and the unit wanted.

use std::fmt;

/// The unit of a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A bare number.
    None,
    /// Light on a base-two logarithmic scale.
    Stops,
    /// Pixels of the delivered picture.
    Pixels,
    /// An angle.
    Degrees,
    /// Pixels of the delivered picture on an inch of screen or paper.
    PixelsPerInch,
}

impl Unit {
    /// As it is written after a number; empty for a bare number.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "",
            Self::Stops => "stops",
            Self::Pixels => "px",
            Self::Degrees => "degrees",
            Self::PixelsPerInch => "px/inch",
        }
    }

    /// The number with its unit, so that reading gives the same number again.
    #[must_use]
    pub fn write(self, value: f64) -> String {
        match self {
            Self::None => format!("{value:?}"),
            Self::Stops => format!("{value:+?} stops"),
            Self::Pixels => format!("{value} px"),
            Self::Degrees => format!("{value} degrees"),
            Self::PixelsPerInch => format!("{value} px/inch"),
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::None => "a bare number",
            Self::Stops => "stops",
            Self::Pixels => "px",
            Self::Degrees => "degrees",
            Self::PixelsPerInch => "px/inch",
        })
    }
}

/// Why a written quantity is not the number wanted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// The unit is another one, or is missing, or should not be there.
    #[error("found {found}, wanted {wanted}")]
    Unit {
        /// What stands in the file.
        found: String,
        /// What should stand there, with an example.
        wanted: String,
    },
    /// No number at all.
    #[error("\"{0}\" holds no number")]
    NoNumber(String),
}

/// Reads `"<number> <unit>"`; the blank may be missing.
///
/// # Errors
/// When there is no number, or the unit is not `unit`.
pub fn parse(text: &str, unit: Unit) -> Result<f64, QuantityError> {
    let trimmed = text.trim();
    // "e" and "E" belong to the number only where a digit or sign follows ("1e-3"); a unit never starts so.
    let end = trimmed
        .char_indices()
        .find(|&(at, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && trimmed[at + 1..]
                    .starts_with(|next: char| next.is_ascii_digit() || matches!(next, '+' | '-'));
            !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-') || exponent)
        })
        .map_or(trimmed.len(), |(at, _)| at);
    let (number, found) = (&trimmed[..end], trimmed[end..].trim());
    let value: f64 = number
        .parse()
        .map_err(|_| QuantityError::NoNumber(text.to_owned()))?;
    if found == unit.word() || (unit == Unit::Stops && found == "stop") {
        return Ok(value);
    }
    Err(QuantityError::Unit {
        found: if found.is_empty() {
            "no unit".to_owned()
        } else {
            format!("the unit \"{found}\"")
        },
        wanted: wanted(unit, value),
    })
}

/// What a field of this unit should look like, with `value` as the example.
#[must_use]
pub fn wanted(unit: Unit, value: f64) -> String {
    match unit {
        Unit::None => format!("a bare number, such as {value:?}"),
        _ => format!("{unit}, written as \"{}\"", unit.write(value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn written_numbers_read_back_to_the_bit() {
        for value in [0.0, 0.1 + 0.2, -1.0 / 3.0, 1e-7, 2048.0, 6.02e23] {
            for unit in [
                Unit::Stops,
                Unit::Pixels,
                Unit::Degrees,
                Unit::PixelsPerInch,
            ] {
                assert_eq!(parse(&unit.write(value), unit), Ok(value), "{value} {unit}");
            }
        }
    }

    #[test]
    fn a_wrong_unit_is_named_beside_the_wanted_one() {
        let error = parse("0.3 EV", Unit::Stops).expect_err("not stops");
        assert_eq!(
            error.to_string(),
            "found the unit \"EV\", wanted stops, written as \"+0.3 stops\""
        );
        assert!(matches!(
            parse("2048", Unit::Pixels),
            Err(QuantityError::Unit { found, .. }) if found == "no unit"
        ));
        assert!(matches!(
            parse("much", Unit::Stops),
            Err(QuantityError::NoNumber(_))
        ));
        assert!(parse("", Unit::Stops).is_err());
    }

    #[test]
    fn blanks_and_exponents() {
        assert_eq!(parse(" +1e-1stops ", Unit::Stops), Ok(0.1));
        assert_eq!(parse("1 stop", Unit::Stops), Ok(1.0));
    }
}
