//! An open line to a board, real or a test's double.

use std::io;

/// How long a read waits for bytes before it gives others a turn.
pub const READ_TIMEOUT_MS: u64 = 200;

/// A line to a board.
pub trait Link: Send {
    /// Waits up to [`READ_TIMEOUT_MS`] for bytes. `Ok(0)` means that the line is gone.
    ///
    /// # Errors
    /// `TimedOut` if nothing came; anything that [`is_gone`] knows if the port is gone.
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize>;

    /// Sends all of `bytes`.
    ///
    /// # Errors
    /// The system's.
    fn write(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Asks the port for a sign of life: some systems report an unplugged port no other way.
    ///
    /// # Errors
    /// Any error means that the port is gone.
    fn probe(&mut self) -> io::Result<()>;
}

impl Link for Box<dyn Link> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        (**self).read(buffer)
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        (**self).write(bytes)
    }

    fn probe(&mut self) -> io::Result<()> {
        (**self).probe()
    }
}

/// Opens a line, first and again after a loss.
pub trait Opener: Send {
    /// Finds the port and opens it.
    ///
    /// # Errors
    /// [`super::OpenError`] says why not.
    fn open(&mut self) -> Result<(Box<dyn Link>, String), super::OpenError>;
}

/// Whether an error of a read means that nothing will come any more.
///
/// A hung-up terminal gives end of file, `BrokenPipe` or EIO on Linux; ENXIO is macOS's "device not
/// configured"; an unplugged port on Windows says "access denied". Anything else that is not a
/// time-out is taken for a loss too: a reopened port costs less than a busy loop.
#[must_use]
pub fn is_gone(error: &io::Error) -> bool {
    !matches!(
        error.kind(),
        io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted
    )
}
