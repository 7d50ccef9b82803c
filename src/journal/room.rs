//! Room on the disk that is set aside ahead of need, so that a full disk is noticed while there is
//! still room for an end in order.

use std::io;

use super::disk::Store;

/// Set aside at a time: an hour and more of two channels at 1 Hz.
const STEP: u64 = 256 << 10;

/// Kept for the last records of a run.
const END: u64 = 4 << 10;

/// What is known of the room.
#[derive(Debug, Default)]
enum State {
    /// Set aside up to this length of the file.
    Set { upto: u64 },
    /// The disk gave no more; what is set aside ends here.
    Full { upto: u64 },
    /// Nothing is set aside yet.
    #[default]
    Fresh,
    /// The file system cannot do it.
    Cannot,
}

/// The room ahead of a file's end.
#[derive(Debug, Default)]
pub(super) struct Room(State);

impl Room {
    /// Sees to it that `more` bytes fit behind `len`, with room ahead of them, and gives how many of
    /// them may be written now. The `last` ones may use the room kept for them, if they all fit.
    pub(super) fn make(
        &mut self,
        store: &mut impl Store,
        len: u64,
        more: usize,
        last: bool,
    ) -> usize {
        let need = len + more as u64 + END;
        let had = match self.0 {
            State::Cannot => return more,
            State::Set { upto } if upto >= need + STEP / 2 => return more,
            State::Set { upto } | State::Full { upto } => upto,
            State::Fresh => 0,
        };
        // A file that begins on a disk with little room takes what there is.
        let wants = [
            (need + STEP / 2).next_multiple_of(STEP),
            need + STEP / 8,
            need,
        ];
        let tries = if had == 0 { wants.len() } else { 1 };
        for want in wants.into_iter().take(tries) {
            match store.reserve(want) {
                Ok(()) => {
                    self.0 = State::Set { upto: want };
                    return more;
                }
                Err(error) if is_full(&error) => {}
                Err(_) => {
                    self.0 = State::Cannot;
                    return more;
                }
            }
        }
        if had > 0 && had < need && store.reserve(need).is_ok() {
            self.0 = State::Full { upto: need };
            return more;
        }
        self.0 = State::Full { upto: had };
        if had == 0 || had >= need || last && had >= need - END {
            return more;
        }
        usize::try_from(had.saturating_sub(END + len)).map_or(more, |left| left.min(more))
    }

    /// Bytes that still fit, if the disk is full beyond them.
    pub(super) fn left(&self, len: u64) -> Option<u64> {
        match self.0 {
            State::Full { upto } => Some(upto.saturating_sub(len + END)),
            _ => None,
        }
    }
}

/// The disk, or the user's share of it, has no room.
pub(super) fn is_full(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge
    )
}
