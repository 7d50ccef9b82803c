//! Records to rows and events: the one way that a live run and its rebuild share.

use super::files::RunTime;
use super::hand::Hand;
use super::owner::Pending;
use super::poll;
use super::resume::Resumed;
use super::setup::{Part, RunSetup};
use super::step::Cue;
use super::told::{found, of_clock, of_event, of_head, of_missing, told};
use super::wall::parse_rfc3339;
use crate::journal::{Head, Kind, Missing, Record, Why};
use crate::sampler::{
    Event, EventKind, Finding, Health, Joiner, Product, Row, Sampler, SamplerSetup, Sign,
};

/// What a record leads to.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Output {
    /// A row.
    Row(Row),
    /// A line of `events.csv`.
    Event(EventLine),
    /// Rows that came before, both included, show a sign as well.
    Earlier {
        /// The channel, counted from 0.
        channel: usize,
        /// What they show.
        sign: Sign,
        /// The first and the last, in ns on the host's boot clock.
        from_to_ns: (i64, i64),
    },
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
    /// One for each port.
    boards: Vec<Board>,
    /// Where there are several: what puts their rows on one grid.
    joiner: Option<Joiner>,
    joined: Vec<Row>,
    /// Whether the probes' numbers are sound ones.
    pub(super) health: Health,
    findings: Vec<Finding>,
    /// The journal was ended in order.
    pub(super) ended: bool,
}

/// The board at one port.
#[derive(Debug)]
struct Board {
    sampler: Sampler,
    /// Number of channels of the boards before it.
    base: usize,
    products: Vec<Product>,
    /// What comes next may begin within a line.
    within: bool,
    pending: Pending,
}

impl Feed {
    /// A run that starts at `start_ns`.
    pub(super) fn new(setup: &RunSetup, start_ns: i64) -> Self {
        let joins = !setup.together.is_empty();
        let boards = if joins {
            let mut base = 0;
            let board = |part: &Part| {
                let board = Board::new(part.sampler.clone(), base);
                base += part.channels;
                board
            };
            setup.together.iter().map(board).collect()
        } else {
            vec![Board::new(setup.sampler.clone(), 0)]
        };
        Self {
            time: RunTime {
                start_ns,
                ..RunTime::default()
            },
            boards,
            joiner: joins.then(|| {
                let channels: Vec<usize> = setup.together.iter().map(|p| p.channels).collect();
                Joiner::new(start_ns, &channels)
            }),
            joined: Vec::new(),
            health: Health::new(setup.plan.has_lamp()),
            findings: Vec::new(),
            ended: false,
        }
    }

    /// Takes in the next record.
    pub(super) fn take(&mut self, record: &Record, out: &mut Vec<Output>) {
        let t_ns = record.t_ns;
        let tell = |kind: &str, detail: String| told(t_ns, kind, detail);
        match record.kind {
            Kind::Setup | Kind::Boot => {}
            Kind::Piece => {
                if let Some(head) = Head::of(record).filter(|head| head.why == Why::SyncFailed) {
                    out.push(tell("disk", of_head(&head)));
                }
            }
            Kind::Missing => {
                if let Some(missing) = Missing::of(record) {
                    out.push(tell("missing", of_missing(&missing)));
                }
                self.cut(t_ns, out);
            }
            Kind::Resume => {
                self.ended = false;
                self.settle(t_ns, out);
                if let Some(resumed) = Resumed::of(record) {
                    out.push(tell("resume", resumed.detail()));
                }
                self.cut(t_ns, out);
            }
            Kind::Clock => self.clock(record, out),
            Kind::Open | Kind::Lost | Kind::Bytes | Kind::Held | Kind::Claim | Kind::Moved => {
                if let Some(board) = self.boards.get_mut(usize::from(record.port)) {
                    board.sort(record, out);
                }
            }
            Kind::Cue => {
                let cue = Cue::from_code(&record.text());
                if cue == Some(Cue::LampOn) {
                    self.health.settled();
                }
                out.push(tell(cue.map_or("cue", Cue::code), String::new()));
            }
            Kind::Note => out.push(tell("note", record.text())),
            Kind::Hand => {
                if let Some(hand) = Hand::from_code(&record.text()) {
                    let kind = format!("hand-{}", hand.code());
                    out.push(tell(&kind, hand.detail().to_owned()));
                }
            }
            Kind::Predict => out.extend(self.predicted(record)),
            Kind::End => {
                self.ended = true;
                self.finish(t_ns, out);
                out.push(tell("end", record.text()));
            }
        }
        self.pass_on(out);
    }

    /// A group's prediction, at the sample that it names.
    fn predicted(&self, record: &Record) -> Option<Output> {
        let guess = poll::of_record(record)?;
        let channel = self.names().iter().position(|name| *name == guess.sample);
        Some(Output::Event(EventLine {
            t_ns: record.t_ns,
            kind: "prediction".into(),
            channel,
            detail: format!("group {}", guess.group),
        }))
    }

    fn clock(&mut self, record: &Record, out: &mut Vec<Output>) {
        let text = record.text();
        let (time, slept_s) = of_clock(&text);
        let Some(wall_ns) = parse_rfc3339(time) else {
            return;
        };
        if let Some(slept_s) = slept_s {
            let detail = format!("the computer slept for {slept_s} s");
            out.push(told(record.t_ns, "suspend", detail));
        }
        if let Some(step_ns) = self.time.wall.look(record.t_ns, wall_ns) {
            let step_s = step_ns as f64 / 1e9;
            let detail = format!("the computer's clock was set by {step_s:+.3} s");
            out.push(told(record.t_ns, "clock-step", detail));
        }
    }

    /// Records are missing here: what came before is not joined with what comes after.
    pub(super) fn cut(&mut self, t_ns: i64, out: &mut Vec<Output>) {
        for board in &mut self.boards {
            board.cut(t_ns);
        }
        self.pass_on(out);
        if let Some(joiner) = &mut self.joiner {
            joiner.cut();
        }
        self.health.cut();
    }

    /// Nobody will say any more whose it is that is held.
    fn settle(&mut self, t_ns: i64, out: &mut Vec<Output>) {
        for board in &mut self.boards {
            board.settle(t_ns, out);
        }
    }

    /// Nothing more comes: what was held back is told.
    pub(super) fn finish(&mut self, t_ns: i64, out: &mut Vec<Output>) {
        self.settle(t_ns, out);
        for board in &mut self.boards {
            board.sampler.finish(t_ns, &mut board.products);
        }
        self.pass_on(out);
        if let Some(joiner) = &mut self.joiner {
            joiner.finish(&mut self.joined);
        }
        self.rows(out);
        self.health.finish(t_ns, &mut self.findings);
        out.extend(self.findings.drain(..).map(found));
    }

    /// Names of all samples; those of a board whose channels are not known yet are missing.
    pub(super) fn names(&self) -> Vec<String> {
        let names = self.samplers().flat_map(Sampler::names);
        if self.joiner.is_none() {
            return names.collect();
        }
        // Boards that name nothing would each begin with "probe 1".
        names
            .enumerate()
            .map(|(channel, name)| match name.strip_prefix("probe ") {
                Some(_) => format!("probe {}", channel + 1),
                None => name,
            })
            .collect()
    }

    /// Number of channels, once all boards' are known.
    pub(super) fn channels(&self) -> Option<usize> {
        self.samplers().map(Sampler::channels).sum()
    }

    /// The board at a port.
    pub(super) fn sampler(&self, port: u16) -> Option<&Sampler> {
        let board = self.boards.get(usize::from(port));
        board.map(|board| &board.sampler)
    }

    /// All boards, in the order of their ports.
    pub(super) fn samplers(&self) -> impl Iterator<Item = &Sampler> {
        self.boards.iter().map(|board| &board.sampler)
    }

    /// The step of the common grid in ns, where there is one and it is set.
    pub(super) fn step_ns(&self) -> Option<i64> {
        self.joiner.as_ref()?.step_ns()
    }

    fn pass_on(&mut self, out: &mut Vec<Output>) {
        for port in 0..self.boards.len() {
            let Some(board) = self.boards.get_mut(port) else {
                continue;
            };
            let usual_ns = board.sampler.usual_interval_ns();
            let base = board.base;
            for product in std::mem::take(&mut board.products) {
                match (product, &mut self.joiner) {
                    (Product::Row(row), None) => self.joined.push(row),
                    (Product::Row(row), Some(joiner)) => {
                        joiner.push(port, row, usual_ns, &mut self.joined);
                    }
                    (Product::Event(event), joiner) => {
                        let detail = match joiner {
                            None => event.detail,
                            Some(_) => format!("board {}: {}", port + 1, event.detail),
                        };
                        let channel = event.channel.map(|channel| base + channel);
                        out.push(of_event(Event {
                            channel,
                            detail,
                            ..event
                        }));
                    }
                }
                self.rows(out);
            }
        }
    }

    /// Passes rows on, looked at for the health of their probes.
    fn rows(&mut self, out: &mut Vec<Output>) {
        for mut row in self.joined.drain(..) {
            self.health.push(&mut row, &mut self.findings);
            out.push(Output::Row(row));
            out.extend(self.findings.drain(..).map(found));
        }
    }
}

impl Board {
    fn new(setup: SamplerSetup, base: usize) -> Self {
        Self {
            sampler: Sampler::new(setup),
            base,
            products: Vec::new(),
            within: false,
            pending: Pending::default(),
        }
    }

    /// Takes what is this board's, and holds what may be.
    fn sort(&mut self, record: &Record, out: &mut Vec<Output>) {
        match record.kind {
            Kind::Held => self.pending.hold(record),
            Kind::Claim => {
                let held = self.pending.claim();
                self.take_all(&held, out);
            }
            Kind::Moved => {
                let moved = self.pending.moved(record);
                out.extend(moved.map(|detail| told(record.t_ns, "moved", detail)));
            }
            _ => {
                self.settle(record.t_ns, out);
                self.take(record);
            }
        }
    }

    /// Nobody will say any more whose it is that is held.
    fn settle(&mut self, t_ns: i64, out: &mut Vec<Output>) {
        let id = self.sampler.hello().map(|hello| hello.board_id.as_str());
        match self.pending.settle(id) {
            Ok(held) => self.take_all(&held, out),
            Err(bytes) => {
                let detail = format!(
                    "{bytes} bytes came before a board said its name; they are in the journal and \
                     make no rows"
                );
                out.push(told(t_ns, "unclaimed", detail));
            }
        }
    }

    fn take_all(&mut self, held: &[Record], out: &mut Vec<Output>) {
        for record in held {
            match record.kind {
                Kind::Note => out.push(told(record.t_ns, "note", record.text())),
                Kind::Missing => self.cut(record.t_ns),
                _ => self.take(record),
            }
        }
    }

    fn take(&mut self, record: &Record) {
        let (t_ns, out) = (record.t_ns, &mut self.products);
        match record.kind {
            Kind::Open => {
                self.within = false;
                self.sampler.opened(t_ns, &record.text(), out);
            }
            Kind::Lost => self.sampler.lost(t_ns, &record.text(), out),
            _ => self.bytes(t_ns, &record.payload),
        }
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

    fn cut(&mut self, t_ns: i64) {
        self.pending.cut(t_ns);
        let mut products = Vec::new();
        self.sampler.lost(t_ns, "", &mut products);
        // No port was lost.
        products.retain(|product| {
            !matches!(product, Product::Event(event) if event.kind == EventKind::PortLost)
        });
        self.products.append(&mut products);
        self.within = !self.sampler.has_checksums();
    }
}
