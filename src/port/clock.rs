//! The host's clocks: the boot clock for every interval, the wall clock for people.

/// Now on the boot clock, in ns: monotonic, counts on while the host sleeps, and is moved by no
/// change of the wall clock.
#[must_use]
pub fn boot_ns() -> i64 {
    #[cfg(target_os = "linux")]
    {
        let now = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
        now.tv_sec * 1_000_000_000 + now.tv_nsec
    }
    #[cfg(not(target_os = "linux"))]
    {
        use std::sync::OnceLock;
        use std::time::Instant;
        // Instant counts sleep on Windows; on macOS it does not, and a sleep shows as a gap that
        // is too short. Its origin is arbitrary, as that of the boot clock is.
        static ORIGIN: OnceLock<Instant> = OnceLock::new();
        ORIGIN.get_or_init(Instant::now).elapsed().as_nanos() as i64
    }
}

/// Both clocks at one moment, boot and wall, in ns; none if the computer was too busy to read them
/// together, which would look like a wall clock that was set.
#[must_use]
pub fn both_ns() -> Option<(i64, i64)> {
    (0..3).find_map(|_| {
        let before = boot_ns();
        let wall = wall_ns();
        let after = boot_ns();
        (after - before < 5_000_000).then_some((before + (after - before) / 2, wall))
    })
}

/// Now on the wall clock, in ns since 1970-01-01T00:00:00Z.
#[must_use]
pub fn wall_ns() -> i64 {
    i64::try_from(jiff::Timestamp::now().as_nanosecond()).unwrap_or(i64::MAX)
}

/// Notices that the computer slept: the boot clock went on while the monotonic one stood.
#[derive(Debug)]
pub struct SleepWatch {
    ahead_ns: i64,
}

/// The two clocks are read one after the other, and a busy computer may pause between: only more
/// than this is sleep.
const SLEEP_NS: i64 = 500_000_000;

impl SleepWatch {
    /// Begins to watch.
    #[must_use]
    pub fn new() -> Self {
        Self {
            ahead_ns: ahead_ns(),
        }
    }

    /// For how long the computer slept since the last look, in ns, if it did.
    pub fn look(&mut self) -> Option<i64> {
        self.judge(ahead_ns())
    }

    fn judge(&mut self, ahead_ns: i64) -> Option<i64> {
        let slept_ns = ahead_ns - self.ahead_ns;
        if slept_ns < SLEEP_NS {
            return None;
        }
        self.ahead_ns = ahead_ns;
        Some(slept_ns)
    }
}

impl Default for SleepWatch {
    fn default() -> Self {
        Self::new()
    }
}

/// How far the boot clock is ahead of the monotonic one; 0 where the system has only one.
fn ahead_ns() -> i64 {
    #[cfg(target_os = "linux")]
    {
        let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
        boot_ns() - (now.tv_sec * 1_000_000_000 + now.tv_nsec)
    }
    #[cfg(not(target_os = "linux"))]
    {
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sleep_is_told_once_and_a_short_pause_is_not_sleep() {
        let mut watch = SleepWatch { ahead_ns: 1_000 };
        assert_eq!(watch.judge(3_000_000), None);
        assert_eq!(watch.judge(7_200_000_001_000), Some(7_200_000_000_000));
        assert_eq!(watch.judge(7_200_000_001_000), None);
    }
}
