//! Leaving a piece: for a new one, or for good.

use std::io;

use super::super::disk::{Disk, Store as _};
use super::super::piece::{Head, Missing, Why, piece_name};
use super::super::room::Room;
use super::super::{Record, Trouble};
use super::{Failing, LONGEST_WAIT, Writer, header, lines, write_all};

impl<D: Disk> Writer<D> {
    /// The disk could not confirm the piece: writes what is in doubt into a new one.
    pub(super) fn leave(&mut self, reason: String, last: bool) -> Result<(), Trouble> {
        let next = self.failing.as_ref().map_or(1, |failing| failing.next);
        self.failing = Some(Failing {
            reason: reason.clone(),
            wait: next,
            next: (next * 2).min(LONGEST_WAIT),
        });
        let records = lines(self.kept.get(self.confirmed..self.written));
        if self.begin_piece(Why::SyncFailed).is_ok() {
            let flushed = self.write_out(last);
            match self.sync_piece() {
                Ok(()) if flushed.is_ok() => {
                    self.failing = None;
                    return Err(Trouble::Moved {
                        reason,
                        records,
                        piece: self.piece,
                    });
                }
                Ok(()) => {
                    self.failing = None;
                    return self.state(flushed);
                }
                Err(_) => self.dirty = true,
            }
        }
        Err(Trouble::NotSynced { reason })
    }

    /// Follows a piece that is long enough by another one.
    pub(super) fn follow_on(&mut self) {
        let age_ns = self.last_ns - self.began_ns.unwrap_or(self.last_ns);
        let why = if self.len >= self.limits.piece_bytes {
            Why::Size
        } else if self.len >= self.limits.day_bytes && age_ns >= self.limits.day_ns {
            Why::Day
        } else {
            return;
        };
        if self.kept.len() > self.confirmed || self.ragged {
            return;
        }
        if self.patience > 0 {
            self.patience -= 1;
            return;
        }
        self.forget_confirmed();
        // A longer piece is no harm: if there is no room for another one, it waits.
        let old_len = self.len;
        if self.store.cut(old_len).is_err() || self.begin_piece(why).is_err() {
            self.room = Room::default();
            self.patience = LONGEST_WAIT;
        }
    }

    fn begin_piece(&mut self, why: Why) -> io::Result<()> {
        let mut piece = self.piece;
        let (name, mut store) = loop {
            piece += 1;
            let name = piece_name(piece);
            match self.disk.create(&name) {
                Ok(store) => break (name, store),
                // Whatever it is, it is not ours to touch.
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists && piece < self.piece + 8 => {}
                Err(e) => return Err(e),
            }
        };
        let header = header(&self.head(piece, why), self.last_ns);
        let mut room = Room::default();
        let _ = room.make(&mut store, 0, header.len(), false);
        let (_, result) = write_all(&mut store, &header);
        if let Err(error) = result {
            let _ = self.disk.remove(&name);
            return Err(error);
        }
        self.store = store;
        self.room = room;
        self.piece = piece;
        self.len = header.len() as u64;
        self.ragged = false;
        self.confirmed = 0;
        self.written = 0;
        self.dirty = true;
        self.new_name = true;
        self.began_ns = Some(self.last_ns);
        if self.doubtful == 0 {
            self.after = self.place();
        }
        // What is kept begins there whatever this piece's first sync says.
        self.synced = self.after;
        Ok(())
    }

    fn head(&self, piece: u32, why: Why) -> Head {
        Head {
            piece,
            why,
            after: self.after,
            again: lines(self.kept.get(..self.doubtful)),
        }
    }

    /// All that is not confirmed as a piece of its own, which may be put beside the others when
    /// there is room, under the name given with it.
    #[must_use]
    pub fn rest(&self) -> (String, Vec<u8>) {
        let mut bytes = header(&self.head(self.piece + 1, Why::Rescue), self.last_ns);
        bytes.extend_from_slice(&self.kept);
        (piece_name(self.piece + 1), bytes)
    }

    /// There is no room for what waits, here or elsewhere: marks it as missing and writes `end`
    /// behind that, into the room set aside for it.
    ///
    /// # Errors
    /// The disk's answer, if not even that could be written.
    pub fn give_up(&mut self, end: &Record) -> io::Result<()> {
        let waiting = self.kept.get(self.written..).unwrap_or_default();
        let times = || {
            let records = waiting.split(|b| *b == b'\n');
            records.filter_map(|line| Record::decode(line).ok()?)
        };
        let gone = times().map(|record| Missing::one(&record));
        let gone = gone.chain(self.missing).reduce(Missing::and);
        self.kept.truncate(self.written);
        self.doubtful = self.doubtful.min(self.written);
        if let Some(gone) = gone {
            gone.record().encode(&mut self.kept);
        }
        end.encode(&mut self.kept);
        self.write_out(true)?;
        self.store.sync()
    }

    /// Memory is full of what was written and never confirmed: it stays in its piece, and can no
    /// longer be written again.
    pub(super) fn forget_written(&mut self) {
        self.kept.drain(..self.written);
        self.doubtful = self.doubtful.saturating_sub(self.written);
        self.confirmed = 0;
        self.written = 0;
        self.after = self.place();
        self.synced = self.after;
    }

    /// What a sync has confirmed is no longer kept.
    pub(super) fn forget_confirmed(&mut self) {
        self.kept.drain(..self.confirmed);
        self.written -= self.confirmed;
        self.doubtful = self.doubtful.saturating_sub(self.confirmed);
        self.confirmed = 0;
        self.after = self.synced;
    }
}

#[cfg(test)]
mod tests;
