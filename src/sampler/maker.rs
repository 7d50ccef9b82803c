//! Makes rows out of understood samples: stamps them, converts them, and says what is in doubt.

mod held;

use arrayvec::ArrayVec;

use super::assemble::{Assembler, Gathered};
use super::burst::{Hold, Pace};
use super::ledger::Ledger;
use super::power_on::PowerOn;
use super::row::{Doubts, Event, EventKind, Product, Row};
use super::skew::Skew;
use crate::probe::{Converter, Correction, ProbeFault, Reading};
use crate::timebase::{Arrival, TimeBase};
use crate::wire::{Hello, MAX_CHANNELS, Sample, Unit};

/// A pause this many times the usual interval is a gap.
const GAP_FACTOR: f64 = 2.5;

/// While no usual interval is known, a half row waits so long for its other half.
const STALE_NS: i64 = 5_000_000_000;

/// Rows are at least so far apart, for the file shows milliseconds.
const LEAST_STEP_NS: i64 = 1_000_000;

/// A gap so long is told even if one was told a moment ago.
const LONG_GAP_NS: i64 = 5_000_000_000;

/// Intervals that the usual one is the median of.
const REMEMBERED: usize = 9;

/// What samples go through on their way to rows.
#[derive(Debug, Clone, Copy)]
pub(super) struct To<'a> {
    /// Names of the samples as people gave them.
    pub(super) named: &'a [String],
    pub(super) converter: &'a Converter,
}

#[derive(Debug, Default)]
pub(super) struct Maker {
    timebase: TimeBase,
    assembler: Assembler,
    ledger: Ledger,
    channels: Option<usize>,
    opened_ns: i64,
    last_ns: Option<i64>,
    /// Lines that brought the last row.
    lines_per_row: u32,
    /// The instant of the last line.
    line_ns: Option<i64>,
    /// Lines that wait for the next one.
    hold: Hold,
    last_seq: Option<u32>,
    period_ns: Option<i64>,
    intervals: ArrayVec<i64, REMEMBERED>,
    /// What they say.
    pace: Option<Pace>,
    probe_faults: ArrayVec<Option<ProbeFault>, MAX_CHANNELS>,
    skew: Skew,
    power_on: PowerOn,
    corrections: ArrayVec<Correction, MAX_CHANNELS>,
    /// Another board than the first one answers: its readings are not this bench's.
    pub(super) other_board: bool,
}

impl Maker {
    /// A maker that adds these to the readings of its channels.
    pub(super) fn correcting(corrections: &[Correction]) -> Self {
        Self {
            corrections: corrections.iter().copied().take(MAX_CHANNELS).collect(),
            ..Self::default()
        }
    }

    pub(super) fn opened(&mut self, t_ns: i64) {
        self.opened_ns = t_ns;
        self.timebase.forget();
    }

    pub(super) fn lost(&mut self) {
        self.assembler.drop_half();
        self.timebase.forget();
    }

    /// The board states its period, how many channels it has, and their delay.
    pub(super) fn board_states(&mut self, hello: &Hello) {
        self.period_ns = hello.period_ms.map(|ms| i64::from(ms) * 1_000_000);
        self.channels.get_or_insert(usize::from(hello.channels));
        self.skew.board_states(hello.skew_us);
    }

    pub(super) fn channels(&self) -> Option<usize> {
        self.channels
    }

    pub(super) fn labels(&self) -> Option<&[Box<str>]> {
        let labels = self.assembler.labels();
        labels.filter(|labels| !labels.is_empty())
    }

    pub(super) fn names(&self, given: &[String]) -> Vec<String> {
        let labels = self.assembler.labels().unwrap_or_default();
        (0..self.channels.unwrap_or(given.len()))
            .map(|channel| {
                let label = labels.get(channel).map(ToString::to_string);
                given.get(channel).cloned().or(label)
            })
            .enumerate()
            .map(|(channel, name)| name.unwrap_or_else(|| format!("probe {}", channel + 1)))
            .collect()
    }

    /// Tells an event, unless its kind was told a moment ago.
    pub(super) fn tell(
        &mut self,
        t_ns: i64,
        kind: EventKind,
        channel: Option<usize>,
        detail: String,
        out: &mut Vec<Product>,
    ) {
        let event = Event {
            t_ns,
            kind,
            channel,
            detail,
        };
        out.extend(self.ledger.admit(event).map(Product::Event));
    }

    pub(super) fn finish(&mut self, t_ns: i64, out: &mut Vec<Product>) {
        if let Some(last_ns) = self.last_ns
            && self.is_gap(t_ns - last_ns)
        {
            self.tell_gap(last_ns, t_ns, 0, out);
        }
        for ((kind, channel, state), since) in self.ledger.rest() {
            let detail = if state.is_empty() {
                format!("{since} more of this kind since the last one told")
            } else {
                format!("{since} more since the last one told: {state}")
            };
            out.push(Product::Event(Event {
                t_ns,
                kind,
                channel,
                detail,
            }));
        }
    }

    /// One sample line goes on to the rows that it completes.
    fn pass(&mut self, sample: &Sample, arrival: Arrival, to: &To<'_>, out: &mut Vec<Product>) {
        for (gathered, doubts) in self.gather(sample, arrival, to.named, out) {
            self.row(&gathered, doubts, to.converter, out);
        }
    }

    /// Stamps a line, and gives the rows that it completes.
    fn gather(
        &mut self,
        sample: &Sample,
        arrival: Arrival,
        named: &[String],
        out: &mut Vec<Product>,
    ) -> ArrayVec<(Gathered, Doubts), 2> {
        let stamp = self.timebase.stamp(arrival, sample.board_ms, sample.seq);
        let t_ns = stamp.sampled_ns;
        self.line_ns = Some(t_ns);
        let doubts = Doubts {
            late: stamp.uncertain,
            ..self.doubts(sample.seq, stamp.restarted)
        };
        if doubts.reset {
            let detail = "the board started anew, or its clock stood still".into();
            self.tell(t_ns, EventKind::Reset, None, detail, out);
        }
        if sample.labels.is_empty() {
            let fields = sample.fields.iter().map(|&field| (field, sample.unit));
            let gathered = Gathered {
                t_ns,
                last_ns: t_ns,
                lines: 1,
                fields: fields.collect(),
            };
            return std::iter::once((gathered, doubts)).collect();
        }
        let stale_ns = self
            .usual_ns()
            .map_or(STALE_NS, |ns| (ns as f64 * GAP_FACTOR) as i64);
        let done = self.assembler.take(sample, t_ns, named, stale_ns);
        if let Some(label) = done.stranger {
            let detail = format!(
                "the label '{}' is new; it is left out",
                label.escape_debug()
            );
            self.tell(t_ns, EventKind::WrongChannels, None, detail, out);
        }
        done.rows.into_iter().map(|row| (row, doubts)).collect()
    }

    /// What sequence and clock say of the lines before this one.
    fn doubts(&mut self, seq: Option<u32>, restarted: bool) -> Doubts {
        let step = seq
            .zip(self.last_seq)
            .map(|(now, last)| now.wrapping_sub(last).cast_signed());
        self.last_seq = seq.or(self.last_seq);
        let reset = restarted || step.is_some_and(|step| step < 0);
        let lost = match step {
            Some(step) if step > 1 && !reset => step.unsigned_abs() - 1,
            _ => 0,
        };
        Doubts {
            lost,
            reset,
            ..Doubts::default()
        }
    }

    fn row(
        &mut self,
        gathered: &Gathered,
        mut doubts: Doubts,
        converter: &Converter,
        out: &mut Vec<Product>,
    ) {
        let channels = *self.channels.get_or_insert(gathered.fields.len());
        if gathered.fields.len() != channels {
            let detail = format!(
                "a line with {} fields where the bench has {channels} probes",
                gathered.fields.len()
            );
            self.tell(gathered.t_ns, EventKind::WrongChannels, None, detail, out);
            return;
        }
        // Lines that were waiting when the port was opened, or that came in one burst from a
        // board that states no clock: nothing tells when they were sampled.
        let last_ns = self.last_ns.map_or(self.opened_ns, |t| t + LEAST_STEP_NS);
        let earliest_ns = last_ns.max(self.opened_ns);
        doubts.late |= gathered.t_ns < earliest_ns;
        let t_ns = gathered.t_ns.max(earliest_ns);
        if let Some(last_ns) = self.last_ns {
            doubts.gap = self.is_gap(t_ns - last_ns);
            if doubts.gap {
                self.tell_gap(last_ns, t_ns, doubts.lost, out);
            }
            if !doubts.late {
                self.remember(t_ns - last_ns);
            }
        }
        self.lines_per_row = gathered.lines;
        doubts.merged = gathered.lines > 1;
        self.last_ns = Some(t_ns);
        let mut readings = self.readings(gathered, converter);
        doubts.skewed = self.skew.take_out(t_ns, doubts.gap, &mut readings);
        self.probes(t_ns, &readings, out);
        out.push(Product::Row(Row {
            t_ns,
            readings,
            doubts,
        }));
    }

    /// A row's temperatures, corrected by what calibrations say.
    fn readings(
        &mut self,
        gathered: &Gathered,
        converter: &Converter,
    ) -> ArrayVec<Reading, MAX_CHANNELS> {
        let fields = gathered.fields.iter().enumerate();
        fields
            .map(|(channel, &(field, unit))| {
                if self.other_board {
                    return Reading::Fault(ProbeFault::OtherBoard);
                }
                let correction = self.corrections.get(channel).copied().unwrap_or_default();
                let reading = converter.reading(channel, field, unit);
                let is_stated = is_temperature(unit.unwrap_or(converter.unit()));
                correction.of(if is_stated {
                    self.power_on.look(channel, reading)
                } else {
                    reading
                })
            })
            .collect()
    }

    /// The usual interval of rows: as the board states it, else the median of the last ones.
    pub(super) fn usual_ns(&self) -> Option<i64> {
        let usual = self.pace.filter(|pace| pace.is_usual);
        self.period_ns.or(usual.map(|pace| pace.usual_ns))
    }

    fn is_gap(&self, interval_ns: i64) -> bool {
        self.usual_ns()
            .is_some_and(|usual_ns| interval_ns as f64 > usual_ns as f64 * GAP_FACTOR)
    }

    /// Remembers an interval, a gap as well as any: the median bears some, and a board that was
    /// told another rate must not be in a gap for ever.
    fn remember(&mut self, interval_ns: i64) {
        if self.intervals.is_full() {
            self.intervals.remove(0);
        }
        self.intervals.push(interval_ns);
        self.pace = Pace::of(&self.intervals);
    }

    fn tell_gap(&mut self, from_ns: i64, to_ns: i64, lost: u32, out: &mut Vec<Product>) {
        let seconds = (to_ns - from_ns) as f64 / 1e9;
        let detail = match lost {
            0 => format!("{seconds:.3} s without a row"),
            n => format!("{seconds:.3} s without a row, {n} lines lost"),
        };
        if to_ns - from_ns < LONG_GAP_NS {
            return self.tell(from_ns, EventKind::Gap, None, detail, out);
        }
        out.push(Product::Event(Event {
            t_ns: from_ns,
            kind: EventKind::Gap,
            channel: None,
            detail,
        }));
    }

    /// Tells when a probe's state changes.
    fn probes(
        &mut self,
        t_ns: i64,
        readings: &ArrayVec<Reading, MAX_CHANNELS>,
        out: &mut Vec<Product>,
    ) {
        for (channel, reading) in readings.iter().enumerate() {
            let now = match reading {
                Reading::Degc { .. } => None,
                Reading::Fault(fault) => Some(*fault),
            };
            if channel == self.probe_faults.len() {
                self.probe_faults.push(None);
            }
            let Some(before) = self.probe_faults.get_mut(channel) else {
                continue;
            };
            if std::mem::replace(before, now) != now {
                let detail = now.map_or("reads again", ProbeFault::words).to_owned();
                self.tell(t_ns, EventKind::Probe, Some(channel), detail, out);
            }
        }
    }
}

/// Whether a board that sends this has worked the temperature out itself.
fn is_temperature(unit: Unit) -> bool {
    matches!(unit, Unit::Degc | Unit::Degf | Unit::Kelvin)
}

#[cfg(test)]
mod tests;
