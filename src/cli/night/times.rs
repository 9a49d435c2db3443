//! Spans, moments and sizes in words.

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// `8 s`, `41 min`, `3 h 05 min`: as exact as an estimate deserves.
pub(super) fn span(seconds: f64) -> String {
    let seconds = seconds.max(0.0).round() + 0.0;
    let minutes = (seconds / 60.0).round();
    if seconds < 100.0 {
        format!("{seconds:.0} s")
    } else if minutes < 100.0 {
        format!("{minutes:.0} min")
    } else {
        let hours = (minutes / 60.0).floor();
        format!("{hours:.0} h {:02.0} min", minutes - 60.0 * hours)
    }
}

/// A moment of this machine's clock in its own zone; `pattern` as in `strftime`.
pub(super) fn moment(milliseconds: i64, pattern: &str) -> String {
    match Timestamp::from_millisecond(milliseconds) {
        Ok(time) => time
            .to_zoned_datetime(TimeZone::system())
            .strftime(pattern)
            .to_string(),
        Err(_) => "an unknown time".to_owned(),
    }
}

/// When something that takes so many seconds from now is over: hour and minute.
pub(super) fn hour_after(seconds: f64) -> String {
    let now = Timestamp::now().as_millisecond();
    #[expect(
        clippy::cast_possible_truncation,
        reason = "an estimate of at most some years"
    )]
    let later = now.saturating_add((1000.0 * seconds.clamp(0.0, 1e8)) as i64);
    moment(later, "%H:%M")
}

/// `640 KB`, `3.4 MB`, `12.0 GB`.
pub(super) fn size(bytes: u64) -> String {
    let bytes = bytes as f64;
    if bytes < 1e6 {
        format!("{:.0} KB", bytes / 1e3)
    } else if bytes < 1e9 {
        format!("{:.1} MB", bytes / 1e6)
    } else {
        format!("{:.1} GB", bytes / 1e9)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_as_exact_as_they_deserve() {
        for (seconds, words) in [
            (-3.0, "0 s"),
            (8.4, "8 s"),
            (99.6, "2 min"),
            (2460.0, "41 min"),
            (11_100.0, "3 h 05 min"),
            (7199.0, "2 h 00 min"),
        ] {
            assert_eq!(span(seconds), words);
        }
    }

    #[test]
    fn sizes_have_the_units_of_drives() {
        assert_eq!(size(640_000), "640 KB");
        assert_eq!(size(3_440_000), "3.4 MB");
        assert_eq!(size(12_040_000_000), "12.0 GB");
    }
}
