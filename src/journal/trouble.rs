//! What bounds a journal, and what can be wrong with its disk.

use std::io;

use super::piece::piece_name;

/// Bounds of a journal.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Bytes of records held in memory at most, while the disk takes or confirms none: some hours
    /// of two channels at 10 Hz, and a gigabyte for as many benches as one process may have.
    pub most_held: usize,
    /// A piece that is longer is followed by a new one.
    pub piece_bytes: u64,
    /// So is one that holds so many ns of the run, if it is worth a file of its own:
    pub day_ns: i64,
    /// if it is so long.
    pub day_bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            most_held: 16 << 20,
            piece_bytes: 64 << 20,
            day_ns: 86_400_000_000_000,
            day_bytes: 4 << 20,
        }
    }
}

/// The disk does not do what it should.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// There is room for what was set aside, and for no more.
    #[error("the disk is full but for {left} bytes set aside for this journal")]
    Nearly {
        /// Bytes that still fit.
        left: u64,
    },
    /// Records wait in memory.
    #[error("{held} bytes of the journal wait in memory ({lost} records lost)")]
    Holding {
        /// Bytes that wait.
        held: usize,
        /// Records lost since the start because the memory set aside for waiting was full.
        lost: u64,
        /// The disk's answer.
        source: io::Error,
    },
    /// A sync failed; what was in doubt is written again and confirmed. Told once.
    #[error("the disk could not confirm {records} records ({reason}); they are written again in {}", piece_name(*piece))]
    Moved {
        /// The disk's answer.
        reason: String,
        /// Records that were written again.
        records: u64,
        /// The piece that they are in.
        piece: u32,
    },
    /// A sync failed, and a new piece could not be begun or confirmed either: a power cut now may
    /// cost all that came since. Attempts go on.
    #[error("the disk could not confirm the journal: {reason}")]
    NotSynced {
        /// The disk's answer.
        reason: String,
    },
}
