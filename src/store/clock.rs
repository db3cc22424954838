//! The machine's own clock.
#![expect(clippy::disallowed_methods, reason = "the only module that reads the clock")]

use crate::ids::{BootClock, Moment, Sha256};
use crate::ports::Clock;

/// The machine's wall clock in its own time zone; UTC, and so written, where none is set.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Moment {
        Moment::new(chrono::Local::now().fixed_offset())
    }

    #[cfg(target_os = "linux")]
    fn boot(&self) -> Option<BootClock> {
        let id = std::fs::read("/proc/sys/kernel/random/boot_id").ok()?;
        let on = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
        let seconds = u64::try_from(on.tv_sec).ok()?;
        Some(BootClock { boot: Sha256::of(id.trim_ascii()), seconds })
    }

    #[cfg(not(target_os = "linux"))]
    fn boot(&self) -> Option<BootClock> {
        None
    }
}
