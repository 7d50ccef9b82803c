//! Why a port cannot be opened, in terms a person can act on.

use std::io;

/// Why a port cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// No such port.
    #[error("there is no port {port}")]
    NotFound {
        /// The port's name.
        port: String,
    },
    /// Another program holds it.
    #[error("{port} is in use by {}", holder.as_deref().unwrap_or("another program"))]
    Busy {
        /// The port's name.
        port: String,
        /// The program, where the system lets us see it.
        holder: Option<String>,
    },
    /// The user may not open it.
    #[error("no permission to open {port}")]
    Denied {
        /// The port's name.
        port: String,
        /// The group that may, where the system has such.
        group: Option<String>,
    },
    /// After a replug, several ports could be the one we had.
    #[error("{} could each be the board that was unplugged", paths.join(" and "))]
    Ambiguous {
        /// The candidates.
        paths: Vec<String>,
    },
    /// Anything else.
    #[error("{port} cannot be opened as a serial port")]
    Other {
        /// The port's name.
        port: String,
        /// The system's answer.
        source: io::Error,
    },
}

impl OpenError {
    /// From the serial library's error.
    pub(super) fn from_serial(port: &str, error: serialport::Error) -> Self {
        use serialport::ErrorKind;
        let port = port.to_owned();
        match error.kind() {
            // serialport says so when its lock on the terminal is refused (4.8 and later).
            ErrorKind::NoDevice if error.to_string().contains("exclusive") => Self::Busy {
                holder: holder_of(&port),
                port,
            },
            ErrorKind::Io(io::ErrorKind::ResourceBusy) => Self::Busy {
                holder: holder_of(&port),
                port,
            },
            ErrorKind::Io(io::ErrorKind::PermissionDenied) => Self::Denied {
                group: group_of(&port),
                port,
            },
            ErrorKind::NoDevice | ErrorKind::Io(io::ErrorKind::NotFound)
                if !std::path::Path::new(&port).exists() =>
            {
                Self::NotFound { port }
            }
            _ => Self::Other {
                port,
                source: error.into(),
            },
        }
    }
}

/// The program that has a port or file open, as `name (process 123)`, where /proc shows it.
#[must_use]
pub fn holder_of(port: &str) -> Option<String> {
    let real = std::fs::canonicalize(port).ok()?;
    let own = std::process::id().to_string();
    let holds = |process: &std::path::Path| {
        std::fs::read_dir(process.join("fd"))
            .into_iter()
            .flatten()
            .flatten()
            .any(|fd| std::fs::read_link(fd.path()).is_ok_and(|target| target == real))
    };
    std::fs::read_dir("/proc")
        .ok()?
        .flatten()
        .find_map(|entry| {
            let pid = entry.file_name().into_string().ok()?;
            if pid == own || !pid.bytes().all(|b| b.is_ascii_digit()) || !holds(&entry.path()) {
                return None;
            }
            let name = std::fs::read_to_string(entry.path().join("comm")).unwrap_or_default();
            Some(format!("{} (process {pid})", name.trim().escape_debug()))
        })
}

/// The group that owns `port`, by name.
#[cfg(unix)]
fn group_of(port: &str) -> Option<String> {
    use std::os::unix::fs::MetadataExt as _;
    let gid = std::fs::metadata(port).ok()?.gid().to_string();
    let groups = std::fs::read_to_string("/etc/group").ok()?;
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)? == gid && gid != "0").then(|| name.to_owned())
    })
}

#[cfg(not(unix))]
fn group_of(_port: &str) -> Option<String> {
    None
}
