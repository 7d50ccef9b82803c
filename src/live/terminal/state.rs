//! Everything that the view shows, as plain values.

use std::collections::VecDeque;

use super::history::History;
use super::look::Look;

/// Messages kept at most.
const MOST_MESSAGES: usize = 200;

/// What is on the screen.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The benches of the session.
    pub benches: Vec<Bench>,
    /// The one that is shown, and that keys are for; from 0.
    pub selected: usize,
    /// A note that is being typed.
    pub note: Option<String>,
    /// What was said, the newest last.
    pub messages: VecDeque<Said>,
    /// What the terminal can show.
    pub look: Look,
    /// Where the page is, if there is one.
    pub page: Option<String>,
    /// The code for the page that lets a teacher act from elsewhere; shown when a key asks for it only,
    /// since the class may see this terminal.
    pub code: Option<String>,
}

/// One bench.
#[derive(Debug, Clone, Default)]
pub struct Bench {
    /// Name of its run.
    pub name: String,
    /// Run time in seconds.
    pub now_s: f64,
    /// Rows made.
    pub rows: u64,
    /// Run time of the latest row in seconds.
    pub row_s: Option<f64>,
    /// Usual time between rows in seconds.
    pub every_s: Option<f64>,
    /// Its phase in words; may be empty.
    pub phase: String,
    /// It waits until its samples are steady.
    pub settles: bool,
    /// The plan.
    pub strip: Strip,
    /// Its samples.
    pub samples: Vec<Sample>,
    /// Their temperatures so far.
    pub history: History,
    /// Why nothing comes, and what to do, where that is known.
    pub trouble: Option<String>,
    /// What is to be done now, if anything.
    pub cue: Option<String>,
    /// What comes next.
    pub next: String,
    /// How board and disk are.
    pub health: Health,
}

/// How something is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Health {
    /// Somebody should look.
    pub alarm: bool,
    /// In words.
    pub text: String,
}

/// One sample.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sample {
    /// Its name.
    pub name: String,
    /// Its temperature in °C; NaN where there is none.
    pub degc: f64,
    /// Decimals to show it with.
    pub decimals: usize,
    /// How its probe is.
    pub health: Health,
}

/// The plan along time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Strip {
    /// The phases in order, the last one ending where the plan does.
    pub spans: Vec<Span>,
    /// Run time in seconds of the first mark, once it is known.
    pub zero_s: Option<f64>,
    /// Interval of the marks in seconds.
    pub marks_s: Option<f64>,
}

/// What a stretch of the plan is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stretch {
    /// Waiting for steady samples.
    Settling,
    /// The lamp is on.
    Heating,
    /// The lamp is off.
    Cooling,
    /// No lamp.
    Open,
}

/// A stretch of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// What it is.
    pub stretch: Stretch,
    /// Its length in seconds; none where that is open: until the samples are steady, or a key.
    pub length_s: Option<f64>,
}

/// What a message has to do with a cue for the lamp, and of which bench, from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum About {
    /// Nothing.
    #[default]
    Other,
    /// It asks for the lamp to be switched.
    Cue(usize),
    /// The cue was answered, or asks no longer.
    Answer(usize),
}

/// A message.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Said {
    /// In words.
    pub text: String,
    /// What it is about.
    pub about: About,
}

impl Said {
    /// A message that has to do with no cue.
    pub fn new(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            about: About::Other,
        }
    }
}

impl State {
    /// The bench that is shown.
    #[must_use]
    pub fn bench(&self) -> Option<&Bench> {
        self.benches.get(self.selected)
    }

    /// The bench of a number from 0, which is there from now on.
    pub fn bench_mut(&mut self, index: usize) -> Option<&mut Bench> {
        if self.benches.len() <= index {
            self.benches.resize_with(index + 1, Bench::default);
        }
        self.benches.get_mut(index)
    }

    /// Says something that has to do with no cue.
    pub fn say(&mut self, text: &str) {
        self.tell(&Said::new(text));
    }

    /// Says something; the oldest is forgotten, and so is a cue that this answers.
    pub fn tell(&mut self, said: &Said) {
        let about = said.about;
        if let About::Answer(bench) = about {
            self.messages.retain(|old| old.about != About::Cue(bench));
        }
        for line in said.text.lines() {
            let text = line.to_owned();
            self.messages.push_back(Said { text, about });
        }
        while self.messages.len() > MOST_MESSAGES {
            self.messages.pop_front();
        }
    }

    /// What a picture is drawn from: of the benches that are not shown, no more than is shown.
    #[must_use]
    pub fn snapshot(&self) -> Self {
        let shown = |(index, bench): (usize, &Bench)| {
            if index == self.selected {
                return bench.clone();
            }
            Bench {
                name: bench.name.clone(),
                samples: bench.samples.clone(),
                cue: bench.cue.clone(),
                health: bench.health.clone(),
                ..Bench::default()
            }
        };
        Self {
            benches: self.benches.iter().enumerate().map(shown).collect(),
            selected: self.selected,
            note: self.note.clone(),
            messages: self.messages.iter().rev().take(4).rev().cloned().collect(),
            look: self.look,
            page: self.page.clone(),
            code: self.code.clone(),
        }
    }
}
