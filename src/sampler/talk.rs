//! Lines to frames: which way the board speaks, what it says of itself, and what waits until that
//! is known.

use super::SamplerSetup;
use super::event;
use super::maker::{Maker, To};
use super::row::{EventKind, Product};
use crate::probe::{Converter, SetupFault};
use crate::timebase::Arrival;
use crate::wire::{
    Dialect, DialectKind, Finder, Frame, Hello, LineFault, MAX_CHANNELS, Own, RawLine, Sample,
    Unit, Verdict,
};

/// Lines that wait at most until the board's way of speaking is known: at 10 Hz half a minute.
const MOST_WAITING: usize = 300;

/// Bits of a byte on the wire: start, eight of data, stop.
const BITS_PER_BYTE: i64 = 10;

/// Everything behind the framer.
#[derive(Debug)]
pub(super) struct Talk {
    pub(super) setup: SamplerSetup,
    pub(super) finder: Finder,
    way: Option<Way>,
    /// The dialect that people described: it stands over what the lines look like.
    own: Option<Own>,
    waiting: Vec<Waiting>,
    overflow: u32,
    pub(super) hello: Option<Hello>,
    pub(super) converter: Option<Converter>,
    pub(super) fault: Option<SetupFault>,
    /// The board has said hello since the port was last opened.
    introduced: bool,
    /// Id of the board that the run began with.
    first_id: Option<String>,
    pub(super) maker: Maker,
}

/// How lines are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// In a dialect that is known here.
    Known(DialectKind),
    /// As people described it.
    Own,
}

/// A line that cannot be understood yet.
#[derive(Debug)]
struct Waiting {
    arrival: Arrival,
    line: Vec<u8>,
}

impl Talk {
    pub(super) fn new(setup: SamplerSetup) -> Self {
        // What cannot be used is refused before a run begins.
        let own = setup.lines.clone().and_then(|lines| Own::new(lines).ok());
        let maker = Maker::correcting(&setup.corrections);
        Self {
            setup,
            finder: Finder::new(),
            way: None,
            own,
            waiting: Vec::new(),
            overflow: 0,
            hello: None,
            converter: None,
            fault: None,
            introduced: false,
            first_id: None,
            maker,
        }
    }

    /// One line, as the framer found it.
    pub(super) fn line(&mut self, arrival_ns: i64, raw: &RawLine<'_>, out: &mut Vec<Product>) {
        let arrival = self.arrival(arrival_ns, raw);
        self.finder.look(raw);
        // What comes first after opening may be half a line, and half of "23.4" is "3.4": only a
        // checksum can vouch for it. Its bytes are in the journal.
        if raw.maybe_fragment && raw.parse(DialectKind::Native.dialect()).is_err() {
            return;
        }
        if let Some(way) = self.decided(raw)
            && self.way != Some(way)
        {
            self.way = Some(way);
            out.push(event(arrival_ns, EventKind::Dialect, &self.reason()));
            self.catch_up(out);
        }
        match (self.speaks(), raw.fault) {
            (Some(dialect), _) => match raw.parse(dialect) {
                Ok(frame) => self.frame(arrival, frame, raw.bytes, out),
                Err(fault) => self.bad_line(arrival_ns, &fault, raw.bytes, out),
            },
            (None, Some(fault)) => self.bad_line(arrival_ns, &fault.into(), raw.bytes, out),
            (None, None) => self.wait(arrival, raw.bytes),
        }
    }

    /// The way of speaking that the lines so far decide for.
    fn decided(&self, raw: &RawLine<'_>) -> Option<Way> {
        if let Some(own) = &self.own {
            let fits = matches!(raw.parse(own), Ok(Frame::Sample(_)));
            return fits.then_some(Way::Own);
        }
        match self.finder.verdict() {
            Verdict::Decided(kind) => Some(Way::Known(kind)),
            _ => None,
        }
    }

    /// How lines are read; a pattern from people is used from the first line on.
    pub(super) fn speaks(&self) -> Option<&dyn Dialect> {
        match (&self.own, self.way) {
            (Some(own), _) => Some(own),
            (None, Some(Way::Known(kind))) => Some(kind.dialect()),
            (None, _) => None,
        }
    }

    /// Whether a checksum vouches for each line.
    pub(super) fn is_native(&self) -> bool {
        self.way == Some(Way::Known(DialectKind::Native))
    }

    /// How it is known, fit for saying aloud.
    pub(super) fn reason(&self) -> String {
        match &self.own {
            Some(own) => format!("{}: as the settings describe it", own.name()),
            None => self.finder.reason(),
        }
    }

    pub(super) fn finish(&mut self, t_ns: i64, out: &mut Vec<Product>) {
        self.release(out);
        self.maker.finish(t_ns, out);
        let left_out = self.overflow as usize + self.waiting.len();
        if left_out > 0 {
            let detail =
                format!("{left_out} lines were left out: the board never said what they are");
            out.push(event(t_ns, EventKind::Dialect, &detail));
        }
    }

    /// Lets go what is held until the board's next line: there is none, or it comes from elsewhere.
    pub(super) fn release(&mut self, out: &mut Vec<Product>) {
        if let Some(converter) = &self.converter {
            let to = To {
                named: &self.setup.samples,
                converter,
            };
            self.maker.release(None, &to, out);
        }
    }

    /// The port was lost; a half row goes with it.
    pub(super) fn lost(&mut self, out: &mut Vec<Product>) {
        self.release(out);
        self.maker.lost();
    }

    /// The port was opened: whoever answers now has to say who it is.
    pub(super) fn opened(&mut self, t_ns: i64, out: &mut Vec<Product>) {
        self.release(out);
        self.introduced = false;
        if self.hello.is_some() {
            // Whoever comes now cannot vouch for what was said before.
            self.overflow += self.waiting.len() as u32;
            self.waiting.clear();
        }
        self.maker.opened(t_ns);
    }

    /// Whether sample lines wait for a hello: their numbers have no known meaning yet, or after a
    /// replug another board may be speaking.
    pub(super) fn wants_hello(&self) -> bool {
        let hello_matters = self.hello.is_some() || self.setup.probes.unit.is_none();
        self.is_native() && !self.introduced && hello_matters
    }

    /// How the line came: what came with it after it took its time on the wire too.
    fn arrival(&self, at_ns: i64, raw: &RawLine<'_>) -> Arrival {
        let length = raw.bytes.len() + 1;
        let baud = self.setup.baud.filter(|&baud| baud > 0);
        let on_wire_ns = |bytes: usize| {
            let bytes = i64::try_from(bytes).unwrap_or(i64::MAX / 10_000_000_000);
            baud.map_or(0, |baud| {
                bytes * BITS_PER_BYTE * 1_000_000_000 / i64::from(baud)
            })
        };
        Arrival {
            at_ns,
            wire_ns: on_wire_ns(length + raw.bytes_after),
            line_ns: on_wire_ns(length),
            // Lines of one board are about as long as each other.
            lines_after: u32::try_from((raw.bytes_after + length / 2) / length).unwrap_or(u32::MAX),
        }
    }

    fn wait(&mut self, arrival: Arrival, line: &[u8]) {
        if self.waiting.len() >= MOST_WAITING {
            self.overflow += 1;
            return;
        }
        self.waiting.push(Waiting {
            arrival,
            line: line.to_vec(),
        });
    }

    /// The lines that waited are read now.
    fn catch_up(&mut self, out: &mut Vec<Product>) {
        for waiting in std::mem::take(&mut self.waiting) {
            let frame = self.speaks().map(|dialect| dialect.parse(&waiting.line));
            // A heading or boot text from before is not worth an event.
            if let Some(Ok(frame)) = frame {
                self.frame(waiting.arrival, frame, &waiting.line, out);
            }
        }
    }

    fn frame(&mut self, arrival: Arrival, frame: Frame, line: &[u8], out: &mut Vec<Product>) {
        match frame {
            Frame::Hello(hello) => self.hello(arrival.at_ns, hello, out),
            Frame::Remark(text) => {
                self.maker
                    .tell(arrival.at_ns, EventKind::Remark, None, text, out);
            }
            Frame::Sample(_) if self.wants_hello() => self.wait(arrival, line),
            Frame::Sample(sample) => self.sample(arrival, &sample, out),
        }
    }

    fn hello(&mut self, arrival_ns: i64, hello: Hello, out: &mut Vec<Product>) {
        let first_id = self.first_id.get_or_insert_with(|| hello.board_id.clone());
        let other = *first_id != hello.board_id;
        if other {
            let detail = format!("{} answers instead of {first_id}", hello.board_id);
            self.maker
                .tell(arrival_ns, EventKind::OtherBoard, None, detail, out);
        }
        self.maker.other_board = other;
        if self.hello.as_ref() != Some(&hello) {
            out.push(event(arrival_ns, EventKind::Hello, &describe(&hello)));
            self.maker.board_states(&hello);
            self.make_converter(arrival_ns, Some(&hello), usize::from(hello.channels), out);
        }
        self.hello = Some(hello);
        self.introduced = true;
        if self.is_native() {
            self.catch_up(out);
        }
    }

    fn sample(&mut self, arrival: Arrival, sample: &Sample, out: &mut Vec<Product>) {
        if self.converter.is_none() && self.fault.is_none() {
            let channels = self.channels_of(sample);
            self.make_converter(arrival.at_ns, None, channels, out);
        }
        if let Some(converter) = &self.converter {
            let to = To {
                named: &self.setup.samples,
                converter,
            };
            self.maker.sample(sample, arrival, &to, out);
        }
    }

    fn channels_of(&self, sample: &Sample) -> usize {
        match self.setup.probes.laws.len() {
            _ if sample.labels.is_empty() || self.own.is_some() => sample.fields.len(),
            // Labels may come on lines of their own: nobody knows yet how many there are.
            0 | 1 => MAX_CHANNELS,
            laws => laws,
        }
    }

    fn make_converter(
        &mut self,
        t_ns: i64,
        hello: Option<&Hello>,
        channels: usize,
        out: &mut Vec<Product>,
    ) {
        match Converter::new(&self.setup.probes, hello, channels) {
            Ok(converter) => {
                self.converter = Some(converter);
                self.fault = None;
            }
            Err(fault) => {
                out.push(event(t_ns, EventKind::BadLine, &fault.to_string()));
                self.fault = Some(fault);
            }
        }
    }

    fn bad_line(&mut self, t_ns: i64, fault: &LineFault, line: &[u8], out: &mut Vec<Product>) {
        let shown: Vec<u8> = line.iter().copied().take(40).collect();
        let detail = format!("{fault}: {}", shown.escape_ascii());
        self.maker.tell(t_ns, EventKind::BadLine, None, detail, out);
    }
}

/// A hello in words.
#[must_use]
pub fn describe(hello: &Hello) -> String {
    let unit = match hello.unit {
        Unit::Degc => "degrees Celsius",
        Unit::Degf => "degrees Fahrenheit",
        Unit::Kelvin => "kelvin",
        Unit::Ohm => "ohms",
        Unit::Volt => "volts",
        Unit::Adc => "converter counts",
    };
    let mut text = format!("{}: {} probes, {unit}", hello.board_id, hello.channels);
    if let Some(full) = hello.full_scale {
        text.push_str(&format!(" of {full}"));
    }
    if let Some(ms) = hello.period_ms {
        text.push_str(&format!(", every {ms} ms"));
    }
    text
}
