//! Reasons for which nothing is begun: a person wants the run to stop, the hour has come, the battery is low.

use super::NightJob;
use super::power::{PowerRule, PowerSource};
use crate::base::progress::StopWish;
use jiff::Timestamp;
use std::cell::{Cell, RefCell};

/// Why nothing is begun: looked at before each claim.
pub(super) struct Resting<'a> {
    stop: StopWish,
    until: Option<Timestamp>,
    power: RefCell<(Box<dyn PowerSource + 'a>, Option<PowerRule>)>,
    /// The last charge that was seen.
    pub(super) charge: Cell<f64>,
}

impl<'a> Resting<'a> {
    pub(super) fn of(job: &NightJob, power: Box<dyn PowerSource + 'a>, stop: StopWish) -> Self {
        let rule = job.least_charge.map(|least_charge| PowerRule {
            least_charge,
            is_waiting: false,
        });
        Self {
            stop,
            until: job.until,
            power: RefCell::new((power, rule)),
            charge: Cell::new(1.0),
        }
    }

    /// Whether the hour has come. By the clock on the wall, as a person means it.
    pub(super) fn is_late(&self) -> bool {
        self.until.is_some_and(|until| Timestamp::now() >= until)
    }

    /// Whether the battery is too low.
    pub(super) fn is_low(&self) -> bool {
        let (power, rule) = &mut *self.power.borrow_mut();
        let Some(rule) = rule else { return false };
        let seen = power.look();
        if let Some(seen) = seen {
            self.charge.set(seen.charge);
        }
        rule.take(seen)
    }

    pub(super) fn is_resting(&self) -> bool {
        self.stop.is_raised() || self.is_late() || self.is_low()
    }
}
