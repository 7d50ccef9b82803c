//! Keeps repeated trouble from drowning the rest: says the first of its kind, counts the others.

use std::collections::HashMap;

use super::row::{Event, EventKind};

/// After one event of a kind, others of that kind are counted for so long and not written. A loose
/// wire at 10 Hz makes 1440 events a day and not 860,000.
const QUIET_NS: i64 = 60_000_000_000;

/// Kind, channel, and for probes the state that is told, so that a recovery is not held back by the
/// fault before it.
type Key = (EventKind, Option<usize>, String);

#[derive(Debug, Clone, Default)]
pub(super) struct Ledger {
    open: HashMap<Key, Entry>,
}

#[derive(Debug, Clone)]
struct Entry {
    said_ns: i64,
    since: u32,
}

impl Ledger {
    /// Gives the event back if it is to be written, with the number that was held back before it.
    pub(super) fn admit(&mut self, mut event: Event) -> Option<Event> {
        let state = match event.kind {
            EventKind::Probe => event.detail.clone(),
            _ => String::new(),
        };
        let key = (event.kind, event.channel, state);
        if let Some(entry) = self.open.get_mut(&key)
            && event.t_ns < entry.said_ns + QUIET_NS
        {
            entry.since += 1;
            return None;
        }
        let since = self.open.get(&key).map_or(0, |entry| entry.since);
        if since > 0 {
            event.detail = format!("{} ({since} more before this)", event.detail);
        }
        let said_ns = event.t_ns;
        self.open.insert(key, Entry { said_ns, since: 0 });
        Some(event)
    }

    /// What was held back and not told yet, in a fixed order.
    pub(super) fn rest(&mut self) -> Vec<(Key, u32)> {
        let mut rest: Vec<_> = self
            .open
            .drain()
            .filter(|(_, entry)| entry.since > 0)
            .map(|(key, entry)| (key, entry.since))
            .collect();
        rest.sort_by(|((a, i, x), _), ((b, j, y), _)| (a.code(), i, x).cmp(&(b.code(), j, y)));
        rest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_storm_is_told_once_a_minute_with_its_count() {
        let mut ledger = Ledger::default();
        let told: Vec<String> = (0..6000_i64)
            .filter_map(|k| {
                ledger.admit(Event {
                    t_ns: k * 100_000_000,
                    kind: EventKind::BadLine,
                    channel: None,
                    detail: "checksum".into(),
                })
            })
            .map(|event| event.detail)
            .collect();
        assert_eq!(told.len(), 10);
        assert_eq!(told[0], "checksum");
        assert_eq!(told[1], "checksum (599 more before this)");
        assert_eq!(
            ledger.rest(),
            [((EventKind::BadLine, None, String::new()), 599)]
        );
    }
}
