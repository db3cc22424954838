//! Clocks of the demo: one for played jobs, which runs by itself from the past and never passes the
//! present, and one for trying a job out by hand, which skips the waits.

use std::cell::Cell;
use std::rc::Rc;

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
    stands: Cell<bool>,
}

impl SimulatedClock {
    /// A clock that starts `ahead` before `end` and never passes it.
    pub fn ending(end: Moment, ahead: TimeDelta) -> Self {
        let end = end.time();
        let booted = end - ahead - TimeDelta::hours(1);
        let (now, stands) = (Cell::new(end - ahead), Cell::new(false));
        Self { now, end, booted, n_read: Cell::new(0), stands }
    }

    /// Moves the clock to its end.
    pub fn finish(&self) {
        self.now.set(self.end);
    }
}

impl Clock for SimulatedClock {
    fn now(&self) -> Moment {
        if self.stands.get() {
            return Moment::new(self.now.get());
        }
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

    fn stand(&self, at: Option<Moment>) {
        self.stands.set(at.is_some());
        let now = self.now.get();
        self.now.set(at.map_or(now, |at| at.time().min(self.end).max(now)));
    }
}

/// A clock that runs as a real one does, some time apart from it, and skips every wait that begins.
/// For walking a demo's job by hand: the oil settles while one looks at the screen.
#[derive(Debug)]
pub struct SkippingClock {
    real: Rc<dyn Clock>,
    ahead: Cell<TimeDelta>,
}

impl SkippingClock {
    /// A clock that shows `start` where `real` shows the present.
    pub fn starting(real: Rc<dyn Clock>, start: Moment) -> Self {
        let ahead = start.time() - real.now().time();
        Self { real, ahead: Cell::new(ahead) }
    }
}

impl Clock for SkippingClock {
    fn now(&self) -> Moment {
        Moment::new(self.real.now().time() + self.ahead.get())
    }

    /// Seconds since an hour that stays the same, so that the wait of a job that is left and gone on
    /// with is still measured by both clocks.
    fn boot(&self) -> Option<BootClock> {
        let seconds = u64::try_from(self.now().time().timestamp()).ok()?;
        Some(BootClock { boot: Sha256::of(b"a clock that skips waits"), seconds })
    }

    fn wait_began(&self, seconds: u64) {
        let time = TimeDelta::seconds(i64::try_from(seconds).unwrap_or(0));
        self.ahead.set(self.ahead.get() + time);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_is_over_as_soon_as_it_began() {
        let end = Moment::parse("2026-11-25T10:00:00.000Z").unwrap();
        let real: Rc<dyn Clock> = Rc::new(SimulatedClock::ending(end, TimeDelta::zero()));
        let start = Moment::parse("2026-11-23T08:00:00.000+01:00").unwrap();
        let clock = SkippingClock::starting(real, start);
        assert_eq!(clock.now(), start);
        let before = clock.boot().unwrap();
        clock.wait_began(1_800);
        assert_eq!(clock.now().time() - start.time(), TimeDelta::minutes(30));
        let after = clock.boot().unwrap();
        assert_eq!((after.boot, after.seconds), (before.boot, before.seconds + 1_800));
    }

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
