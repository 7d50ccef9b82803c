//! Writing a journal so that a pull of the plug costs at most what was not yet synced.

use std::fs::{File, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;

use super::{FILE_NAME, MAGIC, Record};

/// Records held in memory at most while the disk takes none: some hours of two channels at 10 Hz,
/// and a gigabyte for as many benches as one process may have.
const MOST_BACKLOG: usize = 16 << 20;

/// Ends a fragment that could not be cut off, and spoils it, should it be a record that lacks but
/// its LF.
const SPOIL: &[u8] = b"~\n";

/// Where the journal's bytes go; a file, or a test's double of one.
pub trait Store: std::fmt::Debug {
    /// Writes some of `bytes` at the end, like [`io::Write::write`].
    ///
    /// # Errors
    /// The system's.
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize>;
    /// Cuts the store to `len` bytes.
    ///
    /// # Errors
    /// The system's.
    fn cut(&mut self, len: u64) -> io::Result<()>;
    /// Makes what was written survive a power cut.
    ///
    /// # Errors
    /// The system's.
    fn sync(&mut self) -> io::Result<()>;
}

impl Store for File {
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.write(bytes)
    }

    fn cut(&mut self, len: u64) -> io::Result<()> {
        self.set_len(len)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }
}

/// The disk does not take what it should. Nothing is lost while `dropped` is zero.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// Records wait in memory.
    #[error("{held} bytes of the journal wait in memory ({dropped} records lost)")]
    Holding {
        /// Bytes that wait.
        held: usize,
        /// Records lost since the start because the memory set aside for waiting was full.
        dropped: u64,
        /// The disk's answer.
        source: io::Error,
    },
    /// A sync failed: what was written since the one before may be lost, though reading it back
    /// may still show it. A second sync that succeeds would prove nothing (a system reports such a
    /// failure once), so this trouble stays.
    #[error("the disk could not confirm the journal: {reason}")]
    NotSynced {
        /// The disk's answer.
        reason: String,
    },
}

/// Appends records to a journal.
#[derive(Debug)]
pub struct Writer<S = File> {
    store: S,
    /// Bytes of whole records in the store.
    len: u64,
    /// A torn record could not be cut off: the next write must start on a new line.
    ragged: bool,
    backlog: Vec<u8>,
    dropped: u64,
    unsynced: bool,
    /// The disk's answer to the first sync that failed.
    not_synced: Option<String>,
}

impl Writer<File> {
    /// Creates the journal of a new run in `folder`, and syncs file and folder.
    ///
    /// # Errors
    /// The system's; a journal that exists already is never touched.
    pub fn create(folder: &Path) -> io::Result<Self> {
        let mut options = OpenOptions::new();
        let file = options
            .append(true)
            .create_new(true)
            .open(folder.join(FILE_NAME))?;
        let mut writer = Self::over(file)?;
        writer.store.sync_all()?;
        writer.unsynced = false;
        sync_folder(folder)?;
        Ok(writer)
    }
}

/// Makes the names in a folder survive a power cut (fsync(2): a file's own sync does not).
fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}

impl<S: Store> Writer<S> {
    /// Begins a journal in an empty store.
    ///
    /// # Errors
    /// The store's.
    pub fn over(store: S) -> io::Result<Self> {
        let mut writer = Self {
            store,
            len: 0,
            ragged: false,
            backlog: format!("{MAGIC}\n").into_bytes(),
            dropped: 0,
            unsynced: true,
            not_synced: None,
        };
        writer.flush()?;
        Ok(writer)
    }

    /// Hands a record to the system: it survives the end of this process from here on, a power
    /// cut from the next [`Writer::sync`] on.
    ///
    /// # Errors
    /// [`Trouble::Holding`]: the record waits in memory, and each later call tries again.
    pub fn append(&mut self, record: &Record) -> Result<(), Trouble> {
        if self.backlog.len() >= MOST_BACKLOG {
            self.dropped += 1;
        } else {
            record.encode(&mut self.backlog);
        }
        self.retry()
    }

    /// Tries to write what waits, then syncs.
    ///
    /// # Errors
    /// [`Trouble`]; the run goes on, and people must be told.
    pub fn sync(&mut self) -> Result<(), Trouble> {
        if std::mem::take(&mut self.unsynced)
            && let Err(error) = self.store.sync()
        {
            self.not_synced.get_or_insert_with(|| error.to_string());
        }
        self.retry()
    }

    /// Whole records that wait in memory because the store took none, as bytes that can be
    /// appended to it.
    #[must_use]
    pub fn waiting(&self) -> Vec<u8> {
        let mut bytes = if self.ragged {
            SPOIL.to_vec()
        } else {
            Vec::new()
        };
        bytes.extend_from_slice(&self.backlog);
        bytes
    }

    fn retry(&mut self) -> Result<(), Trouble> {
        self.flush().map_err(|source| Trouble::Holding {
            held: self.backlog.len(),
            dropped: self.dropped,
            source,
        })?;
        match &self.not_synced {
            Some(reason) => Err(Trouble::NotSynced {
                reason: reason.clone(),
            }),
            None => Ok(()),
        }
    }

    /// Writes the backlog, all of it or up to a whole record.
    fn flush(&mut self) -> io::Result<()> {
        if self.ragged {
            let (done, result) = write_all(&mut self.store, SPOIL);
            self.len += done as u64;
            result?;
            self.ragged = false;
        }
        let (done, result) = write_all(&mut self.store, &self.backlog);
        self.unsynced |= done > 0;
        let written = self.backlog.get(..done).unwrap_or_default();
        let whole = memchr::memrchr(b'\n', written).map_or(0, |at| at + 1);
        self.backlog.drain(..whole);
        self.len += whole as u64;
        if whole < done && self.store.cut(self.len).is_err() {
            self.ragged = true;
            self.len += (done - whole) as u64;
        }
        result
    }
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
mod tests {
    use super::super::{Item, Kind, Reader};
    use super::*;

    /// A disk of limited room that can also refuse to cut and to sync.
    #[derive(Debug, Default)]
    struct SmallDisk {
        bytes: Vec<u8>,
        room: usize,
        cannot_cut: bool,
        cannot_sync: bool,
    }

    impl Store for &mut SmallDisk {
        fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
            let free = self.room.saturating_sub(self.bytes.len());
            if free == 0 {
                return Err(io::ErrorKind::StorageFull.into());
            }
            let n = bytes.len().min(free);
            self.bytes.extend_from_slice(&bytes[..n]);
            Ok(n)
        }

        fn cut(&mut self, len: u64) -> io::Result<()> {
            if self.cannot_cut {
                return Err(io::ErrorKind::PermissionDenied.into());
            }
            self.bytes.truncate(len as usize);
            Ok(())
        }

        fn sync(&mut self) -> io::Result<()> {
            if self.cannot_sync {
                return Err(io::Error::other("input/output error"));
            }
            Ok(())
        }
    }

    fn record(n: i64) -> Record {
        Record {
            t_ns: n,
            port: 0,
            kind: Kind::Bytes,
            payload: b">1,2,3*0000\n".to_vec(),
        }
    }

    fn times(bytes: &[u8]) -> (Vec<i64>, usize) {
        let mut reader = Reader::new(bytes).unwrap();
        let mut damaged = 0;
        let mut times = Vec::new();
        while let Some(item) = reader.next_item().unwrap() {
            match item {
                Item::Record(record) => times.push(record.t_ns),
                Item::Damage(_) | Item::TornTail(_) => damaged += 1,
            }
        }
        (times, damaged)
    }

    #[test]
    fn a_full_disk_holds_records_back_and_takes_them_when_there_is_room() {
        for cannot_cut in [false, true] {
            for room in 20..150 {
                let mut disk = SmallDisk {
                    room,
                    cannot_cut,
                    ..SmallDisk::default()
                };
                let mut writer = Writer::over(&mut disk).unwrap();
                let held = (0..6)
                    .filter(|&n| writer.append(&record(n)).is_err())
                    .count();
                assert!(held >= 2, "room {room}");
                let room = writer.store.bytes.len() + 20;
                writer.store.room = room;
                let _ = writer.append(&record(6));
                writer.store.room = 10_000;
                writer.append(&record(7)).unwrap();
                let (found, damaged) = times(&disk.bytes);
                assert_eq!(found, [0, 1, 2, 3, 4, 5, 6, 7], "room {room}");
                assert!(cannot_cut || damaged == 0, "room {room}");
            }
        }
    }

    #[test]
    fn a_sync_that_fails_is_said() {
        let mut disk = SmallDisk {
            room: 1000,
            cannot_sync: true,
            ..SmallDisk::default()
        };
        let mut writer = Writer::over(&mut disk).unwrap();
        writer.append(&record(1)).unwrap();
        assert!(matches!(writer.sync(), Err(Trouble::NotSynced { .. })));
        writer.store.cannot_sync = false;
        // What a later sync says proves nothing for what came before.
        assert!(matches!(
            writer.append(&record(2)),
            Err(Trouble::NotSynced { .. })
        ));
        assert!(matches!(writer.sync(), Err(Trouble::NotSynced { .. })));
    }

    #[test]
    fn an_existing_journal_is_never_touched() {
        let folder = tempfile::tempdir().unwrap();
        let mut writer = Writer::create(folder.path()).unwrap();
        writer.append(&record(1)).unwrap();
        let again = Writer::create(folder.path()).unwrap_err();
        assert_eq!(again.kind(), io::ErrorKind::AlreadyExists);
        let bytes = std::fs::read(folder.path().join(FILE_NAME)).unwrap();
        assert_eq!(times(&bytes), (vec![1], 0));
    }
}
