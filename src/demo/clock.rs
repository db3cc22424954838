//! A clock for played jobs: it runs by itself from the past and never passes the present.

use std::cell::Cell;

use chrono::{DateTime, FixedOffset, TimeDelta};

use crate::ids::{BootClock, Moment, Sha256};
use crate::ports::Clock;

/// A simulated clock. Each reading moves it on by some seconds, so that played entries lie apart.
#[derive(Debug)]
pub struct SimulatedClock {
    now: Cell<DateTime<FixedOffset>>,
    end: DateTime<FixedOffset>,
    /// When the machine that it pretends to run on was switched on.
    booted: DateTime<FixedOffset>,
    n_read: Cell<i64>,
}

impl SimulatedClock {
    /// A clock that starts `ahead` before `end` and never passes it.
    pub fn ending(end: Moment, ahead: TimeDelta) -> Self {
        let end = end.time();
        let booted = end - ahead - TimeDelta::hours(1);
        Self { now: Cell::new(end - ahead), end, booted, n_read: Cell::new(0) }
    }

    /// Moves the clock to its end.
    pub fn finish(&self) {
        self.now.set(self.end);
    }
}

impl Clock for SimulatedClock {
    fn now(&self) -> Moment {
        let n = self.n_read.get();
        self.n_read.set(n.wrapping_add(1));
        // Unequal steps look like work; near the end they shrink so that the end is not passed.
        let step = TimeDelta::seconds(15 + n.wrapping_mul(7).rem_euclid(51));
        let left = self.end - self.now.get();
        let step = step.min(left / 64);
        self.now.set(self.now.get() + step);
        Moment::new(self.now.get())
    }

    fn boot(&self) -> Option<BootClock> {
        let up = (self.now.get() - self.booted).num_seconds();
        let seconds = u64::try_from(up).ok()?;
        Some(BootClock { boot: Sha256::of(b"a played job"), seconds })
    }

    fn pass(&self, seconds: u64) {
        let time = TimeDelta::seconds(i64::try_from(seconds).unwrap_or(0));
        self.now.set((self.now.get() + time).min(self.end));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_never_goes_back_and_never_passes_its_end() {
        let end = Moment::parse("2026-11-25T10:00:00.000Z").unwrap();
        let clock = SimulatedClock::ending(end, TimeDelta::hours(1));
        let mut last = clock.now();
        for _ in 0..5_000 {
            let now = clock.now();
            assert!(now >= last && now <= end);
            last = now;
        }
        clock.finish();
        assert_eq!(clock.now(), end);
    }
}
