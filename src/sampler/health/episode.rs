//! One trouble of one channel, from its begin to its end: told once each.

use super::super::row::{Event, EventKind};
use super::sign::Sign;

/// A trouble is over when it has not shown for so long, in seconds, and for so many rows.
const OVER_S: f64 = 60.0;
const OVER_ROWS: f64 = 64.0;

/// Spikes are counted together for so long, in seconds.
const SPIKES_S: f64 = 600.0;

/// A trouble that was told.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Open {
    from_ns: i64,
    last_ns: i64,
    times: u32,
}

/// The troubles of one kind of one channel.
#[derive(Debug, Clone, Default)]
pub(super) struct Episode {
    open: Option<Open>,
    tally: Option<Tally>,
}

/// How often a channel had a trouble, for a summary.
#[derive(Debug, Clone, PartialEq)]
pub struct Tally {
    /// How many episodes there were.
    pub episodes: u32,
    /// When the first one began, in ns on the host's boot clock.
    pub first_ns: i64,
    /// The first one in words.
    pub detail: String,
}

impl Episode {
    /// The trouble shows from `from_ns` to `t_ns`; `words` says it. Gives the event, once.
    pub(super) fn show(
        &mut self,
        (channel, sign): (usize, Sign),
        (from_ns, t_ns): (i64, i64),
        words: impl FnOnce() -> String,
    ) -> Option<Event> {
        if let Some(open) = &mut self.open {
            open.last_ns = t_ns;
            open.times = open.times.saturating_add(1);
            return None;
        }
        self.open = Some(Open {
            from_ns,
            last_ns: t_ns,
            times: 1,
        });
        let said = words();
        let tally = self.tally.get_or_insert_with(|| Tally {
            episodes: 0,
            first_ns: from_ns,
            detail: said.clone(),
        });
        tally.episodes = tally.episodes.saturating_add(1);
        Some(Event {
            t_ns,
            kind: EventKind::Health,
            channel: Some(channel),
            detail: format!("{said}; {}", sign.hint()),
        })
    }

    /// Time has come to `t_ns`: gives the event of the end when the trouble is over.
    pub(super) fn pass(
        &mut self,
        place: (usize, Sign),
        t_ns: i64,
        interval_s: f64,
    ) -> Option<Event> {
        let open = self.open?;
        let least_s = if place.1 == Sign::Spike {
            SPIKES_S
        } else {
            OVER_S
        };
        let patience_s = least_s.max(OVER_ROWS * interval_s);
        if ((t_ns - open.last_ns) as f64) < patience_s * 1e9 {
            return None;
        }
        self.close(place, t_ns, "is over: it lasted")
    }

    /// The run ends.
    pub(super) fn close(
        &mut self,
        (channel, sign): (usize, Sign),
        t_ns: i64,
        how: &str,
    ) -> Option<Event> {
        let open = self.open.take()?;
        let lasted = duration((open.last_ns - open.from_ns) as f64 / 1e9);
        let detail = match (sign, open.times) {
            // One spike was told, and there is no more to it.
            (Sign::Spike, 1) => return None,
            (Sign::Spike, times) => format!("spike: {times} of them within {lasted}"),
            _ => format!("{} {how} {lasted}", sign.code()),
        };
        Some(Event {
            t_ns,
            kind: EventKind::Health,
            channel: Some(channel),
            detail,
        })
    }

    pub(super) fn is_open(&self) -> bool {
        self.open.is_some()
    }

    pub(super) fn tally(&self) -> Option<&Tally> {
        self.tally.as_ref()
    }
}

/// `40 s`, `12 min`, `3.5 h`.
pub(super) fn duration(s: f64) -> String {
    if s < 120.0 {
        format!("{s:.0} s")
    } else if s < 7200.0 {
        format!("{:.0} min", s / 60.0)
    } else {
        format!("{:.1} h", s / 3600.0)
    }
}

#[cfg(test)]
mod tests {
    use super::duration;

    #[test]
    fn lengths_of_time_are_said_in_seconds_minutes_or_hours() {
        assert_eq!(
            [40.0, 119.0, 120.0, 7199.0, 7200.0, 12_600.0].map(duration),
            ["40 s", "119 s", "2 min", "120 min", "2.0 h", "3.5 h"]
        );
    }
}
