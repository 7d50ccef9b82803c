//! How soon the lamp's edges are noticed while rows arrive: `cargo bench --bench on_line [-- RUNS]`.
//!
//! Beside the watcher runs the best there can be: a CUSUM test that is told everything but the
//! instant (every sample's curve as it would go on without the edge, the exact shape and size of
//! what the edge adds, the noise and its correlation). Page (1954) and Lorden (1971): no test with
//! the same rate of false alarms has a smaller worst-case delay. A second one must learn level, slope and
//! noise first. All data are invented. `-- RUNS lessons|false|days` measures a part.

#![expect(
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "a study prints its table, and stops where its own data are wrong"
)]

#[path = "../../tests/bench_model/mod.rs"]
mod bench_model;
mod cusum;
mod family;
#[path = "../reach/mod.rs"]
mod reach;

use std::time::Instant;

use bench_model::sun::sunlit;
use bench_model::{Bench, Record, rng, run};
use duskmark::lamp::{Kind, LampOptions, Watcher};
use family::Family;
use rand_pcg::Pcg64;

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
    let threshold = cusum::threshold();
    println!("CUSUM threshold for one false alarm in 1000 h: {threshold:.1} nats");
    println!(
        "family                on: ours  CUSUM learning   off: ours  CUSUM learning   ratios of means  missed  false"
    );
    for family in Family::ALL {
        compare(&family, runs, threshold);
    }
    if std::env::args().any(|a| a == "lessons") {
        return;
    }
    nothing_happens(runs);
    days(runs);
}

/// First seed, from an argument `from=N`: for runs on seeds that nothing was tuned on.
fn base() -> u64 {
    std::env::args()
        .find_map(|a| a.strip_prefix("from=")?.parse().ok())
        .unwrap_or(0)
}

fn verbose() -> bool {
    std::env::var("EACH").is_ok()
}

/// Edges that the watcher reports in a record, where a lamp is `planned` or not.
fn watched(record: &Record, planned: bool) -> Vec<duskmark::lamp::EdgeSeen> {
    let watcher = Watcher::new(record.channels.len(), &LampOptions::default());
    let mut watcher = if planned {
        watcher
    } else {
        watcher.unplanned()
    };
    let rows = record.t_s.iter().enumerate();
    rows.filter_map(|(i, &t)| {
        let row: Vec<f64> = record.channels.iter().map(|c| c[i]).collect();
        watcher.push(t, &row)
    })
    .collect()
}

#[derive(Default)]
struct Tally {
    ours: Vec<f64>,
    best: Vec<f64>,
    learning: Vec<f64>,
    missed: usize,
}

fn compare(family: &Family, runs: u64, threshold: f64) {
    let mut tallies = [Tally::default(), Tally::default()];
    let mut false_edges = 0;
    for seed in 0..runs {
        let record = family.lesson(base() + seed);
        let seen = watched(&record, true);
        let mut hits = [None, None];
        for edge in &seen {
            let (slot, truth) = match edge.edge {
                Kind::On => (0, record.on_s),
                Kind::Off => (1, record.off_s),
            };
            let delay = edge.noticed_s - truth;
            if (0.0..PATIENCE_S).contains(&delay) && hits[slot].is_none() {
                hits[slot] = Some(delay);
            } else {
                false_edges += 1;
                if verbose() {
                    println!("{seed} false {edge:?}");
                }
            }
        }
        for (slot, tally) in tallies.iter_mut().enumerate() {
            let told = family.best(base() + seed, slot);
            let best = cusum::delay_s(&told, threshold);
            let learning = cusum::learning_delay_s(&told, threshold);
            if let Some(delay) = hits[slot] {
                tally.ours.push(delay);
                tally.best.push(best);
                tally.learning.push(learning);
            } else {
                tally.missed += 1;
            }
            if verbose() {
                println!(
                    "{seed} {slot} ours {:?} best {best:.1} {learning:.1}",
                    hits[slot]
                );
            }
        }
    }
    print_row(family.name, runs, &mut tallies, false_edges);
}

/// The row of a family, from the tallies of its on-edges and off-edges.
fn print_row(name: &str, runs: u64, tallies: &mut [Tally; 2], false_edges: usize) {
    let [on, off] = tallies;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let both = |on: &[f64], off: &[f64]| mean(on) + mean(off);
    let ours = both(&on.ours, &off.ours);
    let ratio = ours / both(&on.best, &off.best);
    let learning = ours / both(&on.learning, &off.learning);
    println!(
        "{name:20} {:6.1} ({:5.1}) {:5.1} {:5.1}  {:6.1} ({:5.1}) {:5.1} {:5.1}   {ratio:6.2} {learning:6.2}   {} + {} of {runs}   {false_edges}",
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
    reach::told(
        &format!("delay of noticing while rows arrive, {name}"),
        format!("{ratio:.2} of the best test's"),
        "1.3",
        ratio <= 1.3,
    );
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
    /// What the watcher is told.
    planned: bool,
    /// Added to each seed.
    seed: u64,
    runs: u64,
}

impl Quiet<'_> {
    /// Counts edges in records where nothing happens, and tells how long a row took.
    fn count(&self, record: impl Fn(&mut Pcg64) -> Record) {
        let (mut hours, mut alarms, mut spent) = (0.0, 0, 0.0);
        for seed in 0..self.runs {
            let record = record(&mut rng(base() + self.seed + seed));
            hours += record.t_s.last().unwrap() / 3600.0;
            let begin = Instant::now();
            let seen = watched(&record, self.planned);
            spent += begin.elapsed().as_secs_f64();
            alarms += seen.len();
            if verbose() {
                for edge in seen {
                    println!("{seed} {edge:?}");
                }
            }
        }
        let planned = if self.planned {
            "planned"
        } else {
            "not planned"
        };
        println!(
            "on-line, {}, a lamp {planned}: {alarms} false edges in {hours:.0} h; {:.1} µs a row",
            self.name,
            1e6 * spent / (hours * 3600.0)
        );
        // A touch is no day and no steady room, and a start is counted in its day.
        if !self.name.contains("touched") && !self.name.contains("starts") {
            let name = format!("{}, a lamp {planned}", self.name);
            told_false(&name, alarms, hours);
        }
    }
}

/// A bench whose lamp never shines, for so long.
fn unlit(settle_s: f64, touch: bool, draw: &mut Pcg64) -> Bench {
    Bench {
        every_s: 1.0,
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
        for planned in [true, false] {
            let quiet = Quiet {
                name,
                planned,
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

/// False edges by a window without a lamp, clear or with clouds that come and go: whole days, and the
/// first four minutes of many records.
fn days(runs: u64) {
    for (name, cloudy) in [("clear days", 0.0), ("days with clouds", 1.0)] {
        let whole = Quiet {
            name,
            planned: false,
            seed: 5000,
            runs: runs.div_ceil(4),
        };
        whole.count(|draw| sunlit(&unlit(86_200.0, false, draw), cloudy, draw));
    }
    for (name, cloudy) in [("starts, clear", 0.0), ("starts with clouds", 1.0)] {
        for planned in [true, false] {
            let starts = Quiet {
                name,
                planned,
                seed: 10_000,
                runs: 10 * runs,
            };
            starts.count(|draw| sunlit(&unlit(40.0, false, draw), cloudy, draw));
        }
    }
}
