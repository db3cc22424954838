//! How long a wait has lasted, told by two clocks: one that shows the time of day and can be set, and
//! one that counts from the boot and cannot.
//!
//! Works on readings that it is given; reads no clock.

use super::event::Waited;
use crate::ids::{BootClock, Moment, Now};

/// Clocks that differ by no more than this agree: each is cut to whole seconds, and the wall clock
/// is set gently all the time.
const CLOCKS_APART_S_MAX: u64 = 5;

/// A wait whose time runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Running {
    /// The entry that began it.
    pub n: u64,
    /// When it began, or began anew after the clock went back.
    pub at: Moment,
    /// The clock since boot at that moment; `None` after the clock went back.
    pub boot: Option<BootClock>,
}

impl Running {
    /// The wait as if it ended now.
    ///
    /// Within one boot both clocks count: for certain only the smaller time has passed. After a
    /// reboot, or where the machine has one clock only, the wall clock counts alone and is doubted.
    pub fn until(&self, now: Now) -> Waited {
        let wall = now.wall.time().signed_duration_since(self.at.time()).num_seconds();
        let wall = u64::try_from(wall).unwrap_or(0);
        let boot = match (self.boot, now.boot) {
            (Some(from), Some(to)) if from.boot == to.boot => to.seconds.checked_sub(from.seconds),
            _ => None,
        };
        let doubtful = boot.is_none_or(|boot| boot.abs_diff(wall) > CLOCKS_APART_S_MAX);
        Waited {
            begun: self.at,
            ended: now.wall,
            boot: now.boot,
            elapsed_s: boot.map_or(wall, |boot| boot.min(wall)),
            at_longest_s: boot.map_or(wall, |boot| boot.max(wall)),
            doubtful,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::Sha256;

    fn at(text: &str) -> Moment {
        Moment::parse(&format!("2026-11-25T{text}Z")).unwrap()
    }

    fn boot(name: &str, seconds: u64) -> BootClock {
        BootClock { boot: Sha256::of(name.as_bytes()), seconds }
    }

    #[test]
    fn fb6_the_smaller_time_counts_within_a_boot_and_the_wall_clock_after_one() {
        let cases = [
            ("agree", "10:30:00", Some(boot("a", 2800)), (1800, 1800, false)),
            ("set ahead", "11:30:00", Some(boot("a", 2800)), (1800, 5400, true)),
            ("set back", "10:10:00", Some(boot("a", 2800)), (600, 1800, true)),
            ("before its begin", "09:00:00", Some(boot("a", 2800)), (0, 1800, true)),
            ("booted anew", "10:30:00", Some(boot("b", 60)), (1800, 1800, true)),
            ("one clock only", "10:30:00", None, (1800, 1800, true)),
        ];
        let running = Running { n: 3, at: at("10:00:00"), boot: Some(boot("a", 1000)) };
        for (name, wall, boot, wanted) in cases {
            let waited = running.until(Now { wall: at(wall), boot });
            let found = (waited.elapsed_s, waited.at_longest_s, waited.doubtful);
            assert_eq!(found, wanted, "{name}");
        }
    }
}
