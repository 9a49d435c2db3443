//! Whether the machine runs on its battery, and how full that is.

use starship_battery::{Manager, State};
use std::time::{Duration, Instant};

/// What a battery says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Power {
    /// Charge of all batteries together, 0 to 1.
    pub charge: f64,
    /// Whether they are being emptied.
    pub is_on_battery: bool,
}

/// Whoever knows about the battery.
pub trait PowerSource {
    /// What the battery says; `None` where there is none, or it says nothing.
    fn look(&mut self) -> Option<Power>;
}

/// How long an answer serves: a charge changes slowly, and asking wakes hardware.
const SERVES: Duration = Duration::from_secs(10);

/// The batteries of this machine.
#[derive(Debug, Default)]
pub struct Batteries {
    manager: Option<Manager>,
    last: Option<(Instant, Option<Power>)>,
}

impl Batteries {
    /// Of this machine. A system that tells nothing of them has none.
    #[must_use]
    pub fn of_this_machine() -> Self {
        Self {
            manager: Manager::new().ok(),
            last: None,
        }
    }

    fn ask(&self) -> Option<Power> {
        let batteries = self.manager.as_ref()?.batteries().ok()?;
        let (mut energy, mut full, mut is_on_battery) = (0.0, 0.0, false);
        for battery in batteries.flatten() {
            energy += f64::from(battery.energy().value);
            full += f64::from(battery.energy_full().value);
            is_on_battery |= matches!(battery.state(), State::Discharging | State::Empty);
        }
        (full > 0.0).then(|| Power {
            charge: (energy / full).clamp(0.0, 1.0),
            is_on_battery,
        })
    }
}

impl PowerSource for Batteries {
    fn look(&mut self) -> Option<Power> {
        match self.last {
            Some((asked, power)) if asked.elapsed() < SERVES => power,
            _ => {
                let power = self.ask();
                self.last = Some((Instant::now(), power));
                power
            }
        }
    }
}

/// A run that goes on the moment the charge is back at the limit would stop again a minute later.
const BACK_ABOVE: f64 = 0.05;

/// Waits for power below a charge that a person chose.
#[derive(Clone, Copy, Debug)]
pub struct PowerRule {
    /// Charge, 0 to 1, below which nothing is done on battery.
    pub least_charge: f64,
    /// Whether it waits now.
    pub is_waiting: bool,
}

impl PowerRule {
    /// Takes in what the battery says; whether to wait from now on.
    pub fn take(&mut self, power: Option<Power>) -> bool {
        let needed = match self.is_waiting {
            true => (self.least_charge + BACK_ABOVE).min(1.0),
            false => self.least_charge,
        };
        self.is_waiting = power.is_some_and(|power| power.is_on_battery && power.charge < needed);
        self.is_waiting
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_waits_below_the_charge_and_goes_on_with_a_margin_or_on_mains() {
        let mut rule = PowerRule {
            least_charge: 0.3,
            is_waiting: false,
        };
        let mut take = |charge: f64, is_on_battery: bool| {
            rule.take(Some(Power {
                charge,
                is_on_battery,
            }))
        };
        assert!(!take(0.31, true));
        assert!(take(0.29, true));
        assert!(take(0.31, true), "not before the margin");
        assert!(!take(0.36, true));
        assert!(take(0.1, true));
        assert!(!take(0.1, false), "on mains");
        assert!(!rule.take(None), "without a battery");
    }
}
