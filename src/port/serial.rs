//! Real serial ports, and pseudo-terminals, which look like them.

use std::io::{self, Read as _, Write as _};
use std::time::Duration;

use serialport::SerialPort;

use super::link::{Link, Opener, READ_TIMEOUT_MS};
use super::list::{Again, Listed, find_again, list};
use super::open::OpenError;

/// Opens one serial port by name, and finds it again by identity after a replug.
#[derive(Debug)]
pub struct SerialOpener {
    port: Listed,
    baud: u32,
    opened_before: bool,
}

impl SerialOpener {
    /// For the port `path`, as the system or the user names it.
    #[must_use]
    pub fn new(path: &str, baud: u32) -> Self {
        // A port that is not in the list (a pseudo-terminal, a link) is known by its path.
        let listed = list().unwrap_or_default();
        let port = listed.into_iter().find(|port| port.path == path);
        Self {
            port: port.unwrap_or_else(|| Listed {
                path: path.to_owned(),
                usb: None,
            }),
            baud,
            opened_before: false,
        }
    }

    fn path(&self) -> Result<String, OpenError> {
        if !self.opened_before || self.port.usb.is_none() {
            return Ok(self.port.path.clone());
        }
        let listed = list().unwrap_or_default();
        match find_again(&self.port, &listed) {
            Again::One(port) => Ok(port.path.clone()),
            Again::None => Err(OpenError::NotFound {
                port: self.port.path.clone(),
            }),
            Again::Several(ports) => Err(OpenError::Ambiguous {
                paths: ports.into_iter().map(|p| p.path.clone()).collect(),
            }),
        }
    }
}

impl Opener for SerialOpener {
    fn open(&mut self) -> Result<(Box<dyn Link>, String), OpenError> {
        let path = self.path()?;
        // No touch of DTR or RTS: on some boards one of them alone means "boot loader".
        let port = serialport::new(&path, self.baud)
            .timeout(Duration::from_millis(READ_TIMEOUT_MS))
            .open()
            .map_err(|error| OpenError::from_serial(&path, error))?;
        self.opened_before = true;
        Ok((Box::new(SerialLink(port)), path))
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
