//! A board that is watched while it is calibrated: rows, and what is typed meanwhile.

use std::collections::VecDeque;
use std::io::{self, BufRead as _};
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, timeout_at};

use crate::cli::advice;
use crate::cli::board_args::BoardArgs;
use crate::cli::exit::{Code, Failure};
use crate::cli::probes::probe_setup;
use crate::cli::say;
use crate::cli::target::{Source, Target, line_pattern, targets};
use crate::cli::text::printable;
use crate::port::{CHANNEL_DEPTH, PortEvent, What};
use crate::run::{Greeting, Plan};
use crate::sampler::{EventKind, Product, Sampler, SamplerSetup};

/// How often a board that owes its hello is asked for it.
const ASK_EVERY: Duration = Duration::from_millis(1500);

/// A board without a row for so long, and for so many of its usual intervals, has gone silent.
const SILENCE: Duration = Duration::from_secs(10);
const SILENT_INTERVALS: u32 = 5;

/// One row: time in seconds since the first, and a temperature in °C for each channel, NaN where there
/// is none.
pub(super) type Row = (f64, Vec<f64>);

/// What is heard next.
pub(super) enum Heard {
    Row(Row),
    /// A line that was typed.
    Typed(String),
}

/// A board that was understood.
pub(super) struct Board {
    pub(super) port: String,
    pub(super) sampler: Sampler,
    line: Line,
    typed: Option<mpsc::Receiver<String>>,
    products: Vec<Product>,
    rows: VecDeque<Row>,
    zero_ns: Option<i64>,
}

/// The one board that was named.
pub(super) fn target(args: &BoardArgs) -> Result<Target, Failure> {
    let mut targets = targets(args, &Plan::default())?;
    match (targets.pop(), targets.is_empty()) {
        (Some(target), true) => Ok(target),
        _ => Err(
            Failure::new(Code::Usage, "one board at a time is calibrated")
                .advise("Name it with --board."),
        ),
    }
}

/// What the user says of a board, for its sampler.
pub(super) fn setup(
    args: &BoardArgs,
    target: &Target,
    samples: Vec<String>,
) -> Result<SamplerSetup, Failure> {
    Ok(SamplerSetup {
        samples,
        probes: probe_setup(args)?,
        baud: target.baud(),
        lines: line_pattern(args)?,
        ..SamplerSetup::default()
    })
}

/// A board that was understood, and what it said so far.
pub(super) struct Opened {
    pub(super) port: String,
    pub(super) greeting: Greeting,
    line: Line,
}

/// A port's thread and what it tells.
struct Line {
    source: Source,
    events: mpsc::Receiver<PortEvent>,
}

impl Drop for Line {
    /// Lets go of the thread, which may be waiting for room in the channel and would be waited for in vain.
    fn drop(&mut self) {
        self.events.close();
        while self.events.try_recv().is_ok() {}
    }
}

impl Opened {
    /// Opens the port and listens until the board is understood.
    ///
    /// # Errors
    /// [`Failure`] if it is not there, or is not understood in time.
    pub(super) async fn open(
        target: Target,
        setup: &SamplerSetup,
        wait: Duration,
    ) -> Result<Self, Failure> {
        let port = target.name().to_owned();
        let (sender, events) = mpsc::channel::<PortEvent>(CHANNEL_DEPTH);
        let source = target.start(0, sender);
        let mut opened = Self {
            line: Line { source, events },
            greeting: Greeting::new(setup),
            port,
        };
        opened.understand(wait).await?;
        Ok(opened)
    }

    async fn understand(&mut self, wait: Duration) -> Result<(), Failure> {
        let deadline = Instant::now() + wait;
        let mut ask = Instant::now() + ASK_EVERY;
        loop {
            match timeout_at(deadline.min(ask), self.line.events.recv()).await {
                Ok(Some(event)) => match self.greeting.port(event.t_ns, event.what) {
                    Ok(true) => return Ok(()),
                    Ok(false) => {}
                    Err(fault) => return Err(advice::of_greeting(&self.port, &fault)),
                },
                Err(_) if Instant::now() < deadline => {
                    ask = Instant::now() + ASK_EVERY;
                    if self.greeting.wants_hello() {
                        self.line.source.send(crate::wire::request_hello());
                    }
                }
                Ok(None) | Err(_) => {
                    let fault = self.greeting.give_up();
                    return Err(advice::of_greeting(&self.port, &fault));
                }
            }
        }
    }

    /// Goes through what came so far, with the laws that are used from now on.
    ///
    /// # Errors
    /// [`Failure`] if the board was lost meanwhile.
    pub(super) fn begin(self, setup: SamplerSetup) -> Result<Board, Failure> {
        let mut board = Board {
            port: self.port,
            sampler: Sampler::new(setup),
            line: self.line,
            typed: None,
            products: Vec::new(),
            rows: VecDeque::new(),
            zero_ns: None,
        };
        for (t_ns, what) in self.greeting.into_held() {
            board.happened(t_ns, what)?;
        }
        Ok(board)
    }
}

impl Board {
    /// Number of channels.
    pub(super) fn channels(&self) -> usize {
        self.sampler.channels().unwrap_or(0)
    }

    /// Reads lines from the terminal from now on.
    pub(super) fn hear_people(&mut self) {
        let (sender, typed) = mpsc::channel(4);
        self.typed = Some(typed);
        std::thread::spawn(move || {
            for line in io::stdin().lock().lines().map_while(Result::ok) {
                if sender.blocking_send(line).is_err() {
                    return;
                }
            }
        });
    }

    /// The next row or line.
    ///
    /// # Errors
    /// [`Failure`] if the board is lost, goes silent, or another answers.
    pub(super) async fn next(&mut self) -> Result<Heard, Failure> {
        let usual = self.sampler.usual_interval_ns().unwrap_or(0);
        let usual = Duration::from_nanos(u64::try_from(usual).unwrap_or(0));
        let until = Instant::now() + SILENCE.max(usual * SILENT_INTERVALS);
        loop {
            if let Some(row) = self.rows.pop_front() {
                return Ok(Heard::Row(row));
            }
            let typed = async {
                match &mut self.typed {
                    Some(typed) => typed.recv().await,
                    None => std::future::pending().await,
                }
            };
            tokio::select! {
                event = timeout_at(until, self.line.events.recv()) => match event {
                    Ok(Some(event)) => self.happened(event.t_ns, event.what)?,
                    Ok(None) => return Err(lost(&self.port, "the port is closed")),
                    Err(_) => return Err(lost(&self.port, "nothing has come from it for a while")),
                },
                line = typed => match line {
                    Some(line) => return Ok(Heard::Typed(line)),
                    None => {
                        return Err(Failure::new(Code::Failed, "the terminal is closed; nothing was kept"));
                    }
                },
            }
        }
    }

    fn happened(&mut self, t_ns: i64, what: What) -> Result<(), Failure> {
        match what {
            What::Opened(port) => self.sampler.opened(t_ns, &port, &mut self.products),
            What::Bytes(bytes) => self.sampler.bytes(t_ns, &bytes, &mut self.products),
            What::Lost(reason) => return Err(lost(&self.port, &reason)),
            What::Ended => return Err(lost(&self.port, "it ended")),
            What::Refused(error) => return Err(advice::of_port(&error)),
            What::Waiting(_) => {}
        }
        if self.sampler.wants_hello() {
            self.line.source.send(crate::wire::request_hello());
        }
        for product in self.products.drain(..) {
            match product {
                Product::Row(row) => {
                    let zero_ns = *self.zero_ns.get_or_insert(row.t_ns);
                    let degc = (0..row.readings.len()).map(|c| row.degc(c)).collect();
                    self.rows
                        .push_back(((row.t_ns - zero_ns) as f64 / 1e9, degc));
                }
                Product::Event(event) if event.kind == EventKind::OtherBoard => {
                    return Err(lost(&self.port, &event.detail));
                }
                Product::Event(event) if event.kind == EventKind::Probe => {
                    let names = self.sampler.names();
                    let name = event.channel.and_then(|channel| names.get(channel));
                    let name = name.map_or("", String::as_str);
                    say(&format!(
                        "{}: {}",
                        printable(name),
                        printable(&event.detail)
                    ));
                }
                Product::Event(_) => {}
            }
        }
        Ok(())
    }
}

fn lost(port: &str, reason: &str) -> Failure {
    let message = format!(
        "{}: the board was lost in the middle of the calibration: {}",
        printable(port),
        printable(reason)
    );
    Failure::new(Code::NoBoard, message)
        .advise("Nothing was kept, and what was kept before stands. Plug it in and begin again.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::pretended;

    #[test]
    fn a_board_that_is_let_go_of_while_it_speaks_is_not_waited_for_in_vain() {
        let wait = Duration::from_secs(60);
        let opened = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap()
            .block_on(async {
                let target =
                    pretended::target("virtual:speed=inf,speech=plain", &Plan::default(), 0);
                Opened::open(target.unwrap(), &SamplerSetup::default(), wait).await
            });
        let opened = opened.unwrap_or_else(|failure| panic!("{failure:?}"));
        // Nobody listens: the board waits for room before long.
        while opened.line.events.len() < CHANNEL_DEPTH {
            std::thread::yield_now();
        }
        let (sender, gone) = std::sync::mpsc::channel();
        std::thread::spawn(move || {
            drop(opened);
            sender.send(()).unwrap();
        });
        gone.recv_timeout(wait).unwrap();
    }
}
