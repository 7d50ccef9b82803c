//! Records to rows and events: the one way that a live run and its rebuild share.

use super::files::RunTime;
use super::plan::Cue;
use super::setup::RunSetup;
use super::wall::parse_rfc3339;
use crate::journal::{Kind, Record};
use crate::sampler::{Product, Row, Sampler};

/// What a record leads to.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Output {
    /// A row.
    Row(Row),
    /// A line of `events.csv`.
    Event(EventLine),
}

/// One event of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct EventLine {
    /// When, in ns on the host's boot clock.
    pub t_ns: i64,
    /// The word in the `kind` column.
    pub kind: String,
    /// The channel, counted from 0, where it is about one.
    pub channel: Option<usize>,
    /// In words.
    pub detail: String,
}

/// Follows a run's records.
#[derive(Debug)]
pub(super) struct Feed {
    pub(super) time: RunTime,
    pub(super) sampler: Sampler,
    products: Vec<Product>,
    /// The journal was ended in order.
    pub(super) ended: bool,
}

impl Feed {
    /// A run that starts at `start_ns`.
    pub(super) fn new(setup: &RunSetup, start_ns: i64) -> Self {
        Self {
            time: RunTime {
                start_ns,
                ..RunTime::default()
            },
            sampler: Sampler::new(setup.sampler.clone()),
            products: Vec::new(),
            ended: false,
        }
    }

    /// Takes in the next record.
    pub(super) fn take(&mut self, record: &Record, out: &mut Vec<Output>) {
        let t_ns = record.t_ns;
        let tell = |kind: &str, detail: String| {
            Output::Event(EventLine {
                t_ns,
                kind: kind.to_owned(),
                channel: None,
                detail,
            })
        };
        match record.kind {
            Kind::Setup => {}
            Kind::Clock => {
                let Some(wall_ns) = parse_rfc3339(&record.text()) else {
                    return;
                };
                if let Some(step_ns) = self.time.wall.look(t_ns, wall_ns) {
                    let step_s = step_ns as f64 / 1e9;
                    let detail = format!("the computer's clock was set by {step_s:+.3} s");
                    out.push(tell("clock-step", detail));
                }
            }
            Kind::Open => self
                .sampler
                .opened(t_ns, &record.text(), &mut self.products),
            Kind::Lost => self.sampler.lost(t_ns, &record.text(), &mut self.products),
            Kind::Bytes => self
                .sampler
                .bytes(t_ns, &record.payload, &mut self.products),
            Kind::Cue => {
                let cue = Cue::from_code(&record.text());
                out.push(tell(cue.map_or("cue", Cue::code), String::new()));
            }
            Kind::Note => out.push(tell("note", record.text())),
            Kind::End => {
                self.ended = true;
                self.finish(t_ns, out);
                out.push(tell("end", record.text()));
            }
        }
        self.pass_on(out);
    }

    /// Nothing more comes: what was held back is told.
    pub(super) fn finish(&mut self, t_ns: i64, out: &mut Vec<Output>) {
        self.sampler.finish(t_ns, &mut self.products);
        self.pass_on(out);
    }

    fn pass_on(&mut self, out: &mut Vec<Output>) {
        out.extend(self.products.drain(..).map(|product| match product {
            Product::Row(row) => Output::Row(row),
            Product::Event(event) => Output::Event(EventLine {
                t_ns: event.t_ns,
                kind: event.kind.code().to_owned(),
                channel: event.channel,
                detail: event.detail,
            }),
        }));
    }
}
