//! `boards`: what is plugged in, what it says, what is wrong with it.

use std::time::Duration;

use serde_json::json;
use tokio::sync::mpsc;
use tokio::time::{Instant, timeout_at};

use super::args::BoardsArgs;
use super::calibrate::{InUse, Stock};
use super::exit::{Code, Failure};
use super::odd::{self, COUNTS_HINT, looks_like_counts};
use super::probes::probe_setup;
use super::target::{Source, Target, line_pattern, targets};
use super::text::{printable, wrapped_within};
use super::{advice, budget, log, out, try_lines};
use crate::port::{CHANNEL_DEPTH, Listed, PortEvent, list};
use crate::probe::Reading;
use crate::run::{Greeting, Plan};
use crate::sampler::SamplerSetup;
use crate::wire::Dialect;

/// After the board is understood, so many rows are waited for, and so long, to show what the probes
/// read.
const ONE_ROW: (usize, Duration) = (1, Duration::from_secs(2));

/// The same to see how they scatter.
const MANY_ROWS: (usize, Duration) = (40, Duration::from_secs(15));

/// How often a silent board is asked for its hello.
const ASK_EVERY: Duration = Duration::from_millis(1500);

/// One board's answer.
struct Answer {
    port: String,
    greeting: Greeting,
    understood: bool,
    in_use: InUse,
    failure: Option<Failure>,
    /// Rows that are wanted of it.
    rows: usize,
}

pub(super) fn run(args: &BoardsArgs, quiet: bool) -> Result<(), Failure> {
    if !args.try_line.is_empty() {
        return try_lines::run(args);
    }
    let lines = line_pattern(&args.board)?;
    let mut board = args.board.clone();
    // Looking takes every board that is there; logging wants one to be named.
    for name in &mut board.boards {
        if name == "auto" {
            "all".clone_into(name);
        }
    }
    let targets = targets(&board, &Plan::default())?;
    let wait = Duration::from_secs_f64(board.wait);
    let probes = probe_setup(&board)?;
    let setups: Vec<SamplerSetup> = targets
        .iter()
        .map(|target| SamplerSetup {
            samples: Vec::new(),
            probes: probes.clone(),
            baud: target.baud(),
            lines: lines.clone(),
            ..SamplerSetup::default()
        })
        .collect();
    let stock = Stock::read(&args.calibration, targets.len())?;
    let rows = if args.budget { MANY_ROWS } else { ONE_ROW };
    let mut answers = log::runtime()?.block_on(listen(targets, &setups, wait, rows));
    for (answer, mut setup) in answers.iter_mut().zip(setups) {
        answer.in_use = stock.of_board(&mut setup, answer.greeting.sampler(), &answer.port);
    }
    let listed = list().unwrap_or_default();
    let sound = answers.iter().filter(|a| a.failure.is_none()).count();
    for answer in answers {
        let usb = listed.iter().find(|port| port.path == answer.port);
        if args.json {
            out(&format!("{}\n", as_json(&answer, usb, args)));
        } else if !quiet {
            out(&as_text(&answer, usb, args));
        }
        if let Some(failure) = &answer.failure {
            super::print_failure(failure);
        }
    }
    if sound == 0 {
        return Err(Failure::new(Code::NoBoard, "no board could be understood"));
    }
    Ok(())
}

/// Listens to all boards at once until each is understood and has shown a row, or time is over.
async fn listen(
    targets: Vec<Target>,
    setups: &[SamplerSetup],
    wait: Duration,
    (rows, row_wait): (usize, Duration),
) -> Vec<Answer> {
    let (sender, mut events) = mpsc::channel::<PortEvent>(CHANNEL_DEPTH);
    let mut answers: Vec<Answer> = targets
        .iter()
        .zip(setups)
        .map(|(target, setup)| Answer {
            port: target.name().to_owned(),
            greeting: Greeting::new(setup),
            understood: false,
            in_use: InUse::default(),
            failure: None,
            rows,
        })
        .collect();
    let sources: Vec<Source> = targets
        .into_iter()
        .enumerate()
        .map(|(index, target)| target.start(index, sender.clone()))
        .collect();
    drop(sender);
    let mut deadline = Instant::now() + wait;
    let mut ask = Instant::now() + ASK_EVERY;
    let mut understood = None;
    while !answers.iter().all(Answer::is_complete) {
        match timeout_at(deadline.min(ask), events.recv()).await {
            Ok(Some(event)) => {
                if let Some(answer) = answers.get_mut(event.bench) {
                    answer.hear(event);
                }
                if answers.iter().all(|a| a.understood || a.failure.is_some()) {
                    let seen = *understood.get_or_insert_with(Instant::now);
                    deadline = seen + row_wait;
                }
            }
            Ok(None) => break,
            Err(_) if Instant::now() >= deadline => break,
            Err(_) => {
                ask = Instant::now() + ASK_EVERY;
                for (answer, source) in answers.iter().zip(&sources) {
                    if answer.failure.is_none() && answer.greeting.wants_hello() {
                        source.send(crate::wire::request_hello());
                    }
                }
            }
        }
    }
    // Closed before the ports' threads are waited for: one may be waiting for room in it.
    events.close();
    while events.try_recv().is_ok() {}
    answers.iter_mut().for_each(Answer::give_up);
    answers
}

impl Answer {
    /// A failed board says no more; an understood one has still to show a row.
    fn is_complete(&self) -> bool {
        self.failure.is_some() || self.greeting.rows().len() >= self.rows
    }

    fn hear(&mut self, event: PortEvent) {
        if self.failure.is_some() {
            return;
        }
        match self.greeting.port(event.t_ns, event.what) {
            Ok(ready) => self.understood |= ready,
            Err(fault) => self.failure = Some(advice::of_greeting(&self.port, &fault)),
        }
    }

    /// A reading as its calibrations correct it.
    fn corrected(&self, channel: usize, reading: Reading) -> Reading {
        let Some(applied) = self
            .in_use
            .applied
            .get(channel)
            .filter(|one| !one.from.is_empty())
        else {
            return reading;
        };
        let law = self
            .greeting
            .sampler()
            .converter()
            .and_then(|c| c.law(channel));
        match reading {
            Reading::Degc { value, decimals } => Reading::Degc {
                value: applied.corrected(value, law),
                decimals,
            },
            fault @ Reading::Fault(_) => fault,
        }
    }

    fn give_up(&mut self) {
        if !self.understood && self.failure.is_none() {
            self.failure = Some(advice::of_greeting(&self.port, &self.greeting.give_up()));
        }
    }
}

fn usb_text(port: Option<&Listed>) -> String {
    let Some(usb) = port.and_then(|p| p.usb.as_ref()) else {
        return String::new();
    };
    let serial = usb
        .serial
        .as_deref()
        .map_or(String::new(), |s| format!(" serial {s}"));
    let name = usb
        .name
        .as_deref()
        .map_or(String::new(), |n| format!(" {n}"));
    printable(&format!(
        "  USB {:04x}:{:04x}{name}{serial}",
        usb.vendor, usb.product
    ))
}

fn as_text(answer: &Answer, port: Option<&Listed>, args: &BoardsArgs) -> String {
    let mut text = format!("{}{}\n", printable(&answer.port), usb_text(port));
    let sampler = answer.greeting.sampler();
    if sampler.dialect().is_none() {
        return text;
    }
    text.push_str(&format!("  speaks {}\n", printable(&sampler.reason())));
    if let Some(hello) = sampler.hello() {
        let detail = crate::sampler::describe(hello);
        text.push_str(&format!("  board {}\n", printable(&detail)));
    }
    if let Some(step) = sampler.converter().and_then(|c| c.resolution_degc(0)) {
        text.push_str(&format!("  one count is {step:.4} °C at 25 °C\n"));
    }
    let Some(row) = answer.greeting.last_row() else {
        return text;
    };
    for (channel, (name, reading)) in sampler.names().iter().zip(&row.readings).enumerate() {
        let value = match &answer.corrected(channel, *reading) {
            Reading::Degc { value, decimals } => {
                let odd = if looks_like_counts(*value, sampler.converter()) {
                    format!("  ({COUNTS_HINT})")
                } else {
                    String::new()
                };
                format!("{value:.*} °C{odd}", usize::from(*decimals))
            }
            Reading::Fault(fault) => fault.words().to_owned(),
        };
        text.push_str(&format!("  {}: {value}\n", printable(name)));
    }
    let mut warnings = budget::heat_warnings(sampler, Some(row));
    // Counts are pointed out where they stand.
    warnings.extend(odd::hint(sampler, Some(row)).filter(|hint| !hint.contains(COUNTS_HINT)));
    for said in answer.in_use.said.iter().chain(&warnings) {
        for line in wrapped_within(said, 77).lines() {
            text.push_str(&format!("  {line}\n"));
        }
    }
    if args.budget {
        for drawn in budget::draw(&answer.greeting, args, &answer.in_use.applied) {
            text.push_str(&drawn.text());
        }
    }
    text
}

fn as_json(answer: &Answer, port: Option<&Listed>, args: &BoardsArgs) -> serde_json::Value {
    let sampler = answer.greeting.sampler();
    let usb = port.and_then(|p| p.usb.as_ref());
    let readings: Option<Vec<serde_json::Value>> = answer.greeting.last_row().map(|row| {
        let names = sampler.names();
        names
            .iter()
            .zip(&row.readings)
            .enumerate()
            .map(
                |(channel, (name, reading))| match answer.corrected(channel, *reading) {
                    Reading::Degc { value, .. } => json!({"name": name, "degc": value}),
                    Reading::Fault(fault) => {
                        json!({"name": name, "degc": null, "fault": fault.code()})
                    }
                },
            )
            .collect()
    });
    let mut about = json!({
        "port": answer.port,
        "usb": usb,
        "dialect": sampler.dialect().map(Dialect::name),
        "reason": sampler.reason(),
        "board_id": sampler.hello().map(|h| &h.board_id),
        "channels": sampler.channels(),
        "resolution_degc": sampler.converter().and_then(|c| c.resolution_degc(0)),
        "readings": readings,
        "calibrated": answer.in_use.applied.iter().filter(|one| !one.from.is_empty()).collect::<Vec<_>>(),
        "remarks": answer.in_use.said,
        "fault": answer.failure.as_ref().map(|f| &f.message),
        "warnings": budget::heat_warnings(sampler, answer.greeting.last_row()),
    });
    if let Some(about) = about.as_object_mut().filter(|_| args.budget) {
        let drawn = budget::draw(&answer.greeting, args, &answer.in_use.applied);
        let all: Vec<serde_json::Value> = drawn.iter().map(budget::Drawn::json).collect();
        about.insert("budget".into(), all.into());
    }
    about
}
