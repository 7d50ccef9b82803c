//! Lines of JSON to whoever reads.

use std::io::{self, Write};
use std::path::PathBuf;
use std::time::Duration;

use super::line::{From, line};
use crate::follow::{Heard, Many, Place, Source, State};

/// How often files are looked at.
const GLANCE: Duration = Duration::from_millis(50);

/// Lines of one run in a row at most, so that all runs of a folder come forward.
const TURN: usize = 1000;

/// Why streaming failed.
#[derive(Debug, thiserror::Error)]
pub enum StreamError {
    /// A run's file or folder cannot be read.
    #[error("{path} cannot be read", path = path.display())]
    Read {
        /// Which.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// The reader took no line, and is not simply gone.
    #[error("the stream cannot be written")]
    Write(#[source] io::Error),
}

/// How streaming ended well.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stopped {
    /// All was written. `cut_off`: of a run whose logging died.
    Done {
        /// A run's logging died before its end.
        cut_off: bool,
    },
    /// The reader is gone.
    ReaderGone,
}

/// Runs as lines of JSON.
#[derive(Debug)]
pub struct Stream {
    runs: Many,
    site: String,
    cut_off: bool,
}

impl Stream {
    /// Of these runs; nothing is read yet.
    #[must_use]
    pub fn new(source: Source, site: &str) -> Self {
        Self {
            runs: Many::new(source),
            site: site.to_owned(),
            cut_off: false,
        }
    }

    /// Writes what is new; whether there may be more at once.
    ///
    /// # Errors
    /// [`StreamError`].
    pub fn turn(&mut self, out: &mut impl Write) -> Result<bool, StreamError> {
        let more = self.runs.look(|_| Place::default());
        let mut more = more.map_err(|(path, source)| StreamError::Read { path, source })?;
        for follow in self.runs.runs() {
            let from = From::of(&self.site, follow);
            for _ in 0..TURN {
                let Some(heard) = follow.take() else { break };
                self.cut_off |= matches!(heard, Heard::End(State::CutOff, _));
                more = true;
                writeln!(out, "{}", line(&from, follow, &heard)).map_err(StreamError::Write)?;
            }
        }
        out.flush().map_err(StreamError::Write)?;
        Ok(more)
    }

    /// Writes until the one run is over, or of a folder until `stop` says so. With `once` until
    /// all that is there now is written.
    ///
    /// # Errors
    /// [`StreamError`]; a reader that is gone is none.
    pub fn run(
        &mut self,
        out: &mut impl Write,
        once: bool,
        mut stop: impl FnMut() -> bool,
    ) -> Result<Stopped, StreamError> {
        loop {
            // Asked before the files are: what was written before it is still sent.
            let last = stop();
            match self.turn(out) {
                Ok(true) => {}
                Ok(false) if last || once || self.runs.is_over() => {
                    return Ok(Stopped::Done {
                        cut_off: self.cut_off,
                    });
                }
                Ok(false) => std::thread::sleep(GLANCE),
                Err(StreamError::Write(error)) if error.kind() == io::ErrorKind::BrokenPipe => {
                    return Ok(Stopped::ReaderGone);
                }
                Err(error) => return Err(error),
            }
        }
    }
}
