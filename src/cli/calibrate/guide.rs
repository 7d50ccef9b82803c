//! What people are told to do, one plain sentence at a time, and what is waited for.

use std::io::{self, IsTerminal as _};

use super::listen::{Board, Heard, Row};
use crate::cli::duration::clock;
use crate::cli::exit::{Code, Failure};
use crate::cli::say;
use crate::cli::text::{printable, wrapped};
use crate::run::{Steadiness, Verdict};

/// How often the wait for a bath is told of, in seconds of the rows.
const TELL_EVERY_S: f64 = 15.0;

/// What is said meanwhile, and how long is waited.
pub(super) struct Guide {
    /// All is in place: nothing is asked.
    pub(super) ready: bool,
    pub(super) quiet: bool,
    /// A bath that drifts by less, in °C/min, is steady.
    pub(super) settle_degc_per_min: f64,
    /// How long readings are taken once it is, in seconds.
    pub(super) time_s: f64,
    /// How long is waited for it, in seconds.
    pub(super) patience_s: f64,
}

/// Rows of a steady bath.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Stretch {
    pub(super) t_s: Vec<f64>,
    /// A column for each channel of the board.
    pub(super) degc: Vec<Vec<f64>>,
}

impl Stretch {
    pub(super) fn push(&mut self, (t_s, degc): &Row) {
        self.t_s.push(*t_s);
        self.degc
            .resize(degc.len().max(self.degc.len()), Vec::new());
        for (column, value) in self.degc.iter_mut().zip(degc) {
            column.push(*value);
        }
    }

    pub(super) fn channel(&self, channel: usize) -> &[f64] {
        self.degc.get(channel).map_or(&[], Vec::as_slice)
    }

    pub(super) fn span_s(&self) -> f64 {
        match (self.t_s.first(), self.t_s.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        }
    }
}

impl Guide {
    /// Refuses to ask where nobody can answer.
    pub(super) fn check(&self) -> Result<(), Failure> {
        if self.ready || io::stdin().is_terminal() {
            return Ok(());
        }
        let message = "calibrate asks at a terminal, and there is none";
        Err(Failure::new(Code::Usage, message)
            .advise("When all is in place, say so with --ready; or give --readings."))
    }

    /// Says something that is not needed for going on.
    pub(super) fn tell(&self, text: &str) {
        if !self.quiet {
            say(&wrapped(text));
        }
    }

    /// Says what to do, and waits until it is done; gives what was typed.
    pub(super) async fn ask(&self, board: &mut Board, text: &str) -> Result<String, Failure> {
        if self.ready {
            self.tell(text);
            return Ok(String::new());
        }
        say(&wrapped(text));
        loop {
            if let Heard::Typed(line) = board.next().await? {
                return Ok(line.trim().to_owned());
            }
        }
    }

    /// Waits until the channels are steady, then takes readings for a while.
    ///
    /// # Errors
    /// [`Failure`] if they never are, or the board is lost.
    pub(super) async fn steady(
        &self,
        board: &mut Board,
        channels: &[usize],
    ) -> Result<Stretch, Failure> {
        let mut steadiness = Steadiness::new(self.settle_degc_per_min);
        let mut stretch = Stretch::default();
        let (mut begun_s, mut told_s) = (None, 0.0);
        self.tell("Waiting until it is steady; that takes a minute or more. Keep stirring.");
        loop {
            let row = match board.next().await? {
                Heard::Row(row) => row,
                Heard::Typed(_) => continue,
            };
            let now_s = row.0;
            let begun_s = *begun_s.get_or_insert(now_s);
            let watched: Vec<f64> = channels
                .iter()
                .map(|c| row.1.get(*c).copied().unwrap_or(f64::NAN))
                .collect();
            steadiness.push(now_s, &watched);
            let waited_s = now_s - begun_s;
            if steadiness.is_steady() {
                if stretch.t_s.is_empty() {
                    let time = clock(self.time_s);
                    self.tell(&format!(
                        "Steady. Taking readings for {time}; keep stirring."
                    ));
                }
                stretch.push(&row);
                if stretch.span_s() >= self.time_s {
                    return Ok(stretch);
                }
            } else {
                if !stretch.t_s.is_empty() {
                    self.tell("It is no longer steady: beginning again.");
                    stretch = Stretch::default();
                }
                if waited_s - told_s >= TELL_EVERY_S {
                    told_s = waited_s;
                    self.tell(&drift(&steadiness, board, channels));
                }
            }
            let unsettled = steadiness.settling().verdict == Verdict::Unsettled;
            if unsettled || waited_s >= self.patience_s {
                return Err(never_steady(&steadiness, board, channels, waited_s));
            }
        }
    }
}

fn name(board: &Board, channels: &[usize], place: usize) -> String {
    let channel = channels.get(place).copied().unwrap_or(place);
    let names = board.sampler.names();
    printable(names.get(channel).map_or("", String::as_str))
}

/// How far a bath is from being steady.
fn drift(steadiness: &Steadiness, board: &Board, channels: &[usize]) -> String {
    let settling = steadiness.settling();
    let Some((place, drift, expanded)) = settling.worst else {
        return match settling.verdict {
            Verdict::Unread => "No probe gives a reading: look at leads and plugs.",
            _ => "Not steady yet: too few readings so far.",
        }
        .into();
    };
    let wait = settling.wait_s.map_or(String::new(), |s| {
        format!("; some {} more", clock(s.max(10.0).round()))
    });
    format!(
        "Not steady yet: {} drifts by {drift:+.2} °C/min (± {expanded:.2}){wait}.",
        name(board, channels, place)
    )
}

fn never_steady(
    steadiness: &Steadiness,
    board: &Board,
    channels: &[usize],
    waited_s: f64,
) -> Failure {
    let (why, advice) = match steadiness.settling().worst {
        Some((place, drift, expanded)) => (
            format!(
                ": {} still drifts by {drift:+.2} °C/min (± {expanded:.2})",
                name(board, channels, place)
            ),
            "Use more water, a lid, and stir; keep it out of the sun; or allow more drift with \
             --settle. Nothing was kept.",
        ),
        None => (
            ": the probes give no readings".into(),
            "Look with 'duskmark boards' what is wrong with them. Nothing was kept.",
        ),
    };
    let waited = clock(waited_s.round());
    Failure::new(
        Code::Failed,
        format!("the bath did not settle within {waited}{why}"),
    )
    .advise(advice)
}
