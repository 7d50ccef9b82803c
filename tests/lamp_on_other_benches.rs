//! Lamp edges where the bench is not of the estimator's kind: heat that goes into a half-space, three
//! lessons in one record, a touched probe, a day without a lamp. All data are invented.

use duskmark::lamp::{Edge, Kind, LampOptions, find_edges};
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

/// A table by hand: a row every so many minutes, in tenths of a degree.
fn edges_of(every_min: f64, columns: &[&[f64]]) -> Vec<Edge> {
    let rows = columns.first().map_or(0, |c| c.len());
    let t_s: Vec<f64> = (0..rows).map(|i| 60.0 * every_min * i as f64).collect();
    find_edges(&t_s, columns, &LampOptions::default()).edges
}

#[test]
fn a_handful_of_rows_tells_between_which_of_them_the_lamp_went_on_and_off() {
    let slate = [20.6, 20.6, 24.4, 27.2, 29.7, 28.1, 27.2, 26.7];
    let moss = [19.8, 19.9, 21.6, 22.9, 24.0, 23.4, 22.9, 22.6];
    for columns in [&[&slate[..], &moss[..]][..], &[&slate[..]]] {
        let edges = edges_of(3.0, columns);
        let kinds: Vec<Kind> = edges.iter().map(|e| e.edge).collect();
        assert_eq!(kinds, [Kind::On, Kind::Off], "{edges:?}");
        for (edge, row_s) in edges.iter().zip([180.0, 720.0]) {
            // From the last row that knew nothing to the first that cannot be without.
            assert!(edge.low_s > row_s - 60.0, "{edge:?}");
            assert!(edge.high_s < row_s + 180.0, "{edge:?}");
            assert!(edge.high_s - edge.low_s > 30.0, "false precision: {edge:?}");
        }
    }
}

#[test]
fn a_lamp_on_from_the_first_row_leaves_one_edge() {
    let slate = [18.5, 23.2, 26.2, 28.4, 30.2, 31.5, 28.4, 26.1, 24.5];
    let moss = [14.8, 19.0, 20.6, 21.7, 22.6, 23.5, 21.2, 19.9, 19.0];
    let edges = edges_of(5.0, &[&slate, &moss]);
    let off = edges.last().unwrap();
    assert_eq!(off.edge, Kind::Off);
    assert!(off.low_s < 1530.0 && off.high_s > 1470.0, "{off:?}");
    assert!(off.high_s - off.low_s < 300.0, "{off:?}");
    // An on-edge at the first row may be told, no other.
    assert!(edges.iter().rev().skip(1).all(|e| e.at_s < 60.0));
    assert!(edges.len() <= 2);
}

#[test]
fn a_slip_of_the_pen_moves_no_edge_far() {
    let mut slate = [
        20.6, 20.6, 24.4, 27.2, 29.7, 31.8, 33.6, 31.0, 29.2, 27.9, 26.8, 26.0,
    ];
    let sound = edges_of(3.0, &[&slate]);
    // The fifth cell without its first digit.
    slate[4] = 9.7;
    let slipped = edges_of(3.0, &[&slate]);
    assert_eq!(sound.len(), 2, "{sound:?}");
    assert_eq!(slipped.len(), 2, "{slipped:?}");
    for (a, b) in sound.iter().zip(&slipped) {
        assert!((a.at_s - b.at_s).abs() < 45.0, "{a:?} {b:?}");
    }
}

#[test]
fn few_rows_without_a_lamp_have_no_edge() {
    let still = [21.4, 21.4, 21.3, 21.4, 21.4, 21.5, 21.4];
    // Brought in from outside, and going to the room's temperature.
    let brought = [12.0, 14.2, 15.9, 17.2, 18.2, 19.0, 19.6, 20.1, 20.4, 20.7];
    let afternoon = [22.0, 22.4, 22.7, 22.9, 23.0, 23.0, 22.9, 22.7, 22.4, 22.0];
    for table in [&still[..], &brought, &afternoon] {
        let edges = edges_of(5.0, &[table]);
        assert!(edges.is_empty(), "{table:?}: {edges:?}");
    }
}

#[test]
fn two_lessons_in_a_table_by_hand_are_not_taken_for_one() {
    let lesson = |t: f64, on: f64| newton(t - on) - newton(t - on - 900.0);
    let column: Vec<f64> = (0..36)
        .map(|i| 120.0 * f64::from(i))
        .map(|t| 21.0 + 12.0 * (lesson(t, 240.0) + lesson(t, 2280.0)))
        .map(|y| (10.0 * y).round() / 10.0)
        .collect();
    let edges = edges_of(2.0, &[&column]);
    assert_eq!(edges.len(), 4, "{edges:?}");
}
