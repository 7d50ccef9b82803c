//! Keeps one port open for as long as the run lasts, on a plain thread of its own.
//!
//! A thread and not a task: a read that waits in the system would hold up a runtime's end, and the
//! arrival time must be taken the moment the read returns. Its events go through a bounded channel
//! to the one task that owns the run.

use std::sync::Arc;
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

use tokio::sync::mpsc;

use super::clock::boot_ns;
use super::hold::{Hold, Pulse};
use super::link::{Link, Opener, is_gone};
use super::open::OpenError;

/// Waits between attempts to reopen: pulls that nobody made are over within a second, so the
/// first attempt comes soon.
const FIRST_WAIT: Duration = Duration::from_millis(250);
const LONGEST_WAIT: Duration = Duration::from_secs(2);

/// A port that is in use when it is opened first may be held by a program that looks at new ports
/// and lets them go again: it is tried for so long.
const BUSY_FOR: Duration = Duration::from_secs(2);
const BUSY_WAIT: Duration = Duration::from_millis(100);

/// Events that wait for the run's task at most: some seconds of 64 busy boards.
pub const CHANNEL_DEPTH: usize = 1024;

/// What happened at a port.
#[derive(Debug)]
pub enum What {
    /// It was opened under this name, first or again.
    Opened(String),
    /// Bytes came.
    Bytes(Vec<u8>),
    /// It is gone; the reason in words. It will be opened again.
    Lost(String),
    /// It could not be opened the first time, and is given up.
    Refused(OpenError),
    /// After a loss it cannot be opened for this reason; said once, attempts go on.
    Waiting(String),
    /// Nothing will come any more (virtual boards, and at the end).
    Ended,
}

impl What {
    /// The same again, where a record can be made of it: what ends a port for good cannot be kept.
    #[must_use]
    pub fn copy(&self) -> Option<Self> {
        Some(match self {
            Self::Opened(name) => Self::Opened(name.clone()),
            Self::Bytes(bytes) => Self::Bytes(bytes.clone()),
            Self::Lost(reason) => Self::Lost(reason.clone()),
            Self::Waiting(reason) => Self::Waiting(reason.clone()),
            Self::Refused(_) | Self::Ended => return None,
        })
    }
}

/// Something that happened at a port, and when.
#[derive(Debug)]
pub struct PortEvent {
    /// Number of the bench, from 0.
    pub bench: usize,
    /// On the boot clock, in ns.
    pub t_ns: i64,
    /// What.
    pub what: What,
}

/// The hold on a port's thread.
#[derive(Debug)]
pub struct Keeper(Hold);

impl Keeper {
    /// Opens a port and keeps it open.
    #[must_use]
    pub fn start(bench: usize, opener: Box<dyn Opener>, events: mpsc::Sender<PortEvent>) -> Self {
        Self(Hold::start(move |pulse, wanted| {
            let thread = Thread {
                bench,
                events,
                wanted,
                pulse,
            };
            thread.run(opener);
        }))
    }

    /// Sends bytes to the board at the next turn between two reads, or once the port is back.
    pub fn send(&self, bytes: &[u8]) {
        self.0.send(bytes);
    }

    /// How long the port's thread has been stuck in the system. A port that is unplugged or silent
    /// does not make it so.
    #[must_use]
    pub fn stuck(&self) -> Duration {
        self.0.silent()
    }
}

struct Thread {
    bench: usize,
    events: mpsc::Sender<PortEvent>,
    wanted: Receiver<Vec<u8>>,
    pulse: Arc<Pulse>,
}

impl Thread {
    fn run(self, mut opener: Box<dyn Opener>) {
        let mut link = match self.open_first(opener.as_mut()) {
            Ok((link, path)) => {
                self.tell(What::Opened(path));
                link
            }
            Err(error) => {
                self.tell(What::Refused(error));
                return;
            }
        };
        while !self.stopped() {
            let reason = self.pump(link);
            if self.stopped() {
                break;
            }
            self.tell(What::Lost(reason));
            match self.reopen(opener.as_mut()) {
                Some(again) => link = again,
                None => break,
            }
        }
        self.tell(What::Ended);
    }

    /// Opens the port for the first time, and waits a moment if it is in use.
    fn open_first(&self, opener: &mut dyn Opener) -> Result<(Box<dyn Link>, String), OpenError> {
        let begun = Instant::now();
        loop {
            match opener.open() {
                Err(OpenError::Busy { .. }) if begun.elapsed() < BUSY_FOR && !self.stopped() => {
                    std::thread::sleep(BUSY_WAIT);
                }
                done => return done,
            }
        }
    }

    /// Reads until the port is gone, and gives the reason. Takes the link so that it is closed
    /// before anyone looks for the port again: a held stale handle keeps the port's old name.
    fn pump(&self, mut link: Box<dyn Link>) -> String {
        let mut buffer = [0; 4096];
        while !self.stopped() {
            for bytes in self.wanted.try_iter() {
                if let Err(error) = link.write(&bytes) {
                    tracing::debug!(%error, "a request could not be sent");
                }
            }
            match link.read(&mut buffer) {
                Ok(0) => return "the port hung up".into(),
                Ok(n) => {
                    let t_ns = boot_ns();
                    let bytes = buffer.get(..n).unwrap_or_default().to_vec();
                    self.tell_at(t_ns, What::Bytes(bytes));
                }
                Err(error) if is_gone(&error) => return error.to_string(),
                Err(_) => {
                    if let Err(error) = link.probe() {
                        return error.to_string();
                    }
                }
            }
        }
        String::new()
    }

    fn reopen(&self, opener: &mut dyn Opener) -> Option<Box<dyn Link>> {
        let mut wait = FIRST_WAIT;
        let mut said = None;
        while !self.stopped() {
            std::thread::sleep(wait);
            match opener.open() {
                Ok((link, path)) => {
                    self.tell(What::Opened(path));
                    return Some(link);
                }
                // Away is the normal state of an unplugged board and needs no words.
                Err(OpenError::NotFound { .. }) => {}
                Err(error) => {
                    let reason = error.to_string();
                    if said.as_ref() != Some(&reason) {
                        self.tell(What::Waiting(reason.clone()));
                        said = Some(reason);
                    }
                }
            }
            wait = (wait * 2).min(LONGEST_WAIT);
        }
        None
    }

    fn stopped(&self) -> bool {
        self.pulse.turn() || self.events.is_closed()
    }

    fn tell(&self, what: What) {
        self.tell_at(boot_ns(), what);
    }

    fn tell_at(&self, t_ns: i64, what: What) {
        let event = PortEvent {
            bench: self.bench,
            t_ns,
            what,
        };
        // Fails only when the run's task is gone; `stopped` sees that.
        let _ = self.events.blocking_send(event);
    }
}

#[cfg(test)]
mod tests;
