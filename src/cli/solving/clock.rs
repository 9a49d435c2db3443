//! A body's clock as it is typed: `BODY=SECONDS`.

use crate::show::solving::ClockWish;

/// Longest that a clock may be off: a wrong year, in seconds.
const MOST_SECONDS: f64 = 4.0e8;

/// Reads a clock. The last equals sign counts, so that a body's name may hold one.
pub(super) fn parse(text: &str) -> Result<ClockWish, String> {
    let (body, seconds) = text
        .rsplit_once('=')
        .ok_or("give BODY=SECONDS, such as 2077=-3.5")?;
    let body = body.trim();
    if body.is_empty() {
        return Err(
            "no body before the =; give a model or a serial number, or how it begins".to_owned(),
        );
    }
    let ahead_seconds: f64 = seconds.trim().parse().map_err(|_| {
        format!(
            "\"{}\" are no seconds; give a number, such as -3.5",
            seconds.trim()
        )
    })?;
    // NaN is in no range.
    if !(-MOST_SECONDS..=MOST_SECONDS).contains(&ahead_seconds) {
        return Err(format!(
            "{ahead_seconds} seconds are out of range, -4e8 to 4e8"
        ));
    }
    Ok(ClockWish {
        body: body.to_owned(),
        ahead_seconds,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_are_read_and_what_is_none_is_refused() {
        let clock = parse("Halm One = -3.5").expect("a clock");
        assert_eq!(
            (clock.body.as_str(), clock.ahead_seconds),
            ("Halm One", -3.5)
        );
        assert_eq!(parse("a=b=2").expect("a clock").body, "a=b");
        for (text, words) in [
            ("2077", "BODY=SECONDS"),
            ("=3", "no body"),
            ("2077=soon", "no seconds"),
            ("2077=NaN", "out of range"),
            ("2077=1e12", "out of range"),
        ] {
            assert!(parse(text).expect_err(text).contains(words), "{text}");
        }
    }
}
