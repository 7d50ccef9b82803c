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
    /// Another process logs into the folder, or derives its files.
    #[error("{} is in use by {}", folder.display(), holder.as_deref().unwrap_or("another process"))]
    InUse {
        /// The folder.
        folder: PathBuf,
        /// The process, where the system shows it.
        holder: Option<String>,
    },
    /// There is nothing to go on with.
    #[error("the plan of the run in {} is through", folder.display())]
    Through {
        /// The folder.
        folder: PathBuf,
    },
    /// The disk does not answer: whether the end of the run is on it is not known.
    #[error("the disk has not answered for {waited_s} s: the end of the run in {} may not be on it", folder.display())]
    NoAnswer {
        /// The folder.
        folder: PathBuf,
        /// How long it was waited for.
        waited_s: u64,
    },
    /// The thread that writes the run's files is gone, by a fault of the program's own.
    #[error("the thread that writes the run's files ended too early")]
    Scribe,
    /// The run is over, and the disk did not confirm its journal's last records.
    #[error(
        "the disk could not confirm {} ({source}); {}",
        journal.display(),
        match copy {
            Some(path) => format!("what is in doubt is also in {}", path.display()),
            None => "a power cut now may cost its last records".to_owned(),
        }
    )]
    Unconfirmed {
        /// The journal.
        journal: PathBuf,
        /// A copy of what is in doubt.
        copy: Option<PathBuf>,
        /// The name of the piece that the copy is, in the run's folder.
        piece: String,
        /// The disk's answer.
        source: io::Error,
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
        /// The name of the piece that it is, in the run's folder.
        piece: String,
        /// The system's answer.
        source: io::Error,
    },
}
