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

#[path = "../../tests/bench_model/mod.rs"]
mod bench_model;
mod large;
mod on_line;

use std::time::Instant;

use bench_model::{Bench, Record, rng, run};
use duskmark::lamp::{Kind, LampOptions, find_edges};
use large::large;
use on_line::on_line;
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
