//! What people see while a run is logged: on a terminal the view with its graph, or one line that is
//! written over and over, and whole lines for what must not be missed; elsewhere a line per mark.
//!
//! All of it goes to standard error, by the thread of [`super::screen`]; a closed, stopped or slow
//! terminal never stops a run.

mod alarm;

use std::io::{self, IsTerminal as _};
use std::path::PathBuf;
use std::sync::mpsc::Sender;

use super::args::ViewArg;
use super::duration::clock;
use super::keys::{Keys, can_type};
use super::screen::{How, Screen};
use super::status::{look_at_plan, look_at_row, short, status};
use super::text::printable;
use super::view_text::{greeting, late, look, matters, to_do};
use crate::lamp::{EdgeSeen, Kind};
use crate::live::page::Page;
use crate::live::terminal::{About, State};
use crate::live::words::{Stand, counted};
use crate::run::{Cue, Hand, News, Recorder};
use crate::sampler::{Row, Sampler};

/// Without marks in the plan, `plain` shows a line so often, in seconds.
const PLAIN_EVERY_S: f64 = 60.0;

/// Shown when the lamp goes on.
const CAUTION: &str = "\
The lamp is hot: keep hands, paper, cloth and lead away, and stay with it.";

/// How to type where there is no view.
const TYPING: &str = "\
Type a note and press Enter. m marks this moment, l says that the lamp was
switched just now, Enter alone goes on to the next step, Ctrl-C ends the run.";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Style {
    /// The terminal view.
    Picture,
    /// One line, written over and over.
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
    /// What must be done with the lamp is said with the terminal's bell.
    rings: bool,
    benches: Vec<Shown>,
    cautioned: bool,
    screen: Option<Screen>,
    /// Told of each run's folder.
    begun: Option<Sender<PathBuf>>,
}

/// What is shown of one bench.
#[derive(Debug, Default)]
struct Shown {
    opened: bool,
    line: String,
    short: String,
    next_plain_s: f64,
    /// When people were told to switch the lamp, if they were and it is not seen yet.
    cued_s: Option<f64>,
    /// Its board is unplugged, and people were told.
    in_trouble: bool,
}

impl View {
    /// A display that shows nothing of a run that needs no one.
    pub(super) fn silent_one() -> Self {
        Self::with(Style::Silent, false)
    }

    /// The display that was asked for, as far as there is a terminal for it.
    pub(super) fn new(arg: ViewArg, quiet: bool, bell: bool) -> Self {
        let terminal = io::stderr().is_terminal();
        let style = match arg {
            ViewArg::Off => Style::Off,
            _ if quiet => Style::Off,
            ViewArg::Auto if terminal && can_type() && !is_dumb() => Style::Picture,
            ViewArg::Auto if terminal => Style::Line,
            ViewArg::Auto | ViewArg::Plain => Style::Plain,
        };
        Self::with(style, bell && terminal)
    }

    fn with(style: Style, rings: bool) -> Self {
        let how = match style {
            Style::Picture => How::Picture,
            _ => How::Lines,
        };
        let state = State {
            look: look(),
            ..State::default()
        };
        Self {
            style,
            rings,
            benches: Vec::new(),
            cautioned: false,
            screen: Some(Screen::start(how, state)),
            begun: None,
        }
    }

    /// Where the page is, as the view shows it all the time: the code to look is no secret to the
    /// class, the teacher's is not shown.
    pub(super) fn page(&mut self, page: Option<&Page>) {
        if let (Some(page), Some(screen)) = (page, &self.screen) {
            let mut text = format!("page {}", page.there.as_ref().unwrap_or(&page.here));
            if let Some(join) = &page.join {
                text.push_str(&format!("  code {join}"));
            }
            let mut state = screen.shared().state();
            state.page = Some(text);
            state.code.clone_from(&page.act);
        }
    }

    /// Whoever reads on is told each run's folder when it is begun.
    pub(super) fn tell_of_runs(&mut self, begun: Sender<PathBuf>) {
        self.begun = Some(begun);
    }

    /// The keys that go with this display.
    pub(super) fn keys(&mut self) -> Keys {
        match (self.style, &self.screen) {
            (Style::Picture, Some(screen)) => Keys::of_view(screen.shared().clone()),
            (Style::Plain | Style::Line, _) if can_type() => {
                self.say(TYPING);
                Keys::of_lines()
            }
            _ => Keys::none(),
        }
    }

    /// A board was understood.
    pub(super) fn greeted(&mut self, port: &str, sampler: &Sampler, row: Option<&Row>) {
        self.say(&greeting(port, sampler, row));
    }

    /// What is said of calibrations, line by line.
    pub(super) fn remark(&mut self, text: &str) {
        for line in text.lines() {
            self.say(line);
        }
    }

    /// A run was begun, or is gone on with.
    pub(super) fn began(&mut self, recorder: &Recorder, again: bool) {
        if let Some(begun) = &self.begun {
            let _ = begun.send(recorder.folder().to_owned());
        }
        let folder = recorder.folder().display().to_string();
        let onward = if again {
            format!("; it has {} and goes on", counted(recorder.rows(), "row"))
        } else {
            String::new()
        };
        self.say(&format!("Logging into {}{onward}", printable(&folder)));
        let plan = recorder.conductor().plan();
        if !plan.has_lamp() && plan.for_s.is_none() {
            self.say("Without --heat or --for it goes on until Ctrl-C.");
        }
    }

    /// What a run tells.
    pub(super) fn news(&mut self, bench: usize, recorder: &Recorder, news: Vec<News>) {
        for item in news {
            match item {
                News::Row { t_s, row } => self.row(bench, recorder, t_s, &row),
                News::Cue(cue) => self.cue(bench, recorder, cue),
                News::Lamp(seen) => self.lamp(bench, recorder, &seen),
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
                        let prefix = self.prefix(bench);
                        self.say(&format!("{prefix}{} {kind}: {text}", clock(t_s)));
                        if let Some(words) = to_do(&kind, &detail) {
                            self.alarm(bench, &format!("{prefix}>>> {words}"));
                        }
                    }
                }
                News::Disk(text) => self.alarm(bench, &format!("DISK: {text}")),
            }
        }
    }

    /// Time has come to `now_s` of a bench's run.
    pub(super) fn time(&mut self, bench: usize, recorder: &Recorder, now_s: f64) {
        if let (Style::Picture, Some(screen)) = (self.style, &self.screen)
            && let Some(shown) = screen.shared().state().bench_mut(bench)
        {
            look_at_plan(shown, recorder, now_s);
        }
    }

    fn lamp(&mut self, bench: usize, recorder: &Recorder, seen: &EdgeSeen) {
        let word = match seen.edge {
            Kind::On => "on",
            Kind::Off => "off",
        };
        let prefix = self.prefix(bench);
        let cued_s = self.shown(bench).and_then(|shown| shown.cued_s.take());
        let late = late(recorder.conductor(), seen, cued_s);
        let at = clock(seen.at_s);
        let text = format!("{prefix}lamp seen {word} at {at}{late}");
        self.say_about(&text, About::Answer(bench));
    }

    /// A key was pressed, and kept.
    pub(super) fn pressed(&mut self, bench: usize, hand: Option<Hand>) {
        let answer = About::Answer(bench);
        let (words, about) = match hand {
            Some(Hand::Mark) => ("this moment is marked", About::Other),
            Some(Hand::LampOn) => ("noted: the lamp was switched on", answer),
            Some(Hand::LampOff) => ("noted: the lamp was switched off", answer),
            Some(Hand::GoOn) => ("on to the next step", answer),
            None => ("nothing to go on to: this step has its time", About::Other),
        };
        let prefix = self.prefix(bench);
        self.say_about(&format!("{prefix}{words}"), about);
    }

    /// The run was ended while the lamp may be lit.
    pub(super) fn ended_lit(&mut self, bench: usize) {
        if self.style != Style::Silent {
            let prefix = self.prefix(bench);
            self.loud(&format!(
                "{prefix}>>> Not seen to go off: the lamp may still be ON. Switch it OFF now."
            ));
        }
    }

    /// Shows what has changed.
    pub(super) fn draw(&mut self) {
        let Some(screen) = &self.screen else { return };
        match self.style {
            Style::Picture => screen.shared().redraw(),
            Style::Line => {
                // One bench has the line to itself; of several there is room for their numbers only.
                let lines: Vec<&str> = match self.benches.as_slice() {
                    [one] => vec![one.line.as_str()],
                    several => several.iter().map(|b| b.short.as_str()).collect(),
                };
                let text: String = lines.join(" | ").chars().take(79).collect();
                if !text.is_empty() {
                    screen.status(text);
                }
            }
            Style::Plain | Style::Off | Style::Silent => {}
        }
    }

    /// What was said stays, and what follows begins below it.
    pub(super) fn close(&mut self) {
        self.screen = None;
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
        let marks_s = recorder.conductor().plan().marks_s.unwrap_or(PLAIN_EVERY_S);
        let prefix = self.prefix(bench);
        let style = self.style;
        let Some(shown) = self.shown(bench) else {
            return;
        };
        match style {
            Style::Picture => {
                if let Some(screen) = &self.screen
                    && let Some(bench) = screen.shared().state().bench_mut(bench)
                {
                    look_at_row(bench, recorder, t_s, row);
                }
            }
            Style::Line => {
                shown.line = status(recorder, t_s, row);
                shown.short = short(bench, row);
            }
            Style::Plain if t_s >= shown.next_plain_s => {
                let step_s = recorder.conductor().next_mark_in_s(t_s).unwrap_or(marks_s);
                shown.next_plain_s = t_s + step_s.max(1e-3);
                let line = status(recorder, t_s, row);
                self.say(&format!("{prefix}{line}"));
            }
            Style::Plain | Style::Off | Style::Silent => {}
        }
    }

    fn cue(&mut self, bench: usize, recorder: &Recorder, cue: Cue) {
        if self.style == Style::Silent {
            return;
        }
        let prefix = self.prefix(bench);
        if let Some(shown) = self.shown(bench) {
            shown.cued_s = recorder.conductor().cued_s();
        }
        let words = Stand::from(cue).sentence();
        let asks = About::Cue(bench);
        match cue {
            Cue::LampOn => {
                self.loud_about(&format!("{prefix}>>> {words}"), asks);
                if !std::mem::replace(&mut self.cautioned, true) {
                    self.say(CAUTION);
                }
            }
            Cue::LampOff => self.loud_about(&format!("{prefix}>>> {words}"), asks),
            Cue::Done => self.say_about(&format!("{prefix}{words}"), About::Answer(bench)),
        }
    }

    fn say(&mut self, text: &str) {
        self.say_about(text, About::Other);
    }

    fn say_about(&mut self, text: &str, about: About) {
        if !matches!(self.style, Style::Off | Style::Silent) {
            super::screen::say_about(text, about);
        }
    }
}

/// Whether the terminal can do no more than lines.
fn is_dumb() -> bool {
    std::env::var_os("TERM").is_some_and(|term| term == "dumb")
}
