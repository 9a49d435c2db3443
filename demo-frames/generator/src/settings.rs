//! When and with what settings an exposure is made.

/// A date and time of the body's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// Year, month, day.
    pub date: [u16; 3],
    /// Thousandths of a second since midnight; may pass midnight into the next day of the same month.
    pub milliseconds: u64,
    /// Offset from UTC in minutes.
    pub zone_minutes: i32,
}

impl Moment {
    /// "2026:05:09 21:14:03", as EXIF writes it.
    #[must_use]
    pub fn exif(&self) -> String {
        let seconds = self.milliseconds / 1000;
        let [year, month, day] = self.date;
        format!(
            "{year:04}:{month:02}:{:02} {:02}:{:02}:{:02}",
            u64::from(day) + seconds / 86_400,
            seconds / 3600 % 24,
            seconds / 60 % 60,
            seconds % 60
        )
    }

    /// Hundredths of a second, two digits.
    #[must_use]
    pub fn sub_seconds(&self) -> String {
        format!("{:02}", self.milliseconds % 1000 / 10)
    }

    /// "+02:00".
    #[must_use]
    pub fn zone(&self) -> String {
        let minutes = self.zone_minutes.unsigned_abs();
        let sign = if self.zone_minutes < 0 { '-' } else { '+' };
        format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
    }
}

/// Settings of an exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exposure {
    /// Exposure time as a fraction: numerator and denominator in seconds.
    pub time: (u32, u32),
    /// f-number times ten.
    pub f_number_tenths: u32,
    /// ISO speed.
    pub iso: u32,
}

impl Exposure {
    /// Exposure time in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        f64::from(self.time.0) / f64::from(self.time.1)
    }

    /// f-number.
    #[must_use]
    pub fn f_number(&self) -> f64 {
        f64::from(self.f_number_tenths) / 10.0
    }

    /// Relative exposure t S / N².
    #[must_use]
    pub fn relative(&self) -> f64 {
        self.seconds() * f64::from(self.iso) / (self.f_number() * self.f_number())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_words_follow_exif() {
        let moment = Moment {
            date: [2026, 5, 9],
            milliseconds: 86_400_000 + 3_723_456,
            zone_minutes: -90,
        };
        assert_eq!(moment.exif(), "2026:05:10 01:02:03");
        assert_eq!(moment.sub_seconds(), "45");
        assert_eq!(moment.zone(), "-01:30");
    }
}
