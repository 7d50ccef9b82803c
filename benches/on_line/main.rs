//! How soon the lamp's edges are noticed while rows arrive: `cargo bench --bench on_line [-- RUNS]`.
//!
//! Beside the watcher runs the best there can be: a CUSUM test that is told everything but the
//! instant (every sample's curve as it would go on without the edge, the exact shape and size of
//! what the edge adds, the noise and its correlation). Page (1954) and Lorden (1971): no test with
//! the same rate of false alarms has a smaller worst-case delay. A second one must learn level, slope and
//! noise first. Neither knows of a cue; the watcher runs without and with one. All data are invented.
//! `-- RUNS lessons|false|days|starts` measures a part, `only=virtual` the lessons with that in their name;
//! `ours` leaves out the best tests, which take most of the time; `often` has four rows a second where false edges are
//! looked for.

#![expect(
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "a study prints its table, and stops where its own data are wrong"
)]

#[path = "../../tests/bench_model/mod.rs"]
mod bench_model;
mod cue;
mod cusum;
mod family;
#[path = "../reach/mod.rs"]
mod reach;

use std::time::Instant;

use bench_model::sun::sunlit;
use bench_model::{Bench, Record, rng, run};
use cue::Plan;
use duskmark::lamp::{EdgeSeen, Kind};
use family::Family;
use rand_pcg::Pcg64;

/// Most people have followed a cue by then, in seconds.
const SOON_S: f64 = 30.0;

/// What a watcher can be told of a lamp that is never switched.
const PLANS: [(&str, Plan); 3] = [
    ("a lamp planned", Plan::SomeTime),
    ("its cue to come", Plan::UNTOLD),
    NONE_PLANNED,
];
const NONE_PLANNED: (&str, Plan) = ("not planned", Plan::None);

/// Longest delay after which an edge still counts as noticed, in seconds.
const PATIENCE_S: f64 = 120.0;

fn main() {
    let runs = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(200);
    if std::env::args().any(|a| a == "false") {
        return nothing_happens(runs);
    }
    if std::env::args().any(|a| a == "days") {
        return days(runs);
    }
    if std::env::args().any(|a| a == "starts") {
        return starts(runs);
    }
    let alone = std::env::args().any(|a| a == "ours");
    let threshold = if alone { f64::NAN } else { cusum::threshold() };
    println!("CUSUM threshold for one false alarm in 1000 h: {threshold:.1} nats");
    println!(
        "family                     on: ours  CUSUM learning   off: ours  CUSUM learning   ratios of means, of off  missed  false"
    );
    let best = |family: &Family, seed: u64, slot: usize| {
        if alone {
            return [f64::NAN; 2];
        }
        let told = family.best(seed, slot);
        [cusum::delay_s, cusum::learning_delay_s].map(|delay_s| delay_s(&told, threshold))
    };
    let only = std::env::args().find_map(|a| Some(a.strip_prefix("only=")?.to_owned()));
    let wanted = |f: &Family| only.as_ref().is_none_or(|only| f.name.contains(only));
    for family in Family::ALL.into_iter().filter(wanted) {
        compare(&family, runs, &best);
    }
    if std::env::args().any(|a| a == "lessons") {
        return;
    }
    nothing_happens(runs);
    days(runs);
    starts(runs);
}

/// First seed, from an argument `from=N`: for runs on seeds that nothing was tuned on.
fn base() -> u64 {
    std::env::args()
        .find_map(|a| a.strip_prefix("from=")?.parse().ok())
        .unwrap_or(0)
}

/// Time from row to row where false edges are looked for, in seconds.
fn every_s() -> f64 {
    let is_often = std::env::args().any(|a| a == "often");
    if is_often { 0.25 } else { 1.0 }
}

fn verbose() -> bool {
    std::env::var("EACH").is_ok()
}

#[derive(Default)]
struct Tally {
    ours: Vec<f64>,
    best: Vec<f64>,
    learning: Vec<f64>,
    missed: usize,
}

/// Delays of the edges in a record, on and off, and those reported that are none.
fn delays_s(record: &Record, seen: &[EdgeSeen]) -> ([Option<f64>; 2], Vec<EdgeSeen>) {
    let mut hits = [None, None];
    let mut none = Vec::new();
    for edge in seen {
        let (slot, truth) = match edge.edge {
            Kind::On => (0, record.on_s),
            Kind::Off => (1, record.off_s),
        };
        let delay = edge.noticed_s - truth;
        if (0.0..PATIENCE_S).contains(&delay) && hits[slot].is_none() {
            hits[slot] = Some(delay);
        } else {
            none.push(*edge);
        }
    }
    (hits, none)
}

/// A family's rows of the table: nobody knows when, people are told when, and the lamp is switched before they are.
fn compare(family: &Family, runs: u64, best: &impl Fn(&Family, u64, usize) -> [f64; 2]) {
    let names = ["", ", cued", ", before"];
    let mut tallies: [[Tally; 2]; 3] = Default::default();
    let mut false_edges = [0; 3];
    for seed in base()..base() + runs {
        let record = family.lesson(seed);
        let best = [0, 1].map(|slot| best(family, seed, slot));
        let plans = [Plan::SomeTime, Plan::of(&record, seed), Plan::UNTOLD];
        for (which, plan) in plans.into_iter().enumerate() {
            let (hits, none) = delays_s(&record, &plan.watched(&record));
            false_edges[which] += none.len();
            if verbose() {
                println!("{seed}{} {hits:?} {best:?} {none:?}", names[which]);
            }
            for slot in [0, 1] {
                let tally = &mut tallies[which][slot];
                if let Some(delay) = hits[slot] {
                    tally.ours.push(delay);
                    tally.best.push(best[slot][0]);
                    tally.learning.push(best[slot][1]);
                } else {
                    tally.missed += 1;
                }
            }
        }
    }
    for (which, tallies) in tallies.iter_mut().enumerate() {
        let name = format!("{}{}", family.name, names[which]);
        print_row(&name, runs, tallies, false_edges[which]);
    }
}

/// The row of a family, from the tallies of its on-edges and off-edges.
fn print_row(name: &str, runs: u64, tallies: &mut [Tally; 2], false_edges: usize) {
    let [on, off] = tallies;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let both = |on: &[f64], off: &[f64]| mean(on) + mean(off);
    let ours = both(&on.ours, &off.ours);
    let ratio = ours / both(&on.best, &off.best);
    let learning = ours / both(&on.learning, &off.learning);
    let of_off = mean(&off.ours) / mean(&off.best);
    println!(
        "{name:25} {:6.1} ({:5.1}) {:5.1} {:5.1}  {:6.1} ({:5.1}) {:5.1} {:5.1}   {ratio:6.2} {learning:6.2} {of_off:6.2}   {} + {} of {runs}   {false_edges}",
        part(&mut on.ours, 0.5),
        part(&mut on.ours, 0.95),
        part(&mut on.best, 0.5),
        part(&mut on.learning, 0.5),
        part(&mut off.ours, 0.5),
        part(&mut off.ours, 0.95),
        part(&mut off.best, 0.5),
        part(&mut off.learning, 0.5),
        on.missed,
        off.missed
    );
    if name.ends_with("before") || ratio.is_nan() {
        return;
    }
    for (edges, ratio) in [("lamp off", of_off), ("both edges", ratio)] {
        reach::told(
            &format!("delay of noticing while rows arrive, {edges}, {name}"),
            format!("{ratio:.2} of the best test's"),
            "1.3",
            ratio <= 1.3,
        );
    }
}

fn part(v: &mut [f64], share: f64) -> f64 {
    v.sort_by(f64::total_cmp);
    v.get((v.len() as f64 * share) as usize)
        .copied()
        .unwrap_or(f64::NAN)
}

fn told_false(name: &str, alarms: usize, hours: f64) {
    reach::told(
        &format!("false edges while rows arrive, {name}"),
        format!("{alarms} in {hours:.0} h"),
        "1 in 1000 h",
        alarms as f64 <= hours / 1000.0,
    );
}

/// What false edges are looked for in.
struct Quiet<'a> {
    name: &'a str,
    /// What the watcher is told, with its name.
    plan: (&'a str, Plan),
    /// Added to each seed.
    seed: u64,
    runs: u64,
}

impl Quiet<'_> {
    /// Counts edges in records where nothing happens, and tells how long a row took.
    fn count(&self, record: impl Fn(&mut Pcg64) -> Record) {
        let (mut hours, mut alarms, mut soon, mut spent) = (0.0, 0, 0, 0.0);
        let (told, plan) = self.plan;
        for seed in 0..self.runs {
            let record = record(&mut rng(base() + self.seed + seed));
            hours += record.t_s.last().unwrap() / 3600.0;
            let begin = Instant::now();
            let seen = plan.watched(&record);
            spent += begin.elapsed().as_secs_f64();
            alarms += seen.len();
            if let Plan::Cued([cue_s, _]) = plan {
                let late_s = |e: &EdgeSeen| e.noticed_s - cue_s;
                soon += seen.iter().filter(|e| late_s(e) < SOON_S).count();
            }
            if verbose() {
                for edge in seen {
                    println!("{seed} {edge:?}");
                }
            }
        }
        let of_cues = if plan == Plan::UNFOLLOWED {
            format!(
                ", {soon} of them within {SOON_S:.0} s after {} cues",
                self.runs
            )
        } else {
            String::new()
        };
        println!(
            "on-line, {}, {told}: {alarms} false edges in {hours:.0} h{of_cues}; {:.1} µs a row",
            self.name,
            1e6 * spent / (hours * 3600.0 / every_s())
        );
        // A touch is no day and no steady room, and a start is counted in its day.
        if !self.name.contains("touched") && !self.name.contains("starts") {
            let name = format!("{}, {told}", self.name);
            told_false(&name, alarms, hours);
        }
    }
}

/// A bench whose lamp never shines, for so long.
fn unlit(settle_s: f64, touch: bool, draw: &mut Pcg64) -> Bench {
    Bench {
        every_s: every_s(),
        power: 0.0,
        settle_s,
        heat_s: 100.0,
        cool_s: 100.0,
        touch,
        ..Bench::lesson(draw)
    }
}

/// False edges where the lamp stays as it is.
fn nothing_happens(runs: u64) {
    for (name, touch) in [("steady or drifting", false), ("the same, touched", true)] {
        for plan in PLANS {
            let quiet = Quiet {
                name,
                plan,
                seed: 1000,
                runs,
            };
            quiet.count(|draw| {
                let bench = Bench {
                    air_drift_degc: 3.0,
                    ..unlit(18_000.0, touch, draw)
                };
                run(&bench, draw)
            });
        }
    }
}

/// False edges by a window in whole days, clear or with clouds that come and go: without a lamp, and with a lesson.
fn days(runs: u64) {
    let days = runs.div_ceil(4);
    for (name, cloudy) in [("clear days", 0.0), ("days with clouds", 1.0)] {
        for plan in [PLANS[1], NONE_PLANNED] {
            let whole = Quiet {
                name,
                plan,
                seed: 5000,
                runs: days,
            };
            whole.count(|draw| sunlit(&unlit(86_200.0, false, draw), cloudy, draw));
        }
        lesson_in_a_day(name, cloudy, days);
    }
}

/// False edges in the first four minutes of many records by a window.
fn starts(runs: u64) {
    for (name, cloudy) in [("starts, clear", 0.0), ("starts with clouds", 1.0)] {
        for plan in PLANS
            .into_iter()
            .chain([("cued at 1 min", Plan::UNFOLLOWED)])
        {
            let starts = Quiet {
                name,
                plan,
                seed: 10_000,
                runs: 10 * runs,
            };
            starts.count(|draw| sunlit(&unlit(40.0, false, draw), cloudy, draw));
        }
    }
}

/// A lesson of twenty minutes some hours into a day by a window, with its cues.
fn lesson_in_a_day(name: &str, cloudy: f64, days: u64) {
    let (mut hours, mut noticed, mut false_edges) = (0.0, [Vec::new(), Vec::new()], 0);
    for seed in base() + 5000..base() + 5000 + days {
        let mut draw = rng(seed);
        let bench = Bench {
            power: 1.0,
            heat_s: 1200.0,
            cool_s: 20_000.0,
            ..unlit(65_000.0, false, &mut draw)
        };
        let record = sunlit(&bench, cloudy, &mut draw);
        hours += record.t_s.last().unwrap() / 3600.0;
        let (hits, none) = delays_s(&record, &Plan::of(&record, seed).watched(&record));
        for (delays, hit) in noticed.iter_mut().zip(hits) {
            delays.extend(hit);
        }
        false_edges += none.len();
        if verbose() && !none.is_empty() {
            println!(
                "{seed} {none:?}, lamp {:.0} {:.0}",
                record.on_s, record.off_s
            );
        }
    }
    let [on, off] = &mut noticed;
    println!(
        "on-line, {name}, a lesson with cues: {false_edges} false edges in {hours:.0} h; noticed {} + {} of {days}, \
         after {:.1} and {:.1} s",
        on.len(),
        off.len(),
        part(on, 0.5),
        part(off, 0.5)
    );
    told_false(&format!("{name}, a lesson with cues"), false_edges, hours);
}
