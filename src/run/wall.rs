//! The wall clock of a run: what people's clocks showed at an instant of the boot clock.
//!
//! Rows are ordered and spaced by the boot clock alone; the wall clock only labels them. A step
//! of the wall clock (time server, daylight saving, a person) begins a new stretch of the mapping
//! and changes no interval.

use jiff::Timestamp;

/// A wall clock that moved by more than this against the boot clock was set, not slewed: NTP
/// slews at 500 ppm at most, which is half a millisecond between two looks a second apart.
const STEP_NS: i64 = 50_000_000;

/// Maps the boot clock to the wall clock.
#[derive(Debug, Clone, Default)]
pub struct WallClock {
    /// From which instant of the boot clock on, in ns, the wall clock was how far ahead of it, in ns; in
    /// order. There is one for each time that it was set.
    stretches: Vec<(i64, i64)>,
}

impl WallClock {
    /// Takes in what both clocks showed at once; gives the step since the last time, in ns, if the
    /// wall clock was set in between. Smaller differences do not move the mapping.
    pub fn look(&mut self, boot_ns: i64, wall_ns: i64) -> Option<i64> {
        let now = wall_ns - boot_ns;
        let step = self.ahead_ns().map(|before| now - before);
        match step {
            Some(step) if step.abs() <= STEP_NS => None,
            _ => {
                self.stretches.push((boot_ns, now));
                step
            }
        }
    }

    /// How far the wall clock is ahead of the boot clock now, in ns.
    #[must_use]
    pub fn ahead_ns(&self) -> Option<i64> {
        self.stretches.last().map(|(_, ahead_ns)| *ahead_ns)
    }

    /// How far it was ahead at an instant of the boot clock, in ns; before the first look as then.
    #[must_use]
    pub fn ahead_at_ns(&self, boot_ns: i64) -> Option<i64> {
        let begun = self.stretches.partition_point(|(from, _)| *from <= boot_ns);
        let stretch = self.stretches.get(begun.saturating_sub(1));
        stretch.map(|(_, ahead_ns)| *ahead_ns)
    }

    /// RFC 3339 in UTC with milliseconds, as the clock showed it then; empty before the first look.
    #[must_use]
    pub fn rfc3339(&self, boot_ns: i64) -> String {
        self.ahead_at_ns(boot_ns)
            .map(|offset| rfc3339_ms(boot_ns + offset))
            .unwrap_or_default()
    }
}

/// RFC 3339 in UTC with milliseconds; empty for times that no calendar holds.
#[must_use]
pub fn rfc3339_ms(wall_ns: i64) -> String {
    // Rounded to the millisecond first: jiff truncates.
    let ms = (wall_ns + 500_000).div_euclid(1_000_000);
    Timestamp::from_millisecond(ms)
        .map(|t| format!("{t:.3}"))
        .unwrap_or_default()
}

/// Wall-clock ns of an RFC 3339 text.
#[must_use]
pub fn parse_rfc3339(text: &str) -> Option<i64> {
    let t: Timestamp = text.trim().parse().ok()?;
    i64::try_from(t.as_nanosecond()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_written_as_rfc_3339_says() {
        // RFC 3339 section 5.8, first example: 1985-04-12T23:20:50.52Z.
        let ns = parse_rfc3339("1985-04-12T23:20:50.52Z").unwrap();
        assert_eq!(rfc3339_ms(ns), "1985-04-12T23:20:50.520Z");
        // Second example: the same instant as 1996-12-20T00:39:57Z.
        let ns = parse_rfc3339("1996-12-19T16:39:57-08:00").unwrap();
        assert_eq!(rfc3339_ms(ns), "1996-12-20T00:39:57.000Z");
    }

    #[test]
    fn a_set_clock_is_told_from_a_slewed_one() {
        let mut wall = WallClock::default();
        let second = 1_000_000_000;
        assert_eq!(wall.look(0, 1_700_000_000 * second), None);
        assert_eq!(wall.look(second, 1_700_000_001 * second + 400_000), None);
        let set = 1_700_000_002 * second + 3600 * second;
        assert_eq!(wall.look(2 * second, set), Some(3600 * second));
        assert_eq!(wall.rfc3339(2 * second), "2023-11-14T23:13:22.000Z");
        // What was before bears what the clock showed before.
        assert_eq!(wall.rfc3339(second), "2023-11-14T22:13:21.000Z");
        assert_eq!(wall.rfc3339(-second), "2023-11-14T22:13:19.000Z");
    }
}
