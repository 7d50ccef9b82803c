//! One bench of a session, from its first byte to its finished run.

mod ports;
mod press;

use std::path::PathBuf;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::Instant;

use self::ports::Ports;
use super::advice;
use super::calibrate::correct;
use super::ends::Ends;
use super::exit::Failure;
use super::parts::settle;
use super::service::STUCK;
use super::session::{Session, Task};
use super::target::{Source, Target};
use super::view::View;
use super::wiring::{Place, Wiring, Word};
use crate::port::clock::wall_ns;
use crate::port::{PortEvent, What};
use crate::run::{Ending, Greeting, News, Recorder, RunError, RunSetup, Step};

/// How often a board that is not understood yet is asked for its hello. Boards that restart when
/// the port opens need up to 3 s before they hear anything.
const ASK_EVERY: Duration = Duration::from_millis(1500);

/// One bench: one board, or with `--together` several.
pub(super) struct Bench {
    /// Its boards' ports, in the order of the channels.
    names: Vec<String>,
    pub(super) is_virtual: bool,
    pub(super) sources: Vec<Source>,
    /// Ids of its boards, where they state one; empty until they are understood.
    pub(super) ids: Vec<Option<String>>,
    /// The run to go on with.
    resume: Option<PathBuf>,
    pub(super) setup: RunSetup,
    stage: Stage,
    /// The plan was through then: the run ends when all that came from the port before it is
    /// recorded.
    over_ns: Option<i64>,
    /// What people were told of its ports.
    ports: Ports,
    /// Longest wait for the first readable line; asked for its hello at `ask`.
    deadline: Instant,
    ask: Instant,
}

enum Stage {
    Greeting(Vec<Greeting>),
    Logging(Box<Recorder>),
    /// The run is ended; its last records may still be on their way to the disk.
    Ended(Box<Ending>),
    Failed,
}

impl Bench {
    /// Opens the boards' ports, or starts the virtual ones.
    pub(super) fn start(
        session: &Session,
        task: Task,
        wiring: &mut Wiring,
        sender: &mpsc::Sender<PortEvent>,
    ) -> Self {
        let Task {
            targets,
            setup,
            resume,
        } = task;
        let mut greets = setup.sampler.clone();
        if targets.len() > 1 {
            // The names are those of all boards together.
            greets.samples.clear();
        }
        let bench = wiring.benches();
        Self {
            names: targets.iter().map(|t| t.name().to_owned()).collect(),
            is_virtual: targets.iter().any(Target::is_virtual),
            ids: Vec::new(),
            stage: Stage::Greeting(targets.iter().map(|_| Greeting::new(&greets)).collect()),
            over_ns: None,
            ports: Ports::default(),
            deadline: Instant::now() + session.wait,
            ask: Instant::now() + ASK_EVERY,
            sources: targets
                .into_iter()
                .zip(0..)
                .map(|(target, port)| {
                    target.start(wiring.add(Place { bench, port }), sender.clone())
                })
                .collect(),
            resume,
            setup,
        }
    }

    /// The plan is through, by the latest event.
    pub(super) fn is_through(&self) -> bool {
        self.over_ns.is_some()
    }

    /// The plan was through before something that happened then.
    pub(super) fn is_through_before(&self, t_ns: i64) -> bool {
        self.over_ns.is_some_and(|over_ns| t_ns > over_ns)
    }

    pub(super) fn is_logging(&self) -> bool {
        matches!(self.stage, Stage::Logging(_))
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
            Stage::Logging(recorder) => recorder.disk_silent() < STUCK && self.stuck() < STUCK,
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
        let conductor = recorder.conductor();
        conductor.may_be_left_lit()
            || matches!(
                conductor.step(),
                Step::AwaitOn { .. } | Step::Heating { .. } | Step::AwaitOff { .. }
            )
    }

    pub(super) fn is_over(&self) -> bool {
        matches!(self.stage, Stage::Ended(_) | Stage::Failed)
    }

    fn now_ns(&self) -> i64 {
        self.sources.first().map_or(0, Source::now_ns)
    }

    /// How long the longest stuck of its ports' threads has been so.
    fn stuck(&self) -> Duration {
        let stuck = self.sources.iter().map(Source::stuck);
        stuck.max().unwrap_or_default()
    }

    /// Something happened at the port of one of its boards; `index` is the bench's own number.
    pub(super) fn event(
        &mut self,
        session: &Session,
        (index, port): (usize, u16),
        (t_ns, word): (i64, Word),
        view: &mut View,
        ends: &mut Ends,
    ) {
        match &mut self.stage {
            Stage::Greeting(greetings) => {
                let Some(greeting) = greetings.get_mut(usize::from(port)) else {
                    return;
                };
                let Word::Said(what) = word else { return };
                match greeting.port(t_ns, what) {
                    Ok(_) if greetings.iter().all(Greeting::is_understood) => {
                        self.begin(session, index, view, ends);
                    }
                    Ok(_) => {}
                    Err(fault) => {
                        let name = self.names.get(usize::from(port));
                        let name = name.map_or("", String::as_str);
                        let failure = advice::of_greeting(name, &fault);
                        self.fail(&failure, (index, view), ends);
                    }
                }
            }
            Stage::Logging(recorder) => {
                let mut news = Vec::new();
                word.record(recorder, t_ns, port, &mut news);
                // A virtual board's time runs by its events, and may run faster than life.
                if self.is_virtual {
                    recorder.tick(t_ns, &mut news);
                }
                self.ports.heard(port, &word);
                let done = recorder.conductor().step() == Step::Done;
                if done || matches!(word, Word::Said(What::Ended)) {
                    self.over_ns.get_or_insert(t_ns);
                }
                view.news(index, recorder, news);
            }
            Stage::Ended(_) | Stage::Failed => {}
        }
    }

    /// The boards are understood: makes the run, and gives it all that came so far.
    fn begin(&mut self, session: &Session, index: usize, view: &mut View, ends: &mut Ends) {
        let stage = std::mem::replace(&mut self.stage, Stage::Failed);
        let Stage::Greeting(greetings) = stage else {
            return;
        };
        if let Err(failure) = settle(&mut self.setup, self.resume.is_some(), &greetings) {
            self.fail(&failure, (index, view), ends);
            return;
        }
        // A run that is gone on with has its calibrations already.
        if self.resume.is_none() {
            let samplers = greetings.iter().map(Greeting::sampler);
            let boards: Vec<_> = self
                .names
                .iter()
                .map(String::as_str)
                .zip(samplers)
                .collect();
            for text in correct(&session.calibrations, &mut self.setup, &boards) {
                view.remark(&text);
            }
        }
        let mut held = Vec::new();
        for ((greeting, name), port) in greetings.into_iter().zip(&self.names).zip(0_u16..) {
            view.greeted(name, greeting.sampler(), greeting.last_row());
            let id = greeting.sampler().hello().map(|h| h.board_id.clone());
            self.ids.push(id);
            let events = greeting.into_held().into_iter();
            held.extend(events.map(|(t_ns, what)| (t_ns, port, what)));
        }
        held.sort_by_key(|(t_ns, port, _)| (*t_ns, *port));
        let now_ns = self.now_ns();
        let start_ns = held.first().map_or(now_ns, |(t_ns, ..)| *t_ns);
        let wall_at_start = session
            .began_ns
            .unwrap_or_else(|| wall_ns() - (now_ns - start_ns));
        let patient = self.sources.iter().all(Source::is_virtual);
        let keep = session.keep(patient);
        let mut news = Vec::new();
        let recorder = match &self.resume {
            Some(folder) => Recorder::resume(folder, start_ns, wall_at_start, &keep, &mut news),
            None => Recorder::begin(&session.out, &self.setup, start_ns, wall_at_start, &keep),
        };
        match recorder {
            Ok(mut recorder) => {
                view.began(&recorder, self.resume.is_some());
                for (t_ns, port, what) in &held {
                    recorder.port(*t_ns, *port, what, &mut news);
                }
                view.news(index, &recorder, news);
                self.stage = Stage::Logging(Box::new(recorder));
            }
            Err(error) => self.fail(&advice::of_run(&error), (index, view), ends),
        }
    }

    pub(super) fn tick(&mut self, index: usize, view: &mut View, ends: &mut Ends) {
        let now = Instant::now();
        match &self.stage {
            Stage::Greeting(greetings) if now >= self.deadline => {
                let mut waits = greetings.iter().zip(&self.names);
                if let Some((greeting, name)) = waits.find(|(g, _)| !g.is_understood()) {
                    let failure = advice::of_greeting(name, &greeting.give_up());
                    self.fail(&failure, (index, view), ends);
                }
            }
            Stage::Greeting(greetings) => {
                if now >= self.ask {
                    let waits = greetings.iter().zip(&self.sources);
                    for (_, source) in waits.filter(|(greeting, _)| greeting.wants_hello()) {
                        source.send(crate::wire::request_hello());
                        self.ask = now + ASK_EVERY;
                    }
                }
            }
            Stage::Logging(_) => {
                self.look_at_ports(index, view);
                self.look_at_plan(index, view);
            }
            Stage::Ended(_) | Stage::Failed => {}
        }
    }

    fn look_at_plan(&mut self, index: usize, view: &mut View) {
        let now_ns = self.now_ns();
        let Stage::Logging(recorder) = &mut self.stage else {
            return;
        };
        let mut news: Vec<News> = Vec::new();
        if !self.is_virtual {
            recorder.tick(now_ns, &mut news);
            view.time(index, recorder, recorder.elapsed_s(now_ns));
        }
        if recorder.conductor().step() == Step::Done {
            self.over_ns.get_or_insert(now_ns);
        }
        recorder.look_at_disk(&mut news);
        view.news(index, recorder, news);
    }

    /// What both clocks showed, and for how long the computer slept since the last look.
    pub(super) fn look_at_clocks(
        &mut self,
        index: usize,
        (boot_ns, wall_ns): (i64, i64),
        slept_ns: Option<i64>,
        view: &mut View,
    ) {
        if let Stage::Logging(recorder) = &mut self.stage
            && !self.is_virtual
        {
            let mut news = Vec::new();
            if let Some(slept_ns) = slept_ns {
                recorder.slept(boot_ns, wall_ns, slept_ns, &mut news);
            }
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
        // A virtual board that is asked to go faster than it can is behind its own clock.
        let over_ns = self.over_ns.filter(|_| self.is_virtual);
        let end_ns = over_ns.unwrap_or_else(|| self.now_ns());
        self.stage = Stage::Ended(Box::new(recorder.end(end_ns, why)));
    }

    fn fail(&mut self, failure: &Failure, (index, view): (usize, &mut View), ends: &mut Ends) {
        self.stage = Stage::Failed;
        let name = self.names.first().map_or("", String::as_str);
        view.missing(index, name, &failure.message);
        ends.fail(failure);
    }
}
