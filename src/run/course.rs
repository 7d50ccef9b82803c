//! Where a live run stands: its records, followed one by one.
//!
//! The same for records as they come and for those of a journal that is gone on with, so that a
//! resumed run stands where it stood.

use super::conductor::Conductor;
use super::edges::seen_line;
use super::expected::expect;
use super::feed::{EventLine, Feed, Output};
use super::files;
use super::hand::Hand;
use super::news::News;
use super::poll;
use super::setup::RunSetup;
use super::steady::{Settling, Steadiness, Verdict};
use super::step::Step;
use super::table::elapsed_ms;
use crate::analysis::{self, Guess, Series};
use crate::journal::{Kind, Record};
use crate::lamp::{LampOptions, Watcher};
use crate::probe::Reading;
use crate::sampler::Row;

/// So many late rows at the beginning are no habit: lines that waited in the port.
const FIRST_LATE: usize = 20;

/// Lines for the files that others read while a run is logged.
#[derive(Debug, Default)]
pub(super) struct Lines {
    pub(super) readings: String,
    pub(super) events: String,
}

/// Follows a run's records.
#[derive(Debug)]
pub(super) struct Course {
    pub(super) feed: Feed,
    outputs: Vec<Output>,
    pub(super) names: Vec<String>,
    slugs: Vec<String>,
    /// Run time of the latest row that stands in the file.
    pub(super) last_ms: Option<i64>,
    /// Time of the latest record: nothing that follows can come before it.
    pub(super) last_ns: i64,
    pub(super) rows: u64,
    /// How many of the rows came late.
    late: usize,
    pub(super) conductor: Conductor,
    /// What groups predict, so far.
    pub(super) guesses: Vec<Guess>,
    watcher: Option<Watcher>,
    lamp: LampOptions,
    pub(super) steadiness: Option<Steadiness>,
    /// People were told that the samples do not settle.
    unsettled_told: bool,
    unread_told: bool,
}

impl Course {
    /// At the start of a run.
    pub(super) fn new(setup: &RunSetup, start_ns: i64) -> Self {
        Self {
            feed: Feed::new(setup, start_ns),
            outputs: Vec::new(),
            names: Vec::new(),
            slugs: Vec::new(),
            last_ms: None,
            last_ns: start_ns,
            rows: 0,
            late: 0,
            conductor: Conductor::new(setup.plan.clone()),
            guesses: setup.plan.predictions.clone(),
            watcher: None,
            lamp: setup.lamp_options(),
            steadiness: setup.plan.settle_degc_per_min.map(Steadiness::new),
            unsettled_told: false,
            unread_told: false,
        }
    }

    /// Follows a record; tells what it leads to.
    pub(super) fn take(&mut self, record: &Record, lines: &mut Lines, news: &mut Vec<News>) {
        self.last_ns = self.last_ns.max(record.t_ns);
        if matches!(record.kind, Kind::Lost | Kind::Resume)
            && let Some(steadiness) = &mut self.steadiness
        {
            steadiness.forget();
        }
        if let Some(hand) = hand_of(record) {
            let now_s = self.feed.time.elapsed_s(record.t_ns);
            self.conductor.hand(hand, now_s);
        }
        if let Some(guess) = poll::of_record(record) {
            poll::take(&mut self.guesses, guess);
        }
        let mut outputs = std::mem::take(&mut self.outputs);
        self.feed.take(record, &mut outputs);
        self.pass(outputs, lines, news);
    }

    /// Records are missing here.
    pub(super) fn cut(&mut self) {
        let mut outputs = std::mem::take(&mut self.outputs);
        self.feed.cut(self.last_ns, &mut outputs);
        self.pass(outputs, &mut Lines::default(), &mut Vec::new());
    }

    fn pass(&mut self, mut outputs: Vec<Output>, lines: &mut Lines, news: &mut Vec<News>) {
        if self.names.is_empty() && self.feed.channels().is_some() {
            self.names = self.feed.names();
        }
        for output in outputs.drain(..) {
            match output {
                Output::Row(row) => self.row(row, lines, news),
                Output::Event(event) => self.event(event, lines, news),
                // Lines that are written stay; the file that is derived at the end has it.
                Output::Earlier { .. } => {}
            }
        }
        self.outputs = outputs;
    }

    /// Follows a record of a run that is gone on with: people were given its cues, and are not
    /// given them again.
    pub(super) fn replay(&mut self, record: &Record) {
        if record.kind == Kind::Cue {
            let now_s = self.feed.time.elapsed_s(record.t_ns);
            let _ = self.conductor.tick(now_s, true);
        }
        self.take(record, &mut Lines::default(), &mut Vec::new());
    }

    fn event(&mut self, event: EventLine, lines: &mut Lines, news: &mut Vec<News>) {
        let sample = event.channel.and_then(|c| self.names.get(c)).cloned();
        let t_s = self.feed.time.elapsed_s(event.t_ns);
        files::events_line(
            &mut lines.events,
            t_s,
            &self.feed.time.wall.rfc3339(event.t_ns),
            &event.kind,
            sample.as_deref().unwrap_or(""),
            &event.detail,
        );
        news.push(News::Event {
            t_s,
            kind: event.kind,
            sample,
            detail: event.detail,
        });
    }

    /// What is to be said, once, to those who have waited long.
    fn kept_waiting(&mut self, t_s: f64, settling: &Settling, limit: f64) -> Option<News> {
        let told = match settling.verdict {
            Verdict::Unsettled => &mut self.unsettled_told,
            Verdict::Unread => &mut self.unread_told,
            Verdict::TooEarly | Verdict::Drifting | Verdict::Steady => return None,
        };
        if std::mem::replace(told, true) {
            return None;
        }
        Some(match settling.verdict {
            Verdict::Unread => unread(t_s),
            _ => self.unsettled(t_s, settling, limit),
        })
    }

    /// For those who wait: what keeps them waiting, and what they can do.
    fn unsettled(&self, t_s: f64, settling: &Settling, limit: f64) -> News {
        let (channel, drift, expanded) = settling.worst.unwrap_or_default();
        News::Event {
            t_s,
            kind: "settling".into(),
            sample: self.names.get(channel).cloned(),
            detail: format!(
                "does not settle: it still drifts by {drift:+.2} ± {expanded:.2} °C/min, and less than \
                 {limit} is asked for. Look for sun, a draught, a warm lamp, a tray that was stored \
                 elsewhere; or switch the lamp on all the same: the run goes on from there"
            ),
        }
    }

    fn row(&mut self, row: Row, lines: &mut Lines, news: &mut Vec<News>) {
        let Some(ms) = elapsed_ms(&row, self.feed.time.start_ns, self.last_ms) else {
            return;
        };
        self.last_ms = Some(ms);
        self.rows += 1;
        if self.rows == 1 {
            self.slugs = analysis::slugs(&self.names);
            let watcher = Watcher::new(row.readings.len(), &self.lamp);
            let planned = self.conductor.plan().has_lamp();
            self.watcher = Some(if planned {
                watcher
            } else {
                watcher.unplanned()
            });
            lines.readings.push_str(&files::readings_head(&self.slugs));
        }
        let t_s = ms as f64 / 1000.0;
        if self.is_sure(&row) {
            self.follow(t_s, &row, lines, news);
        }
        let cells = row.readings.iter().map(|reading| match *reading {
            Reading::Degc { value, decimals } => (value, decimals),
            Reading::Fault(_) => (f64::NAN, 0),
        });
        let utc = self.feed.time.utc(ms);
        let flags = row.flags(&self.slugs);
        let phase = self.conductor.phase();
        files::readings_line(&mut lines.readings, ms, &utc, cells, phase, &flags);
        news.push(News::Row { t_s, row });
    }

    /// Whether a row tells when it was measured: not where it came late, but for boards whose rows
    /// come so as a habit, whose times are all there is.
    fn is_sure(&mut self, row: &Row) -> bool {
        self.late += usize::from(row.doubts.late);
        let rows = usize::try_from(self.rows).unwrap_or(usize::MAX);
        let few = self.late <= FIRST_LATE || Series::is_sure_without(self.late, rows);
        !(row.doubts.late && few)
    }

    /// Looks at what a row says of the samples and the lamp.
    fn follow(&mut self, t_s: f64, row: &Row, lines: &mut Lines, news: &mut Vec<News>) {
        let degc: Vec<f64> = (0..row.readings.len()).map(|c| row.degc(c)).collect();
        if let Some(steadiness) = &mut self.steadiness {
            steadiness.push(t_s, &degc);
            let settling = steadiness.settling();
            let limit = steadiness.limit_degc_per_min();
            if self.conductor.step() == Step::Settling {
                news.extend(self.kept_waiting(t_s, &settling, limit));
            }
        }
        let seen = self.watcher.as_mut().and_then(|watcher| {
            expect(watcher, &self.conductor, self.unsettled_told);
            watcher.push(t_s, &degc)
        });
        if let Some(seen) = seen {
            self.conductor.seen(&seen);
            seen_line(&mut lines.events, &seen, &self.feed.time);
            news.push(News::Lamp(seen));
        }
    }
}

/// The key that a record tells of.
fn hand_of(record: &Record) -> Option<Hand> {
    (record.kind == Kind::Hand).then(|| Hand::from_code(&record.text()))?
}

/// For those who wait, and no probe reads.
fn unread(t_s: f64) -> News {
    News::Event {
        t_s,
        kind: "settling".into(),
        sample: None,
        detail: "no probe gives a reading, so nobody can say whether the samples are steady. Look at \
                 leads, plugs and the board's wiring: 'duskmark boards' says which probe is open or short. \
                 The run goes on by itself once they read"
            .into(),
    }
}
