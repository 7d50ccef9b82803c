//! How a column of times was read.

/// How the times were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TimesRead {
    /// In words that follow "as" or "in".
    pub(super) words: &'static str,
    /// Whether that is more than heading and cells say.
    pub(super) assumed: bool,
    /// What is odd about it.
    pub(super) doubt: Option<Doubt>,
}

/// Which clock the dates of a column follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Zone {
    /// One on a wall, which may be changed by an hour.
    Local,
    /// Their offset from UTC is written.
    Fixed,
}

/// What is odd about the times of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doubt {
    /// A point may stand between minutes and seconds; whether the times were read so.
    Point {
        /// They were.
        taken: bool,
    },
    /// Rows are hours apart, and minutes may be meant.
    Hours,
}
