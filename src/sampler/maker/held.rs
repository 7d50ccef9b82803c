//! Lines that may belong to a burst on their way to rows.

use super::super::assemble::Gathered;
use super::super::burst::{Around, Line, Next};
use super::super::row::{Doubts, Product};
use super::{Maker, To};
use crate::timebase::Arrival;
use crate::wire::Sample;

/// What is known of lines that were held when they are let go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    /// They are all that came so close together; the next line was sent then, if there is one.
    Before(Option<i64>),
    /// There are more than can be held.
    Full,
    /// The board sends faster than it did: they came in their time.
    Faster,
}

impl Maker {
    /// One sample line. That of a board without a clock may be held until its next one.
    pub(in super::super) fn sample(
        &mut self,
        sample: &Sample,
        arrival: Arrival,
        to: &To<'_>,
        out: &mut Vec<Product>,
    ) {
        if sample.board_ms.is_some() {
            self.release(None, to, out);
            return self.pass(sample, arrival, to, out);
        }
        if self.hold.is_ended_by(&arrival, self.pace) {
            self.release(Some(arrival.sent_ns()), to, out);
        }
        // What was let go may have brought the first interval.
        let pace = self.pace;
        if self.hold.look(&arrival, pace) == Next::Pass {
            return self.pass(sample, arrival, to, out);
        }
        if self.hold.is_full() {
            self.let_go(End::Full, to, out);
        }
        self.hold.push(Line {
            sample: sample.clone(),
            arrival,
        });
        let rows = self.hold.len() / self.usual_lines();
        if self.hold.is_too_much(rows, pace) {
            self.let_go(End::Faster, to, out);
        }
    }

    /// Lets go what is held; the line after it was sent at `next_ns`, if there is one.
    pub(in super::super) fn release(
        &mut self,
        next_ns: Option<i64>,
        to: &To<'_>,
        out: &mut Vec<Product>,
    ) {
        self.let_go(End::Before(next_ns), to, out);
    }

    fn let_go(&mut self, end: End, to: &To<'_>, out: &mut Vec<Product>) {
        let lines = self.hold.take();
        let Some((first, last)) = lines.first().zip(lines.last()) else {
            return;
        };
        let (first_ns, end_ns) = (first.arrival.sent_ns(), last.arrival.sent_ns());
        let pace = self.pace;
        let is_one = end != End::Faster && pace.is_some() && lines.len() > self.usual_lines();
        let before_ns = self.line_ns;
        let mut rows = Vec::new();
        for (line, after) in lines.iter().zip((0..lines.len()).rev()) {
            let arrival = if is_one {
                // As if all of it had come in one read, at its end.
                Arrival {
                    at_ns: end_ns,
                    lines_after: u32::try_from(after).unwrap_or(u32::MAX),
                    ..Arrival::default()
                }
            } else {
                line.arrival
            };
            rows.extend(self.gather(&line.sample, arrival, to.named, out));
        }
        // One that waited for its other half since before may be among them.
        let held = rows.partition_point(|(row, _)| Some(row.last_ns) <= before_ns);
        let burst = rows.get_mut(held..).unwrap_or_default();
        if end != End::Faster && burst.len() > 1 {
            let around = self.last_ns.zip(pace).map(|(before_ns, pace)| Around {
                before_ns,
                end_ns,
                next_ns: match end {
                    End::Before(next_ns) => next_ns,
                    End::Full | End::Faster => None,
                },
                goes_on: end == End::Full,
                pace,
            });
            date(burst, around);
            self.hold.was_burst(pace);
        }
        if first_ns < self.opened_ns {
            // They waited when the port was opened, the last ones too.
            for (_, doubts) in burst.iter_mut() {
                doubts.late = true;
            }
        }
        for (gathered, doubts) in rows {
            self.row(&gathered, doubts, to.converter, out);
        }
    }

    fn usual_lines(&self) -> usize {
        self.lines_per_row.max(1) as usize
    }
}

/// Gives the rows of a burst their instants, unless the time base could count them out.
fn date(burst: &mut [(Gathered, Doubts)], around: Option<Around>) {
    let counted = burst.iter().all(|(_, doubts)| !doubts.late);
    let instants = burst.iter().map(|(row, _)| row.t_ns);
    if counted && around.is_some_and(|around| around.fits(instants)) {
        return;
    }
    let mut instants = around.and_then(|around| around.instants(burst.len()));
    for (row, doubts) in burst {
        doubts.late = true;
        if let Some(t_ns) = instants.as_mut().and_then(Iterator::next) {
            row.t_ns = t_ns;
        }
    }
}
