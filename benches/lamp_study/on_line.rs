//! How soon the lamp's edges are noticed while rows arrive, and how often one is seen that is not.

use std::time::Instant;

use duskmark::lamp::{Kind, LampOptions, Watcher};

use crate::base;
use crate::bench_model::{Bench, rng, run};

pub(crate) fn on_line(runs: u64) {
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
