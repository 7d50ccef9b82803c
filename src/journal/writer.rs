//! Writing a journal so that a pull of the plug costs at most what was not yet synced.
//!
//! All records since the last sync that succeeded stay in memory. A sync that fails says that some
//! of what was written since is gone, though reading it back may still show it, and says so only
//! once: the file is never trusted with a second try. A new piece is begun instead, and what was in
//! doubt is written there again. A disk that is full keeps records in memory until it has room.
//!
//! What a sync confirmed stays in memory until the next one has succeeded too: a disk that is about
//! to fail was seen to confirm a second of records that were not there afterwards.

use std::io;

use super::disk::{Disk, Folder, Store};
use super::piece::{Head, Missing, Place, Why, piece_name};
use super::room::Room;
use super::trouble::{Limits, Trouble};
use super::{MAGIC, Record};

mod turn;

/// Ends a fragment that could not be cut off, and spoils it, should it be a record that lacks but
/// its LF.
const SPOIL: &[u8] = b"~\n";

/// Records that say what happened, rather than what came in, find so much room in memory more.
const MARGIN: usize = 64 << 10;

/// Longest pause between attempts to leave a disk that confirms nothing, in syncs.
const LONGEST_WAIT: u32 = 256;

/// A disk that confirms nothing.
#[derive(Debug)]
struct Failing {
    reason: String,
    /// Syncs until the next attempt, and the pause after it.
    wait: u32,
    next: u32,
}

/// Appends records to a journal.
#[derive(Debug)]
pub struct Writer<D: Disk = Folder> {
    disk: D,
    limits: Limits,
    store: D::Piece,
    room: Room,
    piece: u32,
    /// Bytes in the piece, whole records but for a fragment that could not be cut off.
    len: u64,
    /// There is such a fragment: the next write must start on a new line.
    ragged: bool,
    /// All whole records since the last good sync but one, in order.
    kept: Vec<u8>,
    /// So many bytes of them the last sync has confirmed,
    confirmed: usize,
    /// so many are in the current piece,
    written: usize,
    /// and so many may be in it or in pieces before it.
    doubtful: usize,
    /// All before this place is confirmed, and no longer kept.
    after: Place,
    /// Where the last good sync left the journal.
    synced: Place,
    dirty: bool,
    /// The piece's name is not confirmed.
    new_name: bool,
    missing: Option<Missing>,
    lost: u64,
    last_ns: i64,
    began_ns: Option<i64>,
    failing: Option<Failing>,
    /// Syncs until a piece that is long enough is followed by another one.
    patience: u32,
}

impl<D: Disk> Writer<D> {
    /// Begins a journal: creates its first piece, which the first [`Writer::sync`] makes last.
    ///
    /// # Errors
    /// The system's; a journal that exists already is never touched.
    pub fn create(disk: D, limits: Limits) -> io::Result<Self> {
        Self::begin(disk, limits, 1, &format!("{MAGIC}\n").into_bytes())
    }

    /// Goes on with a journal whose last piece ends at `last`, in a new piece: an old one may end
    /// torn, and is never written to again.
    ///
    /// # Errors
    /// The system's.
    pub fn resume(disk: D, limits: Limits, last: Place, t_ns: i64) -> io::Result<Self> {
        let head = Head {
            piece: last.piece + 1,
            why: Why::Resume,
            after: last,
            again: 0,
        };
        let mut writer = Self::begin(disk, limits, head.piece, &header(&head, t_ns))?;
        writer.last_ns = t_ns;
        writer.began_ns = Some(t_ns);
        Ok(writer)
    }

    fn begin(mut disk: D, limits: Limits, piece: u32, header: &[u8]) -> io::Result<Self> {
        let name = piece_name(piece);
        let mut store = disk.create(&name)?;
        let mut room = Room::default();
        let _ = room.make(&mut store, 0, header.len(), false);
        let (_, result) = write_all(&mut store, header);
        if let Err(error) = result {
            let _ = disk.remove(&name);
            return Err(error);
        }
        let len = header.len() as u64;
        Ok(Self {
            disk,
            limits,
            store,
            room,
            piece,
            len,
            ragged: false,
            kept: Vec::new(),
            confirmed: 0,
            written: 0,
            doubtful: 0,
            after: Place { piece, byte: len },
            synced: Place { piece, byte: len },
            dirty: true,
            new_name: true,
            missing: None,
            lost: 0,
            last_ns: 0,
            began_ns: None,
            failing: None,
            patience: 0,
        })
    }

    /// The piece that is written to, and its length.
    #[must_use]
    pub fn place(&self) -> Place {
        Place {
            piece: self.piece,
            byte: self.len,
        }
    }

    /// The disk that it writes to.
    #[must_use]
    pub fn disk(&self) -> &D {
        &self.disk
    }

    /// The current piece's store.
    pub fn store(&mut self) -> &mut D::Piece {
        &mut self.store
    }

    /// Whether a sync is due because of what is held in memory until then.
    #[must_use]
    pub fn wants_sync(&self) -> bool {
        self.failing.is_none() && self.written - self.confirmed > self.limits.most_held / 2
    }

    /// Whether there is anything that a sync would make safer.
    #[must_use]
    pub fn is_dirty(&self) -> bool {
        self.dirty || self.failing.is_some() || self.written < self.kept.len()
    }

    /// Puts a record behind those that wait to be written. Writes nothing: [`Writer::flush`] does.
    pub fn push(&mut self, record: &Record) {
        self.last_ns = record.t_ns;
        self.began_ns.get_or_insert(record.t_ns);
        let margin = if record.is_speech() { 0 } else { MARGIN };
        let most = self.limits.most_held + margin;
        if self.kept.len() >= most {
            self.forget_confirmed();
        }
        if self.kept.len() >= most {
            self.forget_written();
        }
        if self.kept.len() >= most {
            self.lose(Missing::one(record));
            return;
        }
        if let Some(missing) = self.missing.take() {
            missing.record().encode(&mut self.kept);
        }
        record.encode(&mut self.kept);
    }

    /// Records were lost before they came here; they are marked where they should be.
    pub fn lose(&mut self, missing: Missing) {
        self.lost += missing.records;
        self.missing = Some(match self.missing {
            Some(before) => before.and(missing),
            None => missing,
        });
    }

    /// Hands what waits to the system: it survives the end of this process from here on, a power
    /// cut from the next [`Writer::sync`] on.
    ///
    /// # Errors
    /// [`Trouble`]; the run goes on, people must be told, and each later call tries again.
    pub fn flush(&mut self) -> Result<(), Trouble> {
        let result = self.write_out(false);
        self.state(result)
    }

    /// Writes what waits and makes it survive a power cut.
    ///
    /// # Errors
    /// As [`Writer::flush`].
    pub fn sync(&mut self) -> Result<(), Trouble> {
        self.sync_with(false)
    }

    /// The last sync of all: may use the room set aside for it.
    ///
    /// # Errors
    /// As [`Writer::flush`]; what then waits is in [`Writer::rest`].
    pub fn finish(&mut self) -> Result<(), Trouble> {
        if let Some(failing) = &mut self.failing {
            failing.wait = 0;
        }
        let result = self.sync_with(true);
        if !matches!(result, Ok(()) | Err(Trouble::Nearly { .. })) {
            return result;
        }
        if !self.ragged {
            // Lets go of the room set aside; a failure costs that room and nothing else.
            let _ = self.store.cut(self.len);
        }
        // Nothing comes after it that would tell that the disk was failing while it said yes.
        match self.store.sync() {
            Ok(()) => result,
            Err(error) => self.leave(error.to_string(), true),
        }
    }

    fn sync_with(&mut self, last: bool) -> Result<(), Trouble> {
        let flushed = self.write_out(last);
        if let Some(failing) = &mut self.failing {
            // The file that failed is not asked again.
            if failing.wait > 0 {
                failing.wait -= 1;
                return self.state(flushed);
            }
            let reason = failing.reason.clone();
            return self.leave(reason, last);
        }
        if self.dirty
            && let Err(error) = self.sync_piece()
        {
            return self.leave(error.to_string(), last);
        }
        if !last {
            self.follow_on();
        }
        self.state(flushed)
    }

    fn sync_piece(&mut self) -> io::Result<()> {
        self.dirty = false;
        self.store.sync()?;
        if self.new_name {
            self.disk.sync_names()?;
            self.new_name = false;
        }
        self.forget_confirmed();
        self.confirmed = self.written;
        self.synced = self.place();
        Ok(())
    }

    fn state(&self, flushed: io::Result<()>) -> Result<(), Trouble> {
        flushed.map_err(|source| Trouble::Holding {
            held: self.kept.len() - self.written,
            lost: self.lost,
            source,
        })?;
        match (&self.failing, self.room.left(self.len)) {
            (Some(failing), _) => Err(Trouble::NotSynced {
                reason: failing.reason.clone(),
            }),
            (None, Some(left)) => Err(Trouble::Nearly { left }),
            (None, None) => Ok(()),
        }
    }

    /// Writes what waits, all of it or up to a whole record.
    fn write_out(&mut self, last: bool) -> io::Result<()> {
        if self.ragged {
            let (done, result) = write_all(&mut self.store, SPOIL);
            self.len += done as u64;
            result?;
            self.ragged = false;
        }
        let waiting = self.kept.get(self.written..).unwrap_or_default();
        if waiting.is_empty() {
            return Ok(());
        }
        let more = waiting.len();
        let allowed = self.room.make(&mut self.store, self.len, more, last);
        let fits = match waiting.get(..allowed) {
            Some(some) if allowed < waiting.len() => whole(some),
            _ => waiting.len(),
        };
        let (done, result) = write_all(&mut self.store, waiting.get(..fits).unwrap_or_default());
        let complete = whole(waiting.get(..done).unwrap_or_default());
        let refused = fits < waiting.len();
        self.dirty |= done > 0;
        self.written += complete;
        self.doubtful = self.doubtful.max(self.written);
        self.len += complete as u64;
        if complete < done && self.store.cut(self.len).is_err() {
            self.ragged = true;
            self.len += (done - complete) as u64;
        }
        result?;
        if refused {
            return Err(io::ErrorKind::StorageFull.into());
        }
        Ok(())
    }
}

fn header(head: &Head, t_ns: i64) -> Vec<u8> {
    let mut bytes = format!("{MAGIC}\n").into_bytes();
    head.record(t_ns).encode(&mut bytes);
    bytes
}

/// Length of the whole lines at the beginning.
fn whole(bytes: &[u8]) -> usize {
    memchr::memrchr(b'\n', bytes).map_or(0, |at| at + 1)
}

fn lines(bytes: Option<&[u8]>) -> u64 {
    memchr::memchr_iter(b'\n', bytes.unwrap_or_default()).count() as u64
}

/// Writes until all is written or the store refuses; tells how much was.
fn write_all(store: &mut impl Store, bytes: &[u8]) -> (usize, io::Result<()>) {
    let mut rest = bytes;
    let result = loop {
        if rest.is_empty() {
            break Ok(());
        }
        match store.append(rest) {
            Ok(0) => break Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => rest = rest.get(n..).unwrap_or_default(),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => break Err(e),
        }
    };
    (bytes.len() - rest.len(), result)
}

#[cfg(test)]
mod tests;
