//! What people see while a run is logged: on a terminal one line that is drawn over and over, and
//! whole lines for what must not be missed; elsewhere a line per mark.
//!
//! All of it goes to standard error; a closed or slow terminal never stops a run.

use std::io::{self, IsTerminal as _, Write as _};

use super::args::ViewArg;
use super::duration::clock;
use super::text::{printable, shortened};
use crate::lamp::Kind;
use crate::probe::{Converter, Reading};
use crate::run::{Cue, News, Recorder, Step};
use crate::sampler::{Row, Sampler};
use crate::wire::Unit;

/// Without marks in the plan, `plain` shows a line so often, in seconds.
const PLAIN_EVERY_S: f64 = 60.0;

/// Shown when the lamp goes on.
const CAUTION: &str = "\
The lamp is hot: keep hands, paper, cloth and the mains lead away from it,
and do not leave it alone.";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Style {
    /// One line, drawn over and over.
    Line,
    /// A line per mark.
    Plain,
    /// Nothing but failures and what must be done with the lamp.
    Off,
    /// Nothing but failures: a virtual bench needs no hand.
    Silent,
}

/// The display of a session.
#[derive(Debug)]
pub(super) struct View {
    style: Style,
    quiet: bool,
    benches: Vec<Shown>,
    drawn: bool,
    cautioned: bool,
}

/// What is shown of one bench.
#[derive(Debug, Default)]
struct Shown {
    opened: bool,
    line: String,
    short: String,
    next_plain_s: f64,
}

impl View {
    /// A display that shows nothing of a run that needs no one.
    pub(super) fn silent_one() -> Self {
        let mut view = Self::new(ViewArg::Off, true);
        view.style = Style::Silent;
        view
    }

    pub(super) fn new(arg: ViewArg, quiet: bool) -> Self {
        let style = match arg {
            ViewArg::Off => Style::Off,
            ViewArg::Auto if io::stderr().is_terminal() => Style::Line,
            ViewArg::Auto | ViewArg::Plain => Style::Plain,
        };
        Self {
            style,
            quiet,
            benches: Vec::new(),
            drawn: false,
            cautioned: false,
        }
    }

    /// A board was understood.
    pub(super) fn greeted(&mut self, port: &str, sampler: &Sampler) {
        let dialect = sampler.dialect().map_or("unknown", |d| d.name());
        let id = sampler
            .hello()
            .map_or(String::new(), |h| format!(" {}", h.board_id));
        let unit = match sampler.converter().map(Converter::unit) {
            Some(Unit::Adc) => "converter counts",
            Some(Unit::Ohm) => "ohms",
            Some(Unit::Degf) => "°F",
            Some(Unit::Kelvin) => "kelvin",
            Some(Unit::Degc) | None => "°C",
        };
        let channels = sampler.channels().unwrap_or(0);
        let mapping = mapping(sampler);
        self.say(&format!(
            "Board{} on {}: {dialect} lines, {channels} channel{}, {unit}.",
            printable(&id),
            printable(port),
            if channels == 1 { "" } else { "s" }
        ));
        if let Some(mapping) = mapping {
            self.say(&format!("  {mapping}."));
        }
    }

    /// A run was begun, or is gone on with.
    pub(super) fn began(&mut self, recorder: &Recorder, again: bool) {
        let folder = recorder.folder().display().to_string();
        let onward = if again {
            format!("; it has {} rows and goes on", recorder.rows())
        } else {
            String::new()
        };
        self.say(&format!("Logging into {}{onward}", printable(&folder)));
        let plan = recorder.conductor().plan();
        if plan.heat_s.is_none() && plan.for_s.is_none() {
            self.say("Without --heat or --for it goes on until Ctrl-C.");
        }
    }

    /// What a run tells.
    pub(super) fn news(&mut self, bench: usize, recorder: &Recorder, news: Vec<News>) {
        for item in news {
            match item {
                News::Row { t_s, row } => self.row(bench, recorder, t_s, &row),
                News::Cue(cue) => self.cue(bench, cue),
                News::Lamp(seen) => {
                    let word = match seen.edge {
                        Kind::On => "on",
                        Kind::Off => "off",
                    };
                    let at = clock(seen.at_s);
                    self.say(&format!("{}lamp seen {word} at {at}", self.prefix(bench)));
                }
                News::Event {
                    t_s,
                    kind,
                    sample,
                    detail,
                } => {
                    // The first opening is no news; "Board … on …" has told it.
                    let first = kind == "port-open" && !self.opened(bench);
                    if matters(&kind) && !first {
                        let sample = sample.map_or(String::new(), |s| format!("{s}: "));
                        let text = printable(&format!("{sample}{detail}"));
                        self.say(&format!(
                            "{}{} {kind}: {text}",
                            self.prefix(bench),
                            clock(t_s)
                        ));
                    }
                }
                News::Disk(text) => self.loud(&format!("DISK: {text}")),
            }
        }
    }

    /// The run was ended while the lamp may be lit.
    pub(super) fn ended_lit(&mut self, bench: usize) {
        if self.style != Style::Silent {
            let prefix = self.prefix(bench);
            self.loud(&format!(
                "{prefix}>>> The lamp may still be ON: switch it OFF now."
            ));
        }
    }

    /// Nothing has come from a board for too long.
    pub(super) fn silent(&mut self, bench: usize, silent_s: f64) {
        let prefix = self.prefix(bench);
        self.say(&format!(
            "{prefix}nothing from the board for {silent_s:.0} s"
        ));
    }

    /// The thread that speaks for a port does not answer.
    pub(super) fn port_stuck(&mut self, bench: usize, seconds: u64) {
        let prefix = self.prefix(bench);
        self.loud(&format!(
            "{prefix}PORT: the system has not answered a read for {seconds} s; unplug the board and \
             plug it in again"
        ));
    }

    /// Draws the line.
    pub(super) fn draw(&mut self) {
        if self.style != Style::Line || self.quiet {
            return;
        }
        // One bench has the line to itself; of several there is room for their numbers only.
        let lines: Vec<&str> = match self.benches.as_slice() {
            [one] => vec![one.line.as_str()],
            several => several.iter().map(|b| b.short.as_str()).collect(),
        };
        let text: String = lines.join(" | ").chars().take(79).collect();
        if !text.is_empty() {
            let _ = write!(io::stderr(), "\r\x1b[K{text}");
            let _ = io::stderr().flush();
            self.drawn = true;
        }
    }

    /// The last line stays, and what follows begins below it.
    pub(super) fn close(&mut self) {
        if std::mem::take(&mut self.drawn) {
            let _ = writeln!(io::stderr());
        }
    }

    fn prefix(&self, bench: usize) -> String {
        if self.benches.len() > 1 {
            format!("bench {}: ", bench + 1)
        } else {
            String::new()
        }
    }

    fn shown(&mut self, bench: usize) -> Option<&mut Shown> {
        while self.benches.len() <= bench {
            self.benches.push(Shown::default());
        }
        self.benches.get_mut(bench)
    }

    /// Whether the bench's port was opened before, as of now.
    fn opened(&mut self, bench: usize) -> bool {
        self.shown(bench)
            .is_some_and(|shown| std::mem::replace(&mut shown.opened, true))
    }

    fn row(&mut self, bench: usize, recorder: &Recorder, t_s: f64, row: &Row) {
        let line = status(recorder, t_s, row);
        let marks_s = recorder.conductor().plan().marks_s.unwrap_or(PLAIN_EVERY_S);
        let prefix = self.prefix(bench);
        let style = self.style;
        let Some(shown) = self.shown(bench) else {
            return;
        };
        let due = style == Style::Plain && t_s >= shown.next_plain_s;
        if due {
            let step_s = recorder.conductor().next_mark_in_s(t_s).unwrap_or(marks_s);
            shown.next_plain_s = t_s + step_s.max(1e-3);
        }
        shown.line.clone_from(&line);
        shown.short = short(bench, row);
        if due {
            self.say(&format!("{prefix}{line}"));
        }
    }

    fn cue(&mut self, bench: usize, cue: Cue) {
        if self.style == Style::Silent {
            return;
        }
        let prefix = self.prefix(bench);
        match cue {
            Cue::LampOn => {
                self.loud(&format!("{prefix}>>> Switch the lamp ON now."));
                if !std::mem::replace(&mut self.cautioned, true) {
                    self.say(CAUTION);
                }
            }
            Cue::LampOff => self.loud(&format!("{prefix}>>> Switch the lamp OFF now.")),
            Cue::Done => self.say(&format!("{prefix}The plan is through.")),
        }
    }

    /// A line that must not be missed: with the terminal's bell.
    fn loud(&mut self, text: &str) {
        let bell = if self.style == Style::Line {
            "\x07"
        } else {
            ""
        };
        let clear = self.clear();
        let _ = writeln!(io::stderr(), "{clear}{bell}{text}");
    }

    /// A board answers at another port than before.
    pub(super) fn moved(&mut self, id: &str) {
        self.say(&format!(
            "Board {} moved to another port; its samples stay with it.",
            printable(id)
        ));
    }

    /// Two boards say that they are the same.
    pub(super) fn ambiguous(&mut self, id: &str) {
        self.loud(&format!(
            "Two boards say that they are {}: nothing is moved, give each an id of its own.",
            printable(id)
        ));
    }

    fn say(&mut self, text: &str) {
        if !self.quiet && !matches!(self.style, Style::Off | Style::Silent) {
            let clear = self.clear();
            let _ = writeln!(io::stderr(), "{clear}{text}");
        }
    }

    fn clear(&mut self) -> &'static str {
        if std::mem::take(&mut self.drawn) {
            "\r\x1b[K"
        } else {
            ""
        }
    }
}

/// Which of the board's labels is which sample, where that needs to be said.
fn mapping(sampler: &Sampler) -> Option<String> {
    let names = sampler.names();
    let pairs: Vec<String> = sampler
        .labels()?
        .iter()
        .zip(&names)
        .filter(|(label, name)| ***label != **name)
        .map(|(label, name)| format!("{} is {}", printable(label), printable(name)))
        .collect();
    (!pairs.is_empty()).then(|| pairs.join(", "))
}

/// Events that people should see at once.
fn matters(kind: &str) -> bool {
    !matches!(kind, "hello" | "dialect" | "remark" | "end") && !kind.starts_with("cue-")
}

/// `2: 31.2 27.8`: a bench among several.
fn short(bench: usize, row: &Row) -> String {
    let cells = row.readings.iter().map(|reading| match reading {
        Reading::Degc { value, .. } => format!(" {value:.1}"),
        Reading::Fault(_) => " -".to_owned(),
    });
    format!("{}:{}", bench + 1, cells.collect::<String>())
}

/// `12:04 heating  slate 31.25 °C  moss 27.81 °C  next mark in 0:41  lamp off in 2:10`.
fn status(recorder: &Recorder, t_s: f64, row: &Row) -> String {
    let conductor = recorder.conductor();
    let mut line = clock(t_s);
    let phase = conductor.phase();
    if !phase.is_empty() {
        line.push(' ');
        line.push_str(phase);
    }
    for (name, reading) in recorder.names().iter().zip(&row.readings) {
        let value = match reading {
            Reading::Degc { value, decimals } => {
                format!("{value:.*} °C", usize::from((*decimals).min(2)))
            }
            Reading::Fault(fault) => fault.code().to_owned(),
        };
        line.push_str(&format!("  {} {value}", shortened(name)));
    }
    line.push_str(&match conductor.step() {
        Step::Settling => match recorder.drift_degc_per_min() {
            Some((drift, expanded)) => {
                let wait_s = recorder.settling_wait_s();
                let wait = wait_s.map(|s| format!(", about {:.0} min to go", (s / 60.0).max(1.0)));
                let wait = wait.unwrap_or_default();
                format!("  drift {drift:+.2} ± {expanded:.2} °C/min{wait}")
            }
            None => "  waiting for steady samples".into(),
        },
        Step::AwaitOn { .. } => "  switch the lamp ON".into(),
        Step::AwaitOff { .. } => "  switch the lamp OFF".into(),
        Step::Heating { presumed: true, .. } => "  lamp not seen, counted from the cue".into(),
        _ => String::new(),
    });
    if let Some(s) = conductor.next_mark_in_s(t_s) {
        line.push_str(&format!("  mark in {}", clock(s)));
    }
    if let Some(s) = conductor.remaining_s(t_s) {
        let what = match conductor.step() {
            Step::Heating { .. } => "lamp off",
            _ => "end",
        };
        line.push_str(&format!("  {what} in {}", clock(s)));
    }
    line
}
