//! Lamp edges where the bench is not of the estimator's kind: heat that goes into a half-space, three
//! lessons in one record, a touched probe, a day without a lamp. All data are invented.

use duskmark::lamp::{Kind, LampOptions, find_edges};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

/// Standard deviation of the readings, in °C.
const NOISE_DEGC: f64 = 0.03;

fn noisy(rng: &mut Pcg64, clean: impl Fn(f64) -> f64, t_s: &[f64]) -> Vec<f64> {
    let one = |t: &f64| {
        let noise: f64 = StandardNormal.sample(rng);
        clean(*t) + NOISE_DEGC * noise
    };
    t_s.iter().map(one).collect()
}

fn seconds(count: u32) -> Vec<f64> {
    (0..count).map(f64::from).collect()
}

/// Surface of a half-space under a constant flux that begins at `u = 0`: `T = (2q/k)·√(αu/π)`
/// (Carslaw and Jaeger, Conduction of Heat in Solids, 1959, section 2.9; from memory), so that it has
/// risen by `degc` after ten minutes, seen through a first-order lag.
///
/// The lag's integral `a·∫√v·exp(-(u-v)/lag)/lag dv` by the midpoint rule.
fn half_space(u_s: f64, degc: f64, lag_s: f64) -> f64 {
    if u_s <= 0.0 {
        return 0.0;
    }
    let steps = 400;
    // What is older than fifteen lags is forgotten.
    let from = (u_s - 15.0 * lag_s).max(0.0);
    let h = (u_s - from) / f64::from(steps);
    let sum: f64 = (0..steps)
        .map(|i| from + (f64::from(i) + 0.5) * h)
        .map(|v| v.sqrt() * ((v - u_s) / lag_s).exp() * h / lag_s)
        .sum();
    degc * sum / 600.0_f64.sqrt()
}

#[test]
fn heat_that_goes_into_a_half_space_does_not_pull_the_edges() {
    let t_s = seconds(1400);
    let (on_s, off_s) = (120.4, 720.7);
    let mut covered = 0;
    for seed in 0..6 {
        let mut rng = Pcg64::seed_from_u64(seed);
        let channels: Vec<Vec<f64>> = [(9.0, 5.0), (6.0, 7.0)]
            .map(|(degc, lag_s)| {
                let clean = |t: f64| {
                    21.0 + half_space(t - on_s, degc, lag_s) - half_space(t - off_s, degc, lag_s)
                };
                noisy(&mut rng, clean, &t_s)
            })
            .to_vec();
        let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        let edges = find_edges(&t_s, &columns, &LampOptions::default()).edges;
        let kinds: Vec<Kind> = edges.iter().map(|e| e.edge).collect();
        assert_eq!(kinds, [Kind::On, Kind::Off], "seed {seed}: {edges:?}");
        for (edge, truth) in edges.iter().zip([on_s, off_s]) {
            assert!((edge.at_s - truth).abs() < 5.0, "seed {seed}: {edge:?}");
            assert!(edge.high_s - edge.low_s < 30.0, "seed {seed}: {edge:?}");
            covered += u32::from(edge.low_s <= truth && truth <= edge.high_s);
        }
    }
    assert!(covered >= 11, "{covered} of 12 intervals cover the truth");
}

/// One node with a time constant of seven minutes.
fn newton(u_s: f64) -> f64 {
    1.0 - (-u_s.max(0.0) / 420.0).exp()
}

#[test]
fn three_lessons_in_one_record_are_all_found() {
    let t_s = seconds(4000);
    let truth = [90.3, 690.3, 1350.8, 1950.8, 2610.1, 3210.1];
    for seed in 0..3 {
        let mut rng = Pcg64::seed_from_u64(seed);
        let channels = [11.0, 7.0].map(|degc| {
            let clean = |t: f64| {
                let signs = [1.0, -1.0].into_iter().cycle();
                let lamp = truth.iter().zip(signs).map(|(e, s)| s * newton(t - e));
                21.0 + degc * lamp.sum::<f64>()
            };
            noisy(&mut rng, clean, &t_s)
        });
        let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        let edges = find_edges(&t_s, &columns, &LampOptions::no_lags()).edges;
        assert_eq!(edges.len(), truth.len(), "seed {seed}: {edges:?}");
        for (edge, truth) in edges.iter().zip(truth) {
            assert!((edge.at_s - truth).abs() < 2.0, "seed {seed}: {edge:?}");
        }
    }
}

#[test]
fn a_touched_probe_makes_no_edge_and_hides_none() {
    let t_s = seconds(1400);
    for (seed, touched_s) in [(1, 420.0), (2, 900.0), (3, 1100.0)] {
        let mut rng = Pcg64::seed_from_u64(seed);
        let lesson = |t: f64| newton(t - 150.0) - newton(t - 750.0);
        let bump = |t: f64| {
            let u = (t - touched_s).max(0.0);
            2.5 * (1.0 - (-u / 4.0).exp()) * (-u / 30.0).exp()
        };
        let touched = noisy(&mut rng, |t| 21.0 + 12.0 * lesson(t) + bump(t), &t_s);
        let quiet = noisy(&mut rng, |t| 21.0 + 8.0 * lesson(t), &t_s);
        for columns in [&[&touched[..], &quiet[..]][..], &[&touched[..]]] {
            let edges = find_edges(&t_s, columns, &LampOptions::default()).edges;
            assert_eq!(edges.len(), 2, "touched at {touched_s}: {edges:?}");
            // There is no lag in these data, while 8 s are expected.
            for (edge, truth) in edges.iter().zip([150.0, 750.0]) {
                let off_by_s = (edge.at_s - truth).abs();
                assert!(off_by_s < 15.0, "touched at {touched_s}: {edge:?}");
            }
        }
    }
}

#[test]
fn days_without_a_lamp_have_no_edge() {
    let t_s: Vec<f64> = (0..2880).map(|i| 60.0 * f64::from(i)).collect();
    for seed in 0..4 {
        let mut rng = Pcg64::seed_from_u64(seed);
        let channels = [6.0, 4.0].map(|degc| {
            let clean = |t: f64| 18.0 + degc * (t / 86_400.0 * std::f64::consts::TAU).sin();
            noisy(&mut rng, clean, &t_s)
        });
        let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        let edges = find_edges(&t_s, &columns, &LampOptions::default()).edges;
        assert!(edges.is_empty(), "seed {seed}: {edges:?}");
    }
}
