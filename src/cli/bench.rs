//! One board of a session, from its first byte to its finished run.

use std::path::PathBuf;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::Instant;

use super::advice;
use super::exit::Failure;
use super::rebuild::check_lags;
use super::service::STUCK;
use super::session::{Ends, Session, Task};
use super::target::Source;
use super::view::View;
use crate::port::clock::{both_ns, wall_ns};
use crate::port::{PortEvent, What};
use crate::run::{Ending, Greeting, News, Recorder, RunError, RunSetup, Step};

/// How often a board that is not understood yet is asked for its hello. Boards that restart when
/// the port opens need up to 3 s before they hear anything.
const ASK_EVERY: Duration = Duration::from_millis(1500);

/// One board, from its first byte to its finished run.
pub(super) struct Bench {
    name: String,
    is_virtual: bool,
    source: Source,
    /// The run to go on with.
    resume: Option<PathBuf>,
    setup: RunSetup,
    stage: Stage,
    /// The plan was through then: the run ends when all that came from the port before it is
    /// recorded.
    over_ns: Option<i64>,
    /// People were told that the board is silent.
    silence_told: bool,
    /// People were told that the port's thread is stuck.
    stuck_told: bool,
    /// Longest wait for the first readable line; asked for its hello at `ask`.
    deadline: Instant,
    ask: Instant,
}

enum Stage {
    Greeting(Box<Greeting>),
    Logging(Box<Recorder>),
    /// The run is ended; its last records may still be on their way to the disk.
    Ended(Box<Ending>),
    Failed,
}

impl Bench {
    /// Opens the board's port, or starts the virtual one.
    pub(super) fn start(
        session: &Session,
        index: usize,
        task: Task,
        sender: mpsc::Sender<PortEvent>,
    ) -> Self {
        let Task {
            target,
            setup,
            resume,
        } = task;
        Self {
            name: target.name().to_owned(),
            is_virtual: target.is_virtual(),
            stage: Stage::Greeting(Box::new(Greeting::new(&setup.sampler))),
            over_ns: None,
            silence_told: false,
            stuck_told: false,
            deadline: Instant::now() + session.wait,
            ask: Instant::now() + ASK_EVERY,
            source: target.start(index, sender),
            resume,
            setup,
        }
    }

    /// The plan is through, by the latest event.
    pub(super) fn is_through(&self) -> bool {
        self.over_ns.is_some()
    }

    /// Whether it is logged by now, or has ended.
    pub(super) fn is_under_way(&self) -> bool {
        !matches!(self.stage, Stage::Greeting(_))
    }

    /// Rows of the run that is logged.
    pub(super) fn rows(&self) -> Option<u64> {
        match &self.stage {
            Stage::Logging(recorder) => Some(recorder.rows()),
            _ => None,
        }
    }

    /// Whether disk and port answer; no news from a board is no fault of either.
    pub(super) fn is_healthy(&self) -> bool {
        match &self.stage {
            Stage::Logging(recorder) => {
                recorder.disk_silent() < STUCK && self.source.stuck() < STUCK
            }
            _ => true,
        }
    }

    /// Waits until the ended run is on the disk, and gives its folder; none if there is no run.
    pub(super) fn finished(self, patience: Duration, ends: &mut Ends) -> Option<PathBuf> {
        let Stage::Ended(ending) = self.stage else {
            return None;
        };
        let (folder, notices, result) = ending.wait(patience);
        for notice in notices {
            super::say(&format!("DISK: {notice}"));
        }
        if let Err(error) = result {
            ends.fail(&advice::of_run(&error));
            if matches!(error, RunError::NoAnswer { .. }) {
                return None;
            }
        }
        Some(folder)
    }

    /// Whether the lamp was asked on and is not seen off: a run that ends now leaves it lit.
    pub(super) fn may_be_lit(&self) -> bool {
        let Stage::Logging(recorder) = &self.stage else {
            return false;
        };
        matches!(
            recorder.conductor().step(),
            Step::AwaitOn { .. } | Step::Heating { .. } | Step::AwaitOff { .. }
        )
    }

    pub(super) fn is_over(&self) -> bool {
        matches!(self.stage, Stage::Ended(_) | Stage::Failed)
    }

    pub(super) fn event(
        &mut self,
        session: &Session,
        event: PortEvent,
        view: &mut View,
        ends: &mut Ends,
    ) {
        if self.over_ns.is_some_and(|over_ns| event.t_ns > over_ns) {
            self.end("the plan is through");
        }
        match &mut self.stage {
            Stage::Greeting(greeting) => match greeting.port(event.t_ns, event.what) {
                Ok(false) => {}
                Ok(true) => self.begin(session, event.bench, view, ends),
                Err(fault) => {
                    let failure = advice::of_greeting(&self.name, &fault);
                    self.fail(&failure, ends);
                }
            },
            Stage::Logging(recorder) => {
                let mut news = Vec::new();
                recorder.port(event.t_ns, &event.what, &mut news);
                // A virtual board's time runs by its events, and may run faster than life.
                if self.is_virtual {
                    recorder.tick(event.t_ns, &mut news);
                }
                self.silence_told &= !matches!(event.what, What::Bytes(_));
                let done = recorder.conductor().step() == Step::Done;
                if done || matches!(event.what, What::Ended) {
                    self.over_ns.get_or_insert(event.t_ns);
                }
                view.news(event.bench, recorder, news);
            }
            Stage::Ended(_) | Stage::Failed => {}
        }
    }

    /// The board is understood: makes the run, and gives it all that came so far.
    fn begin(&mut self, session: &Session, index: usize, view: &mut View, ends: &mut Ends) {
        let stage = std::mem::replace(&mut self.stage, Stage::Failed);
        let Stage::Greeting(greeting) = stage else {
            return;
        };
        let channels = greeting.sampler().channels().unwrap_or(0);
        if let Err(failure) = check_lags(&self.setup.lags, channels) {
            self.fail(&failure, ends);
            return;
        }
        view.greeted(&self.name, greeting.sampler());
        let held = greeting.into_held();
        let now_ns = self.source.now_ns();
        let start_ns = held.first().map_or(now_ns, |(t_ns, _)| *t_ns);
        let wall_at_start = session
            .began_ns
            .unwrap_or_else(|| wall_ns() - (now_ns - start_ns));
        let keep = session.keep(self.is_virtual);
        let mut news = Vec::new();
        let recorder = match &self.resume {
            Some(folder) => Recorder::resume(folder, start_ns, wall_at_start, &keep, &mut news),
            None => Recorder::begin(&session.out, &self.setup, start_ns, wall_at_start, &keep),
        };
        match recorder {
            Ok(mut recorder) => {
                view.began(&recorder, self.resume.is_some());
                for (t_ns, what) in &held {
                    recorder.port(*t_ns, what, &mut news);
                }
                view.news(index, &recorder, news);
                self.stage = Stage::Logging(Box::new(recorder));
            }
            Err(error) => self.fail(&advice::of_run(&error), ends),
        }
    }

    pub(super) fn tick(&mut self, index: usize, view: &mut View, ends: &mut Ends) {
        let now = Instant::now();
        match &mut self.stage {
            Stage::Greeting(greeting) if now >= self.deadline => {
                let failure = advice::of_greeting(&self.name, &greeting.give_up());
                self.fail(&failure, ends);
            }
            Stage::Greeting(greeting) => {
                if now >= self.ask && greeting.wants_hello() {
                    self.source.send(crate::wire::request_hello());
                    self.ask = now + ASK_EVERY;
                }
            }
            Stage::Logging(recorder) => {
                let mut news: Vec<News> = Vec::new();
                if !self.is_virtual {
                    recorder.tick(self.source.now_ns(), &mut news);
                }
                if recorder.wants_hello() && now >= self.ask {
                    self.source.send(crate::wire::request_hello());
                    self.ask = now + ASK_EVERY;
                }
                if recorder.conductor().step() == Step::Done {
                    self.over_ns.get_or_insert(self.source.now_ns());
                }
                if let Some(silent_s) = recorder.silent_s(self.source.now_ns())
                    && !std::mem::replace(&mut self.silence_told, true)
                {
                    view.silent(index, silent_s);
                }
                let stuck = self.source.stuck();
                if stuck >= STUCK && !std::mem::replace(&mut self.stuck_told, true) {
                    view.port_stuck(index, stuck.as_secs());
                }
                self.stuck_told &= stuck >= STUCK;
                recorder.look_at_disk(&mut news);
                view.news(index, recorder, news);
            }
            Stage::Ended(_) | Stage::Failed => {}
        }
    }

    /// Looks at both clocks.
    pub(super) fn look_at_clock(&mut self, index: usize, view: &mut View) {
        if let Stage::Logging(recorder) = &mut self.stage
            && !self.is_virtual
            && let Some((boot_ns, wall_ns)) = both_ns()
        {
            let mut news = Vec::new();
            recorder.look_at_clock(boot_ns, wall_ns, &mut news);
            view.news(index, recorder, news);
        }
    }

    /// Ends the run, if it is logged. The disk is not waited for.
    pub(super) fn end(&mut self, why: &str) {
        let stage = std::mem::replace(&mut self.stage, Stage::Failed);
        let Stage::Logging(recorder) = stage else {
            self.stage = stage;
            return;
        };
        self.stage = Stage::Ended(Box::new(recorder.end(self.source.now_ns(), why)));
    }

    fn fail(&mut self, failure: &Failure, ends: &mut Ends) {
        self.stage = Stage::Failed;
        ends.fail(failure);
    }
}
