//! Files that others read while a run is logged.

use std::fs::{File, OpenOptions};
use std::io::{self, Write as _};
use std::path::PathBuf;

/// A file that others read while it grows: derived, so that a failure costs nothing that counts.
#[derive(Debug)]
pub(super) struct LiveFile {
    path: PathBuf,
    file: Option<File>,
    failed: bool,
}

impl LiveFile {
    pub(super) fn new(path: PathBuf) -> Self {
        Self {
            path,
            file: None,
            failed: false,
        }
    }

    /// Appends whole lines in one write.
    pub(super) fn append(&mut self, lines: &str) {
        if self.failed {
            return;
        }
        match self.try_append(lines) {
            Ok(()) => {}
            Err(error) => {
                // Whoever reads it sees it stop; the final file is made from the journal.
                tracing::warn!(path = %self.path.display(), %error, "a live file stops growing");
                self.failed = true;
            }
        }
    }

    fn try_append(&mut self, lines: &str) -> io::Result<()> {
        let file = if let Some(file) = &mut self.file {
            file
        } else {
            let mut options = OpenOptions::new();
            let file = options.append(true).create_new(true).open(&self.path)?;
            self.file.insert(file)
        };
        file.write_all(lines.as_bytes())
    }
}
