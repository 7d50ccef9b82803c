//! One channel's newest blocks: spikes, touches, gaps.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::trace::{BRIDGE, Trace};
use super::super::track::OLDEST;
use super::{near, normal, rng};

const SD_DEGC: f64 = 0.02;

/// A channel of which each block holds one reading.
struct Fed {
    trace: Trace,
    draw: rand_pcg::Pcg64,
}

impl Fed {
    fn new(seed: u64) -> Self {
        Self {
            trace: Trace::default(),
            draw: rng(seed),
        }
    }

    fn block(&mut self, degc: f64) {
        self.trace.take(degc + SD_DEGC * normal(&mut self.draw));
        self.trace.close_block(1.0);
    }

    fn blocks(mut self, count: usize, way: impl Fn(usize) -> f64) -> Self {
        (0..count).for_each(|i| self.block(way(i)));
        self
    }
}

fn shape() -> Vec<f64> {
    (0..=OLDEST).map(|u| u as f64).collect()
}

#[test]
fn the_slope_is_that_of_the_least_squares_line() {
    let mut trace = Trace::default();
    for i in 0..80 {
        trace.take(20.0 + 0.1 * f64::from(i));
        trace.take(20.0 + 0.1 * f64::from(i) + 0.02);
        trace.close_block(1.0);
    }
    near(trace.slope(10), 0.1, 1e-9);
    near(trace.slope(1000), 0.1, 1e-9);
    assert_eq!(trace.slope(1), 0.0);
    // y = i² at 0, 1, 2, 3: slope 3.
    let mut curved = Trace::default();
    for i in 0..4 {
        curved.take(f64::from(i * i));
        curved.close_block(1.0);
    }
    near(curved.slope(4), 3.0, 1e-9);
    near(curved.slope(2), 5.0, 1e-9);
}

#[test]
fn the_smallest_change_is_the_step_and_what_is_no_temperature_is_left_out() {
    let mut trace = Trace::default();
    for value in [20.0, 20.5, 20.5, f64::NAN, 1e9, 20.4, -1e9, 21.0] {
        trace.take(value);
    }
    near(trace.step_degc, 0.1, 1e-9);
    trace.close_block(1.0);
    trace.restart();
    near(trace.step_degc, 0.1, 1e-9);
    assert_eq!(trace.places(), 0);
}

#[test]
fn a_spike_of_one_block_leaves_no_trace() {
    for by in [8.0, -8.0, 0.5] {
        let plain = Fed::new(3).blocks(220, |_| 21.0).trace;
        let spiked = Fed::new(3)
            .blocks(220, |i| if i == 205 { 21.0 + by } else { 21.0 })
            .trace;
        let (a, b) = (
            plain.ramp(18, &shape()).unwrap(),
            spiked.ramp(18, &shape()).unwrap(),
        );
        near(a.evidence, b.evidence, 4.0);
        near(plain.slope(20), spiked.slope(20), 2e-3);
        assert!(!spiked.is_unquiet(), "{by}");
    }
}

/// Noise that goes on for some ten blocks, of which one is a spike.
fn wandering(seed: u64, spike: Option<(usize, f64)>) -> Trace {
    let mut draw = rng(seed);
    let (mut wander, mut trace) = (0.0, Trace::default());
    for i in 0..90 {
        wander = 0.9 * wander + SD_DEGC * normal(&mut draw);
        let by = spike.filter(|(at, _)| *at == i).map_or(0.0, |(_, by)| by);
        trace.take(21.0 + wander + by);
        trace.close_block(1.0);
    }
    trace
}

/// There is no scatter yet to tell it by; yet the filters must not take it for the noise's way.
#[test]
fn a_spike_in_the_first_blocks_leaves_no_trace() {
    for seed in 30..34 {
        let plain = wandering(seed, None).ramp(18, &shape()).unwrap();
        for at in 0..8 {
            for by in [2.0, -20.0] {
                let spiked = wandering(seed, Some((at, by)));
                let ramp = spiked.ramp(18, &shape()).unwrap();
                near(
                    ramp.evidence,
                    plain.evidence,
                    1.5 + 0.3 * plain.evidence.abs(),
                );
            }
        }
    }
}

#[test]
fn a_level_that_stays_is_taken_up_as_no_spike() {
    let moved = Fed::new(4)
        .blocks(260, |i| if i >= 200 { 24.0 } else { 21.0 })
        .trace;
    near(moved.slope(40), 0.0, 1e-3);
    assert!(moved.is_unquiet());
}

#[test]
fn a_touch_keeps_the_channel_quiet_for_a_while_and_a_ramp_does_not() {
    let touch = |i: usize| {
        if i >= 200 {
            21.0 + 1.5 * (-(i as f64 - 200.0) / 30.0).exp()
        } else {
            21.0
        }
    };
    let touched = |count| Fed::new(5).blocks(count, touch).trace.is_unquiet();
    assert!(!touched(200));
    assert!(touched(205) && touched(270));
    assert!(!touched(300));
    let ramp = |i: usize| 21.0 + 0.05 * (i as f64 - 200.0).max(0.0);
    for count in (200..280).step_by(4) {
        assert!(
            !Fed::new(5).blocks(count, ramp).trace.is_unquiet(),
            "{count}"
        );
    }
    let mut forgotten = Fed::new(5).blocks(210, touch).trace;
    forgotten.restart();
    assert!(!forgotten.is_unquiet());
}

#[test]
fn what_jumps_is_told_from_what_sets_in() {
    for seed in 0..6 {
        let jump = |i: usize| if i >= 200 { 21.6 } else { 21.0 };
        let fades = |i: usize| {
            if i >= 200 {
                21.0 + 0.9 * (-(i as f64 - 200.0) / 15.0).exp()
            } else {
                21.0
            }
        };
        let ramp = |i: usize| 21.0 + 0.05 * (i as f64 - 199.0).max(0.0);
        assert!(
            Fed::new(seed).blocks(212, jump).trace.jumped(12, &shape()),
            "{seed}"
        );
        assert!(
            Fed::new(seed).blocks(220, fades).trace.jumped(20, &shape()),
            "{seed}"
        );
        for age in [8, 14, 20] {
            let trace = Fed::new(seed).blocks(200 + age, ramp).trace;
            assert!(!trace.jumped(age, &shape()), "{seed}: {age}");
        }
    }
    assert!(!Trace::default().jumped(5, &shape()));
}

#[test]
fn coarse_readings_that_climb_by_one_step_have_not_jumped() {
    let fed = |step: f64| {
        let mut trace = Trace::default();
        for i in 0..210 {
            let flicker = if i % 50 == 20 { step } else { 0.0 };
            trace.take(21.0 + flicker + if i >= 202 { 2.0 * step } else { 0.0 });
            trace.close_block(1.0);
        }
        trace
    };
    assert!(!fed(0.1).jumped(8, &shape()));
}

#[test]
fn readings_that_stand_must_go_beyond_where_they_were() {
    let read = |last: &[f64]| {
        let mut trace = Trace::default();
        let standing = (0..60).map(|i| if i == 40 { 20.1 } else { 20.0 });
        for degc in standing.chain(last.iter().copied()) {
            trace.take(degc);
            trace.close_block(1.0);
        }
        trace
    };
    assert!(read(&[20.1; 5]).stands(5, 1.0) && !read(&[20.1, 20.1, 20.2]).stands(3, 1.0));
    assert!(!read(&[19.9; 5]).stands(5, -1.0) && read(&[19.9; 5]).stands(5, 1.0));
    // In noise of the size of a step nothing stands.
    assert!(!Fed::new(23).blocks(90, |_| 21.0).trace.stands(5, 1.0));
}

#[test]
fn behind_missing_blocks_all_goes_on_and_after_half_an_hour_begins_anew() {
    let after = |missing: usize| {
        let mut fed = Fed::new(7).blocks(100, |_| 21.0);
        (0..missing).for_each(|_| fed.trace.close_block(1.0));
        fed.blocks(20, |_| 21.0).trace
    };
    assert_eq!(after(BRIDGE).places(), 120 + BRIDGE);
    assert!(after(BRIDGE).in_gap(&shape()).is_none());
    // The first blocks behind a gap are handed on together, and it counts as long as it was.
    let (gap, _) = after(BRIDGE + 50).in_gap(&shape()).expect("a gap");
    assert_eq!((gap.places, gap.since), (BRIDGE + 50, 20));
    assert_eq!(after(BRIDGE + 50).places(), 170 + BRIDGE);
    assert!(after(1900).places() <= 20);
    // What was before is known across few of them alone, whether they come one by one or at once.
    let before = |trace: Trace| trace.ramp(20 + BRIDGE + 5, &shape()).is_some();
    assert!(before(after(BRIDGE)) && !before(after(BRIDGE + 1)));
    let mut at_once = Fed::new(7).blocks(100, |_| 21.0);
    at_once.trace.skip(BRIDGE + 50);
    assert!(!before(at_once.blocks(20, |_| 21.0).trace));
    // A reading in between, and the count begins anew.
    let mut fed = Fed::new(7).blocks(100, |_| 21.0);
    for _ in 0..3 {
        (0..BRIDGE).for_each(|_| fed.trace.close_block(1.0));
        fed.block(21.0);
    }
    assert!(fed.trace.places() > 130);
}

#[test]
fn after_an_edge_places_count_from_there_and_the_ramp_is_old_news() {
    let mut fed = Fed::new(9).blocks(230, |i| 21.0 + 0.05 * (i as f64 - 200.0).max(0.0));
    assert!(fed.trace.ramp(25, &shape()).unwrap().evidence > 200.0);
    fed.trace.moved(1.0, true);
    assert_eq!(fed.trace.places(), 0);
    for i in 0..60 {
        fed.block(22.5 + 0.05 * f64::from(i));
    }
    assert_eq!(fed.trace.places(), 60);
    assert!(fed.trace.ramp(25, &shape()).unwrap().evidence.abs() < 25.0);
}

/// A channel of which each block holds two readings, the later one as `way` says with its place within the block.
fn by_twos(seed: u64, count: usize, way: impl Fn(f64) -> f64) -> Trace {
    let mut draw = rng(seed);
    let mut trace = Trace::default();
    for i in 0..2 * count {
        trace.take(way(0.5 * i as f64) + SD_DEGC * normal(&mut draw));
        if i % 2 == 1 {
            trace.close_block(0.5);
        }
    }
    trace
}

#[test]
fn a_spike_of_one_reading_among_several_leaves_no_trace() {
    for (at, by) in [(205.0, 8.0), (205.5, -8.0), (219.5, 30.0), (204.5, 0.5)] {
        let plain = by_twos(13, 220, |_| 21.0);
        let spiked = by_twos(13, 220, |u| {
            if (u - at).abs() < 0.1 {
                21.0 + by
            } else {
                21.0
            }
        });
        let (a, b) = (
            plain.ramp(18, &shape()).unwrap(),
            spiked.ramp(18, &shape()).unwrap(),
        );
        near(a.evidence, b.evidence, 3.0);
        near(plain.slope(20), spiked.slope(20), 2e-3);
        assert!(!spiked.is_unquiet(), "{at} {by}");
    }
}

#[test]
fn a_touch_is_seen_although_a_spike_came_just_before_it() {
    for seed in 0..6 {
        for spike_at in [198.0, 198.5, 199.0, 199.5] {
            let trace = by_twos(seed, 206, |u| {
                let touch = if u >= 200.0 { 0.8 } else { 0.0 };
                let spike = if (u - spike_at).abs() < 0.1 {
                    20.0
                } else {
                    0.0
                };
                21.0 + touch + spike
            });
            assert!(trace.is_unquiet(), "{seed} {spike_at}");
        }
    }
}

#[test]
fn readings_that_go_on_elsewhere_are_taken_up_at_once() {
    let trace = by_twos(17, 206, |u| if u >= 200.0 { 26.0 } else { 21.0 });
    near(trace.slope(4), 0.0, 0.05);
    let same = by_twos(17, 206, |_| 26.0);
    near(trace.slope(4), same.slope(4), 1e-9);
}

#[test]
fn what_jumps_within_a_block_is_told_from_what_sets_in() {
    for seed in 0..6 {
        let jump = |u: f64| if u >= 200.5 { 21.6 } else { 21.0 };
        let ramp = |u: f64| 21.0 + 0.05 * (u - 199.5).max(0.0);
        for age in [7, 8, 12] {
            assert!(
                by_twos(seed, 200 + age, jump).jumped(age, &shape()),
                "{seed} {age}"
            );
        }
        for age in [8, 14, 20] {
            assert!(
                !by_twos(seed, 200 + age, ramp).jumped(age, &shape()),
                "{seed} {age}"
            );
        }
    }
}

#[test]
fn the_blocks_from_which_scatter_is_learnt_are_not_lost() {
    let few = |count| Fed::new(19).blocks(count, |_| 21.0).trace.places();
    assert_eq!((few(7), few(8), few(20)), (0, 8, 20));
    // But those before a hole are: there is nothing to bridge it with yet.
    let mut fed = Fed::new(19).blocks(4, |_| 21.0);
    fed.trace.close_block(1.0);
    (0..4).for_each(|_| fed.block(21.0));
    assert_eq!(fed.trace.places(), 4);
}
