//! How sure a look must be, where looks go on until one of them says "steady".
//!
//! A look that is wrong in 5 of 100 cases is wrong sooner or later when it is repeated every second for
//! an hour. What must stay below [`LEVEL`] is the probability that *any* look of the watch calls steady
//! a sample that drifts by the limit or more all the time; so the level is spent over all looks:
//!
//! - each length of window gets the same part of it;
//! - the watch is parted in epochs, each as long as all before it, and the epoch e gets the share
//!   `1/((e + 1)(e + 2))`: these add up to 1, however long the watch lasts;
//! - within an epoch of duration T the slope over a window of length w that moves on is a normal
//!   process. Its weights, `12 u/w³` for u within ±w/2, overlap after a small step τ such that its
//!   correlation is `1 − 3|τ|/w` for white noise (more for noise that lasts); the maximum of such a
//!   process passes c with a probability of `3 T/w · c φ(c)`, to which the first look adds less than
//!   `φ(c)/c` (Leadbetter, Lindgren and Rootzén, Extremes and Related Properties of Random Sequences
//!   and Processes, 1983, chapter 12). Where looks are few, that any of them passes is less probable
//!   than the sum over all of them, each `φ(c)/c` at most.
//!
//! One side counts: a look is wrong only where the slope is found nearer to zero than it is.

/// The probability that a sample which never drifts by less than the limit is called steady.
pub(super) const LEVEL: f64 = 0.05;

/// Duration of the first epoch, in shortest windows.
const EPOCH: f64 = 10.0;

/// How a watch goes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Watch {
    /// Lengths of windows that are tried, and the shortest of them in seconds.
    pub(super) lengths: usize,
    pub(super) shortest_s: f64,
    /// Time from look to look in seconds.
    pub(super) look_s: f64,
}

/// How many standard deviations a slope over `window_s` must be below the limit at a look `elapsed_s`
/// after the first row.
pub(super) fn deviations(elapsed_s: f64, window_s: f64, watch: Watch) -> f64 {
    let first_s = EPOCH * watch.shortest_s;
    let epoch = (elapsed_s / first_s).log2().ceil().max(0.0);
    let lasts_s = first_s * (epoch - 1.0).max(0.0).exp2();
    let level = LEVEL / (watch.lengths as f64 * (epoch + 1.0) * (epoch + 2.0));
    let windows = lasts_s / window_s;
    let looks = lasts_s / watch.look_s;
    let passes = |c: f64| ((3.0 * windows * c).min(looks / c) + 1.0 / c) * density(c);
    let (mut low, mut high) = (1.0, 20.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if passes(middle) > level {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

/// Density of the standard normal distribution.
fn density(c: f64) -> f64 {
    (-0.5 * c * c).exp() / std::f64::consts::TAU.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    use rand_pcg::Pcg64;

    #[test]
    fn a_longer_watch_asks_for_more_and_a_longer_window_for_less() {
        let watch = Watch {
            lengths: 6,
            shortest_s: 60.0,
            look_s: 1.0,
        };
        let at = |elapsed_s, window_s| deviations(elapsed_s, window_s, watch);
        assert!(at(3600.0, 60.0) > at(300.0, 60.0));
        assert!(at(300.0, 480.0) < at(300.0, 60.0));
        // A look that is alone would ask for 1.64.
        assert!(at(300.0, 480.0) > 3.0 && at(86_400.0, 60.0) < 7.0);
    }

    /// Slopes of white noise whose standard deviation is known, in moving windows of one length: the
    /// share of watches in which one passes what an epoch was given.
    #[test]
    fn the_level_is_kept_by_all_looks_together() {
        const WINDOW: usize = 60;
        const LOOKS: usize = 600;
        let weights: Vec<f64> = (0..WINDOW)
            .map(|k| k as f64 - 0.5 * (WINDOW as f64 - 1.0))
            .collect();
        let size = weights.iter().map(|w| w * w).sum::<f64>().sqrt();
        // One length, the first epoch: half of the level.
        let watch = Watch {
            lengths: 1,
            shortest_s: 60.0,
            look_s: 1.0,
        };
        let c = deviations(500.0, 60.0, watch);
        let mut random = Pcg64::seed_from_u64(5);
        let (mut passed, runs) = (0, 2000);
        for _ in 0..runs {
            let noise: Vec<f64> = (0..LOOKS + WINDOW)
                .map(|_| StandardNormal.sample(&mut random))
                .collect();
            let slope = |w: &[f64]| w.iter().zip(&weights).map(|(x, u)| x * u).sum::<f64>() / size;
            passed += i32::from(noise.windows(WINDOW).any(|w| slope(w) >= c));
        }
        let share = f64::from(passed) / f64::from(runs);
        // Looks a sixtieth of a window apart pass less often than a continuous watch.
        assert!((0.004..=LEVEL / 2.0).contains(&share), "{share}");
    }
}
