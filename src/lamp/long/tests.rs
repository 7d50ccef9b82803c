//! Records with many edges: the parts by themselves, and a record of nine lessons.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::bends::{even, joint_strength, peaks, quiet_sd, strongest, usually_apart};
use super::*;
use crate::lamp::Kind;
use crate::lamp::hinge::template;
use crate::lamp::project::dot;
use crate::lamp::tests::{curve, every, near, newton, normal, rng};

fn bend(at_s: f64, kind: Kind, strength: f64) -> Bend {
    Bend {
        at_s,
        kind,
        strength,
    }
}

fn places(all: &[Bend]) -> Vec<(f64, f64)> {
    all.iter().map(|b| (b.at_s, b.strength)).collect()
}

#[test]
fn of_neighbours_of_one_kind_the_stronger_is_kept() {
    use Kind::{Off, On};
    let all = [
        (1.0, On, 5.0),
        (2.0, On, 7.0),
        (3.0, On, 6.0),
        (4.0, Off, 1.0),
        (5.0, Off, 1.0),
        (6.0, On, 2.0),
    ];
    let kept = alternating(
        all.map(|(at, kind, strength)| bend(at, kind, strength))
            .to_vec(),
    );
    assert_eq!(places(&kept), [(2.0, 7.0), (4.0, 1.0), (6.0, 2.0)]);
    assert!(alternating(vec![]).is_empty());
}

#[test]
fn of_bends_too_close_the_strongest_are_kept_in_order_of_time() {
    let all = [
        (30.0, 5.0),
        (10.0, 6.0),
        (19.0, 9.0),
        (29.5, 7.0),
        (60.0, 1.0),
    ];
    let kept = strongest(all.map(|(at, s)| bend(at, Kind::On, s)).to_vec(), 10.0);
    assert_eq!(places(&kept), [(19.0, 9.0), (29.5, 7.0), (60.0, 1.0)]);
    let apart = strongest(
        vec![bend(0.0, Kind::On, 1.0), bend(10.0, Kind::On, 2.0)],
        10.0,
    );
    assert_eq!(apart.len(), 1, "so far apart is too close");
}

#[test]
fn a_grid_takes_rows_where_they_are_and_bridges_gaps_by_straight_lines() {
    let c = curve(0, &[10.0, 11.0, 15.0, 16.0], 0.1, |t| {
        if t < 12.0 { t } else { 3.0 * t - 22.0 }
    });
    let grid = even(&c, 9.0, 1.0, 9);
    for (got, want) in grid
        .iter()
        .zip([10.0, 10.0, 11.0, 14.0, 17.0, 20.0, 23.0, 26.0, 26.0])
    {
        near(*got, want, 1e-9);
    }
    let between = even(&c, 10.25, 0.5, 3);
    for (got, want) in between.iter().zip([10.25, 10.75, 11.75]) {
        near(*got, want, 1e-9);
    }
}

#[test]
fn peaks_stand_out_and_are_the_largest_about_them() {
    let mut z = vec![0.0; 40];
    (z[5], z[7], z[20], z[23], z[35]) = (9.0, -12.0, 5.5, 5.4, 4.9);
    assert_eq!(peaks(&z, 3), [(7, -12.0), (20, 5.5)]);
    assert_eq!(peaks(&z, 1), [(5, 9.0), (7, -12.0), (20, 5.5), (23, 5.4)]);
    z[0] = 30.0;
    z[39] = -30.0;
    assert_eq!(
        peaks(&z, 3),
        [(0, 30.0), (7, -12.0), (20, 5.5), (39, -30.0)]
    );
}

#[test]
fn strengths_of_several_samples_add_up_in_units_of_their_usual_bend() {
    let mut draw = rng(1);
    let h = template(13, 6.0, (1.0, 0.3));
    let mut grid = |sd: f64| -> Vec<f64> {
        (0..400)
            .map(|i| sd * (20.0 * f64::from((i - 200).max(0)) + normal(&mut draw)))
            .collect()
    };
    let of = |grid: Vec<f64>| -> Vec<f64> { grid.windows(13).map(|w| dot(w, &h)).collect() };
    let (a, b) = (of(grid(0.1)), of(grid(3.0)));
    let scales = [quiet_sd(&a), quiet_sd(&b)];
    near(scales[0], 0.1, 0.025);
    near(scales[1], 3.0, 0.7);
    let one = joint_strength(std::slice::from_ref(&a), &scales);
    let two = joint_strength(&[a.clone(), b], &scales);
    assert_eq!(one.len(), 400 - 13 + 1);
    let top = |z: &[f64]| z.iter().copied().fold(0.0, f64::max);
    assert!(top(&one) > 15.0);
    near(top(&two), 2.0_f64.sqrt() * top(&one), 0.2 * top(&two));
    let place = one.iter().position(|z| *z >= top(&one)).unwrap() + 6;
    assert!((197..=203).contains(&place), "{place}");
    assert!(joint_strength(&[], &[]).is_empty() && quiet_sd(&[]) == 0.0);
}

#[test]
fn many_bends_that_alternate_tell_how_wide_a_window_may_be() {
    let every = |step: usize, count: usize| -> Vec<(usize, f64)> {
        let sign = |i: usize| if i.is_multiple_of(2) { 9.0 } else { -9.0 };
        (0..count).map(|i| (step * i, sign(i))).collect()
    };
    assert_eq!(usually_apart(&every(90, 7)), 90.0);
    assert_eq!(usually_apart(&every(90, 6)), f64::INFINITY, "too few");
    assert_eq!(usually_apart(&[]), f64::INFINITY);
    let alike: Vec<(usize, f64)> = every(90, 9).iter().map(|b| (b.0, 9.0)).collect();
    assert_eq!(usually_apart(&alike), f64::INFINITY, "all of one kind");
}

#[test]
fn rows_between_two_instants_hold_both_ends() {
    let mut c = curve(3, &every(1.0, 10), 0.1, |t| 20.0 + t);
    c.rows = (0..10).map(f64::from).collect::<Vec<f64>>().into();
    let part = inside(&[c.clone()], 2.0, 5.0).remove(0);
    assert_eq!(part.t_s, [2.0, 3.0, 4.0, 5.0]);
    assert_eq!(part.degc, [22.0, 23.0, 24.0, 25.0]);
    assert_eq!(part.rows.iter().collect::<Vec<f64>>(), [2.0, 3.0, 4.0, 5.0]);
    assert_eq!(part.channel, 3);
    assert!(inside(&[c], 20.0, 30.0)[0].t_s.is_empty());
}

#[test]
fn what_is_not_sharp_stands_only_between_two_that_are() {
    use Kind::{Off, On};
    let kept = |all: &[(Kind, bool)]| -> Vec<f64> {
        let one = |(i, (kind, is_sharp)): (usize, &(Kind, bool))| Fitted {
            edge: Edge {
                edge: *kind,
                at_s: i as f64,
                low_s: i as f64 - 0.1,
                high_s: i as f64 + 0.1,
                level: 0.95,
            },
            lag_share: 0.0,
            is_sharp: *is_sharp,
        };
        let all: Vec<Fitted> = all.iter().enumerate().map(one).collect();
        trusted(&all).iter().map(|k| k.edge.at_s).collect()
    };
    let (sharp, not) = (true, false);
    assert_eq!(
        kept(&[(On, sharp), (Off, not), (On, sharp)]),
        [0.0, 1.0, 2.0]
    );
    // One neighbour is not enough, on whichever side, nor two of which one is of its own kind.
    assert_eq!(kept(&[(On, sharp), (Off, not), (On, not)]), [0.0]);
    assert_eq!(kept(&[(On, not), (Off, not), (On, sharp)]), [2.0]);
    assert_eq!(kept(&[(On, sharp), (Off, not), (Off, sharp)]), [0.0, 2.0]);
    assert_eq!(kept(&[(Off, sharp), (Off, not), (On, sharp)]), [0.0, 2.0]);
}

/// Lessons of ten minutes on and ten off, a row each second.
fn lessons(count: usize, seed: u64) -> (Vec<Curve>, Vec<f64>) {
    let (tau_s, on_s, all_s) = (420.0, 600.0, 1200.0);
    let truth: Vec<f64> = (0..count)
        .flat_map(|k| [150.0 + all_s * k as f64, 150.0 + on_s + all_s * k as f64])
        .collect();
    let t_s = every(1.0, all_s as usize * count + 100);
    let mut draw = rng(seed);
    let mut y = 21.0;
    let degc: Vec<f64> = t_s
        .iter()
        .map(|t| {
            let lit = truth.chunks(2).any(|e| e[0] <= *t && *t < e[1]);
            y += (21.0 + if lit { 14.0 } else { 0.0 } - y) * newton(1.0, tau_s);
            y + 0.03 * normal(&mut draw)
        })
        .collect();
    let mut c = curve(0, &t_s, 0.03, |_| 0.0);
    (c.degc, c.floor_degc) = (degc, 1e-3);
    (vec![c], truth)
}

#[test]
fn six_lessons_are_many_and_each_edge_is_found_in_its_window() {
    let (curves, truth) = lessons(6, 2);
    assert!(has_many(&curves));
    let fit = find(&curves, &LampOptions::no_lags(), 2);
    assert_eq!(fit.method, Method::Pieces);
    assert_eq!(fit.edges.len(), truth.len(), "{:?}", fit.edges);
    assert_eq!(fit.lag_share.len(), truth.len());
    for (k, (edge, truth)) in fit.edges.iter().zip(&truth).enumerate() {
        assert_eq!(edge.edge, if k % 2 == 0 { Kind::On } else { Kind::Off });
        near(edge.at_s, *truth, 2.0);
        assert!(edge.high_s - edge.low_s < 4.0, "{edge:?}");
    }
    assert_eq!(fit.noise_degc, [Some(0.03), None]);
}

/// Lessons one after another in two samples behind a probe's lag of 5 s, and their edges.
fn cycles(
    count: usize,
    (on_s, off_s): (f64, f64),
    tau_s: f64,
    row_s: f64,
) -> (Vec<f64>, [Vec<f64>; 2], Vec<f64>) {
    let all_s = on_s + off_s;
    let begin = |k: usize| 150.3 + all_s * k as f64;
    let truth: Vec<f64> = (0..count)
        .flat_map(|k| [begin(k), begin(k) + on_s])
        .collect();
    let t_s = every(row_s, ((150.0 + all_s * count as f64) / row_s) as usize);
    let mut draw = rng(7);
    let channels = [(14.0, tau_s), (10.0, 1.2 * tau_s)].map(|(rise, tau_s)| {
        let lagging = |u: f64| (tau_s * newton(u, tau_s) - 5.0 * newton(u, 5.0)) / (tau_s - 5.0);
        let one = |t: &f64| {
            let lit: f64 = truth
                .chunks(2)
                .map(|e| lagging(t - e[0]) - lagging(t - e[1]))
                .sum();
            21.0 + rise * lit + 0.03 * normal(&mut draw)
        };
        t_s.iter().map(one).collect()
    });
    (t_s, channels, truth)
}

#[test]
fn many_short_lessons_are_all_found() {
    let short = [
        (2, (200.0, 250.0), 180.0, 1.0),
        (4, (200.0, 250.0), 180.0, 1.0),
        (6, (200.0, 250.0), 180.0, 1.0),
        (6, (200.0, 250.0), 180.0, 5.0),
        (12, (200.0, 250.0), 180.0, 1.0),
        (6, (120.0, 150.0), 300.0, 1.0),
        (12, (90.0, 90.0), 180.0, 1.0),
        (6, (90.0, 90.0), 300.0, 1.0),
        (10, (60.0, 90.0), 200.0, 1.0),
        (12, (300.0, 300.0), 400.0, 5.0),
    ];
    for (count, times, tau_s, row_s) in short {
        let (t_s, channels, truth) = cycles(count, times, tau_s, row_s);
        let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        let fit = crate::lamp::find_edges(&t_s, &columns, &LampOptions::default());
        assert_eq!(
            fit.edges.len(),
            truth.len(),
            "{count} {times:?} {row_s}: {:?}",
            fit.edges
        );
        for (edge, truth) in fit.edges.iter().zip(&truth) {
            near(edge.at_s, *truth, 6.0);
        }
    }
}

#[test]
fn two_lessons_are_not_many_nor_are_few_rows_or_noise() {
    let (two, _) = lessons(2, 3);
    assert!(!has_many(&two));
    let (mut short, _) = lessons(6, 4);
    short[0].t_s.truncate(299);
    short[0].degc.truncate(299);
    assert!(!has_many(&short));
    let mut draw = rng(5);
    let mut still = curve(0, &every(1.0, 3000), 0.03, |_| 21.0);
    still
        .degc
        .iter_mut()
        .for_each(|y| *y += 0.03 * normal(&mut draw));
    assert!(!has_many(&[still.clone()]));
    let fit = find(&[still], &LampOptions::no_lags(), 1);
    assert_eq!((fit.edges.len(), fit.method), (0, Method::NoEdge));
}
