//! One filter by itself: what it makes of a gap, and of a reading that is far off.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::tests::{near, normal, rng};

const TAU_S: f64 = 400.0;

/// A filter that does not wander, at a level and with a slope in degrees a place, both known.
fn known(slope: f64, width_s: f64, sd_degc: f64) -> Filter {
    let mut filter = Filter::new((TAU_S, 0.0), width_s, sd_degc * sd_degc);
    filter.restart(21.0, 0.0);
    filter.slope = slope;
    filter
}

/// The standard deviation of its slope in degrees a place.
fn slope_sd(filter: &Filter) -> f64 {
    (filter.p[2] * filter.variance()).sqrt()
}

#[test]
fn a_slope_is_known_the_less_the_longer_a_gap_and_the_steeper_the_curve() {
    for sd_degc in [0.01, 0.1] {
        for width_s in [0.5, 1.0, 2.0] {
            let after = |slope_per_s: f64, gap_s: f64| {
                let mut filter = known(slope_per_s * width_s, width_s, sd_degc);
                filter.resume(25.0, gap_s / width_s, width_s);
                assert_eq!(filter.level, 25.0);
                let left = slope_per_s * (-gap_s / TAU_S).exp();
                near(filter.slope / width_s, left, 1e-9);
                slope_sd(&filter) / width_s
            };
            // At rest three tenths of 5 mK/s after a minute, and half of that after half of it.
            near(after(0.0, 30.0), 0.75e-3, 1e-9);
            near(after(0.0, 60.0), 1.5e-3, 1e-9);
            near(after(0.0, 600.0), 1.5e-3, 1e-9);
            // On a curve three tenths of what it may have changed by with a time constant of five minutes.
            let curve = 0.3 * 0.1 * (1.0 - f64::exp(-0.4));
            near(after(0.1, 120.0), curve.hypot(1.5e-3), 1e-9);
            near(after(-0.1, 120.0), curve.hypot(1.5e-3), 1e-9);
        }
    }
}

#[test]
fn how_far_a_level_goes_is_where_it_comes_to_without_readings() {
    for width_s in [0.5, 2.0] {
        let mut filter = known(0.1, width_s, 0.02);
        let goes = filter.goes(25.0);
        (0..25).for_each(|_| filter.take(None));
        near(filter.level - 21.0, goes, 1e-9);
        // As Newton has it, but for the curve within a place.
        let newton = 0.1 / width_s * TAU_S * (1.0 - (-25.0 * width_s / TAU_S).exp());
        near(goes, newton, 0.01 * newton);
    }
    // A slope that does not die away.
    let mut straight = Filter::new((1e9, 0.0), 1.0, 1e-4);
    straight.slope = 0.1;
    near(straight.goes(25.0), 2.5, 1e-6);
}

#[test]
fn what_is_far_off_counts_as_five_standard_deviations() {
    let after = |off_sd: f64| {
        let mut draw = rng(3);
        let mut filter = known(0.0, 1.0, 0.02);
        for _ in 0..200 {
            filter.take(Some(21.0 + 0.02 * normal(&mut draw)));
        }
        let level = filter.level;
        filter.take(Some(level + 0.02 * off_sd));
        filter.level - level
    };
    near(after(100.0), after(12.0), 1e-12);
    near(after(-100.0), after(-12.0), 1e-12);
    assert!(after(12.0) > after(3.0) && after(3.0) > after(1.0));
}
