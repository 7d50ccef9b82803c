//! Stories of a board and its cable: true samples, and what of them comes to the host when.

use std::collections::{HashMap, HashSet};

use proptest::sample::Index;

use crate::wire::{Field, Hello, PROTOCOL_VERSION, Unit, encode_hello, encode_sample};

const PERIOD_MS: u32 = 250;
const BOOT_S: f64 = 1.2;
/// Cable and host take so long at least, and so much more at most, in seconds.
const DELAY_S: (f64, f64) = (0.002, 0.016);

/// How a board words a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Native,
    Plain,
    Labelled,
    Json,
}

/// What befalls a line, or the stream there.
#[derive(Debug, Clone)]
pub(super) enum Fault {
    /// The line never comes.
    LostLine,
    /// It comes twice.
    Twice,
    /// So many bytes are lost from a place in the line on, line ends among them.
    LostBytes(Index, usize),
    /// Bits of one byte turn over.
    Turned(Index, u8),
    /// Bytes that no board meant come before it.
    Garbage(Vec<u8>),
    /// The same, as a line of its own and no number.
    Murmur,
    /// The board restarts within the line.
    Reset(Index),
    /// It restarts between lines.
    ResetBetween,
    /// The host holds everything back for so many seconds, from this line on.
    Stall(f64),
    /// The cable is pulled within the line and put back.
    Pulled(Index),
}

pub(super) const LINES: usize = 120;

/// What the host is given.
#[derive(Debug)]
pub(super) enum Feed {
    Bytes(Vec<u8>),
    Lost,
    Opened,
}

/// A sample as the board took it.
#[derive(Debug, Clone, Copy)]
pub(super) struct True {
    pub(super) t_s: f64,
    pub(super) boot: u32,
}

/// A story of a board and its cable.
#[derive(Debug)]
pub(super) struct Story {
    form: Form,
    pub(super) feeds: Vec<(f64, Feed)>,
    pub(super) truth: Vec<True>,
    /// Lines as they were meant.
    pub(super) meant: HashSet<Vec<u8>>,
    pub(super) stalls: bool,
}

/// Both temperatures of the k-th sample: no other has either.
fn values(k: usize) -> [f64; 2] {
    [20.0 + k as f64 / 1000.0, 60.0 - k as f64 / 1000.0]
}

fn hello() -> Vec<u8> {
    let mut line = Vec::new();
    let hello = Hello {
        version: PROTOCOL_VERSION,
        board_id: "K7F2".into(),
        channels: 2,
        unit: Unit::Degc,
        full_scale: None,
        fixed_ohm: None,
        ntc_side: None,
        period_ms: Some(PERIOD_MS),
        skew_us: None,
    };
    encode_hello(&mut line, &hello);
    line
}

fn worded(form: Form, seq: u32, board_ms: u32, k: usize) -> Vec<u8> {
    let [slate, moss] = values(k);
    let text = match form {
        Form::Native => {
            let fields = [slate, moss].map(|value| Field::Number { value, decimals: 3 });
            let mut line = Vec::new();
            encode_sample(&mut line, seq, board_ms, &fields);
            return line;
        }
        Form::Plain => format!("{slate:.3},{moss:.3}\n"),
        Form::Labelled => format!("slate={slate:.3} moss={moss:.3}\n"),
        Form::Json => format!("{{\"slate\":{slate:.3},\"moss\":{moss:.3}}}\n"),
    };
    text.into_bytes()
}

/// Writes the story of a board while the script's faults befall it.
struct Teller {
    story: Story,
    now_s: f64,
    booted_s: f64,
    boot: u32,
    seq: u32,
    held_until_s: f64,
    /// Bytes that the cable still swallows.
    swallow: usize,
}

impl Teller {
    fn new(form: Form) -> Self {
        let story = Story {
            form,
            feeds: Vec::new(),
            truth: Vec::new(),
            meant: HashSet::new(),
            stalls: false,
        };
        let mut teller = Self {
            story,
            now_s: 0.0,
            booted_s: 0.0,
            boot: 0,
            seq: 0,
            held_until_s: 0.0,
            swallow: 0,
        };
        teller.starts(b"");
        teller
    }

    /// The board boots; its hello runs into the half line that was under way.
    fn starts(&mut self, half: &[u8]) {
        self.now_s += BOOT_S;
        (self.booted_s, self.seq) = (self.now_s, 0);
        let mut bytes = half.to_vec();
        if self.story.form == Form::Native {
            let hello = hello();
            self.story.meant.insert(hello.clone());
            bytes.extend(hello);
        }
        self.send(bytes);
    }

    fn restarts(&mut self, half: &[u8]) {
        self.boot += 1;
        self.starts(half);
    }

    /// The instant at which the host has what is sent now.
    fn arrival_s(&self) -> f64 {
        let share = f64::from(self.seq * 7 % 11) / 10.0;
        (self.now_s + DELAY_S.0 + DELAY_S.1 * share).max(self.held_until_s)
    }

    fn send(&mut self, mut bytes: Vec<u8>) {
        let gone = self.swallow.min(bytes.len());
        self.swallow -= gone;
        bytes.drain(..gone);
        let arrival_s = self.arrival_s();
        self.story.feeds.push((arrival_s, Feed::Bytes(bytes)));
    }

    fn pulled(&mut self, half: &[u8]) {
        self.send(half.to_vec());
        self.swallow = 0;
        let at_s = self.arrival_s();
        self.story.feeds.push((at_s, Feed::Lost));
        self.now_s = at_s + 3.0;
        self.story.feeds.push((self.now_s, Feed::Opened));
        self.restarts(b"");
    }

    fn sample(&mut self, fault: Option<&Fault>) {
        self.now_s += f64::from(PERIOD_MS) / 1000.0;
        let k = self.story.truth.len();
        let board_ms = ((self.now_s - self.booted_s) * 1000.0).round() as u32;
        let line = worded(self.story.form, self.seq, board_ms, k);
        self.seq += 1;
        self.story.meant.insert(line.clone());
        if let Some(Fault::Stall(for_s)) = fault {
            self.held_until_s = self.held_until_s.max(self.now_s + for_s);
            self.story.stalls = true;
        }
        self.story.truth.push(True {
            t_s: self.now_s,
            boot: self.boot,
        });
        match fault {
            None | Some(Fault::Stall(_)) => self.send(line),
            Some(Fault::LostLine) => {}
            Some(Fault::Twice) => {
                self.send(line.clone());
                self.send(line);
            }
            Some(Fault::LostBytes(at, count)) => {
                let (head, tail) = line.split_at(at.index(line.len()));
                self.send(head.to_vec());
                self.swallow += count;
                self.send(tail.to_vec());
            }
            Some(Fault::Turned(at, bits)) => {
                let mut line = line;
                let at = at.index(line.len());
                line[at] ^= bits;
                self.send(line);
            }
            Some(Fault::Garbage(bytes)) => {
                self.send(bytes.clone());
                self.send(line);
            }
            Some(Fault::Murmur) => {
                self.send(b"the moss is wet\n".to_vec());
                self.send(line);
            }
            Some(Fault::Reset(at)) => self.restarts(&line[..at.index(line.len())]),
            Some(Fault::ResetBetween) => {
                self.send(line);
                self.restarts(b"");
            }
            Some(Fault::Pulled(at)) => self.pulled(&line[..at.index(line.len())]),
        }
    }
}

pub(super) fn story(form: Form, script: &HashMap<usize, Fault>) -> Story {
    let mut teller = Teller::new(form);
    for k in 0..LINES {
        teller.sample(script.get(&k));
    }
    teller.story
}
