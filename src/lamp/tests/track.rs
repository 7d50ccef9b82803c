//! One channel's filters: what they foretell, and what a ramp of known slope gives them.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::track::{OLDEST, Track};
use super::{near, normal, rng};

const SD_DEGC: f64 = 0.05;

/// A straight ramp of unit slope that begins at the place before the first.
fn shape() -> Vec<f64> {
    (0..=OLDEST).map(|u| u as f64).collect()
}

/// A channel that rests for so many places and then goes up by so much a place.
fn track(seed: u64, rest: usize, ramp: usize, per_place: f64) -> Track {
    let mut draw = rng(seed);
    let mut track = Track::default();
    for i in 0..rest + ramp {
        let up = per_place * (i as f64 + 1.0 - rest as f64).max(0.0);
        let value = 21.0 + up + SD_DEGC * normal(&mut draw);
        track.take(Some(value), SD_DEGC, 1e-6, 1.0);
    }
    track
}

#[test]
fn a_ramp_is_seen_with_its_slope_and_more_evidence_the_longer_it_lasts() {
    let (mut sum, mut after) = (0.0, 0.0);
    for seed in 0..20 {
        let ramp = track(seed, 300, 20, 0.01).ramp(20, &shape()).unwrap();
        sum += ramp.slope / 20.0;
        after += ramp.after / 20.0;
        let shorter = track(seed, 300, 10, 0.01).ramp(10, &shape()).unwrap();
        assert!(ramp.evidence > shorter.evidence, "{seed}");
        let down = track(seed, 300, 20, -0.05).ramp(20, &shape()).unwrap();
        assert!(down.slope < 0.0 && down.evidence < -100.0 && down.after < 0.0);
    }
    near(sum, 0.01, 0.002);
    // Where it goes now: on with the ramp.
    near(after, 0.01, 0.003);
}

/// Twice the logarithm of a likelihood ratio of a true zero is a χ² of one degree of freedom (Wilks, The
/// large-sample distribution of the likelihood ratio, Annals of Mathematical Statistics 9, 1938): mean 1,
/// and above 3.84 in 5 of 100 cases.
#[test]
fn without_a_ramp_the_evidence_is_distributed_as_wilks_has_it() {
    let mut sizes = Vec::new();
    for seed in 0..200 {
        let ramp = track(1000 + seed, 200, 0, 0.0).ramp(20, &shape()).unwrap();
        sizes.push(ramp.evidence.abs());
    }
    let mean = sizes.iter().sum::<f64>() / 200.0;
    let above = sizes.iter().filter(|e| **e > 3.84).count();
    assert!((0.6..1.5).contains(&mean), "{mean}");
    assert!((2..=24).contains(&above), "{above} of 200");
}

#[test]
fn noise_that_lasts_does_not_pass_for_a_ramp() {
    let mut large = 0;
    for seed in 0..100 {
        let mut draw = rng(2000 + seed);
        let (mut track, mut noise) = (Track::default(), 0.0);
        for _ in 0..400 {
            noise = 0.8 * noise + 0.6 * SD_DEGC * normal(&mut draw);
            track.take(Some(21.0 + noise), SD_DEGC, 1e-6, 1.0);
        }
        large += usize::from(track.ramp(20, &shape()).unwrap().evidence.abs() > 9.0);
    }
    assert!(large <= 4, "{large} of 100");
}

#[test]
fn what_goes_on_evenly_is_foretold() {
    let mut draw = rng(5);
    let mut track = Track::default();
    let way = |i: usize| 21.0 + 0.01 * i as f64;
    for i in 0..400 {
        track.take(Some(way(i) + 0.01 * normal(&mut draw)), 0.01, 1e-6, 1.0);
    }
    let foretold = track.foretold(30).unwrap();
    assert_eq!(foretold.len(), 30);
    for (k, degc) in foretold.iter().enumerate() {
        near(*degc, way(370 + k), 0.05);
    }
    assert!(track.foretold(OLDEST + 1).is_none());
    assert!(track.ramp(OLDEST + 2, &shape()).is_none());
    assert!(track.ramp(OLDEST, &shape()).is_some());
}

#[test]
fn a_sample_that_settles_is_foretold_to_settle() {
    let mut draw = rng(6);
    let mut track = Track::default();
    let way = |i: usize| 21.0 + 5.0 * (-(i as f64) / 150.0).exp();
    for i in 0..300 {
        track.take(Some(way(i) + 0.01 * normal(&mut draw)), 0.01, 1e-6, 1.0);
    }
    let foretold = track.foretold(40).unwrap();
    for (k, degc) in foretold.iter().enumerate() {
        near(*degc, way(260 + k), 0.06);
    }
    let ramp = track.ramp(30, &shape()).unwrap();
    assert!(ramp.evidence.abs() < 12.0, "{ramp:?}");
}

#[test]
fn nothing_counts_before_the_noise_is_known_and_all_anew_after_an_edge() {
    let mut track = Track::default();
    track.take(Some(21.0), f64::INFINITY, 1e-6, 1.0);
    track.take(None, 0.1, 1e-6, 1.0);
    assert_eq!(track.places(), 0);
    assert!(track.foretold(0).is_none() && track.ramp(1, &shape()).is_none());
    for _ in 0..50 {
        track.take(Some(21.0), 0.1, 1e-6, 1.0);
    }
    track.take(None, 0.1, 1e-6, 1.0);
    assert_eq!(track.places(), 51);
    track.moved(30.0, 1.0, true);
    assert_eq!(track.places(), 0);
    assert!(track.ramp(1, &shape()).is_none());
    for i in 0..12 {
        track.take(Some(30.0 - 0.05 * f64::from(i)), 0.1, 1e-6, 1.0);
    }
    // It goes down from where it was said to be, and the slope is learnt quickly.
    let foretold = track.foretold(1).unwrap();
    near(foretold[0], 30.0 - 0.05 * 11.0, 0.1);
}

#[test]
fn a_gap_is_bridged_with_the_slope_that_was() {
    let mut draw = rng(8);
    let mut track = Track::default();
    let mut take = |i: usize, there: bool| {
        let value = 21.0 + 0.02 * i as f64 + 0.02 * normal(&mut draw);
        track.take(there.then_some(value), 0.02, 1e-6, 1.0);
    };
    (0..200).for_each(|i| take(i, true));
    (200..220).for_each(|i| take(i, false));
    (220..240).for_each(|i| take(i, true));
    let ramp = track.ramp(30, &shape()).unwrap();
    assert!(ramp.evidence.abs() < 9.0, "{ramp:?}");
    near(track.foretold(1).unwrap()[0], 21.0 + 0.02 * 239.0, 0.05);
}

#[test]
fn rounded_readings_are_believed_no_better_than_their_step() {
    // They stand still, and then go up by one step of a tenth: no evidence of a ramp yet.
    let ramp = |least: f64| {
        let mut track = Track::default();
        for i in 0..120 {
            let value = if i >= 115 { 21.1 } else { 21.0 };
            track.take(Some(value), 0.03, least, 1.0);
        }
        track.ramp(6, &shape()).unwrap().evidence
    };
    assert!(ramp(0.1 / 12.0_f64.sqrt()) < 15.0, "{}", ramp(0.0289));
    assert!(ramp(1e-6) > 2.0 * ramp(0.1 / 12.0_f64.sqrt()));
}
