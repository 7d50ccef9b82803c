//! One process at a time in a run's folder.

use std::fs::{File, TryLockError};
use std::path::Path;

use super::error::RunError;
use crate::journal::FILE_NAME;
use crate::port::holder_of;

/// What is locked where a lock keeps others from reading, so that the journal itself cannot be.
const LOCK: &str = "journal.lock";

/// Who has that lock, in words: nothing else can be read of a locked file.
const HOLDER: &str = "journal.lock.txt";

/// Takes the folder for this process; the system lets go of it when the handle is closed, also by
/// a kill. On Unix the lock is on the journal's first piece, which is there as long as the run is.
///
/// # Errors
/// [`RunError::InUse`] with the other process's name, where the system shows it.
pub(super) fn take(folder: &Path) -> Result<File, RunError> {
    if cfg!(unix) {
        take_journal(folder)
    } else {
        take_beside(folder)
    }
}

/// Locks the journal; a lock on Unix is for those who ask for it, and keeps nobody from reading.
fn take_journal(folder: &Path) -> Result<File, RunError> {
    let path = folder.join(FILE_NAME);
    let file = File::open(&path).map_err(|source| RunError::Read {
        path: path.clone(),
        source,
    })?;
    locked(file, folder, || path.to_str().and_then(holder_of))
}

/// Locks a file beside the journal. It stays when the lock is let go of: whoever removed it could
/// remove the next one's.
fn take_beside(folder: &Path) -> Result<File, RunError> {
    let path = folder.join(LOCK);
    let mut options = File::options();
    let file = options.create(true).truncate(false).write(true).open(&path);
    let file = file.map_err(|source| RunError::Write { path, source })?;
    let holder = folder.join(HOLDER);
    let file = locked(file, folder, || {
        let text = std::fs::read_to_string(&holder).ok()?;
        Some(text.trim().escape_debug().to_string())
    })?;
    // The next one to ask is told. Without it the lock holds all the same.
    let _ = std::fs::write(&holder, own_name());
    Ok(file)
}

fn locked(
    file: File,
    folder: &Path,
    holder: impl FnOnce() -> Option<String>,
) -> Result<File, RunError> {
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => Err(RunError::InUse {
            folder: folder.to_owned(),
            holder: holder(),
        }),
        // A file system without locks (some network shares): the port is exclusive all the same.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(file),
    }
}

/// This process, as others are shown: `duskmark (process 123)`.
fn own_name() -> String {
    let program = std::env::args_os().next().unwrap_or_default();
    let name = Path::new(&program).file_stem().unwrap_or_default();
    format!("{} (process {})\n", name.display(), std::process::id())
}

/// Takes the folder for as long as its files are derived anew.
///
/// # Errors
/// [`RunError::InUse`] while the run is logged.
pub fn lock_run(folder: &Path) -> Result<File, RunError> {
    take(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both ways, whatever this system takes.
    #[test]
    fn a_second_hold_is_refused_until_the_first_is_let_go_of() {
        for take in [take_journal, take_beside] {
            let folder = tempfile::tempdir().unwrap();
            std::fs::write(folder.path().join(FILE_NAME), "a journal").unwrap();
            let held = take(folder.path()).unwrap();
            let refused = take(folder.path()).unwrap_err();
            assert!(matches!(refused, RunError::InUse { .. }), "{refused:?}");
            drop(held);
            take(folder.path()).unwrap();
        }
    }

    #[test]
    fn the_holder_of_a_lock_beside_the_journal_is_named_and_the_journal_can_be_read() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(FILE_NAME), "a journal").unwrap();
        let _held = take_beside(folder.path()).unwrap();
        let Err(RunError::InUse { holder, .. }) = take_beside(folder.path()) else {
            panic!("it is held");
        };
        let process = format!("(process {})", std::process::id());
        assert!(
            holder
                .as_deref()
                .is_some_and(|name| name.ends_with(&process)),
            "{holder:?}"
        );
        let journal = std::fs::read_to_string(folder.path().join(FILE_NAME)).unwrap();
        assert_eq!(journal, "a journal");
    }
}
