//! Which file calibrations are kept in, and under which name a board's stand there.

use std::path::{Path, PathBuf};

use crate::calibrate::Calibration;
use crate::cli::config::user_folder;
use crate::cli::exit::{Code, Failure, chain};
use crate::cli::text::printable;
use crate::port::list;
use crate::run::{CALIBRATIONS, StoreFault, read_calibrations};
use crate::sampler::Sampler;

/// The file that was named, else the one in the working folder, else the user's own.
///
/// # Errors
/// [`Failure`] where the system names no folder for the user.
pub(super) fn store(named: Option<&Path>) -> Result<PathBuf, Failure> {
    let here = Path::new(CALIBRATIONS);
    match named {
        Some(path) => Ok(path.to_owned()),
        None if here.exists() => Ok(here.to_owned()),
        None => user_folder()
            .map(|folder| folder.join(CALIBRATIONS))
            .ok_or_else(|| {
                Failure::new(Code::Usage, "nothing says where the user's own folder is")
                    .advise("Name the file of calibrations with --store.")
            }),
    }
}

/// What the file holds.
///
/// # Errors
/// [`Failure`] if it cannot be understood; it is left as it is.
pub(super) fn stored(path: &Path) -> Result<Vec<Calibration>, Failure> {
    read_calibrations(path).map_err(|fault| of_store(&fault))
}

/// Why calibrations cannot be read or kept, and what to do.
pub(super) fn of_store(fault: &StoreFault) -> Failure {
    let failure = |code| Failure::new(code, chain(fault));
    match fault {
        StoreFault::Broken { .. } => failure(Code::Failed).advise(
            "The file is left as it is. Mend that line, or move the file away; \
             'log --calibration off' goes on without it.",
        ),
        StoreFault::Format { .. } => failure(Code::Failed)
            .advise("A newer duskmark wrote it; use that one, or another file with --store."),
        StoreFault::Held { .. } => failure(Code::Failed)
            .advise("Wait until the other calibration has ended; nothing was kept."),
        StoreFault::Read { .. } | StoreFault::Write(_) => failure(Code::Failed)
            .advise("Choose a file that you may read and write with --store; nothing was kept."),
    }
}

/// The name under which a board's calibrations are kept: as people say, else its id, else the serial
/// number of its adapter; none if it has neither.
pub(super) fn key(named: Option<&str>, sampler: &Sampler, port: &str) -> Option<String> {
    let id = || sampler.hello().map(|hello| hello.board_id.clone());
    let serial = || {
        let ports = list().ok()?;
        let usb = ports.into_iter().find(|listed| listed.path == port)?.usb?;
        usb.serial.map(|serial| format!("usb:{serial}"))
    };
    named.map(str::to_owned).or_else(id).or_else(serial)
}

/// Refuses a board whose calibrations nobody could find again.
pub(super) fn no_key(port: &str) -> Failure {
    let message = format!(
        "{}: the board states no id, and its adapter has no serial number",
        printable(port)
    );
    Failure::new(Code::Usage, message).advise(
        "Give the board a name with --as NAME, write it on the board, and say it again with \
         'log --as NAME'; or only look with --no-store.",
    )
}
