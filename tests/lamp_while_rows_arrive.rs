//! Edges noticed while rows arrive, from the outside of the library (all data invented).
//!
//! `cargo bench --bench on_line` prints the numbers themselves.
#![allow(
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

#[path = "bench_model/mod.rs"]
mod bench_model;

use bench_model::sun::sunlit;
use bench_model::virtual_bench::{NOISE_DEGC, virtual_lesson};
use bench_model::{Bench, Record, rng, run};
use duskmark::lamp::{EdgeSeen, Kind, LampOptions, Watcher};

fn watched(record: &Record) -> Vec<EdgeSeen> {
    told(
        Watcher::new(record.channels.len(), &LampOptions::default()),
        record,
    )
}

/// The same where nobody plans to switch a lamp.
fn watched_unplanned(record: &Record) -> Vec<EdgeSeen> {
    let watcher = Watcher::new(record.channels.len(), &LampOptions::default());
    told(watcher.unplanned(), record)
}

fn told(mut watcher: Watcher, record: &Record) -> Vec<EdgeSeen> {
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
        let record = sunlit(&bench, cloudy, &mut draw);
        let seen = watched(&record);
        assert!(seen.is_empty(), "{seed}: {seen:?}");
    }
}

/// Starts under clouds that pass for a lamp where one is planned and nobody knows when.
const CLOUDED: [u64; 4] = [600_209, 600_284, 600_358, 600_508];

fn clouded(seed: u64) -> Record {
    let mut draw = rng(seed);
    let bench = Bench {
        every_s: 1.0,
        power: 0.0,
        settle_s: 1800.0,
        heat_s: 50.0,
        cool_s: 50.0,
        touch: false,
        ..Bench::lesson(&mut draw)
    };
    sunlit(&bench, 1.0, &mut draw)
}

#[test]
fn a_record_that_begins_under_clouds_and_plans_no_lamp_has_no_edge() {
    for seed in CLOUDED {
        let record = clouded(seed);
        let seen = watched_unplanned(&record);
        assert!(seen.is_empty(), "{seed}: {seen:?}");
        assert!(!watched(&record).is_empty(), "{seed} shows nothing");
    }
}

/// A lamp that nobody planned is noticed all the same.
#[test]
fn an_unplanned_lamp_is_noticed() {
    for seed in 0..8 {
        let record = virtual_lesson(seed, 240.0, 2, NOISE_DEGC);
        let seen = watched_unplanned(&record);
        let kinds: Vec<Kind> = seen.iter().map(|e| e.edge).collect();
        assert_eq!(kinds, [Kind::On, Kind::Off], "{seed}: {seen:?}");
        assert!(seen[0].noticed_s < record.on_s + 25.0, "{seed}: {seen:?}");
    }
}

/// Off-edges whose evidence gathers slowly: weak lamps, much noise.
#[test]
fn a_weak_lamp_that_burns_is_seen_to_go_off() {
    for seed in [130_039, 130_115, 130_136, 130_191] {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 1.0,
            gap: false,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let near = |e: &EdgeSeen| {
            e.edge == Kind::Off && (0.0..60.0).contains(&(e.noticed_s - record.off_s))
        };
        let seen = watched(&record);
        assert!(seen.iter().any(near), "{seed}: {seen:?}");
    }
}

/// Lessons in which, at four rows a second, a spike among the first rows (two) and a touch of one sample, which looked
/// like a ramp from one instant only, once passed for a lamp.
#[test]
fn early_spikes_and_touches_are_no_lamp() {
    for seed in [60_402, 130_196, 60_485] {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 0.25,
            gap: false,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let soon = |e: &EdgeSeen| {
            let truth_s = match e.edge {
                Kind::On => record.on_s,
                Kind::Off => record.off_s,
            };
            (0.0..60.0).contains(&(e.noticed_s - truth_s))
        };
        let seen = watched(&record);
        assert!(seen.len() == 2 && seen.iter().all(soon), "{seed}: {seen:?}");
    }
}

/// Clear days with a lesson, in which the heating curve's first bend once passed for a lamp that goes off.
#[test]
fn a_curve_that_flattens_after_hours_at_rest_is_no_edge() {
    for seed in [135_048, 965_010] {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 1.0,
            settle_s: 65_000.0,
            heat_s: 1200.0,
            cool_s: 20_000.0,
            touch: false,
            ..Bench::lesson(&mut draw)
        };
        let record = sunlit(&bench, 0.0, &mut draw);
        let early = |e: &EdgeSeen| e.edge == Kind::Off && e.noticed_s < record.off_s;
        let seen = watched(&record);
        assert!(!seen.iter().any(early), "{seed}: {seen:?}");
        assert!(!seen.is_empty(), "{seed}");
    }
}

/// The same after hours in a steady room: the slope that the filters had at first made much of little.
#[test]
fn a_curve_that_rises_evenly_after_hours_at_rest_is_no_edge() {
    let mut draw = rng(985_098);
    let bench = Bench {
        every_s: 1.0,
        settle_s: 9000.0,
        gap: false,
        touch: false,
        spikes: 0.0,
        ..Bench::lesson(&mut draw)
    };
    let seen = watched(&run(&bench, &mut draw));
    let kinds: Vec<Kind> = seen.iter().map(|e| e.edge).collect();
    assert_eq!(kinds, [Kind::On, Kind::Off], "{seen:?}");
    assert!(seen[1].noticed_s > 9600.0, "{seen:?}");
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
        let record = sunlit(&bench, 1.0, &mut draw);
        let near = |e: &EdgeSeen| (0.0..60.0).contains(&(e.noticed_s - record.on_s));
        soon += usize::from(watched(&record).iter().any(near));
    }
    assert!(soon >= 2, "{soon} of 4");
}

/// The record as a slower board reads it, or one with fewer probes.
fn thinned(record: &Record, every: usize, channels: usize) -> Record {
    let each = |values: &Vec<f64>| values.iter().step_by(every).copied().collect();
    Record {
        t_s: each(&record.t_s),
        channels: record.channels.iter().take(channels).map(each).collect(),
        ..record.clone()
    }
}

#[test]
fn both_edges_of_the_virtual_benches_are_noticed_after_any_settling() {
    for seed in 0..24 {
        let settle_s = [30.0, 45.0, 60.0, 90.0, 120.0, 240.0][seed as usize % 6];
        let whole = virtual_lesson(seed, settle_s, 2, NOISE_DEGC);
        for (every, channels) in [(1, 2), (4, 2), (4, 1)] {
            let record = thinned(&whole, every, channels);
            let told = format!("{seed} after {settle_s} s, {channels} channels, every {every}");
            let seen = watched(&record);
            let kinds: Vec<Kind> = seen.iter().map(|e| e.edge).collect();
            assert_eq!(kinds, [Kind::On, Kind::Off], "{told}: {seen:?}");
            for (edge, truth) in seen.iter().zip([record.on_s, record.off_s]) {
                let delay = edge.noticed_s - truth;
                assert!((0.0..25.0).contains(&delay), "{told}: {delay}");
            }
        }
    }
}

/// Coarse readings of a quiet channel stand still until the lamp is on.
#[test]
fn readings_that_have_never_changed_are_not_deaf() {
    let truth = |t_s: f64| 21.43 + 0.03 * (t_s - 90.0).max(0.0);
    let tenths = |t_s: f64| (truth(t_s) * 10.0).round() / 10.0;
    let t_s: Vec<f64> = (0..150).map(f64::from).collect();
    let channel: Vec<f64> = t_s.iter().map(|t| tenths(*t)).collect();
    let record = Record {
        channels: vec![channel.clone(), channel],
        t_s,
        ..Record::default()
    };
    let seen = watched(&record);
    assert_eq!(seen.len(), 1, "{seen:?}");
    assert_eq!(seen[0].edge, Kind::On);
    assert!(seen[0].noticed_s < 110.0, "{seen:?}");
}

/// The watcher with cues, as a run tells them: told before each row what is to come.
fn watched_cued(record: &Record, cue_s: [f64; 2]) -> Vec<EdgeSeen> {
    let mut watcher = Watcher::new(record.channels.len(), &LampOptions::default());
    let mut seen: Vec<EdgeSeen> = Vec::new();
    for (i, &t_s) in record.t_s.iter().enumerate() {
        match seen.len() {
            0 if t_s < cue_s[0] => watcher.expect(Kind::On, f64::INFINITY),
            0 => watcher.expect(Kind::On, cue_s[0]),
            1 => watcher.expect(Kind::Off, cue_s[1]),
            _ => watcher.expect_none(),
        }
        let row: Vec<f64> = record.channels.iter().map(|c| c[i]).collect();
        seen.extend(watcher.push(t_s, &row));
    }
    seen
}

fn delays_s(record: &Record, seen: &[EdgeSeen]) -> Option<[f64; 2]> {
    match seen {
        [on, off] if (on.edge, off.edge) == (Kind::On, Kind::Off) => {
            Some([on.noticed_s - record.on_s, off.noticed_s - record.off_s])
        }
        _ => None,
    }
}

/// Whoever is told that an edge is due needs less to see it, and never sees it later for that.
#[test]
fn a_cue_makes_edges_be_noticed_sooner() {
    let (mut sooner, mut both) = (0.0, 0);
    for seed in 240_000..240_012 {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 1.0,
            settle_s: 40.0,
            touch: false,
            gap: false,
            spikes: 0.0,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let cue_s = [record.on_s - 8.0, record.off_s - 8.0];
        let plain = delays_s(&record, &watched(&record));
        let cued = delays_s(&record, &watched_cued(&record, cue_s));
        assert!(cued.is_some() || plain.is_none(), "{seed}: lost by its cue");
        if let (Some(plain), Some(cued)) = (plain, cued) {
            sooner += plain[0] + plain[1] - cued[0] - cued[1];
            both += 1;
        }
    }
    assert!(both >= 8, "{both} of 12");
    assert!(sooner >= 1.2 * f64::from(both), "{sooner} s in {both}");
}

/// Before its cue what begins under clouds is no lamp; a lamp switched before its cue is seen all the same.
#[test]
fn before_its_cue_a_lamp_must_show_more() {
    for seed in CLOUDED {
        let record = clouded(seed);
        assert!(!watched(&record).is_empty(), "{seed}: these take nobody in");
        let seen = watched_cued(&record, [f64::INFINITY; 2]);
        assert!(seen.is_empty(), "{seed}: {seen:?}");
    }
    for seed in 0..8 {
        let record = virtual_lesson(seed, 120.0, 2, NOISE_DEGC);
        let seen = watched_cued(&record, [f64::INFINITY; 2]);
        let delays = delays_s(&record, &seen);
        let soon = |d: &f64| (0.0..30.0).contains(d);
        assert!(
            delays.is_some_and(|d| d.iter().all(soon)),
            "{seed}: {seen:?}"
        );
    }
}
