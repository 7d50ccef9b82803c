//! Opening a run's journal: what its first record set up.

use std::path::Path;

use super::error::RunError;
use super::setup::RunSetup;
use crate::journal::{FILE_NAME, FolderShelf, Item, JournalError, Kind, Pieces};

/// A journal that was opened and whose first record was read.
pub(super) struct Begun {
    /// The rest of the records.
    pub(super) pieces: Pieces<FolderShelf>,
    /// What the run was asked to do.
    pub(super) setup: RunSetup,
    /// Time of the first record, in ns.
    pub(super) start_ns: i64,
}

/// Opens the journal of a run's folder.
///
/// # Errors
/// [`RunError`] if it cannot be read or does not begin with a setup.
pub(super) fn begun(folder: &Path) -> Result<Begun, RunError> {
    let path = folder.join(FILE_NAME);
    // Before anything is said of what it holds: can it be read at all?
    std::fs::File::open(&path).map_err(|source| RunError::Read {
        path: path.clone(),
        source,
    })?;
    let failed = |source: JournalError| RunError::Journal {
        path: path.clone(),
        source,
    };
    let mut pieces = Pieces::in_folder(folder).map_err(failed)?;
    let first = pieces.next_item().map_err(failed)?;
    let (setup, start_ns) = setup_of(first).map_err(|reason| RunError::Setup {
        path: path.clone(),
        reason,
    })?;
    Ok(Begun {
        pieces,
        setup,
        start_ns,
    })
}

/// Reads what a journal was set up with.
///
/// # Errors
/// [`RunError`] if it cannot be read.
pub fn setup_in(folder: &Path) -> Result<RunSetup, RunError> {
    begun(folder).map(|begun| begun.setup)
}

/// The setup that a journal's first record states.
fn setup_of(first: Option<Item>) -> Result<(RunSetup, i64), String> {
    let record = match first {
        Some(Item::Record(record)) if record.kind == Kind::Setup => record,
        Some(Item::Record(_)) => return Err("another record comes first".into()),
        Some(Item::Damage(d) | Item::TornTail(d)) => return Err(d.reason.into()),
        None => return Err("it is empty".into()),
    };
    let setup = serde_json::from_slice(&record.payload).map_err(|e| e.to_string())?;
    Ok((setup, record.t_ns))
}
