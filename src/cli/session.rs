//! The loop of `log`: events from the ports, ticks, signals; one task owns every run.

use std::path::PathBuf;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, interval};

use super::advice;
use super::exit::{Code, Failure};
use super::signals::Signals;
use super::target::{Source, Target};
use super::view::View;
use crate::port::clock::wall_ns;
use crate::port::{CHANNEL_DEPTH, PortEvent, What};
use crate::run::{Derived, Greeting, News, Recorder, RunSetup, Step};

/// How often the plan is looked at, and the line on the terminal is drawn.
const TICK: Duration = Duration::from_millis(250);

/// How often a board that is not understood yet is asked for its hello. Boards that restart when
/// the port opens need up to 3 s before they hear anything.
const ASK_EVERY: Duration = Duration::from_millis(1500);

/// What a session needs to know.
#[derive(Debug)]
pub(super) struct Session {
    pub(super) out: PathBuf,
    pub(super) wait: Duration,
    pub(super) sync: Duration,
    /// The wall clock that the runs pretend to begin at.
    pub(super) began_ns: Option<i64>,
}

/// One board, from its first byte to its finished run.
struct Bench {
    name: String,
    is_virtual: bool,
    source: Source,
    setup: RunSetup,
    stage: Stage,
    /// Longest wait for the first readable line; asked for its hello at `ask`.
    deadline: Instant,
    ask: Instant,
}

enum Stage {
    Greeting(Box<Greeting>),
    Logging(Box<Recorder>),
    Ended,
    Failed,
}

/// A bench's end: its folder and what follows from it.
pub(super) type Finished = (PathBuf, Derived);

impl Session {
    /// Logs all `benches` to their end.
    ///
    /// A bench that fails is told at once; the others are logged and finished all the same.
    pub(super) async fn run(&self, benches: Vec<(Target, RunSetup)>, view: &mut View) -> Ends {
        let (sender, mut events) = mpsc::channel(CHANNEL_DEPTH);
        let mut benches: Vec<Bench> = benches
            .into_iter()
            .enumerate()
            .map(|(index, (target, setup))| Bench {
                name: target.name().to_owned(),
                is_virtual: target.is_virtual(),
                source: target.start(index, sender.clone()),
                stage: Stage::Greeting(Box::new(Greeting::new(&setup.sampler))),
                deadline: Instant::now() + self.wait,
                ask: Instant::now() + ASK_EVERY,
                setup,
            })
            .collect();
        drop(sender);
        let mut ends = Ends {
            finished: Vec::new(),
            failed: None,
        };
        let why = self.turn(&mut benches, &mut events, view, &mut ends).await;
        for bench in &mut benches {
            bench.finish(why, &mut ends);
        }
        // The channel is closed before the ports' threads are waited for, or one of them could
        // wait for room in it for ever.
        events.close();
        while events.try_recv().is_ok() {}
        ends
    }

    /// Runs until every bench is through, or a signal comes; says which.
    async fn turn(
        &self,
        benches: &mut [Bench],
        events: &mut mpsc::Receiver<PortEvent>,
        view: &mut View,
        ends: &mut Ends,
    ) -> &'static str {
        let mut tick = interval(TICK);
        let mut sync = interval(self.sync);
        let mut signals = Signals::new();
        loop {
            tokio::select! {
                biased;
                name = signals.next() => return name,
                event = events.recv() => match event {
                    Some(event) => {
                        if let Some(bench) = benches.get_mut(event.bench) {
                            bench.event(self, event, view, ends);
                        }
                    }
                    None => return "no port is left",
                },
                _ = tick.tick() => {
                    for (index, bench) in benches.iter_mut().enumerate() {
                        bench.tick(index, view, ends);
                    }
                    view.draw();
                }
                _ = sync.tick() => {
                    for (index, bench) in benches.iter_mut().enumerate() {
                        bench.sync(index, view);
                    }
                }
            }
            if benches.iter().all(Bench::is_over) {
                return "the plan is through";
            }
        }
    }
}

/// How a session ended.
#[derive(Debug)]
pub(super) struct Ends {
    /// Runs that were finished.
    pub(super) finished: Vec<Finished>,
    /// What the first bench that failed was told with.
    pub(super) failed: Option<Code>,
}

impl Ends {
    fn fail(&mut self, failure: &Failure) {
        super::print_failure(failure);
        self.failed.get_or_insert(failure.code);
    }

    /// What the session as a whole failed with, if it did.
    pub(super) fn failure(&self) -> Option<Failure> {
        match self.failed {
            Some(code) => Some(Failure::told(code)),
            None if self.finished.is_empty() => Some(Failure::new(
                Code::Failed,
                "ended before a board was understood; nothing was logged",
            )),
            None => None,
        }
    }
}

impl Bench {
    fn is_over(&self) -> bool {
        matches!(self.stage, Stage::Ended | Stage::Failed)
    }

    fn event(&mut self, session: &Session, event: PortEvent, view: &mut View, ends: &mut Ends) {
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
                let over =
                    recorder.conductor().step() == Step::Done || matches!(event.what, What::Ended);
                view.news(event.bench, recorder, news);
                if over {
                    self.finish("the plan is through", ends);
                }
            }
            Stage::Ended | Stage::Failed => {}
        }
    }

    /// The board is understood: makes the run, and gives it all that came so far.
    fn begin(&mut self, session: &Session, index: usize, view: &mut View, ends: &mut Ends) {
        let stage = std::mem::replace(&mut self.stage, Stage::Failed);
        let Stage::Greeting(greeting) = stage else {
            return;
        };
        view.greeted(&self.name, greeting.sampler());
        let held = greeting.into_held();
        let now_ns = self.source.now_ns();
        let start_ns = held.first().map_or(now_ns, |(t_ns, _)| *t_ns);
        let wall_at_start = session
            .began_ns
            .unwrap_or_else(|| wall_ns() - (now_ns - start_ns));
        match Recorder::begin(&session.out, &self.setup, start_ns, wall_at_start) {
            Ok(mut recorder) => {
                let mut news = Vec::new();
                for (t_ns, what) in &held {
                    recorder.port(*t_ns, what, &mut news);
                }
                view.began(&recorder);
                view.news(index, &recorder, news);
                self.stage = Stage::Logging(Box::new(recorder));
            }
            Err(error) => self.fail(&advice::of_run(&error), ends),
        }
    }

    fn tick(&mut self, index: usize, view: &mut View, ends: &mut Ends) {
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
                let over = recorder.conductor().step() == Step::Done;
                view.news(index, recorder, news);
                if over {
                    self.finish("the plan is through", ends);
                }
            }
            Stage::Ended | Stage::Failed => {}
        }
    }

    fn sync(&mut self, index: usize, view: &mut View) {
        if let Stage::Logging(recorder) = &mut self.stage {
            let mut news = Vec::new();
            if !self.is_virtual {
                recorder.look_at_clock(self.source.now_ns(), wall_ns(), &mut news);
            }
            recorder.sync(&mut news);
            view.news(index, recorder, news);
        }
    }

    fn finish(&mut self, why: &str, ends: &mut Ends) {
        let stage = std::mem::replace(&mut self.stage, Stage::Failed);
        let Stage::Logging(recorder) = stage else {
            self.stage = stage;
            return;
        };
        let folder = recorder.folder().to_owned();
        match recorder.finish(self.source.now_ns(), why) {
            Ok(derived) => {
                self.stage = Stage::Ended;
                ends.finished.push((folder, derived));
            }
            Err(error) => self.fail(&advice::of_run(&error), ends),
        }
    }

    fn fail(&mut self, failure: &Failure, ends: &mut Ends) {
        self.stage = Stage::Failed;
        ends.fail(failure);
    }
}
