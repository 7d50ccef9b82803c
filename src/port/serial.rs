//! Real serial ports, and pseudo-terminals, which look like them.

use std::io::{self, Read as _, Write as _};
use std::sync::{Arc, PoisonError};
use std::time::Duration;

use serialport::SerialPort;

use super::again::reopen;
use super::ask::{HeardId, Overheard};
use super::link::{Link, Opener, READ_TIMEOUT_MS};
use super::list::{Listed, call_out_name, list};
use super::open::OpenError;

/// Opens one serial port by name, and finds it again by identity after a replug.
#[derive(Debug)]
pub struct SerialOpener {
    port: Listed,
    baud: u32,
    opened_before: bool,
    /// Id of the board that was heard on it.
    id: HeardId,
}

impl SerialOpener {
    /// For the port `path`, as the system or the user names it.
    #[must_use]
    pub fn new(path: &str, baud: u32) -> Self {
        // A port that is not in the list (a pseudo-terminal, a link) is known by its path.
        let path = &call_out_name(path, cfg!(target_os = "macos"));
        let listed = list().unwrap_or_default();
        let port = listed.into_iter().find(|port| port.path == *path);
        Self {
            port: port.unwrap_or_else(|| Listed {
                path: path.clone(),
                usb: None,
            }),
            baud,
            opened_before: false,
            id: HeardId::default(),
        }
    }

    fn open_at(&self, path: &str) -> Result<Box<dyn Link>, OpenError> {
        // No touch of DTR or RTS: on some boards one of them alone means "boot loader".
        serialport::new(path, self.baud)
            .timeout(Duration::from_millis(READ_TIMEOUT_MS))
            .open()
            .map(|port| Box::new(SerialLink(port)) as Box<dyn Link>)
            .map_err(|error| OpenError::from_serial(path, error))
    }
}

impl Opener for SerialOpener {
    fn open(&mut self) -> Result<(Box<dyn Link>, String), OpenError> {
        let open = |path: &str| self.open_at(path);
        let (link, path) = if self.opened_before && self.port.usb.is_some() {
            let listed = list().unwrap_or_default();
            let heard = self
                .id
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .clone();
            reopen(&self.port, &listed, heard.as_deref(), open)?
        } else {
            (open(&self.port.path)?, self.port.path.clone())
        };
        self.opened_before = true;
        Ok((Box::new(Overheard::new(link, Arc::clone(&self.id))), path))
    }
}

struct SerialLink(Box<dyn SerialPort>);

impl Link for SerialLink {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.0.read(buffer)
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }

    fn probe(&mut self) -> io::Result<()> {
        self.0.bytes_to_read().map(drop).map_err(Into::into)
    }
}
