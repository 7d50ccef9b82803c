//! Where in the blocks that are kept a ramp set in.

use super::super::placed::profile;
use super::super::response::Chain;
use super::near;

const BLOCKS: usize = 43;

/// Blocks of a curve that flattens with a time constant of a minute, on its way to a straight line, and of a ramp that
/// sets in `age` blocks before the last, as steep as that.
fn best(age: usize, per_block: f64, flattens_degc: f64, width_s: f64) -> (usize, f64, f64) {
    let chain = Chain::new(&[5.0 / width_s, 1.6 / width_s]);
    let shape: Vec<f64> = (0..BLOCKS).map(|u| chain.ramp(u as f64)).collect();
    let degc = |i: usize| {
        let since = (i + age + 1).checked_sub(BLOCKS);
        let ramp = since.map_or(0.0, |u| shape[u]);
        let left = flattens_degc * (-(i as f64) * width_s / 60.0).exp();
        21.0 + 0.03 * i as f64 - left + per_block * ramp
    };
    let blocks: Vec<f64> = (0..BLOCKS).map(degc).collect();
    let (ages, left) = profile(&blocks, &shape, width_s).expect("a profile");
    let most = ages
        .iter()
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .expect("ages");
    (most.0, most.1, left)
}

#[test]
fn a_ramp_is_placed_where_it_sets_in_on_a_curve_that_flattens() {
    for width_s in [0.5, 2.0] {
        for age in [3, 10, 20, 33] {
            for flattens_degc in [0.0, 8.0] {
                let (at, gain, left) = best(age, -0.2, flattens_degc, width_s);
                assert_eq!(at, age, "{width_s} {flattens_degc}");
                assert!(gain > 1e-4, "{gain}");
                near(left, 0.0, 1e-12);
            }
        }
        // What flattens, however steeply it began, is no ramp.
        let (_, gain, left) = best(10, 0.0, 8.0, width_s);
        near(gain, 0.0, 1e-12);
        near(left, 0.0, 1e-12);
    }
}

#[test]
fn few_blocks_say_nothing() {
    let shape: Vec<f64> = (0..BLOCKS).map(|u| u as f64).collect();
    assert!(profile(&[21.0; 7], &shape, 1.0).is_none());
    // Eight must lie before a ramp, and two are the least that it has.
    let (ages, _) = profile(&[21.0; 12], &shape, 1.0).expect("a profile");
    let ages: Vec<usize> = ages.iter().map(|(age, _)| *age).collect();
    assert_eq!(ages, [2, 3]);
}
