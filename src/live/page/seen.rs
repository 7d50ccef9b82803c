//! A run as its files tell it, in bounded memory.

#[cfg(test)]
mod tests;

use std::collections::VecDeque;
use std::io;
use std::path::{Path, PathBuf};

use super::marks::{self, MarkSeen, Marks, Recent};
use super::quiet::Quiet;
use super::results::Results;
use super::thin::Thin;
use crate::analysis::{Guess, local_minute};
use crate::follow::{EventSeen, RowLine, RowSeen, columns};
use crate::follow::{Look, Tail};
use crate::graph::{EdgeKind, LampEdge};
use crate::live::words::Stand;
use crate::run::{Afterwards, RunSetup, name, setup_in, take_prediction};

/// Events that are shown at most.
const EVENTS: usize = 100;

/// The file of rows has a signpost every so many bytes.
const APART: u64 = 64 * 1024;

/// How far back a trend looks, in seconds.
const TREND_S: f64 = 60.0;

/// All that is known of a run.
#[derive(Debug)]
pub(super) struct Seen {
    folder: PathBuf,
    readings: Tail,
    log: Tail,
    pub(super) setup: RunSetup,
    /// Names of the samples, as people gave them or as the file has them.
    pub(super) names: Vec<String>,
    /// Their columns, which flags name.
    pub(super) slugs: Vec<String>,
    pub(super) rows: u64,
    pub(super) last: Option<RowSeen>,
    first_utc: String,
    pub(super) thin: Thin,
    /// Times of some rows and where they begin in the file.
    signposts: Vec<(f64, u64)>,
    pub(super) events: VecDeque<EventSeen>,
    pub(super) recent: Recent,
    /// Whether rows still come.
    pub(super) quiet: Quiet,
    marks: Marks,
    stage: Stand,
    lamp_on_s: Option<f64>,
    /// When people were told to switch the lamp, until it is switched.
    cued_s: Option<f64>,
    /// The last switching was not seen.
    presumed: bool,
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
            Stand::Settling
        } else {
            Stand::Open
        };
        Self {
            folder: folder.to_owned(),
            readings: Tail::new(folder.join(name::READINGS)),
            log: Tail::new(folder.join(name::EVENTS)),
            names: Vec::new(),
            slugs: Vec::new(),
            rows: 0,
            last: None,
            first_utc: String::new(),
            thin: Thin::new(0),
            signposts: Vec::new(),
            events: VecDeque::new(),
            recent: Recent::default(),
            quiet: Quiet::default(),
            marks: Marks::default(),
            stage,
            lamp_on_s: None,
            cued_s: None,
            presumed: false,
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
        let mut last = String::new();
        let rows = readings.look(|at, line| {
            if self.row(at, line) {
                last.clear();
                last.push_str(line);
            }
        });
        self.readings = readings;
        self.last = RowSeen::of(&last).or(self.last.take());
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
        let t_s = event.t_s;
        self.quiet.event(&event);
        match (event.kind.as_str(), self.stage) {
            ("prediction", _) => self.predicted(&event),
            ("lamp-on", _) => self.switched(EdgeKind::On, t_s, false),
            ("lamp-off", _) => self.switched(EdgeKind::Off, t_s, false),
            (_, Stand::Open) => {}
            ("cue-lamp-on", _) => (self.stage, self.cued_s) = (Stand::AwaitOn, Some(t_s)),
            ("cue-lamp-off", _) => (self.stage, self.cued_s) = (Stand::AwaitOff, Some(t_s)),
            ("hand-lamp-on", _) | ("hand-go-on", Stand::AwaitOn) => {
                self.switched(EdgeKind::On, t_s, true);
            }
            ("hand-lamp-off", _) | ("hand-go-on", Stand::AwaitOff) => {
                self.switched(EdgeKind::Off, t_s, true);
            }
            _ => {}
        }
        if self.events.len() == EVENTS {
            self.events.pop_front();
        }
        self.events.push_back(event);
    }

    /// Whether the line is a row.
    fn row(&mut self, at: u64, line: &str) -> bool {
        let Some(row) = RowLine::of(line) else {
            if at == 0 {
                self.head(line);
            }
            return false;
        };
        if self
            .signposts
            .last()
            .is_none_or(|(_, before)| at >= before + APART)
        {
            self.signposts.push((row.t_s, at));
        }
        if self.rows == 0 {
            row.utc.clone_into(&mut self.first_utc);
        }
        self.rows += 1;
        let degc = row.degc();
        self.thin.push(row.t_s, &degc);
        self.recent.push(&row, &degc);
        self.quiet.row(row.t_s);
        self.follow_lamp(&row);
        if let Some(interval_s) = self.setup.plan.marks_s {
            let end_s = self.setup.plan.length_s();
            self.marks
                .fill(row.t_s, interval_s, end_s, &self.recent, row.phase);
        }
        true
    }

    /// The rows' phase tells when the lamp was noticed; the first mark is where it went on.
    fn follow_lamp(&mut self, row: &RowLine<'_>) {
        // By the cue, where nobody has seen or said anything.
        let at_s = self.cued_s.unwrap_or(row.t_s);
        match (row.phase, self.stage) {
            ("heating", Stand::Settling | Stand::AwaitOn) => {
                self.switched(EdgeKind::On, at_s, true);
            }
            ("cooling", Stand::Heating | Stand::AwaitOff) => {
                self.switched(EdgeKind::Off, at_s, true);
            }
            _ => {}
        }
        match self.stage {
            Stand::Open => self.marks.begin(0.0),
            Stand::Heating | Stand::AwaitOff | Stand::Cooling => {
                self.marks.begin(self.lamp_on_s.unwrap_or(row.t_s));
            }
            Stand::Settling | Stand::AwaitOn | Stand::Done => {}
        }
    }

    /// The lamp was switched at `at_s`: what was seen stands over what was `presumed`, and the first
    /// that was seen over what is told again.
    fn switched(&mut self, kind: EdgeKind, at_s: f64, presumed: bool) {
        let edge = LampEdge {
            kind,
            at_s,
            low_s: f64::NAN,
            high_s: f64::NAN,
        };
        let room = self.edges.len() < EVENTS;
        match self.edges.last_mut() {
            Some(last) if last.kind == kind && !self.presumed => return,
            Some(last) if last.kind == kind => *last = edge,
            _ if room => self.edges.push(edge),
            _ => {}
        }
        self.presumed = presumed;
        if self.stage == Stand::Open {
            return;
        }
        self.cued_s = None;
        self.stage = match kind {
            EdgeKind::On => Stand::Heating,
            EdgeKind::Off => Stand::Cooling,
        };
        if kind == EdgeKind::On && self.edges.len() == 1 {
            self.lamp_on_s = Some(at_s);
            self.marks.begin_anew(at_s);
        }
    }

    /// A group said which sample will warm most.
    fn predicted(&mut self, event: &EventSeen) {
        if let Some(group) = event.detail.strip_prefix("group ") {
            let guess = Guess {
                group: group.to_owned(),
                sample: event.channel.clone(),
            };
            take_prediction(&mut self.setup.plan.predictions, guess);
        }
    }

    /// Whether groups can still say which sample will warm most.
    pub(super) fn takes_predictions(&self) -> bool {
        let waits = matches!(self.stage, Stand::Settling | Stand::AwaitOn);
        waits && self.edges.is_empty() && self.names.len() > 1 && self.results.is_none()
    }

    /// When the lamp was switched: by the results, if they are there.
    pub(super) fn edges(&self) -> Vec<LampEdge> {
        let results = self.results.as_ref().map(Results::edges);
        results.unwrap_or_else(|| self.edges.clone())
    }

    fn head(&mut self, line: &str) {
        let slugs = columns(line);
        let given = &self.setup.sampler.samples;
        let logged = if given.len() == slugs.len() {
            given
        } else {
            &slugs
        };
        self.names = Afterwards::of_folder(&self.folder).names_over(logged);
        self.slugs = slugs;
        self.thin = Thin::new(self.names.len());
    }

    /// When the lamp went on, in seconds, as far as is known.
    pub(super) fn lamp_on_s(&self) -> Option<f64> {
        self.lamp_on_s
    }

    /// Where the run stands.
    pub(super) fn stage(&self) -> Stand {
        self.stage
    }

    /// What comes without waiting any longer, if anything can be waited for.
    pub(super) fn next_step(&self) -> Option<&'static str> {
        self.stage.next_step(&self.setup.plan, self.cycle())
    }

    /// Which way the plan has the lamp switched next.
    pub(super) fn next_switch(&self) -> Option<&'static str> {
        self.stage.next_switch(&self.setup.plan, self.cycle())
    }

    /// How often the lamp has gone on.
    fn cycle(&self) -> u32 {
        let heatings = self.edges.iter().filter(|edge| edge.kind == EdgeKind::On);
        u32::try_from(heatings.count()).unwrap_or(u32::MAX)
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

    /// When the run began, to the minute, by the clock of the place where that is known.
    pub(super) fn began(&self) -> String {
        local_minute(&self.first_utc, self.setup.utc_offset_s)
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
