//! The loop of `log`: events from the ports, ticks, signals; one task owns every run.

use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, interval};

use super::advice;
use super::exit::{Code, Failure};
use super::rebuild::check_lags;
use super::signals::Signals;
use super::target::{Source, Target};
use super::view::View;
use crate::port::clock::{both_ns, wall_ns};
use crate::port::{CHANNEL_DEPTH, PortEvent, What};
use crate::run::{Derived, Greeting, Lags, News, Recorder, RunSetup, Step};

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
    /// The plan was through then: the run ends when all that came from the port before it is
    /// recorded.
    over_ns: Option<i64>,
    /// People were told that the board is silent.
    silence_told: bool,
    /// Longest wait for the first readable line; asked for its hello at `ask`.
    deadline: Instant,
    ask: Instant,
}

enum Stage {
    Greeting(Box<Greeting>),
    Logging(Box<Recorder>),
    /// The run is ended; its folder waits for what follows from it.
    Ended(PathBuf),
    Failed,
}

impl Session {
    /// Logs all `benches` to their end, then derives each run and shows it.
    ///
    /// A bench that fails is told at once; the others are logged and finished all the same.
    pub(super) async fn run(
        &self,
        benches: Vec<(Target, RunSetup)>,
        view: &mut View,
        mut show: impl FnMut(&Path, &Derived),
    ) -> Ends {
        let (sender, mut events) = mpsc::channel(CHANNEL_DEPTH);
        let mut benches: Vec<Bench> = benches
            .into_iter()
            .enumerate()
            .map(|(index, (target, setup))| self.start(index, target, setup, sender.clone()))
            .collect();
        drop(sender);
        let mut ends = Ends::default();
        let why = self.turn(&mut benches, &mut events, view, &mut ends).await;
        for (index, bench) in benches.iter_mut().enumerate() {
            if bench.may_be_lit() {
                view.ended_lit(index);
            }
            bench.end(why, &mut ends);
        }
        // The channel is closed before the ports' threads are waited for, or one of them could
        // wait for room in it for ever.
        events.close();
        while events.try_recv().is_ok() {}
        view.close();
        // Every run is safe by now. Deriving takes a moment each, and is done one by one so that
        // only one run's rows are in memory.
        for bench in benches {
            if let Stage::Ended(folder) = bench.stage {
                ends.derive(&folder, &mut show);
            }
        }
        ends
    }

    fn start(
        &self,
        index: usize,
        target: Target,
        setup: RunSetup,
        sender: mpsc::Sender<PortEvent>,
    ) -> Bench {
        Bench {
            name: target.name().to_owned(),
            is_virtual: target.is_virtual(),
            stage: Stage::Greeting(Box::new(Greeting::new(&setup.sampler))),
            over_ns: None,
            silence_told: false,
            deadline: Instant::now() + self.wait,
            ask: Instant::now() + ASK_EVERY,
            source: target.start(index, sender),
            setup,
        }
    }

    fn event(&self, benches: &mut [Bench], event: PortEvent, view: &mut View, ends: &mut Ends) {
        if let Some(bench) = benches.get_mut(event.bench) {
            bench.event(self, event, view, ends);
        }
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
                name = signals.next() => {
                    // What was read from the ports before the signal belongs to the runs.
                    while let Ok(event) = events.try_recv() {
                        self.event(benches, event, view, ends);
                    }
                    return name;
                }
                event = events.recv() => match event {
                    Some(event) => self.event(benches, event, view, ends),
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
            if events.is_empty() {
                for bench in benches.iter_mut().filter(|bench| bench.over_ns.is_some()) {
                    bench.end("the plan is through", ends);
                }
            }
            if benches.iter().all(Bench::is_over) {
                return "the plan is through";
            }
        }
    }
}

/// How a session ended.
#[derive(Debug, Default)]
pub(super) struct Ends {
    /// Runs that were finished.
    pub(super) finished: usize,
    /// Data are missing in one of them.
    pub(super) incomplete: bool,
    /// What the first bench that failed was told with.
    failed: Option<Code>,
}

impl Ends {
    fn fail(&mut self, failure: &Failure) {
        super::print_failure(failure);
        self.failed.get_or_insert(failure.code);
    }

    fn derive(&mut self, folder: &Path, show: &mut impl FnMut(&Path, &Derived)) {
        let derived = Derived::from_folder(folder, &Lags::default())
            .and_then(|derived| derived.write(folder).map(|_| derived));
        match derived {
            Ok(derived) => {
                self.finished += 1;
                self.incomplete |= derived.incomplete();
                show(folder, &derived);
            }
            Err(error) => self.fail(&advice::of_run(&error)),
        }
    }

    /// What the session as a whole failed with, if it did.
    pub(super) fn failure(&self) -> Option<Failure> {
        match self.failed {
            Some(code) => Some(Failure::told(code)),
            None if self.finished == 0 => Some(Failure::new(
                Code::Failed,
                "ended before a board was understood; nothing was logged",
            )),
            None if self.incomplete => Some(super::results::incomplete()),
            None => None,
        }
    }
}

impl Bench {
    /// Whether the lamp was asked on and is not seen off: a run that ends now leaves it lit.
    fn may_be_lit(&self) -> bool {
        let Stage::Logging(recorder) = &self.stage else {
            return false;
        };
        matches!(
            recorder.conductor().step(),
            Step::AwaitOn { .. } | Step::Heating { .. } | Step::AwaitOff { .. }
        )
    }

    fn is_over(&self) -> bool {
        matches!(self.stage, Stage::Ended(_) | Stage::Failed)
    }

    fn event(&mut self, session: &Session, event: PortEvent, view: &mut View, ends: &mut Ends) {
        if self.over_ns.is_some_and(|over_ns| event.t_ns > over_ns) {
            self.end("the plan is through", ends);
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
                if recorder.conductor().step() == Step::Done {
                    self.over_ns.get_or_insert(self.source.now_ns());
                }
                if let Some(silent_s) = recorder.silent_s(self.source.now_ns())
                    && !std::mem::replace(&mut self.silence_told, true)
                {
                    view.silent(index, silent_s);
                }
                view.news(index, recorder, news);
            }
            Stage::Ended(_) | Stage::Failed => {}
        }
    }

    fn sync(&mut self, index: usize, view: &mut View) {
        if let Stage::Logging(recorder) = &mut self.stage {
            let mut news = Vec::new();
            if !self.is_virtual
                && let Some((boot_ns, wall_ns)) = both_ns()
            {
                recorder.look_at_clock(boot_ns, wall_ns, &mut news);
            }
            recorder.sync(&mut news);
            view.news(index, recorder, news);
        }
    }

    fn end(&mut self, why: &str, ends: &mut Ends) {
        let stage = std::mem::replace(&mut self.stage, Stage::Failed);
        let Stage::Logging(recorder) = stage else {
            self.stage = stage;
            return;
        };
        let (folder, result) = recorder.end(self.source.now_ns(), why);
        self.stage = Stage::Ended(folder);
        if let Err(error) = result {
            ends.fail(&advice::of_run(&error));
        }
    }

    fn fail(&mut self, failure: &Failure, ends: &mut Ends) {
        self.stage = Stage::Failed;
        ends.fail(failure);
    }
}
