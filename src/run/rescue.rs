//! The end of a journal, also on a disk that takes no more.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::error::RunError;
use crate::journal::{Disk as _, FILE_NAME, Record, Trouble, Writer};

/// Writes and syncs the end, which was pushed already.
///
/// # Errors
/// [`RunError`] if the disk could not take or confirm it.
pub(super) fn finish(writer: &mut Writer, end: &Record) -> Result<(), RunError> {
    let (held, source) = match writer.finish() {
        Ok(()) | Err(Trouble::Moved { .. } | Trouble::Nearly { .. }) => return Ok(()),
        Err(Trouble::NotSynced { reason }) => (None, io::Error::other(reason)),
        Err(Trouble::Holding { held, source, .. }) => (Some(held), source),
    };
    let folder = writer.disk().path().to_owned();
    let (name, rest) = writer.rest();
    let rescued = (1..100).find_map(|n| put(&folder, &rest, n).ok());
    let journal = folder.join(FILE_NAME);
    let Some(bytes) = held else {
        return Err(RunError::Unconfirmed {
            journal,
            copy: rescued,
            piece: name,
            source,
        });
    };
    if rescued.is_none() {
        // Not even elsewhere: the journal says so itself, in the room set aside for its end.
        let _ = writer.give_up(end);
    }
    Err(RunError::Unsaved {
        journal,
        bytes,
        rescued,
        piece: name,
        source,
    })
}

/// What waits in memory goes where there may be room, as a piece that can be put beside the others.
fn put(folder: &Path, rest: &[u8], n: u32) -> io::Result<PathBuf> {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let path = std::env::temp_dir().join(match n {
        1 => format!("{name}-rest.dmj"),
        _ => format!("{name}-rest-{n}.dmj"),
    });
    let mut file = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(&path)?;
    let written = file.write_all(rest).and_then(|()| file.sync_all());
    if let Err(error) = written {
        let _ = std::fs::remove_file(&path);
        return Err(error);
    }
    crate::journal::Folder::new(&std::env::temp_dir()).sync_names()?;
    Ok(path)
}
