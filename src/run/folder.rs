//! A run's folder: its name, and files that are whole or not there.

use std::fs;
use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};

use super::error::RunError;

/// Makes a folder of its own for a run below `out`, named by the time and the run's name.
///
/// # Errors
/// [`RunError::Folder`] if it cannot be made. A folder that exists is never used: the next free
/// number is put behind the name.
pub(super) fn create(out: &Path, began_utc: &str, name: &str) -> Result<PathBuf, RunError> {
    let failed = |folder: &Path, source| RunError::Folder {
        folder: folder.to_owned(),
        source,
    };
    fs::create_dir_all(out).map_err(|e| failed(out, e))?;
    let base = folder_name(began_utc, name);
    for n in 1..1000 {
        let folder = match n {
            1 => out.join(&base),
            _ => out.join(format!("{base}-{n}")),
        };
        match fs::create_dir(&folder) {
            Ok(()) => return Ok(folder),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(failed(&folder, e)),
        }
    }
    Err(RunError::Exists {
        folder: out.join(base),
    })
}

/// `2026-03-14T103205-slate-and-moss`: no colons, which some file systems refuse, and nothing of
/// the name that could leave the folder.
fn folder_name(began_utc: &str, name: &str) -> String {
    let time: String = began_utc
        .chars()
        .take(19)
        .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
        .collect();
    let mut safe = String::new();
    for c in name.chars().take(60) {
        if c.is_alphanumeric() {
            safe.push(c);
        } else if !safe.ends_with('-') && !safe.is_empty() {
            safe.push('-');
        }
    }
    let safe = safe.trim_end_matches('-');
    if safe.is_empty() {
        time
    } else {
        format!("{time}-{safe}")
    }
}

/// Writes a file aside, syncs it and renames it into place, so that the old one is there until the
/// new one is whole.
///
/// # Errors
/// [`RunError::Write`] with the system's answer.
pub(super) fn replace(folder: &Path, name: &str, bytes: &[u8]) -> Result<(), RunError> {
    replace_with(folder, name, |out| out.write_all(bytes))
}

/// The same for a file that is written bit by bit.
///
/// # Errors
/// [`RunError::Write`] with the system's answer.
pub fn replace_with(
    folder: &Path,
    name: &str,
    fill: impl FnOnce(&mut BufWriter<fs::File>) -> io::Result<()>,
) -> Result<(), RunError> {
    let path = folder.join(name);
    let aside = folder.join(format!(".{name}.new"));
    let write = || -> io::Result<()> {
        let mut out = BufWriter::with_capacity(1 << 16, fs::File::create(&aside)?);
        fill(&mut out)?;
        out.into_inner()?.sync_all()?;
        fs::rename(&aside, &path)?;
        if cfg!(unix) {
            fs::File::open(folder)?.sync_all()?;
        }
        Ok(())
    };
    write().map_err(|source| {
        let _ = fs::remove_file(&aside);
        RunError::Write { path, source }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_make_folders_that_cannot_leave_theirs() {
        let began = "2026-03-14T10:32:05.123Z";
        for (name, folder) in [
            ("bench 1", "2026-03-14T103205-bench-1"),
            ("../../etc", "2026-03-14T103205-etc"),
            (
                "Dach: Schiefer & Moos",
                "2026-03-14T103205-Dach-Schiefer-Moos",
            ),
            ("", "2026-03-14T103205"),
            ("/", "2026-03-14T103205"),
        ] {
            assert_eq!(folder_name(began, name), folder);
        }
    }

    #[test]
    fn a_taken_name_gets_a_number() {
        let out = tempfile::tempdir().unwrap();
        let first = create(out.path(), "2026-03-14T10:32:05Z", "a").unwrap();
        let second = create(out.path(), "2026-03-14T10:32:05Z", "a").unwrap();
        assert!(first.ends_with("2026-03-14T103205-a"));
        assert!(second.ends_with("2026-03-14T103205-a-2"));
    }

    #[test]
    fn a_file_is_replaced_whole_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        replace(folder.path(), "a.csv", b"one").unwrap();
        replace(folder.path(), "a.csv", b"two").unwrap();
        assert_eq!(fs::read(folder.path().join("a.csv")).unwrap(), b"two");
        // The name of a folder cannot be replaced by a file: the folder stays.
        fs::create_dir(folder.path().join("b.csv")).unwrap();
        fs::write(folder.path().join("b.csv/inside"), b"x").unwrap();
        assert!(replace(folder.path(), "b.csv", b"new").is_err());
        assert!(folder.path().join("b.csv/inside").exists());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }
}
