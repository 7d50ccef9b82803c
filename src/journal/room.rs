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

#[cfg(test)]
mod tests {
    use super::*;

    /// A file of a disk that has so much room.
    #[derive(Debug)]
    struct Roomy {
        most: u64,
        asked: Vec<u64>,
        error: io::ErrorKind,
    }

    fn roomy(most: u64) -> Roomy {
        Roomy {
            most,
            asked: Vec::new(),
            error: io::ErrorKind::StorageFull,
        }
    }

    impl Store for Roomy {
        fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
            Ok(bytes.len())
        }

        fn cut(&mut self, _len: u64) -> io::Result<()> {
            Ok(())
        }

        fn sync(&mut self) -> io::Result<()> {
            Ok(())
        }

        fn reserve(&mut self, len: u64) -> io::Result<()> {
            self.asked.push(len);
            if len > self.most {
                return Err(self.error.into());
            }
            Ok(())
        }
    }

    #[test]
    fn room_is_asked_for_when_half_a_step_is_left() {
        let (mut store, mut room) = (roomy(1 << 30), Room::default());
        assert_eq!(room.make(&mut store, 100, 50, false), 50);
        assert_eq!(room.make(&mut store, 126_900, 76, false), 76);
        assert_eq!(store.asked, [STEP]);
        assert_eq!(room.make(&mut store, 126_976, 1, false), 1);
        assert_eq!(store.asked, [STEP, 2 * STEP]);
        assert_eq!(room.left(130_000), None);
    }

    #[test]
    fn a_small_disk_is_asked_for_less_and_less() {
        let need = 150 + END;
        for (most, asked) in [
            (40_000, vec![STEP, need + STEP / 8]),
            (30_000, vec![STEP, need + STEP / 8, need]),
        ] {
            let (mut store, mut room) = (roomy(most), Room::default());
            assert_eq!(room.make(&mut store, 100, 50, false), 50);
            assert_eq!(store.asked, asked);
            assert_eq!(room.left(150), None);
        }
        // Where there is not even that, the write itself shows how much fits.
        let (mut store, mut room) = (roomy(1000), Room::default());
        assert_eq!(room.make(&mut store, 100, 50, false), 50);
        assert_eq!(room.left(150), Some(0));
    }

    #[test]
    fn on_a_full_disk_what_is_set_aside_is_used_up_but_for_the_end() {
        let (mut store, mut room) = (roomy(STEP), Room::default());
        room.make(&mut store, 100, 50, false);
        assert_eq!(room.make(&mut store, 200_000, 100, false), 100);
        assert_eq!(room.left(200_100), Some(STEP - END - 200_100));
        assert_eq!(room.make(&mut store, 258_000, 1000, false), 48);
        assert_eq!(room.make(&mut store, STEP, 1000, false), 0);
        // The last records may have it, if they all fit.
        assert_eq!(room.make(&mut store, 258_000, 1000, true), 1000);
        assert_eq!(room.make(&mut store, 258_000, 4144, true), 4144);
        assert_eq!(room.make(&mut store, 258_000, 4145, true), 48);
        // As much as is needed may still be had.
        store.most = 270_000;
        assert_eq!(room.make(&mut store, 258_000, 5000, false), 5000);
        assert_eq!(room.left(263_000), Some(0));
    }

    #[test]
    fn a_file_system_that_cannot_is_asked_once() {
        let (mut store, mut room) = (roomy(0), Room::default());
        store.error = io::ErrorKind::Unsupported;
        for _ in 0..3 {
            assert_eq!(room.make(&mut store, 100, 50, false), 50);
        }
        assert_eq!(store.asked, [STEP]);
        assert_eq!(room.left(150), None);
    }

    #[test]
    fn a_users_share_that_is_used_up_is_a_full_disk() {
        use io::ErrorKind::{FileTooLarge, PermissionDenied, QuotaExceeded, StorageFull};
        for (kind, full) in [
            (StorageFull, true),
            (QuotaExceeded, true),
            (FileTooLarge, true),
            (PermissionDenied, false),
        ] {
            assert_eq!(is_full(&kind.into()), full, "{kind:?}");
        }
    }
}
