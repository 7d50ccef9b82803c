//! One run, followed: its rows and events in the order of their times, each once.
//!
//! A row is named by its run time in milliseconds, which rises strictly and is the same in the file
//! that grows and in the final one that replaces it. An event is named by its fingerprint. So it
//! does not matter which of the files is read, nor how often.

use std::cell::Cell;
use std::collections::VecDeque;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

use super::id::EventId;
use super::place::{Heard, Place, State, Step};
use super::row::{EventSeen, RowSeen, columns, elapsed_ms};
use super::tail::{Look, Tail};
use crate::journal::FILE_NAME as JOURNAL;
use crate::run::{RunSetup, lock_run, name, setup_in};

/// A run without results whose files have not changed for so long may have been cut off.
const SILENT: Duration = Duration::from_secs(90);

/// Whether somebody logs a silent run is asked so often.
const ASK_EVERY: Duration = Duration::from_secs(10);

/// A run that is followed.
#[derive(Debug)]
pub struct Follow {
    folder: PathBuf,
    /// What it was asked to do.
    pub setup: RunSetup,
    /// The samples' columns, once they are known.
    pub columns: Vec<String>,
    place: Place,
    readings: Lines,
    log: Lines,
    /// Rows to be passed over: see [`Again`].
    again: Option<Again>,
    /// When the results were written that were there before the files were last looked at.
    settled: Option<SystemTime>,
    /// Rows that results of a time speak of.
    counted: Cell<Option<(SystemTime, u64)>>,
    /// When it was asked whether somebody logs the run, and the answer.
    logged: Cell<Option<(Instant, bool)>>,
}

/// A file of rows is read again whose rows were heard already, up to a time. If it holds more of
/// them than were heard (the growing file has a hole where the disk was full), all come again.
#[derive(Debug)]
struct Again {
    until_ms: i64,
    heard: u64,
    counted: u64,
}

/// A file's lines that were read and not yet taken.
#[derive(Debug)]
struct Lines {
    tail: Tail,
    waiting: VecDeque<(i64, String)>,
    dry: bool,
}

impl Lines {
    fn new(path: PathBuf) -> Self {
        Self {
            tail: Tail::new(path),
            waiting: VecDeque::new(),
            dry: false,
        }
    }

    /// Reads on if nothing waits. Gives the first line to `head`.
    fn look(&mut self, mut head: impl FnMut(&str)) -> io::Result<Look> {
        if !self.waiting.is_empty() {
            return Ok(Look::More);
        }
        let waiting = &mut self.waiting;
        let look = self.tail.look(|at, line| {
            let cell = line.split(',').next().unwrap_or_default();
            match elapsed_ms(cell) {
                Some(ms) => waiting.push_back((ms, line.to_owned())),
                None if at == 0 => head(line),
                None => {}
            }
        })?;
        self.dry = look == Look::Same;
        Ok(look)
    }

    fn first_ms(&self) -> Option<i64> {
        self.waiting.front().map(|(ms, _)| *ms)
    }
}

impl Follow {
    /// A run's folder, from a place that was heard before, or from the start.
    #[must_use]
    pub fn new(folder: &Path, place: Place) -> Self {
        let again = place.row_ms.map(|until_ms| Again {
            until_ms,
            heard: place.rows,
            counted: 0,
        });
        Self {
            folder: folder.to_owned(),
            setup: setup_in(folder).unwrap_or_default(),
            columns: Vec::new(),
            place,
            readings: Lines::new(folder.join(name::READINGS)),
            log: Lines::new(folder.join(name::EVENTS)),
            again,
            settled: None,
            counted: Cell::new(None),
            logged: Cell::new(None),
        }
    }

    /// The run's folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The name of the run's folder, which names the run.
    #[must_use]
    pub fn id(&self) -> String {
        let whole = std::path::absolute(&self.folder);
        let whole = whole.as_deref().unwrap_or(&self.folder);
        let name = whole.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }

    /// How far it was heard.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Looks at the files; whether anything may be taken.
    ///
    /// # Errors
    /// The system's.
    pub fn look(&mut self) -> io::Result<bool> {
        // Asked first: the results are the last file to be written, so all others are final then.
        self.settled = self.modified(name::SUMMARY);
        let log = self.log.look(|_| {})?;
        let columns_seen = &mut self.columns;
        let readings = self.readings.look(|line| *columns_seen = columns(line))?;
        if readings == Look::Anew {
            self.readings = Lines::new(self.folder.join(name::READINGS));
            self.again = self.place.row_ms.map(|until_ms| Again {
                until_ms,
                heard: self.place.rows,
                counted: 0,
            });
        }
        if log == Look::Anew {
            self.log = Lines::new(self.folder.join(name::EVENTS));
        }
        Ok([log, readings].iter().any(|look| *look != Look::Same))
    }

    /// Whether all that is in the files was taken.
    #[must_use]
    pub fn is_dry(&self) -> bool {
        let lines = [&self.readings, &self.log];
        lines.iter().all(|l| l.dry && l.waiting.is_empty())
    }

    /// Takes what comes next, if it was read.
    pub fn take(&mut self) -> Option<Heard> {
        let heard = self.next()?;
        self.place.pass(heard.step());
        Some(heard)
    }

    fn next(&mut self) -> Option<Heard> {
        if !self.place.begun {
            // Without a row nobody knows the columns.
            let known = !self.columns.is_empty() || self.is_dry() && self.state() != State::Running;
            return known.then_some(Heard::Begin);
        }
        loop {
            let (row, event) = (self.readings.first_ms(), self.log.first_ms());
            let row_next = match (row, event) {
                (Some(row), Some(event)) => row < event,
                // One of the two may still bring something earlier.
                (Some(_), None) => {
                    if !self.log.dry {
                        return None;
                    }
                    true
                }
                (None, Some(_)) => {
                    if !self.readings.dry {
                        return None;
                    }
                    false
                }
                (None, None) => return self.end(),
            };
            let taken = if row_next { self.row() } else { self.event() };
            if taken.is_some() {
                return taken;
            }
        }
    }

    fn row(&mut self) -> Option<Heard> {
        let (ms, line) = self.readings.waiting.pop_front()?;
        if let Some(again) = &mut self.again {
            if ms <= again.until_ms {
                again.counted += 1;
                return None;
            }
            let has_hole = again.counted > again.heard;
            self.again = None;
            if has_hole {
                self.begin_anew();
                return None;
            }
        }
        RowSeen::of(&line).map(|row| Heard::Row(ms, row))
    }

    /// Rows were missing in what was heard: they come again, all of them.
    fn begin_anew(&mut self) {
        self.readings = Lines::new(self.folder.join(name::READINGS));
        self.place.row_ms = None;
        self.place.rows = 0;
    }

    fn event(&mut self) -> Option<Heard> {
        let (_, line) = self.log.waiting.pop_front()?;
        let id = EventId::of(&line);
        if self.place.events.contains(&id) {
            return None;
        }
        EventSeen::of(&line).map(|event| Heard::Event(id, event))
    }

    fn end(&mut self) -> Option<Heard> {
        if !self.is_dry() {
            return None;
        }
        if self.again.as_ref().is_some_and(|a| a.counted > a.heard) {
            self.again = None;
            self.begin_anew();
            return None;
        }
        let (state, results) = match self.state() {
            State::Running => return None,
            // Results that came since the last look may have brought rows.
            State::Finished if self.settled != self.modified(name::SUMMARY) => return None,
            State::Finished => (State::Finished, self.results()),
            State::CutOff => (State::CutOff, None),
        };
        let end = Heard::End(state, results);
        let told = self.place.end.map(Step::End) == Some(end.step());
        (!told).then_some(end)
    }

    /// Whether the end was told.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.place.end.is_some() && self.is_dry()
    }

    /// The results as one line of JSON.
    fn results(&self) -> Option<String> {
        let text = std::fs::read_to_string(self.folder.join(name::SUMMARY)).ok()?;
        let results: serde_json::Value = serde_json::from_str(&text).ok()?;
        Some(results.to_string())
    }

    fn modified(&self, name: &str) -> Option<SystemTime> {
        let meta = std::fs::metadata(self.folder.join(name)).ok()?;
        meta.modified().ok()
    }

    /// The results are there, and nothing was logged since (as it is when a run is resumed).
    fn has_results(&self) -> bool {
        let Some(written) = self.modified(name::SUMMARY) else {
            return false;
        };
        let known = self.counted.get().filter(|(at, _)| *at == written);
        let rows = known.map_or_else(|| self.rows_of_results(), |(_, rows)| rows);
        self.counted.set(Some((written, rows)));
        rows >= self.place.rows
    }

    /// Rows that the results speak of; any number if they do not say.
    fn rows_of_results(&self) -> u64 {
        #[derive(serde::Deserialize)]
        struct Results {
            rows: u64,
        }
        let text = std::fs::read_to_string(self.folder.join(name::SUMMARY)).unwrap_or_default();
        serde_json::from_str::<Results>(&text).map_or(u64::MAX, |results| results.rows)
    }

    /// Whether rows are still coming, by what was taken until now.
    #[must_use]
    pub fn state(&self) -> State {
        if self.has_results() {
            return State::Finished;
        }
        let changed = [name::READINGS, JOURNAL].map(|name| self.modified(name));
        let quiet = changed.into_iter().flatten().max();
        let quiet = quiet.and_then(|at| SystemTime::now().duration_since(at).ok());
        // Whoever logs it holds its lock, also while a board is away for hours.
        if quiet.is_some_and(|quiet| quiet > SILENT) && !self.is_logged() {
            return State::CutOff;
        }
        State::Running
    }

    fn is_logged(&self) -> bool {
        let known = self.logged.get().filter(|(at, _)| at.elapsed() < ASK_EVERY);
        let (at, logged) =
            known.unwrap_or_else(|| (Instant::now(), lock_run(&self.folder).is_err()));
        self.logged.set(Some((at, logged)));
        logged
    }
}

#[cfg(test)]
mod tests;
