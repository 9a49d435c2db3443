//! The night's clock: until when to work, whether the machine slept, and whether somebody set its clock.

use jiff::civil::Time;
use jiff::{Timestamp, ToSpan, ZonedDateTime};
use std::time::Duration;

/// The next time that a clock on the wall shows this.
#[must_use]
pub fn next(time: Time, now: &ZonedDateTime) -> Option<Timestamp> {
    let on = |date: jiff::civil::Date| {
        // A time that a change of the clocks leaves out comes an hour later, as on the wall.
        date.to_datetime(time)
            .to_zoned_datetime(now.time_zone().clone())
            .ok()
    };
    let today = on(now.date())?;
    let next = if today > *now {
        today
    } else {
        on(now.date().checked_add(1.day()).ok()?)?
    };
    Some(next.timestamp())
}

/// Three clocks, each read as seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clocks {
    /// Runs while the machine is awake.
    pub awake: f64,
    /// Runs while it is on, asleep too.
    pub on: f64,
    /// On the wall.
    pub wall: f64,
}

impl Clocks {
    /// As they are now.
    #[must_use]
    pub fn now() -> Self {
        let wall = Timestamp::now().as_duration().as_secs_f64();
        #[cfg(target_os = "linux")]
        {
            use rustix::time::{ClockId, clock_gettime};
            let seconds =
                |id| Duration::try_from(clock_gettime(id)).map_or(0.0, |time| time.as_secs_f64());
            Self {
                awake: seconds(ClockId::Monotonic),
                on: seconds(ClockId::Boottime),
                wall,
            }
        }
        #[cfg(not(target_os = "linux"))]
        {
            // One clock for both: a sleep is then not told.
            static BEGUN: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
            let awake = BEGUN
                .get_or_init(std::time::Instant::now)
                .elapsed()
                .as_secs_f64();
            Self {
                awake,
                on: awake,
                wall,
            }
        }
    }
}

/// What the clocks tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ClockEvent {
    /// The machine slept for so many seconds.
    Slept(f64),
    /// Its clock was set by so many seconds, forward positive.
    Set(f64),
}

/// Shorter sleeps are not told. Seconds.
const LEAST_SLEEP: f64 = 5.0;
/// Smaller corrections of the clock are not told: a time server makes them. Seconds.
const LEAST_SET: f64 = 60.0;

/// Watches the clocks.
#[derive(Clone, Copy, Debug)]
pub struct ClockWatch(Clocks);

impl ClockWatch {
    /// Watches from now on.
    #[must_use]
    pub fn from(now: Clocks) -> Self {
        Self(now)
    }

    /// What the clocks tell since the last look.
    pub fn look(&mut self, now: Clocks) -> Vec<ClockEvent> {
        let on = now.on - self.0.on;
        let slept = on - (now.awake - self.0.awake);
        let set = (now.wall - self.0.wall) - on;
        self.0 = now;
        let mut events = Vec::new();
        if slept >= LEAST_SLEEP {
            events.push(ClockEvent::Slept(slept));
        }
        if set.abs() >= LEAST_SET {
            events.push(ClockEvent::Set(set));
        }
        events
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> ZonedDateTime {
        text.parse().expect("a time")
    }

    #[test]
    fn the_hour_comes_tonight_or_tomorrow() {
        let seven = Time::constant(7, 0, 0, 0);
        for (now, then) in [
            (
                "2026-05-09T23:30[Europe/Berlin]",
                "2026-05-10T07:00[Europe/Berlin]",
            ),
            (
                "2026-05-10T06:59[Europe/Berlin]",
                "2026-05-10T07:00[Europe/Berlin]",
            ),
            (
                "2026-05-10T07:00[Europe/Berlin]",
                "2026-05-11T07:00[Europe/Berlin]",
            ),
            // The night in which clocks go forward has an hour less (tz database, Europe/Berlin, 29 March 2026).
            (
                "2026-03-29T00:30[Europe/Berlin]",
                "2026-03-29T07:00[Europe/Berlin]",
            ),
        ] {
            assert_eq!(next(seven, &at(now)), Some(at(then).timestamp()), "{now}");
        }
        let spring = at("2026-03-29T00:30[Europe/Berlin]");
        let hours =
            next(seven, &spring).expect("a time").as_second() - spring.timestamp().as_second();
        assert_eq!(hours, 5 * 3600 + 1800);
    }

    #[test]
    fn sleep_and_a_clock_that_is_set_are_told_apart() {
        let begun = Clocks {
            awake: 100.0,
            on: 100.0,
            wall: 1e9,
        };
        let mut watch = ClockWatch::from(begun);
        let after = |awake: f64, asleep: f64, set: f64| Clocks {
            awake: begun.awake + awake,
            on: begun.on + awake + asleep,
            wall: begun.wall + awake + asleep + set,
        };
        assert_eq!(watch.look(after(10.0, 0.0, 0.2)), []);
        assert_eq!(
            watch.look(after(12.0, 3600.0, 0.2)),
            [ClockEvent::Slept(3600.0)]
        );
        let set = watch.look(after(13.0, 3600.0, -7200.0));
        // A wall clock's seconds have seven digits after the point left in a double.
        assert!(
            matches!(set[..], [ClockEvent::Set(by)] if (by + 7200.2).abs() < 1e-6),
            "{set:?}"
        );
        let now = Clocks::now();
        assert!(
            now.awake > 0.0 && now.on >= now.awake && now.wall > 1.7e9,
            "{now:?}"
        );
    }
}
