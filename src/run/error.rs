//! Why a run's folder cannot be made, read or written.

use std::io;
use std::path::PathBuf;

use crate::journal::JournalError;

/// Why a run's folder cannot be made, read or written.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The folder for runs, or a run's own folder, cannot be made.
    #[error("the folder {} cannot be made", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// There is something of that name already.
    #[error("{} exists already and is left as it is", folder.display())]
    Exists {
        /// The folder.
        folder: PathBuf,
    },
    /// A file of the run cannot be read.
    #[error("{} cannot be read", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// A file of the run cannot be written.
    #[error("{} cannot be written", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// The journal cannot be read.
    #[error("the journal {} cannot be read", path.display())]
    Journal {
        /// The journal.
        path: PathBuf,
        /// What is wrong.
        source: JournalError,
    },
    /// The journal does not begin with the record that says how to read the rest.
    #[error("the journal {} has no readable setup record: {reason}", path.display())]
    Setup {
        /// The journal.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// The run is over, and its journal's last records found no room on the disk.
    #[error(
        "{} takes no more ({source}); the last {bytes} bytes of the journal {}",
        journal.display(),
        match rescued {
            Some(path) => format!("are in {}", path.display()),
            None => "are lost".to_owned(),
        }
    )]
    Unsaved {
        /// The journal.
        journal: PathBuf,
        /// Bytes that did not fit.
        bytes: usize,
        /// The file, on another disk perhaps, that they were put into.
        rescued: Option<PathBuf>,
        /// The system's answer.
        source: io::Error,
    },
}
