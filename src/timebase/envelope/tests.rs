//! The curve under delays that are made up so that its place is known.

use super::*;

fn over(points: impl IntoIterator<Item = (f64, f64)>) -> Envelope {
    let mut envelope = Envelope::default();
    for (x, delay) in points {
        envelope.add(x, delay);
    }
    envelope
}

/// Delays of 0 to 16 ms that repeat, four lines a second.
fn lines(from_s: f64, to_s: f64) -> impl Iterator<Item = (f64, f64)> {
    (0..((to_s - from_s) * 4.0) as u32).map(move |k| {
        let delay_ms = f64::from(k * 7 % 17);
        (from_s + f64::from(k) * 0.25, delay_ms / 1000.0)
    })
}

#[test]
fn a_slope_is_not_taken_from_seconds_but_from_minutes() {
    let young = over([(0.0, 0.0), (2.5, 0.016)]);
    assert!(young.at(2.5).abs() < 1e-12, "{}", young.at(2.5));
    let skewed = over(lines(0.0, 120.0).map(|(x, delay)| (x, delay + 300e-6 * x)));
    assert!(
        (skewed.curve.slope - 300e-6).abs() < 5e-6,
        "{:?}",
        skewed.curve
    );
    assert!((skewed.at(119.75) - 300e-6 * 119.75).abs() < 0.5e-3);
}

#[test]
fn memory_is_bounded_whatever_the_rate() {
    let dense = over((0..40_000_u32).map(|k| (f64::from(k) * 0.025, f64::from(k % 13) / 1000.0)));
    let most = (WINDOW_S / BLOCK_S) as usize + 2;
    assert!(dense.blocks.len() <= most, "{}", dense.blocks.len());
    assert!(
        dense.blocks.len() >= most - 3,
        "the window is used: {}",
        dense.blocks.len()
    );
    // A board that speaks every minute keeps so many points all the same.
    let seldom = over((0..60_u32).map(|k| (f64::from(k) * 60.0, 0.0)));
    assert_eq!(seldom.blocks.len(), FEWEST_POINTS);
}

#[test]
fn a_bend_is_followed_inside_the_window_and_the_tangent_beyond_it() {
    let bend = 2e-6;
    let parabola = |x: f64| bend * (x - 100.0).powi(2);
    let bent = over(lines(0.0, 200.0).map(|(x, delay)| (x, delay + parabola(x))));
    let end = 199.75;
    assert!((bent.at(end) - parabola(end)).abs() < 1e-3);
    assert!((bent.at(end - 100.0) - parabola(end - 100.0)).abs() < 1e-3);
    let ahead_s = 60.0;
    let tangent = parabola(end) + 2.0 * bend * (end - 100.0) * ahead_s;
    assert!(
        (bent.at(end + ahead_s) - tangent).abs() < 3e-3,
        "{} {tangent}",
        bent.at(end + ahead_s)
    );
    assert!(parabola(end + ahead_s) - tangent > 5e-3);
}

#[test]
fn a_bend_that_gains_little_is_not_taken() {
    let two_low = |place_s: f64| {
        over((0..100_u32).map(|k| {
            let x = f64::from(k) * 2.0;
            let is_low = (x - 99.0).abs() > place_s && (x - 99.0).abs() < place_s + 2.0;
            (x, if is_low { 0.0 } else { 0.016 })
        }))
    };
    // Through low points 61 s from the middle a parabola gains 400 s² times its bend on average,
    // half of what it costs; through points 80 s from it, four times as much as it costs.
    let bend = |place_s: f64| two_low(place_s).curve.bend.abs();
    assert!(bend(60.0) < 1e-8, "{}", bend(60.0));
    assert!(bend(80.0) > 2e-6, "{}", bend(80.0));
}

#[test]
fn after_a_long_pause_only_the_skew_is_kept() {
    let skew = 200e-6;
    let mut envelope = over(lines(1000.0, 1150.0).map(|(x, d)| (x, d + skew * x)));
    let x = 4000.0;
    let delay = skew * x + 0.4;
    envelope.add(x, delay);
    assert_eq!(envelope.blocks.len(), 1);
    assert!(
        (envelope.at(x) - delay).abs() < 1e-9,
        "{}",
        envelope.at(x) - delay
    );
    assert!((envelope.at(x + 2.0) - delay - 2.0 * skew).abs() < 1e-4);
}

#[test]
fn a_pause_of_a_board_that_speaks_seldom_is_no_long_one() {
    let mut envelope = over((0..20_u32).map(|k| (1000.0 + f64::from(k) * 100.0, 0.0)));
    let x = 2900.0 + 900.0;
    envelope.add(x, 0.010);
    assert!(envelope.blocks.len() > 10, "{}", envelope.blocks.len());
    assert!(envelope.at(x) < 0.005, "{}", envelope.at(x));
}

#[test]
fn stalls_at_the_end_of_the_window_do_not_tilt_it() {
    let skew = 400e-6;
    let prompt = (0..50_u32).map(|k| {
        let x = f64::from(k) * 2.0;
        (x, skew * x + if x <= 60.0 { 0.0 } else { 0.010 })
    });
    let stalled = (50..95_u32).map(|k| (f64::from(k) * 2.0, skew * f64::from(k) * 2.0 + 1.0));
    let envelope = over(prompt.chain(stalled));
    let off = envelope.at(188.0) - skew * 188.0;
    assert!(off.abs() < 0.02, "{off}");
    // Where stalls are the most, they are what there is.
    let few = (0..10_u32).map(|k| (f64::from(k) * 2.0, 0.0));
    let most = (10..95_u32).map(|k| (f64::from(k) * 2.0, 1.0));
    let envelope = over(few.chain(most));
    assert!(envelope.at(188.0) > 0.4, "{}", envelope.at(188.0));
}

#[test]
fn a_smaller_delay_than_any_brings_the_curve_down_to_it() {
    let mut envelope = over(lines(0.0, 60.0).map(|(x, delay)| (x, delay + 0.005)));
    assert!(envelope.at(60.0) > 0.004);
    envelope.add(60.0, 0.001);
    assert!((envelope.at(60.0) - 0.001).abs() < 1e-12);
    envelope.add(60.25, 0.015);
    assert!(envelope.at(60.25) < 0.002);
}

#[test]
fn the_search_finds_the_top_of_a_hill() {
    for top in [-1.4, -0.9, -0.3, 0.0, 0.04, 0.4, 0.99] {
        let hill = |x: f64| (-(x - top).powi(2), -2.0 * (x - top));
        let found = highest(1.0, 0.0, hill);
        assert!(
            (found - f64::clamp(top, -1.0, 1.0)).abs() < 1e-4,
            "{found} {top}"
        );
        // A price draws it to nothing by as much as it costs.
        let found = highest(1.0, 0.1, hill);
        let wanted = f64::clamp(top.signum() * (top.abs() - 0.05).max(0.0), -1.0, 1.0);
        assert!((found - wanted).abs() < 1e-4, "{found} {top}");
    }
    assert!(highest(0.0, 0.0, |x| (x, 1.0)).abs() < 1e-12);
    // Made of straight pieces, as the height of the curve is: the corner itself, in a few looks.
    let looks = std::cell::Cell::new(0);
    let roof = |x: f64| {
        looks.set(looks.get() + 1);
        let pieces = [(1.0, 0.0), (0.5, 0.1), (-0.25, 0.4), (-3.0, 2.0)];
        let (slope, at_zero) = pieces
            .into_iter()
            .min_by(|a, b| (a.1 + a.0 * x).total_cmp(&(b.1 + b.0 * x)))
            .unwrap();
        (at_zero + slope * x, slope)
    };
    assert!((highest(1.0, 0.0, roof) - 0.4).abs() < 1e-12);
    assert!(looks.get() <= 6, "{}", looks.get());
}

#[test]
fn no_curvature_of_a_fine_grid_lies_higher() {
    let bend = 1.3e-6;
    let bent = over(lines(0.0, 200.0).map(|(x, delay)| (x, delay + bend * (x - 60.0).powi(2))));
    let x = bent.curve.x;
    let points: Vec<(f64, f64)> = bent.blocks.iter().map(|p| (p.0 - x, p.1)).collect();
    let (mean, square) = bent.middle(&points, x);
    let height = |bend: f64| {
        let line = line_under(&points, bend, mean);
        let price = PRICE_OF_BEND * WINDOW_S * WINDOW_S;
        line.delay + line.slope * mean + bend * square - price * bend.abs()
    };
    let found = height(bent.curve.bend);
    for k in -2000..=2000 {
        let other = height(MOST_BEND * f64::from(k) / 2000.0);
        assert!(found >= other - 1e-12, "{k}: {other} above {found}");
    }
}

#[test]
fn the_line_under_points_is_the_highest_at_its_place() {
    let points = [
        (-4.0, 3.0),
        (-3.0, 0.9),
        (-2.0, 2.0),
        (-1.0, 0.898),
        (0.0, 5.0),
    ];
    let Line {
        delay,
        slope,
        square_at_mean,
    } = line_under(&points, 0.0, -2.0);
    // The points at −3 and −1 hold it: halfway between their squares.
    assert!((square_at_mean - 5.0).abs() < 1e-12, "{square_at_mean}");
    assert!((slope + 0.001).abs() < 1e-12, "{slope}");
    assert!((delay - 0.897).abs() < 1e-12, "{delay}");
    // Steeper than any clock: the bound holds, and no point is below.
    let Line { delay, slope, .. } = line_under(&[(-1.0, 0.0), (0.0, 1.0)], 0.0, -0.5);
    assert!((slope - MOST_SLOPE).abs() < 1e-12 && (delay - MOST_SLOPE).abs() < 1e-12);
    // A bend is taken off first.
    let bent = [(-2.0, 4.0), (-1.0, 1.0), (0.0, 0.0)];
    let Line { delay, slope, .. } = line_under(&bent, 1.0, -1.0);
    assert!(delay.abs() < 1e-12 && slope.abs() < 1e-12);
}

#[test]
fn stalls_do_not_make_a_young_window_old() {
    // What came promptly lies within three seconds, whatever came late behind it.
    let prompt = [(0.0, 0.013), (3.25, 0.002)];
    let stalled = (4..12_u32).map(|k| (f64::from(k), 0.5 + f64::from(12 - k)));
    let young = over(prompt.into_iter().chain(stalled));
    assert!(young.curve.slope.abs() < 1e-12, "{:?}", young.curve);
    assert!((young.at(12.0) - 0.002).abs() < 1e-9, "{}", young.at(12.0));
}
