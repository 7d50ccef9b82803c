//! A contact that comes and goes.

use arrayvec::ArrayVec;

/// Openings that make a loose contact rather than somebody's hand.
const OPENINGS: usize = 3;

/// They fall within so long, in ns, and within so many rows where that is longer.
const WINDOW_NS: i64 = 600_000_000_000;
const WINDOW_ROWS: f64 = 60.0;

/// Watches one channel's contact.
#[derive(Debug, Clone, Default)]
pub(super) struct Loose {
    /// The contact is open since then.
    open_ns: Option<i64>,
    /// When the last openings began, of those that closed again.
    openings: ArrayVec<i64, OPENINGS>,
}

impl Loose {
    /// Takes whether the contact is open at a row, and gives since when it comes and goes.
    pub(super) fn take(&mut self, t_ns: i64, open: bool, interval_s: f64) -> Option<i64> {
        let window_ns = WINDOW_NS.max((WINDOW_ROWS * interval_s * 1e9) as i64);
        if open {
            self.open_ns.get_or_insert(t_ns);
        } else if let Some(from_ns) = self.open_ns.take() {
            if self.openings.is_full() {
                self.openings.remove(0);
            }
            self.openings.push(from_ns);
        }
        let first_ns = *self.openings.first().filter(|_| self.openings.is_full())?;
        // From the last opening on it has the whole window to come again.
        let last_ns = *self.openings.last()?;
        (last_ns - first_ns <= window_ns && t_ns - last_ns <= window_ns).then_some(first_ns)
    }
}
