//! Records of days: the parts by themselves, and days under a timer amid clouds.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::tests::{curve, every, near, newton, normal, rng};

fn edge(at_s: f64, kind: Kind, half_s: f64) -> Edge {
    Edge {
        edge: kind,
        at_s,
        low_s: at_s - half_s,
        high_s: at_s + half_s,
        level: LEVEL,
    }
}

fn told(at_s: f64, vague: bool) -> Told {
    Told {
        edge: edge(at_s, Kind::On, 5.0),
        lag_share: 0.0,
        vague,
    }
}

#[test]
fn two_vague_neighbours_are_clouds() {
    let left = |all: &[(f64, bool)]| -> Vec<f64> {
        let all = all.iter().map(|(at, vague)| told(*at, *vague)).collect();
        without_vague_pairs(all)
            .iter()
            .map(|t| t.edge.at_s)
            .collect()
    };
    assert_eq!(
        left(&[(1.0, false), (2.0, true), (3.0, true), (4.0, false)]),
        [1.0, 4.0]
    );
    assert_eq!(
        left(&[(1.0, true), (2.0, false), (3.0, true)]),
        [1.0, 2.0, 3.0]
    );
    assert_eq!(left(&[(1.0, true), (2.0, true), (3.0, true)]), [3.0]);
}

#[test]
fn what_an_edge_is_widened_by_is_added_at_right_angles() {
    let wide = wider(edge(100.0, Kind::Off, 4.0), 3.0 / 1.96);
    near(wide.low_s, 95.0, 1e-9);
    near(wide.high_s, 105.0, 1e-9);
    assert_eq!((wide.at_s, wide.edge), (100.0, Kind::Off));
    let one = coarse(
        &Bend {
            at_s: 50.0,
            kind: Kind::On,
            strength: 1.0,
        },
        10.0,
    );
    assert_eq!(
        (one.at_s, one.low_s, one.high_s, one.edge),
        (50.0, 30.0, 70.0, Kind::On)
    );
}

#[test]
fn peaks_stand_above_the_gate_and_are_the_largest_about_them() {
    let mut z = vec![0.0; 30];
    (z[4], z[6], z[20], z[29]) = (15.0, -16.0, 14.0, 40.0);
    assert_eq!(peaks(&z, 3, 14.0), [(6, -16.0), (29, 40.0)]);
    assert_eq!(peaks(&z, 1, 14.0), [(4, 15.0), (6, -16.0), (29, 40.0)]);
    assert_eq!(peaks(&z, 3, 13.9), [(6, -16.0), (20, 14.0), (29, 40.0)]);
}

#[test]
fn a_day_and_enough_rows_make_a_record_of_days() {
    let are = |step_s: f64, rows| are_days(&[curve(0, &every(step_s, rows), 0.1, |_| 20.0)]);
    assert!(are(60.0, 1441) && !are(60.0, 1440));
    assert!(are(900.0, 150) && !are(900.0, 149));
}

/// Days with a lamp from 10:00:20 to 11:30:50 each, and the room's own way; rows a minute apart.
fn timer(days: usize, step_s: f64, seed: u64, rise_degc: f64) -> (Vec<Curve>, Vec<f64>) {
    let mut draw = rng(seed);
    let hours = |day: usize, s: f64| 86_400.0 * day as f64 + s;
    let truth: Vec<f64> = (0..days)
        .flat_map(|d| [hours(d, 36_020.0), hours(d, 41_450.0)])
        .collect();
    let t_s = every(step_s, (86_400.0 * days as f64 / step_s) as usize + 1);
    let tau_s = 900.0;
    let one = |channel: usize| {
        let mut c = curve(channel, &t_s, 0.04, |t| {
            let room = 20.0 + 2.0 * (t / 86_400.0 * std::f64::consts::TAU).sin();
            let signs = [1.0, -1.0].into_iter().cycle();
            let lamp = truth
                .iter()
                .zip(signs)
                .map(|(e, s)| s * newton(t - e - 7.0, tau_s));
            room + (rise_degc - channel as f64) * lamp.sum::<f64>()
        });
        c.floor_degc = 0.01;
        c
    };
    let mut curves: Vec<Curve> = (0..2).map(one).collect();
    for c in &mut curves {
        c.degc
            .iter_mut()
            .for_each(|y| *y += 0.04 * normal(&mut draw));
    }
    (curves, truth)
}

#[test]
fn every_edge_of_three_days_is_found_at_a_minute_and_at_five() {
    for (step_s, off_s, least) in [(60.0, 20.0, 5), (300.0, 90.0, 2)] {
        let (curves, truth) = timer(3, step_s, 2, 12.0);
        let (all, grid_s) = bends(&curves);
        near(grid_s, step_s, 1e-9);
        assert_eq!(all.len(), truth.len());
        for (bend, truth) in all.iter().zip(&truth) {
            near(bend.at_s, *truth, 1.5 * step_s + 10.0);
        }
        let fit = find(&curves, &LampOptions::default(), 3);
        assert_eq!(fit.method, Method::Pieces);
        assert_eq!(fit.edges.len(), truth.len(), "{step_s}: {:?}", fit.edges);
        let mut covered = 0;
        for (k, (edge, truth)) in fit.edges.iter().zip(&truth).enumerate() {
            assert_eq!(edge.edge, if k % 2 == 0 { Kind::On } else { Kind::Off });
            near(edge.at_s, *truth, off_s);
            covered += usize::from(edge.low_s <= *truth && *truth <= edge.high_s);
            let width_s = edge.high_s - edge.low_s;
            assert!(width_s > 8.0 && width_s < 4.0 * off_s, "{step_s}: {edge:?}");
        }
        assert!(covered >= least, "{covered} of 6");
        assert_eq!(fit.noise_degc, [Some(0.04), Some(0.04), None]);
    }
}

#[test]
fn days_without_a_lamp_have_none() {
    let (curves, _) = timer(2, 60.0, 3, 0.0);
    let still = [curves[0].clone()];
    let fit = find(&still, &LampOptions::default(), 1);
    assert_eq!(
        (fit.edges.len(), fit.method, fit.noise_degc),
        (0, Method::NoEdge, vec![None])
    );
}

#[test]
fn windows_reach_to_the_neighbours_and_no_farther_than_they_need() {
    let (curves, _) = timer(1, 60.0, 4, 12.0);
    let all: Vec<Bend> = [
        (36_000.0, Kind::On),
        (37_000.0, Kind::Off),
        (60_000.0, Kind::On),
    ]
    .map(|(at_s, kind)| Bend {
        at_s,
        kind,
        strength: 30.0,
    })
    .to_vec();
    let options = LampOptions::default();
    let of = |step_s| Windows {
        curves: &curves,
        options: &options,
        channels: 2,
        bends: &all,
        step_s,
    };
    let windows = of(60.0);
    assert_eq!(windows.about(0, 0), (33_300.0, 37_000.0));
    assert_eq!(windows.about(1, 1), (36_000.0, 39_700.0));
    assert_eq!(windows.about(0, 1), (33_300.0, 39_700.0));
    assert_eq!(of(400.0).about(2, 2), (55_200.0, 64_800.0));
    assert_eq!(of(40_000.0).about(2, 2), (37_000.0, 86_400.0));
    assert!(windows.close(&edge(36_200.0, Kind::On, 1.0), &all[0]));
    assert!(!windows.close(&edge(36_200.0, Kind::Off, 1.0), &all[0]));
    assert!(!windows.close(&edge(36_241.0, Kind::On, 1.0), &all[0]));
}

#[test]
fn strengths_are_in_units_of_what_is_usual_in_those_hours() {
    // A stormy half of the record and a quiet one, a row a minute.
    let mut draw = rng(6);
    let rows = 2400;
    let sd_degc = |i: usize| if i < rows / 2 { 2.0 } else { 0.2 };
    let grid: Vec<f64> = (0..rows).map(|i| sd_degc(i) * normal(&mut draw)).collect();
    let curves = [curve(0, &every(60.0, rows), 0.1, |_| 20.0)];
    let half = 4;
    let h = template(2 * half + 1, half as f64, (0.08, 0.03));
    let all = strengths(&curves, &[grid], &h, 60.0);
    for hours in [&all[..rows / 2 - 200], &all[rows / 2 + 200..]] {
        let mut sizes: Vec<f64> = hours.iter().map(|z| z.abs()).collect();
        near(1.4826 * median(&mut sizes), 1.0, 0.15);
    }
}

#[test]
fn a_lone_bend_is_looked_at_on_the_scale_that_shows_it_best() {
    let (mut curves, truth) = timer(2, 60.0, 7, 12.0);
    for c in &mut curves {
        // From an hour before the last going on to an hour before it goes off.
        let to = c.t_s.partition_point(|t| *t < truth[3] - 600.0);
        let from = c.t_s.partition_point(|t| *t < truth[1] + 20_000.0);
        (c.t_s, c.degc) = (c.t_s[from..to].to_vec(), c.degc[from..to].to_vec());
    }
    let (all, step_s) = bends(&curves);
    assert_eq!(all.len(), 1, "{all:?}");
    near(all[0].at_s, truth[2], 180.0);
    let along = on_grid(&curves, PLACES).along;
    for scale_s in SCALES_S {
        let half = (scale_s / step_s).round() as usize;
        let h = template(2 * half + 1, half as f64, (5.0 / step_s, 1.6 / step_s));
        let z = strengths(&curves, &along, &h, step_s);
        let most = z.iter().map(|z| z.abs()).fold(0.0, f64::max);
        assert!(all[0].strength >= most, "{scale_s}: {most}");
    }
}

/// What is told of bends with rows so many seconds apart, where nothing but the bends was told before.
fn heated(step_s: f64, off_later_s: f64) -> (Vec<Told>, Vec<Told>, Vec<f64>) {
    let (curves, truth) = timer(1, step_s, 2, 12.0);
    let (mut all, step_s) = bends(&curves);
    assert_eq!(all.len(), 2);
    all[1].at_s += off_later_s;
    let vague = |bend: &Bend| Told {
        edge: coarse(bend, step_s),
        lag_share: 0.0,
        vague: true,
    };
    let before: Vec<Told> = all.iter().map(vague).collect();
    let mut after = before.clone();
    let options = LampOptions::default();
    let windows = Windows {
        curves: &curves,
        options: &options,
        channels: 2,
        bends: &all,
        step_s,
    };
    windows.heatings(&mut after);
    (before, after, truth)
}

#[test]
fn rows_minutes_apart_about_a_heating_are_a_table() {
    let (_, told, truth) = heated(300.0, 0.0);
    for (told, truth_s) in told.iter().zip(truth) {
        assert!(!told.vague && told.lag_share > 0.0, "{told:?}");
        near(told.edge.at_s, truth_s, 150.0);
    }
    // Rows a minute apart are fitted; and a table that says another instant than the bend says nothing.
    let same = |(before, after): (&Told, &Told)| after.vague && before.edge == after.edge;
    let (before, after, _) = heated(60.0, 0.0);
    assert!(before.iter().zip(&after).all(same));
    let (before, after, _) = heated(300.0, 1500.0);
    assert!(before.iter().zip(&after).all(same));
}
