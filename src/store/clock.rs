//! The machine's own clock.
#![expect(clippy::disallowed_methods, reason = "the only module that reads the clock")]

use crate::ids::Moment;
use crate::ports::Clock;

/// The machine's wall clock in its own time zone; UTC, and so written, where none is set.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Moment {
        Moment::new(chrono::Local::now().fixed_offset())
    }
}
