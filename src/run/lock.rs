//! One process at a time in a run's folder.

use std::fs::{File, TryLockError};
use std::path::Path;

use super::error::RunError;
use crate::journal::FILE_NAME;
use crate::port::holder_of;

/// Takes the folder for this process; the system lets go of it when the handle is closed, also by
/// a kill. The lock is on the journal's first piece, which is there as long as the run is.
///
/// # Errors
/// [`RunError::InUse`] with the other process's name, where the system shows it.
pub(super) fn take(folder: &Path) -> Result<File, RunError> {
    let path = folder.join(FILE_NAME);
    let file = File::open(&path).map_err(|source| RunError::Read {
        path: path.clone(),
        source,
    })?;
    // On Windows a lock keeps others from reading too, and people may read a run that goes on.
    if !cfg!(unix) {
        return Ok(file);
    }
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => Err(RunError::InUse {
            folder: folder.to_owned(),
            holder: path.to_str().and_then(holder_of),
        }),
        // A file system without locks (some network shares): the port is exclusive all the same.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(file),
    }
}

/// Takes the folder for as long as its files are derived anew.
///
/// # Errors
/// [`RunError::InUse`] while the run is logged.
pub fn lock_run(folder: &Path) -> Result<File, RunError> {
    take(folder)
}
