//! Everything that follows from a journal: rows, events, edges, marks, summary.

mod write;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::afterwards::Afterwards;
use super::asked::series;
use super::begun::{Begun, begun};
use super::edges::edge_events;
use super::error::RunError;
use super::feed::{EventLine, Feed, Output};
use super::found::{Found, Together, in_words};
use super::hand::Hand;
use super::lasting::add_lasting;
use super::poll;
use super::setup::{Lags, RunSetup};
use super::step::Cue;
use super::table::{Table, whole_ms};
use super::told::of_clock;
use crate::analysis::{self, Channel, Cued, Request, Series, Summary, Warning, local_minute};
use crate::journal::{Damage, FILE_NAME, FolderShelf, Item, Kind, Pieces, Record, piece_name};
use crate::lamp;
use crate::sampler::LONGEST_PAUSE;

/// What a journal holds, derived.
#[derive(Debug)]
pub struct Derived {
    /// What the run was asked to do.
    pub setup: RunSetup,
    /// Names of the samples, as they were corrected afterwards if they were.
    pub names: Vec<String>,
    /// The analysis.
    pub summary: Summary,
    /// The rows as the analysis saw them.
    pub series: Series,
    /// All events in order.
    pub events: Vec<EventLine>,
    /// Places in the journal that could not be read.
    pub damage: Vec<Damage>,
    /// Whether the run was ended in order.
    pub ended: bool,
    /// What the board said and how it was understood.
    pub found: Found,
    feed: Feed,
    afterwards: Afterwards,
    table: Table,
    slugs: Vec<String>,
}

impl Derived {
    /// Derives everything from the journal in `folder`. Changes nothing. Each of the `lags` that is
    /// declared now stands over the one that was declared when the run was logged.
    ///
    /// # Errors
    /// [`RunError`] if the journal cannot be read or does not say how to read it. Damage inside
    /// is no error: it is skipped and listed.
    pub fn from_folder(folder: &Path, lags: &Lags) -> Result<Self, RunError> {
        let mut gather = Gather::open(folder)?;
        gather.setup.lags = lags.over(&gather.setup.lags);
        gather.read()
    }

    /// What a person calls this run: its name, and when it began.
    #[must_use]
    pub fn title(&self) -> String {
        let began = local_minute(&self.found.began_utc, self.found.utc_offset_s);
        format!("{} · {began}", self.setup.name)
    }

    /// How each channel's numbers became temperatures (`probe::Converter::words`).
    #[must_use]
    pub fn probe_words(&self) -> Vec<String> {
        let boards = self.feed.samplers();
        boards
            .filter_map(|sampler| Some((sampler.converter()?, sampler.channels()?)))
            .flat_map(|(converter, channels)| (0..channels).map(|c| converter.words(c)))
            .collect()
    }

    /// What was asked of the analysis.
    #[must_use]
    pub fn request(&self) -> Request {
        self.afterwards
            .asked(&self.setup, &self.feed.names(), &self.found)
    }

    /// Whether data are missing: gaps, lost lines, a lost board, a channel without any reading,
    /// damage in the journal.
    #[must_use]
    pub fn incomplete(&self) -> bool {
        let missing = ["gap", "port-lost", "other-board", "missing", "resume"];
        let empty = |channel: &Channel| channel.degc.iter().all(|degc| degc.is_nan());
        !self.damage.is_empty()
            || self.series.channels.iter().any(empty)
            || self
                .table
                .flags
                .iter()
                .any(|(_, text)| text.contains("lost:"))
            || self
                .events
                .iter()
                .any(|e| missing.contains(&e.kind.as_str()))
    }

    /// How many rows have each flag, by its code in `readings.csv`; `lost:3` counts as `lost`.
    #[must_use]
    pub fn flags(&self) -> BTreeMap<String, usize> {
        let mut counts = BTreeMap::new();
        for code in self
            .table
            .flags
            .iter()
            .flat_map(|(_, text)| text.split(' '))
        {
            let code = if code.starts_with("lost:") {
                "lost"
            } else {
                code
            };
            *counts.entry(code.to_owned()).or_default() += 1;
        }
        counts
    }
}

/// Reads a journal record by record into columns.
struct Gather {
    pieces: Pieces<FolderShelf>,
    path: PathBuf,
    setup: RunSetup,
    feed: Feed,
    table: Option<Table>,
    slugs: Vec<String>,
    events: Vec<EventLine>,
    damage: Vec<Damage>,
    found: Found,
    /// Names of the ports when they were first opened.
    ports: BTreeMap<u16, String>,
    cues: Vec<Cued>,
    early: u64,
    last_ns: i64,
    afterwards: Afterwards,
}

impl Gather {
    fn open(folder: &Path) -> Result<Self, RunError> {
        let Begun {
            pieces,
            setup,
            start_ns,
        } = begun(folder)?;
        Ok(Self {
            feed: Feed::new(&setup, start_ns),
            last_ns: start_ns,
            pieces,
            path: folder.join(FILE_NAME),
            setup,
            table: None,
            slugs: Vec::new(),
            events: Vec::new(),
            damage: Vec::new(),
            found: Found::default(),
            ports: BTreeMap::new(),
            cues: Vec::new(),
            early: 0,
            afterwards: Afterwards::of_folder(folder),
        })
    }

    fn read(mut self) -> Result<Derived, RunError> {
        let mut outputs = Vec::new();
        loop {
            let item = self.pieces.next_item();
            let item = item.map_err(|source| RunError::Journal {
                path: self.path.clone(),
                source,
            })?;
            match item {
                Some(Item::Record(record)) => self.record(&record, &mut outputs),
                Some(Item::Damage(damage) | Item::TornTail(damage)) => {
                    self.damage(damage);
                    self.feed.cut(self.last_ns, &mut outputs);
                    self.outputs(&mut outputs);
                }
                None => break,
            }
        }
        if !self.feed.ended {
            self.feed.finish(self.last_ns, &mut outputs);
            self.outputs(&mut outputs);
        }
        Ok(self.derive())
    }

    fn damage(&mut self, damage: Damage) {
        let place = match damage.piece {
            1 => String::new(),
            piece => format!("{} ", piece_name(piece)),
        };
        self.events.push(EventLine {
            t_ns: self.last_ns,
            kind: "journal-damage".into(),
            channel: None,
            detail: format!(
                "{place}line {} ({} bytes from byte {}): {}",
                damage.line, damage.bytes, damage.byte, damage.reason
            ),
        });
        self.damage.push(damage);
    }

    fn record(&mut self, record: &Record, outputs: &mut Vec<Output>) {
        self.last_ns = record.t_ns;
        match record.kind {
            Kind::Open => {
                let name = self.ports.entry(record.port);
                name.or_insert_with(|| record.text());
            }
            Kind::Clock if self.found.began_utc.is_empty() => {
                of_clock(&record.text())
                    .0
                    .clone_into(&mut self.found.began_utc);
                self.found.utc_offset_s = self.setup.utc_offset_s;
            }
            Kind::Cue => self.cue(record),
            Kind::Hand if Hand::from_code(&record.text()) == Some(Hand::Mark) => {
                let at_s = self.feed.time.elapsed_s(record.t_ns);
                self.found.moments_s.push(at_s);
            }
            Kind::Predict => {
                if let Some(guess) = poll::of_record(record) {
                    poll::take(&mut self.setup.plan.predictions, guess);
                }
            }
            _ => {}
        }
        self.feed.take(record, outputs);
        self.outputs(outputs);
    }

    fn cue(&mut self, record: &Record) {
        let Some(edge) = Cue::from_code(&record.text()).and_then(Cue::lamp) else {
            return;
        };
        let plan = &self.setup.plan;
        let again = self.cues.iter().any(|cue| cue.edge == lamp::Kind::On);
        self.cues.push(Cued {
            edge,
            cued_s: self.feed.time.elapsed_s(record.t_ns),
            after_on_s: match edge {
                lamp::Kind::Off => plan.heating_s(),
                lamp::Kind::On => plan.cycle_s().filter(|_| again),
            },
        });
    }

    fn outputs(&mut self, outputs: &mut Vec<Output>) {
        for output in outputs.drain(..) {
            match output {
                Output::Event(event) => self.events.push(event),
                Output::Earlier {
                    channel,
                    sign,
                    from_to_ns: (from_ns, to_ns),
                } => {
                    let ms = |t_ns: i64| whole_ms(t_ns - self.feed.time.start_ns);
                    if let (Some(table), Some(slug)) = (&mut self.table, self.slugs.get(channel)) {
                        table.flag_earlier((ms(from_ns), ms(to_ns)), slug, sign);
                    }
                }
                Output::Row(row) => {
                    let table = self.table.get_or_insert_with(|| {
                        self.slugs = analysis::slugs(&self.feed.names());
                        Table::with_channels(row.readings.len())
                    });
                    if !table.push(&row, &self.feed.time, &self.slugs) {
                        self.early += 1;
                    }
                }
            }
        }
    }

    fn derive(mut self) -> Derived {
        if self.early > 0 {
            self.events.push(EventLine {
                t_ns: self.feed.time.start_ns,
                kind: "early-lines".into(),
                channel: None,
                detail: match self.early {
                    1 => "1 line older than the run was left out".to_owned(),
                    n => format!("{n} lines older than the run were left out"),
                },
            });
        }
        let logged = self.feed.names();
        let names = self.afterwards.names_over(&logged);
        let mut table = self.table.take().unwrap_or_else(|| {
            self.slugs = analysis::slugs(&logged);
            Table::with_channels(logged.len())
        });
        let mut series = series(&mut table, &names, &self.setup.calibrations);
        add_lasting(&mut series, self.feed.samplers());
        self.found.cues = std::mem::take(&mut self.cues);
        let asked = self.afterwards.asked(&self.setup, &logged, &self.found);
        let mut summary = analysis::analyse(&series, &asked);
        summary.warnings.extend(self.health(&names));
        let start_ns = self.feed.time.start_ns;
        self.events.extend(edge_events(&summary, start_ns));
        let said = self.afterwards.events(&logged, start_ns, self.last_ns);
        self.events.extend(said);
        self.events.sort_by_key(|event| event.t_ns);
        let boards = || self.feed.samplers();
        let ports: Vec<String> = self.ports.into_values().collect();
        let found = Found {
            port: ports.join(", "),
            board_id: in_words(boards(), |s| s.hello().map(|hello| hello.board_id.clone())),
            dialect: in_words(boards(), |s| s.dialect().map(|d| d.name().to_owned())),
            together: (!self.setup.together.is_empty()).then(|| Together {
                boards: boards().count(),
                step_s: self.feed.step_ns().map(|ns| ns as f64 / 1e9),
                longest_pause_intervals: LONGEST_PAUSE,
            }),
            rows: series.t_s.len(),
            ended: self.feed.ended,
            ..self.found
        };
        Derived {
            setup: self.setup,
            names,
            summary,
            series,
            events: self.events,
            damage: self.damage,
            ended: self.feed.ended,
            found,
            feed: self.feed,
            afterwards: self.afterwards,
            table,
            slugs: self.slugs,
        }
    }

    /// What the probes' numbers showed, for the summary.
    fn health(&self, names: &[String]) -> Vec<Warning> {
        let name = |channel: usize| names.get(channel).cloned().unwrap_or_default();
        let tallies = self.feed.health.tallies();
        tallies
            .map(|(channel, sign, tally)| Warning::Probe {
                sample: name(channel),
                detail: tally.detail.clone(),
                at_s: self.feed.time.elapsed_s(tally.first_ns).max(0.0),
                episodes: tally.episodes,
                hint: sign.hint(),
            })
            .collect()
    }
}
