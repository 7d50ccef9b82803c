//! Files that others read while a run is logged.

use std::fs::{File, OpenOptions};
use std::io::{self, Write as _};
use std::path::PathBuf;

/// A file that others read while it grows: derived, so that a failure costs nothing that counts.
#[derive(Debug)]
pub(super) struct LiveFile {
    path: PathBuf,
    file: Option<File>,
    /// Bytes of whole lines in it.
    len: u64,
    /// There is a file to go on with.
    there: bool,
    failed: bool,
}

impl LiveFile {
    /// A file that is made with its first line.
    pub(super) fn new(path: PathBuf) -> Self {
        Self {
            path,
            file: None,
            len: 0,
            there: false,
            failed: false,
        }
    }

    /// A file that is there, whole, and goes on.
    pub(super) fn onward(path: PathBuf) -> Self {
        Self {
            there: true,
            ..Self::new(path)
        }
    }

    /// Appends whole lines in one write. On a disk that takes none they are left out here: the
    /// final file is made from the journal.
    pub(super) fn append(&mut self, lines: &str) {
        if lines.is_empty() {
            return;
        }
        match self.try_append(lines) {
            Ok(()) => {
                self.len += lines.len() as u64;
                self.failed = false;
            }
            Err(error) => {
                // Half a line must not stand before the next one.
                if let Some(file) = &self.file {
                    let _ = file.set_len(self.len);
                }
                if !std::mem::replace(&mut self.failed, true) {
                    let path = self.path.display();
                    tracing::warn!(
                        "{path} misses lines for now ({error}). The journal has them, and the file \
                         is made whole when the run ends"
                    );
                }
            }
        }
    }

    fn try_append(&mut self, lines: &str) -> io::Result<()> {
        let file = if let Some(file) = &mut self.file {
            file
        } else {
            let mut options = OpenOptions::new();
            options.append(true).create_new(!self.there);
            let file = options.open(&self.path)?;
            self.len = file.metadata()?.len();
            self.file.insert(file)
        };
        file.write_all(lines.as_bytes())
    }
}
