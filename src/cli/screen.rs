//! What is said on the terminal while a session runs, written by a thread of its own: a terminal that
//! is stopped, slow or closed holds up nobody who logs.
//!
//! Whoever else has something to say meanwhile ([`say`]) says it through the same thread, so that
//! lines never tear a picture.

use std::collections::VecDeque;
use std::io::{self, IsTerminal as _, Write as _};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::text::wrapped_within;
use crate::live::terminal::{About, Said, Stage, State};
use crate::live::words::counted;

/// The end of a session waits for the terminal so long at most.
const PATIENCE: Duration = Duration::from_secs(2);

/// Lines that wait for a terminal at most; of more, the oldest are dropped and counted.
const MOST_LINES: usize = 500;

/// Columns of the terminals that lines are meant for.
const COLUMNS: usize = 79;

/// The session that has the terminal now: a process has one.
static ACTIVE: Mutex<Option<Arc<Shared>>> = Mutex::new(None);

/// What the thread is to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// Lines, and a last one that is written over and over.
    Lines,
    /// The terminal view.
    Picture,
}

#[derive(Debug, Default)]
struct Queue {
    lines: VecDeque<Said>,
    dropped: usize,
    status: Option<String>,
    bell: bool,
    redraw: bool,
    close: bool,
}

impl Queue {
    fn is_idle(&self) -> bool {
        self.lines.is_empty() && self.status.is_none() && !(self.redraw || self.bell || self.close)
    }
}

/// Between the session and the thread.
#[derive(Debug, Default)]
pub(super) struct Shared {
    queue: Mutex<Queue>,
    work: Condvar,
    state: Mutex<State>,
}

impl Shared {
    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What the view shows.
    pub(super) fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn change(&self, change: impl FnOnce(&mut Queue)) {
        change(&mut self.queue());
        self.work.notify_one();
    }

    pub(super) fn line(&self, text: &str, about: About) {
        self.change(|queue| {
            let said = |line: &str| Said {
                text: line.to_owned(),
                about,
            };
            queue.lines.extend(text.lines().map(said));
            while queue.lines.len() > MOST_LINES {
                queue.lines.pop_front();
                queue.dropped += 1;
            }
        });
    }

    /// The picture is to be drawn anew.
    pub(super) fn redraw(&self) {
        self.change(|queue| queue.redraw = true);
    }

    /// Waits for work and takes all of it.
    fn take(&self) -> Queue {
        let queue = self.queue();
        let idle = |queue: &mut Queue| queue.is_idle();
        let queue = self.work.wait_while(queue, idle);
        std::mem::take(&mut queue.unwrap_or_else(PoisonError::into_inner))
    }
}

/// The session's hold on the terminal.
#[derive(Debug)]
pub(super) struct Screen {
    shared: Arc<Shared>,
    ended: Receiver<()>,
}

impl Screen {
    pub(super) fn start(how: How, state: State) -> Self {
        let shared = Arc::new(Shared {
            state: Mutex::new(state),
            ..Shared::default()
        });
        *ACTIVE.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::clone(&shared));
        let (end, ended) = channel();
        let own = Arc::clone(&shared);
        std::thread::spawn(move || turn(&own, how, end));
        Self { shared, ended }
    }

    pub(super) fn shared(&self) -> &Arc<Shared> {
        &self.shared
    }

    /// The last line, written over the one before.
    pub(super) fn status(&self, text: String) {
        self.shared.change(|queue| queue.status = Some(text));
    }

    /// Sounds the bell.
    pub(super) fn bell(&self) {
        self.shared.change(|queue| queue.bell = true);
    }
}

impl Drop for Screen {
    /// Gives the terminal back, with everything said; one that takes nothing is left alone.
    fn drop(&mut self) {
        *ACTIVE.lock().unwrap_or_else(PoisonError::into_inner) = None;
        self.shared.change(|queue| queue.close = true);
        let _ = self.ended.recv_timeout(PATIENCE);
    }
}

/// Says lines on standard error, through the session's thread where there is one.
pub(super) fn say(text: &str) {
    say_about(text, About::Other);
}

/// The same of what has to do with a cue.
pub(super) fn say_about(text: &str, about: About) {
    let active = ACTIVE
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .clone();
    // A terminal would cut words; a file or another program keeps the line whole.
    let folded = if io::stderr().is_terminal() && text.lines().any(|l| l.chars().count() > COLUMNS)
    {
        text.lines().map(within_columns).collect()
    } else {
        text.to_owned()
    };
    match active {
        Some(shared) => shared.line(&folded, about),
        None => write_lines(folded.lines()),
    }
}

/// A line, folded where it is too long, with its own indent.
fn within_columns(line: &str) -> String {
    if line.chars().count() <= COLUMNS {
        return format!("{line}\n");
    }
    let text = line.trim_start();
    let indent = " ".repeat((line.len() - text.len()).min(COLUMNS / 2));
    let folded = wrapped_within(text, COLUMNS - indent.len());
    format!("{indent}{folded}")
}

fn write_lines<'a>(lines: impl Iterator<Item = &'a str>) {
    let mut err = io::stderr().lock();
    for line in lines {
        let _ = writeln!(err, "{line}");
    }
}

/// Standard error for messages of the program about itself.
#[derive(Debug)]
pub(super) struct Errors;

impl io::Write for Errors {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        say(&String::from_utf8_lossy(bytes));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The thread: writes until it is told to close. `end` is dropped when all is said.
fn turn(shared: &Shared, how: How, end: Sender<()>) {
    if how == How::Picture
        && let Ok(stage) = Stage::open(io::stderr())
    {
        give_back_on_panic();
        if pictures(shared, stage) {
            return drop(end);
        }
    }
    lines(shared);
    drop(end);
}

/// Writes lines, and the last one over and over.
fn lines(shared: &Shared) {
    let mut drawn = false;
    loop {
        let work = shared.take();
        let mut out = String::new();
        if std::mem::take(&mut drawn) && (!work.lines.is_empty() || work.status.is_some()) {
            out.push_str("\r\x1b[K");
        } else {
            drawn |= false;
        }
        out.push_str(if work.bell { "\x07" } else { "" });
        if work.dropped > 0 {
            out.push_str(&format!(
                "(left out: {})\n",
                counted(work.dropped as u64, "line")
            ));
        }
        for line in &work.lines {
            out.push_str(&line.text);
            out.push('\n');
        }
        if let Some(status) = &work.status {
            out.push_str(status);
            drawn = true;
        }
        if work.close && drawn {
            out.push('\n');
        }
        let mut err = io::stderr().lock();
        let _ = err.write_all(out.as_bytes());
        let _ = err.flush();
        if work.close {
            return;
        }
    }
}

/// Draws pictures. False if the terminal is gone: then there are lines again.
fn pictures(shared: &Shared, mut stage: Stage<io::Stderr>) -> bool {
    let mut said: VecDeque<Said> = VecDeque::new();
    let whole = loop {
        let work = shared.take();
        let snapshot = {
            let mut state = shared.state();
            for line in &work.lines {
                state.tell(line);
            }
            state.snapshot()
        };
        said.extend(work.lines);
        while said.len() > MOST_LINES {
            said.pop_front();
        }
        let rung = if work.bell { stage.bell() } else { Ok(()) };
        if rung.and_then(|()| stage.draw(&snapshot)).is_err() {
            break false;
        }
        if work.close {
            break true;
        }
    };
    drop(stage);
    // What was said stays above the results.
    write_lines(said.iter().map(|said| said.text.as_str()));
    whole
}

/// A panic's message is written where it stays, after the terminal is given back.
fn give_back_on_panic() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        crate::live::terminal::give_back(io::stderr());
        before(info);
    }));
}
