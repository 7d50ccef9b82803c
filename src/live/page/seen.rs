//! A run as its files tell it, in bounded memory.

use std::collections::VecDeque;
use std::io;
use std::path::{Path, PathBuf};

use super::marks::{self, MarkSeen, Marks, Recent};
use super::results::Results;
use super::row::{EventSeen, RowSeen, columns};
use super::tail::{Look, Tail};
use super::thin::Thin;
use crate::graph::{EdgeKind, LampEdge};
use crate::run::{RunSetup, name, setup_in};

/// Events that are shown at most.
const EVENTS: usize = 100;

/// The file of rows has a signpost every so many bytes.
const APART: u64 = 64 * 1024;

/// How far back a trend looks, in seconds.
const TREND_S: f64 = 60.0;

/// What the run's lamp did and what people were asked, by its events and rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Stage {
    /// Logging without a lamp.
    #[default]
    Open,
    /// Before the lamp is asked for.
    Settling,
    /// The lamp was asked for.
    AwaitOn,
    /// The lamp is on.
    Heating,
    /// The lamp was asked off.
    AwaitOff,
    /// The lamp is off again.
    Cooling,
}

/// All that is known of a run.
#[derive(Debug)]
pub(super) struct Seen {
    folder: PathBuf,
    readings: Tail,
    log: Tail,
    pub(super) setup: RunSetup,
    /// Names of the samples, as people gave them or as the file has them.
    pub(super) names: Vec<String>,
    pub(super) rows: u64,
    pub(super) last: Option<RowSeen>,
    first_utc: String,
    pub(super) thin: Thin,
    /// Times of some rows and where they begin in the file.
    signposts: Vec<(f64, u64)>,
    pub(super) events: VecDeque<EventSeen>,
    pub(super) recent: Recent,
    marks: Marks,
    stage: Stage,
    lamp_on_s: Option<f64>,
    /// When the lamp was switched, as far as is known while the run goes on.
    edges: Vec<LampEdge>,
    /// The finished run's results.
    pub(super) results: Option<Results>,
    final_marks: Vec<MarkSeen>,
    /// Grows with everything that changes.
    pub(super) version: u64,
}

impl Seen {
    /// A run's folder, nothing of which is read but what it was set up with.
    pub(super) fn new(folder: &Path) -> Self {
        let setup = setup_in(folder).unwrap_or_default();
        let stage = if setup.plan.has_lamp() {
            Stage::Settling
        } else {
            Stage::Open
        };
        Self {
            folder: folder.to_owned(),
            readings: Tail::new(folder.join(name::READINGS)),
            log: Tail::new(folder.join(name::EVENTS)),
            names: Vec::new(),
            rows: 0,
            last: None,
            first_utc: String::new(),
            thin: Thin::new(0),
            signposts: Vec::new(),
            events: VecDeque::new(),
            recent: Recent::default(),
            marks: Marks::default(),
            stage,
            lamp_on_s: None,
            edges: Vec::new(),
            results: None,
            final_marks: Vec::new(),
            version: 0,
            setup,
        }
    }

    /// Reads on, a chunk of each file at most; whether there may be more at once.
    ///
    /// # Errors
    /// The system's.
    pub(super) fn look(&mut self) -> io::Result<bool> {
        // Events first: a row's meaning may hang on one.
        let mut log = std::mem::replace(&mut self.log, Tail::new(PathBuf::new()));
        let events = log.look(|_, line| self.event(line));
        self.log = log;
        let mut readings = std::mem::replace(&mut self.readings, Tail::new(PathBuf::new()));
        let rows = readings.look(|at, line| self.row(at, line));
        self.readings = readings;
        let looks = [events?, rows?];
        if looks.contains(&Look::Anew) {
            self.begin_anew();
            return Ok(true);
        }
        let more = looks.contains(&Look::More);
        if more {
            self.version += 1;
        } else if self.results.is_none() {
            self.look_for_results();
        }
        Ok(more)
    }

    /// The files were put in place anew at the run's end, or by `rebuild`.
    fn begin_anew(&mut self) {
        let version = self.version + 1;
        *self = Self::new(&self.folder);
        self.version = version;
    }

    fn look_for_results(&mut self) {
        let Ok(text) = std::fs::read_to_string(self.folder.join(name::SUMMARY)) else {
            return;
        };
        let Some(results) = Results::of(&text) else {
            return;
        };
        let table = std::fs::read_to_string(self.folder.join(name::MARKS)).unwrap_or_default();
        self.final_marks = marks::of_file(&table, self.names.len());
        self.results = Some(results);
        self.version += 1;
    }

    fn event(&mut self, line: &str) {
        let Some(event) = EventSeen::of(line) else {
            return;
        };
        self.stage = match (event.kind.as_str(), self.stage) {
            ("cue-lamp-on", _) => Stage::AwaitOn,
            ("cue-lamp-off", _) => Stage::AwaitOff,
            ("lamp-on", _) => Stage::Heating,
            ("lamp-off", _) => Stage::Cooling,
            (_, stage) => stage,
        };
        match event.kind.as_str() {
            "lamp-on" => self.switched(EdgeKind::On, event.t_s),
            "lamp-off" => self.switched(EdgeKind::Off, event.t_s),
            _ => {}
        }
        if self.events.len() == EVENTS {
            self.events.pop_front();
        }
        self.events.push_back(event);
    }

    fn row(&mut self, at: u64, line: &str) {
        let Some(row) = RowSeen::of(line) else {
            if at == 0 {
                self.head(line);
            }
            return;
        };
        if self
            .signposts
            .last()
            .is_none_or(|(_, before)| at >= before + APART)
        {
            self.signposts.push((row.t_s, at));
        }
        if self.rows == 0 {
            self.first_utc.clone_from(&row.utc);
        }
        self.rows += 1;
        self.thin.push(row.t_s, &row.degc());
        self.recent.push(&row);
        self.follow_lamp(&row);
        if let Some(interval_s) = self.setup.plan.marks_s {
            let end_s = self.setup.plan.length_s();
            self.marks
                .fill(row.t_s, interval_s, end_s, &self.recent, &row.phase);
        }
        self.last = Some(row);
    }

    /// The rows' phase tells when the lamp was noticed; the first mark is where it went on.
    fn follow_lamp(&mut self, row: &RowSeen) {
        match (row.phase.as_str(), self.stage) {
            ("heating", Stage::Settling | Stage::AwaitOn) => {
                self.stage = Stage::Heating;
                self.switched(EdgeKind::On, row.t_s);
            }
            ("cooling", Stage::Heating | Stage::AwaitOff) => {
                self.stage = Stage::Cooling;
                self.switched(EdgeKind::Off, row.t_s);
            }
            _ => {}
        }
        match self.stage {
            Stage::Open => self.marks.begin(0.0),
            Stage::Heating | Stage::AwaitOff | Stage::Cooling => {
                self.marks.begin(self.lamp_on_s.unwrap_or(row.t_s));
            }
            Stage::Settling | Stage::AwaitOn => {}
        }
    }

    fn switched(&mut self, kind: EdgeKind, at_s: f64) {
        if kind == EdgeKind::On {
            self.lamp_on_s.get_or_insert(at_s);
        }
        // Told by an event and again by the rows' phase, or over and over: once is enough.
        if self.edges.last().is_none_or(|last| last.kind != kind) && self.edges.len() < EVENTS {
            self.edges.push(LampEdge {
                kind,
                at_s,
                low_s: f64::NAN,
                high_s: f64::NAN,
            });
        }
    }

    /// When the lamp was switched: by the results, if they are there.
    pub(super) fn edges(&self) -> Vec<LampEdge> {
        let results = self.results.as_ref().map(Results::edges);
        results.unwrap_or_else(|| self.edges.clone())
    }

    fn head(&mut self, line: &str) {
        let slugs = columns(line);
        let given = &self.setup.sampler.samples;
        self.names = if given.len() == slugs.len() {
            given.clone()
        } else {
            slugs
        };
        self.thin = Thin::new(self.names.len());
    }

    /// When the lamp went on, in seconds, as far as is known.
    pub(super) fn lamp_on_s(&self) -> Option<f64> {
        self.lamp_on_s
    }

    /// Where the run stands.
    pub(super) fn stage(&self) -> Stage {
        self.stage
    }

    /// The table: final if the run is finished.
    pub(super) fn table(&self) -> Vec<MarkSeen> {
        if self.results.is_some() {
            return self.final_marks.clone();
        }
        self.marks.rows.iter().cloned().collect()
    }

    /// What the time axis calls 0, in seconds.
    pub(super) fn zero_s(&self) -> f64 {
        let result = self.results.as_ref().map(Results::zero_s);
        result.or(self.marks.zero_s()).unwrap_or(0.0)
    }

    /// Seconds to the next mark.
    pub(super) fn next_mark_in_s(&self) -> Option<f64> {
        let plan = &self.setup.plan;
        let now_s = self.last.as_ref()?.t_s;
        self.marks.next_in_s(now_s, plan.marks_s?, plan.length_s())
    }

    /// Trend of a sample in °C per minute.
    pub(super) fn trend(&self, channel: usize) -> Option<f64> {
        self.recent.slope_degc_per_min(channel, TREND_S)
    }

    /// When the run began, in UTC, to the minute: `2026-03-14 10:32`.
    pub(super) fn began(&self) -> String {
        self.first_utc
            .get(..16)
            .unwrap_or_default()
            .replace('T', " ")
    }

    /// Where in the file the rows of a stretch of time begin, and where to stop at the latest.
    pub(super) fn place_of(&self, from_s: f64, to_s: f64) -> (u64, Option<u64>) {
        let first = self.signposts.partition_point(|(t_s, _)| *t_s <= from_s);
        let after = self.signposts.partition_point(|(t_s, _)| *t_s <= to_s);
        let place = |index: usize| self.signposts.get(index).map(|(_, at)| *at);
        let from = first.checked_sub(1).and_then(place);
        (from.or(place(0)).unwrap_or(0), place(after))
    }

    /// The file of rows.
    pub(super) fn readings_path(&self) -> PathBuf {
        self.folder.join(name::READINGS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lesson() -> Seen {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/lesson");
        let mut seen = Seen::new(&folder);
        while seen.look().unwrap() {}
        seen.look().unwrap();
        seen
    }

    #[test]
    fn a_finished_run_is_read_whole() {
        let seen = lesson();
        assert_eq!(seen.names, ["slate", "moss"]);
        let results = seen.results.as_ref().unwrap();
        assert_eq!(seen.stage(), Stage::Cooling);
        assert_eq!(seen.table().len(), results.marks_s().len());
        assert_eq!(seen.began(), "2026-03-14 10:32");
        let (from, to) = seen.place_of(600.0, 610.0);
        assert!(from < to.unwrap_or(u64::MAX));
    }

    #[test]
    fn a_run_that_grows_is_followed_from_cue_to_cue() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        let mut seen = Seen::new(folder.path());
        seen.setup.plan.heat_s = Some(60.0);
        seen.setup.plan.marks_s = Some(30.0);
        seen.stage = Stage::Settling;
        assert!(!seen.look().unwrap());
        let head = "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n";
        let mut rows = String::from(head);
        for s in 0..40 {
            rows += &format!("{s}.000,2026-03-14T10:32:{s:02}.000Z,20.00,21.00,settling,\n");
        }
        std::fs::write(path(name::READINGS), &rows).unwrap();
        std::fs::write(
            path(name::EVENTS),
            "elapsed_s,time_utc,kind,channel,detail\n39.000,x,cue-lamp-on,,\n",
        )
        .unwrap();
        while seen.look().unwrap() {}
        assert_eq!((seen.rows, seen.stage()), (40, Stage::AwaitOn));
        assert!(seen.table().is_empty());
        for s in 40..90 {
            rows += &format!(
                "{s}.000,2026-03-14T10:33:00.000Z,2{}.00,21.00,heating,\n",
                s % 10
            );
        }
        std::fs::write(path(name::READINGS), &rows).unwrap();
        while seen.look().unwrap() {}
        assert_eq!((seen.rows, seen.stage()), (90, Stage::Heating));
        assert_eq!(seen.table().len(), 2);
        assert!((seen.next_mark_in_s().unwrap() - 11.0).abs() < 1e-9);
        assert_eq!(seen.last.as_ref().unwrap().cells[0], "29.00");
    }
}
