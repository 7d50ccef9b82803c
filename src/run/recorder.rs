//! A live run: journal first, then everything else.
//!
//! The recorder owns a run's folder while it is logged. It is driven by what happens at the port
//! and by ticks, takes all times from them, and so serves a real board, a virtual one and the demo
//! alike. What it writes beside the journal is for those who look while the run goes on; at the
//! end everything is derived from the journal.

mod people;

use std::fs::File;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::conductor::Conductor;
use super::course::{Course, Lines};
use super::error::RunError;
use super::files::{self, name};
use super::folder;
use super::live_file::LiveFile;
use super::lock;
use super::news::News;
use super::resume::{self, GoOn};
use super::scribe::{Scribe, SyncEvery};
use super::setup::RunSetup;
use super::steady::Steadiness;
use super::wall::rfc3339_ms;
use crate::journal::{Folder, Kind, Limits, Record, Writer};
use crate::port::What;
use crate::sampler::Sampler;

/// A board is silent after so long without a byte, and after so many of its usual intervals.
const SILENCE_NS: i64 = 5_000_000_000;
const SILENT_INTERVALS: i64 = 5;

/// A disk that does not answer for so long is told of.
const DISK_SILENCE: Duration = Duration::from_secs(5);

/// How a run is kept.
#[derive(Debug, Clone)]
pub struct Keep {
    /// How much a power cut may cost.
    pub sync: SyncEvery,
    /// Bounds of the journal.
    pub limits: Limits,
    /// The source can wait for the disk; a real board cannot.
    pub patient: bool,
    /// Which start of the computer this is, where its clock is the one that stamps the records.
    pub boot: Option<String>,
}

/// Logs one bench into one folder.
#[derive(Debug)]
pub struct Recorder {
    folder: PathBuf,
    scribe: Scribe,
    course: Course,
    /// From the clock that stamps what comes to the run's clock, in ns.
    shift_ns: i64,
    /// When the board at each port was last heard, on the run's clock.
    heard_ns: Vec<i64>,
    stuck_told: bool,
    /// Keeps other processes from this folder.
    _lock: File,
}

impl Recorder {
    /// Makes the run's folder below `out` and begins its journal. `start_ns` is the run's zero on
    /// the boot clock, `wall_ns` the wall clock at that instant.
    ///
    /// # Errors
    /// [`RunError`] if the folder or the journal cannot be made.
    pub fn begin(
        out: &Path,
        setup: &RunSetup,
        start_ns: i64,
        wall_ns: i64,
        keep: &Keep,
    ) -> Result<Self, RunError> {
        let folder = folder::create(out, &rfc3339_ms(wall_ns), &setup.name)?;
        let writer = Writer::create(Folder::new(&folder), keep.limits).map_err(|source| {
            // Nothing is in it, and it would be taken for a run.
            let _ = std::fs::remove_dir_all(&folder);
            let folder = folder.clone();
            RunError::Folder { folder, source }
        })?;
        let lock = lock::take(&folder)?;
        let readings = LiveFile::new(folder.join(name::READINGS));
        let events = LiveFile::new(folder.join(name::EVENTS));
        let scribe = Scribe::start(writer, readings, events, keep.sync, keep.patient);
        let mut recorder = Self {
            folder,
            scribe,
            course: Course::new(setup, start_ns),
            shift_ns: 0,
            heard_ns: vec![start_ns; setup.together.len().max(1)],
            stuck_told: false,
            _lock: lock,
        };
        recorder.scribe.lines(Lines {
            events: files::EVENTS_HEAD.into(),
            ..Lines::default()
        });
        let setup = serde_json::to_vec(setup).unwrap_or_default();
        recorder.record(start_ns, 0, Kind::Setup, &setup, &mut Vec::new());
        if let Some(boot) = &keep.boot {
            recorder.record(start_ns, 0, Kind::Boot, boot.as_bytes(), &mut Vec::new());
        }
        recorder.look_at_clock(start_ns, wall_ns, &mut Vec::new());
        Ok(recorder)
    }

    /// Goes on with the run in `folder`, which was cut off or ended before its plan was through.
    /// `now_ns` and `wall_ns` are what both clocks show at the first that is to be recorded.
    ///
    /// # Errors
    /// [`RunError`] if another process holds the folder, the journal cannot be read, its plan is
    /// through, or a new piece cannot be begun.
    pub fn resume(
        folder: &Path,
        now_ns: i64,
        wall_ns: i64,
        keep: &Keep,
        news: &mut Vec<News>,
    ) -> Result<Self, RunError> {
        let lock = lock::take(folder)?;
        let boot = keep.boot.as_deref();
        let GoOn {
            mut course,
            last,
            shift_ns,
            record,
        } = resume::prepare(folder, now_ns, wall_ns, boot)?;
        resume::mend(folder, &mut course)?;
        let disk = Folder::new(folder);
        let writer = Writer::resume(disk, keep.limits, last, record.t_ns).map_err(|source| {
            let path = folder.join(crate::journal::piece_name(last.piece + 1));
            RunError::Write { path, source }
        })?;
        let readings = folder.join(name::READINGS);
        let readings = if course.rows > 0 {
            LiveFile::onward(readings)
        } else {
            LiveFile::new(readings)
        };
        let events = LiveFile::onward(folder.join(name::EVENTS));
        let scribe = Scribe::start(writer, readings, events, keep.sync, keep.patient);
        let mut recorder = Self {
            folder: folder.to_owned(),
            scribe,
            heard_ns: vec![record.t_ns; course.feed.samplers().count()],
            course,
            shift_ns,
            stuck_told: false,
            _lock: lock,
        };
        recorder.put(&record, news);
        recorder.look_at_clock(now_ns, wall_ns, news);
        Ok(recorder)
    }

    /// The run's folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Names of the samples, once the first row was made.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.course.names
    }

    /// Where the plan stands.
    #[must_use]
    pub fn conductor(&self) -> &Conductor {
        &self.course.conductor
    }

    /// Rows made so far.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.course.rows
    }

    /// The samples' drift in °C/min while they settle and its expanded uncertainty, once known.
    #[must_use]
    pub fn drift_degc_per_min(&self) -> Option<(f64, f64)> {
        self.course.steadiness.as_ref()?.drift_degc_per_min()
    }

    /// Seconds until the samples are found steady, where their approach supports it.
    #[must_use]
    pub fn settling_wait_s(&self) -> Option<f64> {
        self.course.steadiness.as_ref()?.settling().wait_s
    }

    /// Seconds since the board at a port was last heard, if that is longer than it should be.
    #[must_use]
    pub fn silent_s(&self, port: u16, t_ns: i64) -> Option<f64> {
        let sampler = self.course.feed.sampler(port)?;
        let usual_ns = sampler.usual_interval_ns().unwrap_or(0);
        let silent_ns = t_ns + self.shift_ns - self.heard_ns.get(usize::from(port))?;
        let limit_ns = SILENCE_NS.max(usual_ns.saturating_mul(SILENT_INTERVALS));
        (silent_ns > limit_ns).then_some(silent_ns as f64 / 1e9)
    }

    /// Whether the board at a port still owes its hello.
    #[must_use]
    pub fn wants_hello(&self, port: u16) -> bool {
        let sampler = self.course.feed.sampler(port);
        sampler.is_some_and(Sampler::wants_hello)
    }

    /// How long the disk has not answered a write or sync; zero for a disk that refuses, which is
    /// an answer.
    #[must_use]
    pub fn disk_silent(&self) -> Duration {
        self.scribe.waiting().0
    }

    /// Run time of an instant of the clock that stamps what comes, in seconds.
    #[must_use]
    pub fn elapsed_s(&self, t_ns: i64) -> f64 {
        self.course.feed.time.elapsed_s(t_ns + self.shift_ns)
    }

    /// Something happened at a port, counted from 0.
    pub fn port(&mut self, t_ns: i64, port: u16, what: &What, news: &mut Vec<News>) {
        if let Some(record) = self.heard(t_ns, port, what) {
            self.put(&record, news);
        }
    }

    /// Something happened at a port that came back, and nobody knows yet whose board is there: it
    /// is recorded at once, and makes rows when it is claimed.
    pub fn hold(&mut self, t_ns: i64, port: u16, what: &What, news: &mut Vec<News>) {
        if let Some(record) = self.heard(t_ns, port, what) {
            self.put(&record.held(), news);
        }
    }

    /// All that was held for a port is this run's.
    pub fn claim(&mut self, t_ns: i64, port: u16, news: &mut Vec<News>) {
        self.record(t_ns + self.shift_ns, port, Kind::Claim, b"", news);
    }

    /// All that was held for a port is another run's: that of the board `id`, where it is known.
    pub fn moved(&mut self, t_ns: i64, port: u16, id: &str, news: &mut Vec<News>) {
        self.record(t_ns + self.shift_ns, port, Kind::Moved, id.as_bytes(), news);
    }

    fn heard(&mut self, t_ns: i64, port: u16, what: &What) -> Option<Record> {
        let t_ns = t_ns + self.shift_ns;
        if let What::Opened(_) | What::Bytes(_) = what
            && let Some(heard_ns) = self.heard_ns.get_mut(usize::from(port))
        {
            *heard_ns = t_ns;
        }
        of_port(t_ns, port, what)
    }

    /// Time has come to `t_ns`: looks whether something is due.
    pub fn tick(&mut self, t_ns: i64, news: &mut Vec<News>) {
        let now_s = self.elapsed_s(t_ns);
        let course = &mut self.course;
        let steady = course.steadiness.as_ref().is_none_or(Steadiness::is_steady);
        if let Some(cue) = course.conductor.tick(now_s, steady) {
            let t_ns = t_ns + self.shift_ns;
            self.record(t_ns, 0, Kind::Cue, cue.code().as_bytes(), news);
            news.push(News::Cue(cue));
        }
        self.look_at_disk(news);
    }

    /// What both clocks show at once; a wall clock that was set is recorded.
    pub fn look_at_clock(&mut self, boot_ns: i64, wall_ns: i64, news: &mut Vec<News>) {
        let t_ns = boot_ns + self.shift_ns;
        let mut mapping = self.course.feed.time.wall.clone();
        let known = mapping.ahead_ns().is_some();
        if mapping.look(t_ns, wall_ns).is_some() || !known {
            let text = rfc3339_ms(wall_ns);
            self.record(t_ns, 0, Kind::Clock, text.as_bytes(), news);
        }
    }

    /// The computer slept for so long, up to `boot_ns`.
    pub fn slept(&mut self, boot_ns: i64, wall_ns: i64, slept_ns: i64, news: &mut Vec<News>) {
        let t_ns = boot_ns + self.shift_ns;
        let text = format!("{} slept {:.3}", rfc3339_ms(wall_ns), slept_ns as f64 / 1e9);
        self.record(t_ns, 0, Kind::Clock, text.as_bytes(), news);
    }

    /// What is to be told about the disk.
    pub fn look_at_disk(&mut self, news: &mut Vec<News>) {
        news.extend(self.scribe.notices().into_iter().map(News::Disk));
        let (silent, bytes) = self.scribe.waiting();
        let stuck = silent > DISK_SILENCE;
        if stuck && !self.stuck_told {
            news.push(News::Disk(format!(
                "the disk has not answered for {} s; {bytes} bytes wait in memory",
                silent.as_secs()
            )));
        }
        self.stuck_told = stuck;
    }

    /// Ends the run: what was recorded is made to survive a power cut, which [`Ending::wait`] waits
    /// for, and all files are let go of. What follows from the journal is derived by whoever wants
    /// it, when there is time.
    #[must_use]
    pub fn end(self, t_ns: i64, why: &str) -> Ending {
        let t_ns = (t_ns + self.shift_ns).max(self.course.last_ns);
        self.scribe.end(Record {
            t_ns,
            port: 0,
            kind: Kind::End,
            payload: why.as_bytes().to_vec(),
        });
        Ending(self)
    }

    fn record(&mut self, t_ns: i64, port: u16, kind: Kind, payload: &[u8], news: &mut Vec<News>) {
        let record = Record {
            t_ns,
            port,
            kind,
            payload: payload.to_vec(),
        };
        self.put(&record, news);
    }

    /// The one way into the journal: the thread that writes it has the record before anyone else
    /// sees it, and writes what follows from it after it.
    fn put(&mut self, record: &Record, news: &mut Vec<News>) {
        self.scribe.record(record.clone());
        let mut lines = Lines::default();
        self.course.take(record, &mut lines, news);
        self.scribe.lines(lines);
        self.look_at_disk(news);
    }
}

/// The record of what happened at a port; one that never was open has none.
fn of_port(t_ns: i64, port: u16, what: &What) -> Option<Record> {
    let (kind, payload) = match what {
        What::Opened(name) => (Kind::Open, name.as_bytes()),
        What::Bytes(bytes) => (Kind::Bytes, bytes.as_slice()),
        What::Lost(reason) => (Kind::Lost, reason.as_bytes()),
        What::Waiting(reason) => (Kind::Note, reason.as_bytes()),
        What::Refused(_) | What::Ended => return None,
    };
    Some(Record {
        t_ns,
        port,
        kind,
        payload: payload.to_vec(),
    })
}

/// A run whose last record is given and may not be on the disk yet.
#[derive(Debug)]
pub struct Ending(Recorder);

impl Ending {
    /// Waits until the disk has all of it, for so long at most. Gives the run's folder, what people
    /// must be told of the disk, and how it went.
    pub fn wait(self, patience: Duration) -> (PathBuf, Vec<String>, Result<(), RunError>) {
        let Recorder { folder, scribe, .. } = self.0;
        let result = scribe.wait(patience).unwrap_or_else(|| {
            Err(RunError::NoAnswer {
                folder: folder.clone(),
                waited_s: patience.as_secs(),
            })
        });
        (folder, scribe.notices(), result)
    }
}
