//! What a journal needs of a disk: files that only grow, and names that last.

use std::fs::{File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Where a piece's bytes go; a file, or a test's double of one.
pub trait Store: std::fmt::Debug {
    /// Writes some of `bytes` at the end, like [`io::Write::write`].
    ///
    /// # Errors
    /// The system's.
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize>;
    /// Cuts the store to `len` bytes, and lets go of room that was set aside beyond.
    ///
    /// # Errors
    /// The system's.
    fn cut(&mut self, len: u64) -> io::Result<()>;
    /// Makes what was written survive a power cut.
    ///
    /// # Errors
    /// The system's. After an error the store is not to be trusted with a second try: systems
    /// report a failed sync once and then forget which pages it was about.
    fn sync(&mut self) -> io::Result<()>;
    /// Sets room aside up to `len` bytes, without making the file longer.
    ///
    /// # Errors
    /// `StorageFull` if there is none; `Unsupported` where the file system cannot.
    fn reserve(&mut self, len: u64) -> io::Result<()>;
}

/// Where the pieces of a journal are; a folder, or a test's double of one.
pub trait Disk: std::fmt::Debug {
    /// A file of it.
    type Piece: Store;
    /// Creates a file that is not there yet.
    ///
    /// # Errors
    /// The system's; `AlreadyExists` for a file that is there, which is never touched.
    fn create(&mut self, name: &str) -> io::Result<Self::Piece>;
    /// Removes a file that holds nothing yet.
    ///
    /// # Errors
    /// The system's.
    fn remove(&mut self, name: &str) -> io::Result<()>;
    /// Makes the names survive a power cut (fsync(2): a file's own sync does not).
    ///
    /// # Errors
    /// The system's.
    fn sync_names(&mut self) -> io::Result<()>;
}

/// A folder on a disk.
#[derive(Debug, Clone)]
pub struct Folder(PathBuf);

impl Folder {
    /// The folder at `path`, which must be there.
    #[must_use]
    pub fn new(path: &Path) -> Self {
        Self(path.to_owned())
    }

    /// Its path.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Disk for Folder {
    type Piece = File;

    fn create(&mut self, name: &str) -> io::Result<File> {
        let mut options = OpenOptions::new();
        // Readable too: the first piece carries the run's lock, which needs no more than a handle.
        options
            .append(true)
            .read(true)
            .create_new(true)
            .open(self.0.join(name))
    }

    fn remove(&mut self, name: &str) -> io::Result<()> {
        std::fs::remove_file(self.0.join(name))
    }

    fn sync_names(&mut self) -> io::Result<()> {
        if cfg!(unix) {
            File::open(&self.0)?.sync_all()?;
        }
        Ok(())
    }
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

    #[cfg(target_os = "linux")]
    fn reserve(&mut self, len: u64) -> io::Result<()> {
        // Measured on ext4 and tmpfs: a full disk then still takes so many bytes. A file system
        // that cannot set room aside says so, and the journal does without.
        let keep = rustix::fs::FallocateFlags::KEEP_SIZE;
        Ok(rustix::fs::fallocate(&*self, keep, 0, len)?)
    }

    #[cfg(not(target_os = "linux"))]
    fn reserve(&mut self, _len: u64) -> io::Result<()> {
        Err(io::ErrorKind::Unsupported.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_grows_keeps_its_room_beyond_its_end_and_is_cut() {
        let folder = tempfile::tempdir().unwrap();
        let mut disk = Folder::new(folder.path());
        assert_eq!(disk.path(), folder.path());
        let mut file = disk.create("a.dmj").unwrap();
        assert_eq!(
            disk.create("a.dmj").unwrap_err().kind(),
            io::ErrorKind::AlreadyExists
        );
        assert_eq!(file.append(b"slate").unwrap(), 5);
        // Where room cannot be set aside, that is said.
        match file.reserve(1 << 20) {
            Ok(()) => {
                #[cfg(unix)]
                {
                    use std::os::unix::fs::MetadataExt as _;
                    let blocks = file.metadata().unwrap().blocks();
                    assert!(blocks * 512 >= 1 << 20, "{blocks} blocks");
                }
            }
            Err(error) => assert_eq!(error.kind(), io::ErrorKind::Unsupported),
        }
        assert_eq!(file.metadata().unwrap().len(), 5);
        file.append(b" moss").unwrap();
        file.sync().unwrap();
        file.cut(7).unwrap();
        file.append(b"!").unwrap();
        assert_eq!(
            std::fs::read(folder.path().join("a.dmj")).unwrap(),
            b"slate m!"
        );
        disk.sync_names().unwrap();
        disk.remove("a.dmj").unwrap();
        assert!(!folder.path().join("a.dmj").exists());
        // The names of a folder that is gone cannot be made to last.
        drop(folder);
        assert_eq!(disk.sync_names().is_err(), cfg!(unix));
    }
}
