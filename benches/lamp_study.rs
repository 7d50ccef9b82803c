//! How well the lamp's edges are found: `cargo bench --bench lamp_study [-- RUNS]`.
//!
//! Prints one line per family of simulated benches: median and 95th percentile of the error of
//! the off-edge, gross errors (no such edge, or more than 60 s off), coverage of the stated 95 %
//! interval, wrong numbers of edges, time per run. All data are invented.

#![expect(
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "a study prints its table, and stops where its own data are wrong"
)]

#[path = "../tests/bench_model/mod.rs"]
mod bench_model;

use std::fmt::Write;
use std::time::Instant;

use bench_model::{Bench, Record, rng, run};
use duskmark::lamp::{Kind, LampOptions, Watcher, find_edges};
use rand_pcg::Pcg64;

fn main() {
    let runs = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(200);
    if std::env::args().any(|a| a == "large") {
        large();
        return;
    }
    if std::env::args().any(|a| a == "on-line") {
        on_line(runs);
        return;
    }
    println!(
        "family                 median/s   95 %/s  gross  cover  count  share  half/s   ms/run"
    );
    let free = LampOptions::default();
    off_line("lesson, lags open", runs, &free, |rng| {
        run(&Bench::lesson(rng), rng)
    });
    off_line("lesson, minute rows", runs, &free, |rng| {
        let bench = Bench {
            every_s: 60.0,
            spikes: 0.0,
            gap: false,
            touch: false,
            ..Bench::lesson(rng)
        };
        run(&bench, rng)
    });
    off_line("hand-timed, 3 min", runs, &free, |rng| {
        let bench = Bench {
            every_s: 180.0,
            spikes: 0.0,
            gap: false,
            touch: false,
            step_degc: 0.1,
            settle_s: 400.0,
            heat_s: 1100.0,
            cool_s: 1100.0,
            ..Bench::lesson(rng)
        };
        run(&bench, rng)
    });
    let none = LampOptions::no_lags();
    off_line("clean, lags none", runs, &none, |rng| {
        run(&Bench::clean(), rng)
    });
    off_line(
        "exact Newton exchange",
        runs,
        &none,
        bench_model::newton::record,
    );
    println!(
        "{:>20} Cramér–Rao bound for it: {:.3} s",
        "",
        bench_model::newton::bound_s()
    );
    nothing("steady or drifting", runs, |rng| {
        let bench = Bench {
            power: 0.0,
            ..Bench::lesson(rng)
        };
        run(&bench, rng)
    });
    on_line(runs);
}

/// First seed, from an argument `from=N`: for runs on seeds that nothing was tuned on.
fn base() -> u64 {
    std::env::args()
        .find_map(|a| a.strip_prefix("from=")?.parse().ok())
        .unwrap_or(0)
}

fn off_line(name: &str, runs: u64, options: &LampOptions, make: impl Fn(&mut Pcg64) -> Record) {
    let mut errors = Vec::new();
    let (mut gross, mut covered, mut counts) = (0, 0, 0);
    let (mut share, mut half, mut spent) = (0.0, 0.0, 0.0);
    for seed in 0..runs {
        let record = make(&mut rng(base() + seed));
        let begin = Instant::now();
        let fit = find_edges(&record.t_s, &record.columns(), options);
        spent += begin.elapsed().as_secs_f64();
        counts += u64::from(fit.edges.len() != 2);
        let near = |e: &&duskmark::lamp::Edge| e.edge == Kind::Off;
        let off = fit.edges.iter().filter(near).min_by(|a, b| {
            (a.at_s - record.off_s)
                .abs()
                .total_cmp(&(b.at_s - record.off_s).abs())
        });
        let error = off.map_or(f64::INFINITY, |e| (e.at_s - record.off_s).abs());
        if std::env::var("EACH").is_ok() {
            println!(
                "{seed} {error:.2} {:?} true {:.1} {:.1}",
                fit.edges
                    .iter()
                    .map(|e| (e.at_s.round(), e.low_s.round(), e.high_s.round()))
                    .collect::<Vec<_>>(),
                record.on_s,
                record.off_s
            );
        }
        gross += u64::from(error > 60.0);
        covered +=
            u64::from(off.is_some_and(|e| e.low_s <= record.off_s && record.off_s <= e.high_s));
        half += off.map_or(0.0, |e| 0.5 * (e.high_s - e.low_s));
        share += fit.lag_share.last().copied().unwrap_or(0.0);
        errors.push(error);
    }
    errors.sort_by(f64::total_cmp);
    let n = runs as f64;
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / n).sqrt();
    println!(
        "{name:20} {:10.2} {:8.2} {gross:6} {:5.1}% {counts:6} {:6.2} {:7.2} {:8.1}   rms {rms:.3}",
        errors[errors.len() / 2],
        errors[errors.len() * 95 / 100],
        100.0 * covered as f64 / n,
        share / n,
        half / n,
        1e3 * spent / n,
    );
}

fn nothing(name: &str, runs: u64, make: impl Fn(&mut Pcg64) -> Record) {
    let mut found = 0;
    for seed in 0..runs {
        let record = make(&mut rng(base() + seed));
        let fit = find_edges(&record.t_s, &record.columns(), &LampOptions::default());
        found += u64::from(!fit.edges.is_empty());
        if std::env::var("EACH").is_ok() && !fit.edges.is_empty() {
            println!(
                "{seed} {:?}",
                fit.edges
                    .iter()
                    .map(|e| (e.at_s.round(), e.low_s.round(), e.high_s.round()))
                    .collect::<Vec<_>>()
            );
        }
    }
    println!("{name:20} records with a false edge: {found} of {runs}");
}

fn on_line(runs: u64) {
    let mut delays = Vec::new();
    let (mut missed, mut false_edges) = (0, 0);
    for seed in 0..runs {
        let mut draw = rng(base() + seed);
        let bench = Bench {
            every_s: 1.0,
            gap: false,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let mut watcher = Watcher::new(2, &LampOptions::default());
        let mut hits = [None, None];
        for (i, &t) in record.t_s.iter().enumerate() {
            let row: Vec<f64> = record.channels.iter().map(|c| c[i]).collect();
            if let Some(seen) = watcher.push(t, &row) {
                let (slot, truth) = match seen.edge {
                    Kind::On => (0, record.on_s),
                    Kind::Off => (1, record.off_s),
                };
                let delay = seen.noticed_s - truth;
                if (0.0..120.0).contains(&delay) && hits[slot].is_none() {
                    hits[slot] = Some(delay);
                } else {
                    false_edges += 1;
                    if std::env::var("EACH").is_ok() {
                        println!(
                            "{seed} false {:?} at {:.0} noticed {:.0}, true {:.0} {:.0}",
                            seen.edge, seen.at_s, seen.noticed_s, record.on_s, record.off_s
                        );
                    }
                }
            }
        }
        for hit in hits {
            match hit {
                Some(delay) => delays.push(delay),
                None => missed += 1,
            }
        }
    }
    delays.sort_by(f64::total_cmp);
    println!(
        "on-line, lessons      delay median {:.1} s, 95 % {:.1} s; missed {missed} of {}, false {false_edges} in {runs} lessons",
        delays[delays.len() / 2],
        delays[delays.len() * 95 / 100],
        2 * runs
    );
    for (name, touch) in [("steady or drifting", false), ("the same, touched", true)] {
        let (mut hours, mut alarms, mut spent) = (0.0, 0, 0.0);
        for seed in 0..runs {
            let mut draw = rng(base() + 1000 + seed);
            let bench = Bench {
                every_s: 1.0,
                power: 0.0,
                settle_s: 18_000.0,
                heat_s: 100.0,
                cool_s: 100.0,
                air_drift_degc: 3.0,
                touch,
                ..Bench::lesson(&mut draw)
            };
            let record = run(&bench, &mut draw);
            hours += record.t_s.last().unwrap() / 3600.0;
            let mut watcher = Watcher::new(2, &LampOptions::default());
            let begin = Instant::now();
            for (i, &t) in record.t_s.iter().enumerate() {
                alarms += u64::from(
                    watcher
                        .push(t, &[record.channels[0][i], record.channels[1][i]])
                        .is_some(),
                );
            }
            spent += begin.elapsed().as_secs_f64();
        }
        println!(
            "on-line, {name}: {alarms} false edges in {hours:.0} h; {:.1} µs a row",
            1e6 * spent / (hours * 3600.0)
        );
    }
}

/// Time to read and to analyse a fortnight-and-more of rows, and ten hours at 10 Hz.
fn large() {
    for (name, every_s, rows) in [
        ("30 days at 1 Hz", 1.0, 2_592_000),
        ("10 h at 10 Hz", 0.1, 360_000),
    ] {
        let mut draw = rng(1);
        let mut text = String::from("elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n");
        let day = 86_400.0 / std::f64::consts::TAU;
        for i in 0..rows {
            let t = f64::from(i) * every_s;
            let wave = (t / day).sin();
            let a = 18.0 + 6.0 * wave + 0.05 * bench_model::normal(&mut draw);
            let b = 17.0 + 4.0 * wave + 0.05 * bench_model::normal(&mut draw);
            let _ = writeln!(
                text,
                "{t:.3},2026-03-14T10:32:05.000Z,{a:.3},{b:.3},settling,"
            );
        }
        let begin = Instant::now();
        let (series, _) = duskmark::analysis::table(text.as_bytes()).unwrap();
        let read = begin.elapsed().as_secs_f64();
        let request = duskmark::analysis::Request {
            marks_s: Some(3600.0),
            ..Default::default()
        };
        let summary = duskmark::analysis::analyse(&series, &request);
        println!(
            "{name}: {:.0} MB read in {read:.2} s, analysed in {:.2} s, {} edges, {} marks",
            text.len() as f64 / 1e6,
            begin.elapsed().as_secs_f64() - read,
            summary.lamp.len(),
            summary.marks.len()
        );
    }
}
