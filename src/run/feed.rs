//! Records to rows and events: the one way that a live run and its rebuild share.

use super::files::RunTime;
use super::plan::Cue;
use super::resume::Resumed;
use super::setup::RunSetup;
use super::wall::parse_rfc3339;
use crate::journal::{Head, Kind, Missing, Record, Why, piece_name};
use crate::sampler::{EventKind, Product, Row, Sampler};
use crate::wire::DialectKind;

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
    /// What comes next may begin within a line.
    within: bool,
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
            within: false,
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
            Kind::Setup | Kind::Boot => {}
            Kind::Piece => {
                if let Some(head) = Head::of(record).filter(|head| head.why == Why::SyncFailed) {
                    out.push(tell("disk", of_head(&head)));
                }
            }
            Kind::Missing => {
                self.cut(t_ns);
                if let Some(missing) = Missing::of(record) {
                    out.push(tell("missing", of_missing(&missing)));
                }
            }
            Kind::Resume => {
                self.cut(t_ns);
                self.ended = false;
                if let Some(resumed) = Resumed::of(record) {
                    out.push(tell("resume", resumed.detail()));
                }
            }
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
            Kind::Open => {
                self.within = false;
                self.sampler
                    .opened(t_ns, &record.text(), &mut self.products);
            }
            Kind::Lost => self.sampler.lost(t_ns, &record.text(), &mut self.products),
            Kind::Bytes => self.bytes(t_ns, &record.payload),
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

    fn bytes(&mut self, t_ns: i64, bytes: &[u8]) {
        let mut bytes = bytes;
        if self.within {
            // Half a line without a checksum may read like a whole one: it is passed over.
            let Some(end) = memchr::memchr(b'\n', bytes) else {
                return;
            };
            bytes = bytes.get(end + 1..).unwrap_or_default();
            self.within = false;
        }
        self.sampler.bytes(t_ns, bytes, &mut self.products);
    }

    /// Records are missing here: what came before is not joined with what comes after.
    pub(super) fn cut(&mut self, t_ns: i64) {
        let mut products = Vec::new();
        self.sampler.lost(t_ns, "", &mut products);
        // No port was lost.
        products.retain(|product| {
            !matches!(product, Product::Event(event) if event.kind == EventKind::PortLost)
        });
        self.products.append(&mut products);
        self.within = self.sampler.dialect() != Some(DialectKind::Native);
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

fn of_head(head: &Head) -> String {
    format!(
        "the disk could not confirm what was written; {} records are written again in {}",
        head.again,
        piece_name(head.piece)
    )
}

fn of_missing(missing: &Missing) -> String {
    format!(
        "{} records ({} bytes) of {:.1} s are lost: neither disk nor memory had room",
        missing.records,
        missing.bytes,
        (missing.to_ns - missing.from_ns) as f64 / 1e9
    )
}
