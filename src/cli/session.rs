//! The loop of `log`: events from the ports, ticks, signals; one task owns every run.

use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::interval;

use super::advice;
use super::bench::Bench;
use super::exit::{Code, Failure};
use super::guard::Guard;
use super::service::Service;
use super::signals::Signals;
use super::target::Target;
use super::view::View;
use crate::journal::Limits;
use crate::port::{CHANNEL_DEPTH, PortEvent, boot_id};
use crate::run::{Derived, Keep, Lags, RunSetup, SyncEvery};

/// How often the plan is looked at, and the line on the terminal is drawn.
const TICK: Duration = Duration::from_millis(250);

/// How often the clocks are compared.
const CLOCK: Duration = Duration::from_secs(1);

/// The ends of all runs are waited for so long, on disks that do not answer.
const PATIENCE: Duration = Duration::from_secs(20);

/// What a session needs to know.
#[derive(Debug)]
pub(super) struct Session {
    pub(super) out: PathBuf,
    pub(super) wait: Duration,
    pub(super) sync: SyncEvery,
    pub(super) limits: Limits,
    /// The wall clock that the runs pretend to begin at.
    pub(super) began_ns: Option<i64>,
}

/// What a bench is to do.
#[derive(Debug)]
pub(super) struct Task {
    pub(super) target: Target,
    pub(super) setup: RunSetup,
    /// The folder of a run to go on with, whose setup it then is.
    pub(super) resume: Option<PathBuf>,
}

impl Session {
    /// Logs all `benches` to their end, then derives each run and shows it.
    ///
    /// A bench that fails is told at once; the others are logged and finished all the same.
    pub(super) async fn run(
        &self,
        tasks: Vec<Task>,
        view: &mut View,
        mut show: impl FnMut(&Path, &Derived),
    ) -> Ends {
        let (sender, mut events) = mpsc::channel(CHANNEL_DEPTH);
        let mut benches: Vec<Bench> = tasks
            .into_iter()
            .enumerate()
            .map(|(index, task)| Bench::start(self, index, task, sender.clone()))
            .collect();
        drop(sender);
        let mut ends = Ends::default();
        let why = self.turn(&mut benches, &mut events, view, &mut ends).await;
        for (index, bench) in benches.iter_mut().enumerate() {
            if bench.may_be_lit() {
                view.ended_lit(index);
            }
            bench.end(why);
        }
        // The channel is closed before the ports' threads are waited for, or one of them could
        // wait for room in it for ever.
        events.close();
        while events.try_recv().is_ok() {}
        view.close();
        // All disks write at once; deriving takes a moment each, and is done one by one so that
        // only one run's rows are in memory.
        let until = std::time::Instant::now() + PATIENCE;
        let left = || until.saturating_duration_since(std::time::Instant::now());
        let folders: Vec<PathBuf> = benches
            .into_iter()
            .filter_map(|bench| bench.finished(left(), &mut ends))
            .collect();
        for folder in folders {
            ends.derive(&folder, &mut show);
        }
        ends
    }

    /// How a bench's run is kept.
    pub(super) fn keep(&self, is_virtual: bool) -> Keep {
        Keep {
            sync: self.sync,
            limits: self.limits,
            patient: is_virtual,
            // A run that pretends to begin at another time has no part in this computer's clock.
            boot: self.began_ns.is_none().then(boot_id).flatten(),
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
        let mut clock = interval(CLOCK);
        let mut service = Service::new();
        let guard = Guard::start();
        let mut signals = Signals::new();
        loop {
            tokio::select! {
                biased;
                name = signals.next() => {
                    // What was read from the ports before the signal belongs to the runs.
                    while let Ok(event) = events.try_recv() {
                        self.event(benches, event, view, ends);
                    }
                    service.stopping();
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
                    guard.turn();
                    service.turn(
                        benches.iter().all(Bench::is_healthy),
                        benches.iter().all(Bench::is_under_way),
                        || status(benches),
                    );
                }
                _ = clock.tick() => {
                    for (index, bench) in benches.iter_mut().enumerate() {
                        bench.look_at_clock(index, view);
                    }
                }
            }
            if events.is_empty() {
                for bench in benches.iter_mut().filter(|bench| bench.is_through()) {
                    bench.end("the plan is through");
                }
            }
            if benches.iter().all(Bench::is_over) {
                return "the plan is through";
            }
        }
    }
}

/// What a service manager shows: `2 benches, 86400 rows`.
fn status(benches: &[Bench]) -> String {
    let rows: Vec<u64> = benches.iter().filter_map(Bench::rows).collect();
    let total: u64 = rows.iter().sum();
    format!("logging {} bench(es), {total} rows", rows.len())
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
    pub(super) fn fail(&mut self, failure: &Failure) {
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
