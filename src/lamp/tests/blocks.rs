//! Rows in blocks, and edges told within one.

use super::super::trace::Trace;
use super::super::track::OLDEST;
use super::super::watch::{EdgeSeen, Watcher};
use super::super::{Kind, LampOptions};
use super::{near, newton, normal, rng};

const ON_S: f64 = 120.0;
const OFF_S: f64 = 420.0;

/// What is told of two samples under a lamp whose rows come every `every_s` seconds, each up to `jitter_s` late.
fn told(seed: u64, every_s: f64, jitter_s: f64) -> Vec<EdgeSeen> {
    let mut draw = rng(seed);
    let mut watcher = Watcher::new(2, &LampOptions::default());
    let mut seen = Vec::new();
    for i in 0..(600.0 / every_s) as usize {
        let late_s = jitter_s * (0.5 * normal(&mut draw)).tanh().abs();
        let t_s = every_s * i as f64 + late_s;
        let degc = [(14.0, 350.0), (11.0, 300.0)].map(|(rise, tau_s)| {
            let lamp = newton(t_s - ON_S - 3.0, tau_s) - newton(t_s - OFF_S - 3.0, tau_s);
            21.0 + rise * lamp + 0.01 * normal(&mut draw)
        });
        seen.extend(watcher.push(t_s, &degc));
    }
    let kinds: Vec<Kind> = seen.iter().map(|e| e.edge).collect();
    assert_eq!(kinds, [Kind::On, Kind::Off], "{seed} {every_s}: {seen:?}");
    for (edge, truth_s) in seen.iter().zip([ON_S, OFF_S]) {
        near(edge.at_s, truth_s, 8.0);
    }
    seen
}

/// Mean delay of ten lessons' edges.
fn delay_s(every_s: f64, jitter_s: f64) -> f64 {
    let delays = |seed| {
        let seen = told(seed, every_s, jitter_s);
        seen[0].noticed_s - ON_S + seen[1].noticed_s - OFF_S
    };
    (301..311).map(delays).sum::<f64>() / 20.0
}

#[test]
fn an_edge_is_told_with_the_row_that_shows_it_and_not_with_its_block() {
    // Two rows in a block: its end is an odd number of rows from the first, or an even one.
    let rows = (301..311).flat_map(|seed| told(seed, 0.25, 0.0));
    let odd = rows.map(|edge| (edge.noticed_s / 0.25).round() as u32 % 2);
    let odd: u32 = odd.sum();
    assert!((4..=16).contains(&odd), "{odd} of 20");
}

#[test]
fn where_rows_fall_in_their_blocks_delays_nothing() {
    let even = delay_s(0.25, 0.0);
    // A clock that goes wrong carries the rows through the blocks in some minutes.
    for (every_s, jitter_s) in [(0.2507, 0.0), (0.2491, 0.004), (0.25, 0.03)] {
        near(delay_s(every_s, jitter_s), even, 0.3);
    }
    assert!(delay_s(0.1, 0.01) < even);
}

/// Blocks of four readings of a line that goes up by so much a block, and some readings of the next.
fn open_block(seed: u64, rows: usize, (slope, sd_degc): (f64, f64)) -> Trace {
    let mut draw = rng(seed);
    let mut trace = Trace::default();
    for i in 0..4 * 150 + rows {
        trace.take(21.0 + slope * i as f64 / 4.0 + sd_degc * normal(&mut draw));
        if i % 4 == 3 {
            trace.close_block(0.5);
        }
    }
    trace.close_open_block(4.0, 0.5);
    assert_eq!(trace.places(), 151);
    trace
}

/// As [`super::track`] has it for whole blocks: mean 1, and above 3.84 in 5 of 100 cases.
#[test]
fn a_block_that_is_open_is_worth_what_its_rows_are() {
    let shape: Vec<f64> = (0..=OLDEST).map(|u| u as f64).collect();
    for rows in [1, 2, 3] {
        let evidence = |seed| open_block(seed, rows, (0.0, 0.02)).ramp(3, &shape);
        let sizes: Vec<f64> = (400..600)
            .map(|seed| evidence(seed).unwrap().evidence.abs())
            .collect();
        let mean = sizes.iter().sum::<f64>() / 200.0;
        let above = sizes.iter().filter(|e| **e > 3.84).count();
        assert!((0.5..1.6).contains(&mean), "{rows}: {mean}");
        assert!(above <= 24, "{rows}: {above} of 200");
    }
}

#[test]
fn a_block_that_is_open_does_not_bend_a_line() {
    for rows in [1, 2, 3] {
        let trace = open_block(700, rows, (0.02, 5e-4));
        near(trace.slope(3), 0.02, 1.5e-3);
    }
}
