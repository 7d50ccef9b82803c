//! `log --stream -`: the runs of a session as lines of JSON, beside the logging.
//!
//! A thread of its own reads the runs' files as another process would. It never holds anything up:
//! a reader that is slow finds the rest in the files, one that is gone ends the stream alone.

use std::io::{self, BufWriter, Write};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::exit::chain;
use super::say;
use super::view::View;
use crate::follow::Source;
use crate::outlet::{Stream, StreamError};

/// How often the runs' files are looked at.
const GLANCE: Duration = Duration::from_millis(50);

/// At the end a reader that takes nothing is waited for so long.
const PATIENCE: Duration = Duration::from_secs(5);

/// The stream of a session.
#[derive(Debug)]
pub(super) struct Beside {
    shared: Arc<Shared>,
    thread: JoinHandle<()>,
}

#[derive(Debug, Default)]
struct Shared {
    /// The session is over: what is in the files now is all.
    over: AtomicBool,
    /// Bytes that were taken.
    taken: AtomicU64,
}

/// Counts what the reader took, so that one who is slow is told from one who has stopped.
struct Counted<W> {
    inner: W,
    shared: Arc<Shared>,
}

impl<W: Write> Write for Counted<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let taken = self.inner.write(bytes)?;
        self.shared.taken.fetch_add(taken as u64, Ordering::Relaxed);
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

impl Beside {
    /// Starts the thread; the view tells it which runs there are.
    pub(super) fn start(view: &mut View) -> Self {
        let (sender, begun) = channel();
        view.tell_of_runs(sender);
        let shared = Arc::new(Shared::default());
        let own = Arc::clone(&shared);
        let thread = std::thread::spawn(move || write(&own, &begun));
        Self { shared, thread }
    }

    /// Waits until the reader has all, or takes nothing any more.
    pub(super) fn finish(self) {
        self.shared.over.store(true, Ordering::Relaxed);
        let (mut since, mut taken) = (Instant::now(), 0);
        while !self.thread.is_finished() {
            let now = self.shared.taken.load(Ordering::Relaxed);
            if now != taken {
                (since, taken) = (Instant::now(), now);
            }
            if since.elapsed() > PATIENCE {
                say("The stream was not read to its end; the run's folder has all of it.");
                return;
            }
            std::thread::sleep(GLANCE / 5);
        }
    }
}

/// The thread: all runs in turns, until the session is over and all is written.
fn write(shared: &Arc<Shared>, begun: &Receiver<PathBuf>) {
    let mut out = BufWriter::new(Counted {
        inner: io::stdout(),
        shared: Arc::clone(shared),
    });
    let mut streams: Vec<Stream> = Vec::new();
    loop {
        // Asked before the files are: what was written before it is still sent.
        let over = shared.over.load(Ordering::Relaxed);
        streams.extend(
            begun
                .try_iter()
                .map(|run| Stream::new(Source::Run(run), SITE)),
        );
        let mut more = false;
        for stream in &mut streams {
            match stream.turn(&mut out) {
                Ok(new) => more |= new,
                // Who has read enough closes the pipe; the logging goes on.
                Err(StreamError::Write(error)) if error.kind() == io::ErrorKind::BrokenPipe => {
                    return;
                }
                Err(error) => {
                    say(&format!("The stream ends: {}", chain(&error)));
                    return;
                }
            }
        }
        if over && !more {
            return;
        }
        if !more {
            std::thread::sleep(GLANCE);
        }
    }
}

/// What the lines name as the site where none is given.
pub(super) const SITE: &str = "site";
