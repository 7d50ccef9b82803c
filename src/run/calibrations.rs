//! The file of calibrations: read whole, added to whole, one process at a time.
//!
//! Calibrations are never removed: the newest of a kind counts, older ones stay to be looked at. A file
//! that cannot be understood is left untouched.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::error::RunError;
use super::folder::replace;
use crate::calibrate::Calibration;

/// The file's usual name.
pub const CALIBRATIONS: &str = "calibrations.toml";

/// Word for the file's version.
const FORMAT: &str = "duskmark-calibrations-1";

/// Larger files are none of ours: ten thousand calibrations fit.
const LARGEST_BYTES: u64 = 16 << 20;

/// Another process holds the file for a moment only.
const PATIENCE: Duration = Duration::from_secs(10);

/// What stands before the calibrations.
const HEAD: &str = "# Calibrations of probes, by board and channel: the newest of each kind counts.\n\
                    # duskmark calibrate adds to this file; u_ is a standard uncertainty.\n";

/// Why calibrations cannot be read or kept.
#[derive(Debug, thiserror::Error)]
pub enum StoreFault {
    /// It cannot be read.
    #[error("{} cannot be read", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// What is in it is no list of calibrations.
    #[error("{}:{line}:{column}: {why}", path.display())]
    Broken {
        /// The file.
        path: PathBuf,
        /// From 1.
        line: usize,
        /// From 1.
        column: usize,
        /// What is wrong there.
        why: String,
    },
    /// A newer program wrote it.
    #[error("{} says format = '{format}', which this version does not know", path.display())]
    Format {
        /// The file.
        path: PathBuf,
        /// What it says.
        format: String,
    },
    /// Another process holds it.
    #[error("{} is held by another process", path.display())]
    Held {
        /// The file.
        path: PathBuf,
    },
    /// It cannot be written.
    #[error(transparent)]
    Write(#[from] RunError),
}

#[derive(serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Whole {
    format: String,
    #[serde(default)]
    calibration: Vec<Calibration>,
}

/// Reads a file of calibrations; none where there is no such file.
///
/// # Errors
/// [`StoreFault`] if there is one and it cannot be understood.
pub fn read_calibrations(path: &Path) -> Result<Vec<Calibration>, StoreFault> {
    let failed = |source| StoreFault::Read {
        path: path.to_owned(),
        source,
    };
    match std::fs::metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Ok(about) if about.len() > LARGEST_BYTES => {
            let text = "it is too large for calibrations";
            return Err(failed(io::Error::other(text)));
        }
        _ => {}
    }
    let text = std::fs::read_to_string(path).map_err(failed)?;
    parse(path, &text)
}

fn parse(path: &Path, text: &str) -> Result<Vec<Calibration>, StoreFault> {
    let broken = |byte: usize, why: String| {
        let (line, column) = place(text, byte);
        StoreFault::Broken {
            path: path.to_owned(),
            line,
            column,
            why,
        }
    };
    // A newer format may have other keys: it is told apart first.
    let table: toml::Table = toml::from_str(text)
        .map_err(|e| broken(e.span().map_or(0, |s| s.start), first_line(e.message())))?;
    // Nothing in it, or remarks alone: somebody made room for what is to come.
    if table.is_empty() {
        return Ok(Vec::new());
    }
    let format = table.get("format").and_then(toml::Value::as_str);
    if let Some(other) = format.filter(|format| *format != FORMAT) {
        return Err(StoreFault::Format {
            path: path.to_owned(),
            format: other.escape_debug().to_string(),
        });
    }
    let whole: Whole = toml::from_str(text)
        .map_err(|e| broken(e.span().map_or(0, |s| s.start), first_line(e.message())))?;
    let mut heads = text.match_indices("[[calibration]]");
    for one in &whole.calibration {
        let byte = heads.next().map_or(0, |(byte, _)| byte);
        if let Some(why) = one.fault() {
            return Err(broken(byte, why));
        }
    }
    Ok(whole.calibration)
}

fn first_line(message: &str) -> String {
    let line = message.lines().next().unwrap_or_default();
    line.escape_debug().to_string()
}

/// Line and column of a byte, both from 1; columns count characters.
fn place(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
    (line, column)
}

/// Adds calibrations to a file, which is made if it is not there. Another process that adds at the same
/// time waits. The file is whole at every instant, and stays as it was if anything fails.
///
/// # Errors
/// [`StoreFault`] if the file that is there cannot be understood, is held, or cannot be replaced.
pub fn add_calibrations(path: &Path, new: &[Calibration]) -> Result<(), StoreFault> {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let failed = |source| RunError::Write {
        path: path.clone(),
        source,
    };
    let (Some(folder), Some(name)) = (path.parent(), path.file_name().and_then(|n| n.to_str()))
    else {
        return Err(failed(io::Error::other("it is no name of a file")).into());
    };
    std::fs::create_dir_all(folder).map_err(failed)?;
    let _held = hold(folder, name, &path)?;
    let mut whole = Whole {
        format: FORMAT.into(),
        calibration: read_calibrations(&path)?,
    };
    whole.calibration.extend_from_slice(new);
    let text = toml::to_string(&whole).map_err(|e| failed(io::Error::other(e.to_string())))?;
    replace(folder, name, format!("{HEAD}{text}").as_bytes())?;
    Ok(())
}

/// Takes the lock beside the file. It stays when it is let go of: whoever removed it could remove the
/// next one's.
fn hold(folder: &Path, name: &str, path: &Path) -> Result<File, StoreFault> {
    let lock = folder.join(format!(".{name}.lock"));
    let mut options = File::options();
    let file = options.create(true).truncate(false).write(true).open(&lock);
    let file = file.map_err(|source| RunError::Write { path: lock, source })?;
    let until = Instant::now() + PATIENCE;
    loop {
        match file.try_lock() {
            Ok(()) | Err(std::fs::TryLockError::Error(_)) => return Ok(file),
            Err(std::fs::TryLockError::WouldBlock) if Instant::now() < until => {
                std::thread::sleep(Duration::from_millis(20));
            }
            Err(std::fs::TryLockError::WouldBlock) => {
                return Err(StoreFault::Held {
                    path: path.to_owned(),
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibrate::{Constants, CorrectionLine, Found};

    fn one(channel: usize, found: Found) -> Calibration {
        Calibration {
            board: "K7F2".into(),
            channel,
            date: "2026-03-14T10:32:05.123Z".into(),
            method: "one \"bath\"".into(),
            program: "0.1.0".into(),
            probe: Some("degc".into()),
            found,
            conditions: [("pressure_hpa".to_owned(), 987.5)].into(),
        }
    }

    fn lag(channel: usize) -> Calibration {
        let found = Found::Lag {
            tau_s: 5.25,
            u_s: 0.1,
        };
        one(channel, found)
    }

    #[test]
    fn every_kind_is_read_as_it_was_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep/er").join(CALIBRATIONS);
        assert_eq!(read_calibrations(&path).unwrap(), Vec::new());
        let all = [
            lag(1),
            one(
                2,
                Found::Match {
                    reading_degc: 22.1,
                    difference_degc: 0.1 + 0.2,
                    u_degc: 1.0 / 3.0,
                },
            ),
            one(
                3,
                Found::Constants {
                    constants: Constants::Beta {
                        r25_ohm: 10_012.3,
                        beta_k: 3921.7,
                    },
                    covariance: vec![vec![1.25e-9, -1.5e-10], vec![-1.5e-10, 2e-11]],
                    from_degc: 0.0,
                    to_degc: 60.0,
                    residual_sd_degc: Some(0.07),
                },
            ),
            one(
                4,
                Found::Line {
                    from_degc: 0.0,
                    to_degc: 60.0,
                    residual_sd_degc: None,
                    correction: CorrectionLine::through((0.0, 0.5, 0.1), (60.0, -0.5, 0.1)),
                },
            ),
        ];
        add_calibrations(&path, &all[..1]).unwrap();
        add_calibrations(&path, &all[1..]).unwrap();
        assert_eq!(read_calibrations(&path).unwrap(), all);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("# Calibrations") && text.contains("pressure_hpa = 987.5"));
    }

    #[test]
    fn a_file_with_nothing_in_it_holds_no_calibration_and_takes_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(CALIBRATIONS);
        for text in ["", "\n \n", "# Calibrations\n"] {
            std::fs::write(&path, text).unwrap();
            assert_eq!(read_calibrations(&path).unwrap(), Vec::new(), "{text:?}");
        }
        add_calibrations(&path, &[lag(1)]).unwrap();
        assert_eq!(read_calibrations(&path).unwrap(), [lag(1)]);
        // A section without the format is none of ours.
        std::fs::write(&path, "[other]\n").unwrap();
        assert!(read_calibrations(&path).is_err());
    }

    #[test]
    fn a_broken_file_is_told_with_its_line_and_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(CALIBRATIONS);
        add_calibrations(&path, &[lag(1)]).unwrap();
        let sound = std::fs::read_to_string(&path).unwrap();
        for (from, to, line, why) in [
            ("tau_s = 5.25", "tau_s = five", 0, ""),
            (
                "channel = 1",
                "channel = 0",
                5,
                "channel 0 is not in 1 to 8",
            ),
            ("2026-03-14T10", "the 14th", 0, "the date is not like"),
            ("tau_s = 5.25", "tau_s = nan", 5, "not finite"),
            ("u_s = 0.1", "u_s = -0.1", 5, "below zero"),
            ("u_s = 0.1", "u_s = 0.1\ncolour = 1", 0, "colour"),
            ("kind = \"lag\"", "kind = \"log\"", 0, "log"),
        ] {
            let edited = sound.replacen(from, to, 1);
            assert_ne!(edited, sound, "{from}");
            std::fs::write(&path, &edited).unwrap();
            let Err(StoreFault::Broken {
                line: at,
                why: said,
                ..
            }) = add_calibrations(&path, &[lag(2)])
            else {
                panic!("{to} was taken");
            };
            assert!(
                said.contains(why) && (line == 0 && at > 1 || at == line),
                "{at}: {said}"
            );
            assert_eq!(std::fs::read_to_string(&path).unwrap(), edited);
        }
        let newer = sound.replacen("calibrations-1", "calibrations-2", 1);
        std::fs::write(&path, newer).unwrap();
        assert!(matches!(
            read_calibrations(&path),
            Err(StoreFault::Format { .. })
        ));
    }

    #[test]
    fn two_at_once_lose_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(CALIBRATIONS);
        std::thread::scope(|scope| {
            for channel in 1..=8 {
                let path = &path;
                scope.spawn(move || {
                    for _ in 0..5 {
                        add_calibrations(path, &[lag(channel)]).unwrap();
                    }
                });
            }
        });
        let all = read_calibrations(&path).unwrap();
        for channel in 1..=8 {
            assert_eq!(all.iter().filter(|c| c.channel == channel).count(), 5);
        }
    }
}
