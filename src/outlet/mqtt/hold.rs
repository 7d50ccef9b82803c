//! One process at a time that sends the same runs to the same broker.

use std::fs::{File, TryLockError};

use sha2::{Digest as _, Sha256};

use super::{MqttError, MqttSetup};
use crate::follow::Source;
use crate::outlet::word;

/// A name that is the same for the same folder on the same computer, so that a broker knows a
/// sender that comes back.
pub(super) fn client_name(setup: &MqttSetup) -> String {
    let (Source::Run(path) | Source::Folder(path)) = &setup.source;
    let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.clone());
    let mut digest = Sha256::new();
    digest.update(path.to_string_lossy().as_bytes());
    #[cfg(unix)]
    digest.update(rustix::system::uname().nodename().to_bytes());
    let digest = digest.finalize();
    let short = digest
        .iter()
        .take(4)
        .fold(0, |sum, byte| sum << 8 | u32::from(*byte));
    format!("duskmark-{short:08x}")
}

/// Takes the folder for this process and this broker: two of one name would throw each other off
/// the broker for ever. None where nobody may write.
///
/// # Errors
/// [`MqttError::TakenOver`] if another process has it.
pub(super) fn lock(setup: &MqttSetup, client: &str) -> Result<Option<File>, MqttError> {
    let (Source::Run(path) | Source::Folder(path)) = &setup.source;
    let name = format!(".sent-{}.lock", word(&setup.broker()));
    let Ok(file) = File::create(path.join(name)) else {
        return Ok(None);
    };
    match file.try_lock() {
        Err(TryLockError::WouldBlock) => Err(MqttError::TakenOver {
            broker: setup.broker(),
            client: client.to_owned(),
        }),
        // A file system without locks (some network shares).
        Ok(()) | Err(TryLockError::Error(_)) => Ok(Some(file)),
    }
}
