//! A live run: journal first, then everything else.
//!
//! The recorder owns a run's folder while it is logged. It is driven by what happens at the port
//! and by ticks, takes all times from them, and so serves a real board, a virtual one and the demo
//! alike. What it writes beside the journal is for those who look while the run goes on; at the
//! end everything is derived from the journal.

use std::fs::OpenOptions;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::error::RunError;
use super::feed::{Feed, Output};
use super::files::{self, name};
use super::folder;
use super::live_file::LiveFile;
use super::plan::{Conductor, Cue};
use super::setup::RunSetup;
use super::steady::Steadiness;
use super::table::elapsed_ms;
use super::wall::rfc3339_ms;
use crate::analysis;
use crate::journal::{Kind, Record, Trouble, Writer};
use crate::lamp::{EdgeSeen, LampOptions, Watcher};
use crate::port::What;
use crate::probe::Reading;
use crate::sampler::Row;

/// A board is silent after so long without a byte, and after so many of its usual intervals.
const SILENCE_NS: i64 = 5_000_000_000;
const SILENT_INTERVALS: i64 = 5;

/// What a run tells the people who watch it.
#[derive(Debug)]
pub enum News {
    /// A row, and its run time in seconds.
    Row {
        /// Run time in seconds.
        t_s: f64,
        /// The row.
        row: Row,
    },
    /// Something happened.
    Event {
        /// Run time in seconds.
        t_s: f64,
        /// The event's kind.
        kind: String,
        /// The sample, where it is about one.
        sample: Option<String>,
        /// In words.
        detail: String,
    },
    /// Something is to be done.
    Cue(Cue),
    /// The lamp was seen to change.
    Lamp(EdgeSeen),
    /// The disk is in trouble; nothing is lost yet unless it says so.
    Disk(String),
}

/// Logs one bench into one folder.
#[derive(Debug)]
pub struct Recorder {
    folder: PathBuf,
    journal: Writer,
    feed: Feed,
    outputs: Vec<Output>,
    readings: LiveFile,
    events: LiveFile,
    names: Vec<String>,
    slugs: Vec<String>,
    last_ms: Option<i64>,
    /// Time of the latest record: the end cannot come before it.
    last_ns: i64,
    /// When the board was last heard.
    heard_ns: i64,
    rows: u64,
    conductor: Conductor,
    watcher: Option<Watcher>,
    lamp: LampOptions,
    steadiness: Option<Steadiness>,
    disk: Option<String>,
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
    ) -> Result<Self, RunError> {
        let folder = folder::create(out, &rfc3339_ms(wall_ns), &setup.name)?;
        let failed = |source| RunError::Write {
            path: folder.join(crate::journal::FILE_NAME),
            source,
        };
        let mut journal = Writer::create(&folder).map_err(failed)?;
        let record = Record {
            t_ns: start_ns,
            port: 0,
            kind: Kind::Setup,
            payload: serde_json::to_vec(setup).unwrap_or_default(),
        };
        journal
            .append(&record)
            .map_err(|trouble| failed(io::Error::other(trouble)))?;
        let lags = &setup.lags;
        let mut recorder = Self {
            readings: LiveFile::new(folder.join(name::READINGS)),
            events: LiveFile::new(folder.join(name::EVENTS)),
            feed: Feed::new(setup, start_ns),
            outputs: Vec::new(),
            names: Vec::new(),
            slugs: Vec::new(),
            last_ms: None,
            last_ns: start_ns,
            heard_ns: start_ns,
            rows: 0,
            conductor: Conductor::new(setup.plan.clone()),
            watcher: None,
            lamp: LampOptions {
                probe_lag_s: lags.probe_s.clone(),
                lamp_lag_s: lags.lamp_s,
            },
            steadiness: setup.plan.settle_degc_per_min.map(Steadiness::new),
            disk: None,
            folder,
            journal,
        };
        recorder.events.append(files::EVENTS_HEAD);
        recorder.look_at_clock(start_ns, wall_ns, &mut Vec::new());
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
        &self.names
    }

    /// Where the plan stands.
    #[must_use]
    pub fn conductor(&self) -> &Conductor {
        &self.conductor
    }

    /// The samples' drift in °C/min while they settle and its expanded uncertainty, once known.
    #[must_use]
    pub fn drift_degc_per_min(&self) -> Option<(f64, f64)> {
        self.steadiness.as_ref()?.drift_degc_per_min()
    }

    /// Seconds since the board was last heard, if that is longer than it should be.
    #[must_use]
    pub fn silent_s(&self, t_ns: i64) -> Option<f64> {
        let usual_ns = self.feed.sampler.usual_interval_ns().unwrap_or(0);
        let silent_ns = t_ns - self.heard_ns;
        let limit_ns = SILENCE_NS.max(usual_ns.saturating_mul(SILENT_INTERVALS));
        (silent_ns > limit_ns).then_some(silent_ns as f64 / 1e9)
    }

    /// Whether the board still owes its hello.
    #[must_use]
    pub fn wants_hello(&self) -> bool {
        self.feed.sampler.wants_hello()
    }

    /// Run time of an instant of the boot clock, in seconds.
    #[must_use]
    pub fn elapsed_s(&self, t_ns: i64) -> f64 {
        self.feed.time.elapsed_s(t_ns)
    }

    /// Something happened at the port.
    pub fn port(&mut self, t_ns: i64, what: &What, news: &mut Vec<News>) {
        match what {
            What::Opened(_) | What::Bytes(_) => self.heard_ns = t_ns,
            What::Lost(_) => {
                if let Some(steadiness) = &mut self.steadiness {
                    steadiness.forget();
                }
            }
            What::Waiting(_) | What::Refused(_) | What::Ended => {}
        }
        match what {
            What::Opened(port) => self.record(t_ns, Kind::Open, port.as_bytes(), news),
            What::Bytes(bytes) => self.record(t_ns, Kind::Bytes, bytes, news),
            What::Lost(reason) => self.record(t_ns, Kind::Lost, reason.as_bytes(), news),
            What::Waiting(reason) => self.record(t_ns, Kind::Note, reason.as_bytes(), news),
            What::Refused(_) | What::Ended => {}
        }
    }

    /// Time has come to `t_ns`: looks whether something is due.
    pub fn tick(&mut self, t_ns: i64, news: &mut Vec<News>) {
        let steady = self.steadiness.as_ref().is_none_or(Steadiness::is_steady);
        if let Some(cue) = self.conductor.tick(self.elapsed_s(t_ns), steady) {
            self.record(t_ns, Kind::Cue, cue.code().as_bytes(), news);
            news.push(News::Cue(cue));
        }
    }

    /// What both clocks show at once; a wall clock that was set is recorded.
    pub fn look_at_clock(&mut self, boot_ns: i64, wall_ns: i64, news: &mut Vec<News>) {
        let mut mapping = self.feed.time.wall.clone();
        let known = mapping.ahead_ns().is_some();
        if mapping.look(boot_ns, wall_ns).is_some() || !known {
            self.record(boot_ns, Kind::Clock, rfc3339_ms(wall_ns).as_bytes(), news);
        }
    }

    /// Makes what was recorded survive a power cut.
    pub fn sync(&mut self, news: &mut Vec<News>) {
        let result = self.journal.sync();
        self.disk_is(result, news);
    }

    /// Ends the run: what was recorded is made to survive a power cut, and all files are let go of.
    /// What follows from the journal is derived by whoever wants it, when there is time.
    ///
    /// # Errors
    /// [`RunError`] with the run's folder beside it, if the disk could not take or confirm the end.
    pub fn end(mut self, t_ns: i64, why: &str) -> (PathBuf, Result<(), RunError>) {
        let t_ns = t_ns.max(self.last_ns);
        // A disk in trouble is told by the sync that follows.
        self.record(t_ns, Kind::End, why.as_bytes(), &mut Vec::new());
        let result = match self.journal.sync() {
            Ok(()) => Ok(()),
            Err(Trouble::NotSynced { reason }) => Err(RunError::Write {
                path: self.folder.join(crate::journal::FILE_NAME),
                source: io::Error::other(reason),
            }),
            Err(Trouble::Holding { source, .. }) => {
                Err(rescue(&self.folder, &self.journal.waiting(), source))
            }
        };
        (self.folder, result)
    }

    /// The one way into the journal: it has the record before anyone else sees it.
    fn record(&mut self, t_ns: i64, kind: Kind, payload: &[u8], news: &mut Vec<News>) {
        self.last_ns = self.last_ns.max(t_ns);
        let record = Record {
            t_ns,
            port: 0,
            kind,
            payload: payload.to_vec(),
        };
        let result = self.journal.append(&record);
        self.disk_is(result, news);
        let mut outputs = std::mem::take(&mut self.outputs);
        self.feed.take(&record, &mut outputs);
        if self.names.is_empty() && self.feed.sampler.channels().is_some() {
            self.names = self.feed.sampler.names();
        }
        for output in outputs.drain(..) {
            match output {
                Output::Row(row) => self.row(row, news),
                Output::Event(event) => {
                    let sample = event.channel.and_then(|c| self.names.get(c)).cloned();
                    let t_s = self.elapsed_s(event.t_ns);
                    let mut line = String::new();
                    files::events_line(
                        &mut line,
                        t_s,
                        &self.feed.time.wall.rfc3339(event.t_ns),
                        &event.kind,
                        sample.as_deref().unwrap_or(""),
                        &event.detail,
                    );
                    self.events.append(&line);
                    news.push(News::Event {
                        t_s,
                        kind: event.kind,
                        sample,
                        detail: event.detail,
                    });
                }
            }
        }
        self.outputs = outputs;
    }

    fn row(&mut self, row: Row, news: &mut Vec<News>) {
        let Some(ms) = elapsed_ms(&row, self.feed.time.start_ns, self.last_ms) else {
            return;
        };
        self.last_ms = Some(ms);
        self.rows += 1;
        let mut line = String::new();
        if self.rows == 1 {
            self.slugs = analysis::slugs(&self.names);
            self.watcher = Some(Watcher::new(row.readings.len(), &self.lamp));
            line = files::readings_head(&self.slugs);
        }
        let t_s = ms as f64 / 1000.0;
        let degc: Vec<f64> = (0..row.readings.len()).map(|c| row.degc(c)).collect();
        if let Some(steadiness) = &mut self.steadiness {
            steadiness.push(t_s, &degc);
        }
        let seen = self.watcher.as_mut().and_then(|w| w.push(t_s, &degc));
        if let Some(seen) = seen {
            self.conductor.seen(&seen);
            news.push(News::Lamp(seen));
        }
        let cells = row.readings.iter().map(|reading| match *reading {
            Reading::Degc { value, decimals } => (value, decimals),
            Reading::Fault(_) => (f64::NAN, 0),
        });
        let utc = self.feed.time.utc(ms);
        let flags = row.flags(&self.slugs);
        files::readings_line(&mut line, ms, &utc, cells, self.conductor.phase(), &flags);
        self.readings.append(&line);
        news.push(News::Row { t_s, row });
    }

    /// Tells when the disk's state changes.
    fn disk_is(&mut self, result: Result<(), Trouble>, news: &mut Vec<News>) {
        let kind = |trouble: &Trouble| match trouble {
            Trouble::Holding {
                dropped: 0, source, ..
            } => {
                format!("the disk takes nothing ({source}); readings wait in memory")
            }
            Trouble::Holding { .. } => {
                "the disk takes nothing and the memory set aside is full: readings are lost".into()
            }
            Trouble::NotSynced { reason } => {
                format!("the disk could not confirm what was written ({reason})")
            }
        };
        let now = result.err().map(|trouble| kind(&trouble));
        if now != self.disk {
            let recovered = "the disk takes readings again".to_owned();
            news.push(News::Disk(now.clone().unwrap_or(recovered)));
            self.disk = now;
        }
    }
}

/// The run is over and the disk takes no more: what waits in memory goes where there may be room,
/// as records that can be appended to the journal later.
fn rescue(folder: &Path, waiting: &[u8], source: io::Error) -> RunError {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let put = |n: u32| -> io::Result<PathBuf> {
        let path = std::env::temp_dir().join(match n {
            1 => format!("{name}-rest.dmj"),
            _ => format!("{name}-rest-{n}.dmj"),
        });
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&path)?;
        file.write_all(waiting)?;
        file.sync_all()?;
        Ok(path)
    };
    RunError::Unsaved {
        journal: folder.join(crate::journal::FILE_NAME),
        bytes: waiting.len(),
        rescued: (1..100).find_map(|n| put(n).ok()),
        source,
    }
}
