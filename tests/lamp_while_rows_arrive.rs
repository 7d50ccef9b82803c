//! Edges noticed while rows arrive, from the outside of the library (all data invented).
//!
//! `cargo bench --bench on_line` prints the numbers themselves.

#[path = "bench_model/mod.rs"]
mod bench_model;

use bench_model::sun::sunlit;
use bench_model::{Bench, Record, rng, run};
use duskmark::lamp::{EdgeSeen, LampOptions, Watcher};

fn watched(record: &Record) -> Vec<EdgeSeen> {
    let mut watcher = Watcher::new(record.channels.len(), &LampOptions::default());
    let row = |i: usize| -> Vec<f64> { record.channels.iter().map(|c| c[i]).collect() };
    let rows = record.t_s.iter().enumerate();
    rows.filter_map(|(i, &t)| watcher.push(t, &row(i)))
        .collect()
}

#[test]
fn the_sun_and_its_clouds_are_no_lamp() {
    for (seed, cloudy) in [(7001, 0.0), (7002, 1.0), (7003, 1.0)] {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 1.0,
            power: 0.0,
            settle_s: 60_000.0,
            touch: false,
            gap: false,
            ..Bench::lesson(&mut draw)
        };
        let mut record = run(&bench, &mut draw);
        sunlit(&mut record, cloudy, &mut draw);
        let seen = watched(&record);
        assert!(seen.is_empty(), "{seed}: {seen:?}");
    }
}

#[test]
fn a_lesson_is_noticed_soon_after_a_day_of_clouds() {
    let mut soon = 0;
    for seed in 7100..7104 {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 1.0,
            settle_s: 40_000.0,
            touch: false,
            gap: false,
            ..Bench::lesson(&mut draw)
        };
        let mut record = run(&bench, &mut draw);
        sunlit(&mut record, 1.0, &mut draw);
        let near = |e: &EdgeSeen| (0.0..60.0).contains(&(e.noticed_s - record.on_s));
        soon += usize::from(watched(&record).iter().any(near));
    }
    assert!(soon >= 2, "{soon} of 4");
}
