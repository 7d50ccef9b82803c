//! What the watcher is told of when people are to switch the lamp, and how they keep to it.

use duskmark::lamp::{EdgeSeen, Kind, LampOptions, Watcher};
use rand::RngExt;

use crate::bench_model::{Record, rng};

/// So long a run waits for a lamp before it goes on as if it were on, in seconds.
const PRESUMED_S: f64 = 120.0;

/// What a watcher is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Plan {
    /// Nobody is to switch a lamp.
    None,
    /// Somebody is, and nobody knows when.
    SomeTime,
    /// People are told to at these instants in seconds, on and off, as a run tells it: the second once the
    /// first was followed. Infinite: the cue never comes.
    Cued([f64; 2]),
}

impl Plan {
    /// Cues for a record's edges: most people take up to 20 s, one in eight up to a minute and a half.
    pub(crate) fn of(record: &Record, seed: u64) -> Self {
        let mut draw = rng(seed ^ 0xc0e);
        let mut late_s = || {
            let slow = draw.random_range(0.0..1.0) < 0.125;
            let most_s = if slow { 90.0 } else { 20.0 };
            draw.random_range(0.0..most_s)
        };
        let cue_s = [record.on_s - late_s(), record.off_s - late_s()];
        Self::Cued(cue_s.map(|cue_s| cue_s.max(0.0)))
    }

    /// Cues that never come: who switches the lamp does so before.
    pub(crate) const UNTOLD: Self = Self::Cued([f64::INFINITY; 2]);

    /// A cue after a minute that nobody follows.
    pub(crate) const UNFOLLOWED: Self = Self::Cued([60.0, f64::INFINITY]);

    /// Edges that the watcher reports in a record.
    pub(crate) fn watched(self, record: &Record) -> Vec<EdgeSeen> {
        let watcher = Watcher::new(record.channels.len(), &LampOptions::default());
        let mut watcher = match self {
            Self::None => watcher.unplanned(),
            _ => watcher,
        };
        let mut next = Kind::On;
        let mut row = Vec::new();
        let mut told = Vec::new();
        for (i, &t_s) in record.t_s.iter().enumerate() {
            if let Self::Cued([on_s, off_s]) = self {
                if next == Kind::On {
                    let cue_s = if t_s < on_s { f64::INFINITY } else { on_s };
                    watcher.expect(Kind::On, cue_s);
                }
                // A lamp that was waited for long enough passes for lit.
                if next == Kind::Off || t_s > on_s + PRESUMED_S {
                    watcher.expect(Kind::Off, off_s);
                }
            }
            row.clear();
            row.extend(record.channels.iter().map(|c| c[i]));
            let seen = watcher.push(t_s, &row);
            next = seen.map_or(next, |s| s.edge.other());
            told.extend(seen);
        }
        told
    }
}
