//! The loop of `log`: events from the ports, ticks, signals; one task owns every run.

use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::interval;

use super::bench::Bench;
use super::calibrate::Stock;
use super::deeds::{self, Deeds};
use super::ends::Ends;
use super::guard::Guard;
use super::keys::{Keys, Press};
use super::service::Service;
use super::signals::Signals;
use super::target::Target;
use super::view::View;
use super::wiring::{Sorted, Wiring};
use crate::journal::Limits;
use crate::live::page::{Deed, Outcome};
use crate::live::words::counted;
use crate::port::clock::{SleepWatch, both_ns};
use crate::port::{CHANNEL_DEPTH, PortEvent, boot_id};
use crate::run::{Derived, Keep, RunSetup, SyncEvery};

/// How often the plan is looked at, and the line on the terminal is drawn.
const TICK: Duration = Duration::from_millis(250);

/// How often the clocks are compared.
const CLOCK: Duration = Duration::from_secs(1);

/// The ends of all runs are waited for so long, on disks that do not answer.
const PATIENCE: Duration = Duration::from_secs(20);

/// Why a run ended whose plan is done.
const THROUGH: &str = "the plan is through";

/// Why a run ended that somebody ended on the page.
const ENDED_ON_PAGE: &str = "ended on the page";

/// What a session needs to know.
#[derive(Debug)]
pub(super) struct Session {
    pub(super) out: PathBuf,
    pub(super) wait: Duration,
    pub(super) sync: SyncEvery,
    pub(super) limits: Limits,
    /// The wall clock that the runs pretend to begin at.
    pub(super) began_ns: Option<i64>,
    /// A signal ends the runs in order; else it just ends the program.
    pub(super) ends_in_order: bool,
    /// Calibrations that may be used.
    pub(super) calibrations: Stock,
}

/// What a bench is to do.
#[derive(Debug)]
pub(super) struct Task {
    /// Its board, or several that make one table.
    pub(super) targets: Vec<Target>,
    pub(super) setup: RunSetup,
    /// The folder of a run to go on with, whose setup it then is.
    pub(super) resume: Option<PathBuf>,
}

/// What a session holds while it runs.
struct Held {
    benches: Vec<Bench>,
    wiring: Wiring,
    sleep: SleepWatch,
    guard: Guard,
    service: Service,
    keys: Keys,
    deeds: Deeds,
}

impl Held {
    /// Ends a bench's run, if it is logged. What is held for its ports is in its journal.
    fn end(&mut self, index: usize, why: &str) {
        self.wiring.let_go(index);
        if let Some(bench) = self.benches.get_mut(index) {
            bench.end(why);
        }
        self.deeds.tell(&self.benches);
    }

    /// Somebody did something on the page: the same as a key for that bench.
    fn deed(&mut self, deed: Deed, view: &mut View) {
        let is_it = |bench: &Bench| bench.run_name().as_ref() == Some(&deed.run);
        let index = self.benches.iter().position(is_it);
        let outcome = match (index, deeds::press(deed.act.clone())) {
            (None, _) => Err("This run is over."),
            (Some(index), Some(press)) => self.press(index, &press, view),
            (Some(index), None) => {
                self.warn_if_lit(index, view);
                self.end(index, ENDED_ON_PAGE);
                Ok("The run is ended.")
            }
        };
        // Whoever asked may have left.
        let _ = deed.answer.send(outcome);
    }

    fn press(&mut self, index: usize, press: &Press, view: &mut View) -> Outcome {
        let bench = self.benches.get_mut(index);
        bench.map_or(Err("There is no such bench."), |bench| {
            bench.press(index, press, view)
        })
    }

    /// A run that ends before its lamp is seen off leaves it lit.
    fn warn_if_lit(&self, index: usize, view: &mut View) {
        if self.benches.get(index).is_some_and(Bench::may_be_lit) {
            view.ended_lit(index);
        }
    }
}

impl Session {
    /// Logs all benches to their end, then derives each run and shows it.
    ///
    /// A bench that fails is told at once; the others are logged and finished all the same.
    pub(super) async fn run(
        &self,
        tasks: Vec<Task>,
        view: &mut View,
        deeds: Deeds,
        mut show: impl FnMut(&Path, &Derived),
    ) -> Ends {
        let (sender, mut events) = mpsc::channel(CHANNEL_DEPTH);
        let mut wiring = Wiring::default();
        let benches: Vec<Bench> = tasks
            .into_iter()
            .map(|task| Bench::start(self, task, &mut wiring, &sender))
            .collect();
        drop(sender);
        let mut held = Held {
            benches,
            wiring,
            sleep: SleepWatch::new(),
            guard: Guard::start(),
            service: Service::new(),
            keys: view.keys(),
            deeds,
        };
        let mut ends = Ends::default();
        let why = self.turn(&mut held, &mut events, view, &mut ends).await;
        for index in 0..held.benches.len() {
            held.warn_if_lit(index, view);
            held.end(index, why);
        }
        let benches = held.benches;
        // The loop is over: that it no longer turns is nothing to be told of.
        drop((held.guard, held.service, held.keys, held.deeds));
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
    pub(super) fn keep(&self, patient: bool) -> Keep {
        Keep {
            sync: self.sync,
            limits: self.limits,
            patient,
            // A run that pretends to begin at another time has no part in this computer's clock.
            boot: self.began_ns.is_none().then(boot_id).flatten(),
        }
    }

    fn event(&self, event: PortEvent, held: &mut Held, view: &mut View, ends: &mut Ends) {
        let sorted = held.wiring.sort(event, &mut held.benches, view);
        self.sorted(sorted, held, view, ends);
    }

    fn sorted(&self, sorted: Vec<Sorted>, held: &mut Held, view: &mut View, ends: &mut Ends) {
        for (place, t_ns, what) in sorted {
            let bench = held.benches.get(place.bench);
            if bench.is_some_and(|bench| bench.is_through_before(t_ns)) {
                held.end(place.bench, THROUGH);
            } else if let Some(bench) = held.benches.get_mut(place.bench) {
                bench.event(self, (place.bench, place.port), (t_ns, what), view, ends);
            }
        }
    }

    /// Looks at plans, silent boards, and ports whose board has not said its name.
    fn tick(&self, held: &mut Held, view: &mut View, ends: &mut Ends) {
        let sorted = held.wiring.tick(&mut held.benches, view);
        self.sorted(sorted, held, view, ends);
        for (index, bench) in held.benches.iter_mut().enumerate() {
            bench.tick(index, view, ends);
        }
        view.draw();
        held.deeds.tell(&held.benches);
        held.guard.turn();
        let benches = &held.benches;
        held.service.turn(
            benches.iter().all(Bench::is_healthy),
            benches.iter().all(Bench::is_under_way),
            || status(benches),
        );
    }

    /// Records what the clocks did.
    fn look_at_clocks(held: &mut Held, view: &mut View) {
        let Some(clocks) = both_ns() else { return };
        let slept_ns = held.sleep.look();
        for (index, bench) in held.benches.iter_mut().enumerate() {
            bench.look_at_clocks(index, clocks, slept_ns, view);
        }
    }

    fn signals(&self) -> Signals {
        if self.ends_in_order {
            Signals::new()
        } else {
            Signals::none()
        }
    }

    /// Runs until every bench is through, or a signal comes; says which.
    async fn turn(
        &self,
        held: &mut Held,
        events: &mut mpsc::Receiver<PortEvent>,
        view: &mut View,
        ends: &mut Ends,
    ) -> &'static str {
        let mut tick = interval(TICK);
        let mut clock = interval(CLOCK);
        let mut signals = self.signals();
        loop {
            tokio::select! {
                biased;
                name = signals.next() => {
                    // What was read from the ports before the signal belongs to the runs.
                    while let Ok(event) = events.try_recv() {
                        self.event(event, held, view, ends);
                    }
                    held.service.stopping();
                    ends.stopped = true;
                    return name;
                }
                event = events.recv() => match event {
                    Some(event) => self.event(event, held, view, ends),
                    None => return "no port is left",
                },
                (bench, press) = held.keys.next() => {
                    if press == Press::End {
                        held.service.stopping();
                        return "ended by a key";
                    }
                    for index in 0..held.benches.len() {
                        if bench.is_none_or(|bench| bench == index) {
                            let _ = held.press(index, &press, view);
                        }
                    }
                    view.draw();
                }
                deed = held.deeds.next() => {
                    held.deed(deed, view);
                    view.draw();
                }
                _ = tick.tick() => self.tick(held, view, ends),
                _ = clock.tick() => Self::look_at_clocks(held, view),
            }
            if events.is_empty() {
                for index in 0..held.benches.len() {
                    if held.benches.get(index).is_some_and(Bench::is_through) {
                        held.end(index, THROUGH);
                    }
                }
            }
            if held.benches.iter().all(Bench::is_over) {
                return THROUGH;
            }
        }
    }
}

/// What a service manager shows: `2 benches, 86400 rows`.
fn status(benches: &[Bench]) -> String {
    let rows: Vec<u64> = benches.iter().filter_map(Bench::rows).collect();
    let total: u64 = rows.iter().sum();
    let benches = match rows.len() {
        1 => "1 bench".to_owned(),
        n => format!("{n} benches"),
    };
    format!("logging {benches}, {}", counted(total, "row"))
}
