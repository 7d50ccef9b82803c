//! Each rule by which rows are taken as they are, left out or believed less, from both sides.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::tests::{every, near, normal, rng};

#[test]
fn rows_that_break_the_order_or_are_no_temperature_are_left_out() {
    let t_s = [0.0, 1.0, 1.0, 0.5, f64::NAN, 2.0, 3.0, 4.0, 5.0];
    let degc = [
        20.0,
        20.1,
        99.0,
        99.0,
        99.0,
        1e5,
        f64::INFINITY,
        -20.0,
        20.3,
    ];
    let clean = curve(4, &t_s, &degc, true);
    assert_eq!(clean.t_s, [0.0, 1.0, 4.0, 5.0]);
    assert_eq!(clean.degc, [20.0, 20.1, -20.0, 20.3]);
    assert_eq!((clean.channel, clean.by_eye), (4, false));
}

#[test]
fn few_rows_are_minutes_apart_on_average_and_most_of_them() {
    let few = |step_s: f64, rows: usize, by_eye| few_rows(&every(step_s, rows), by_eye);
    assert!(few(25.0, 16, false) && !few(24.9, 16, false));
    assert!(!few(60.0, 17, false) && few(60.0, 17, true));
    assert!(few(60.0, 64, true) && !few(60.0, 65, true));
    // One long pause between rows of a second, and one short step between rows of minutes.
    let paused: Vec<f64> = every(1.0, 8).into_iter().chain([5000.0]).collect();
    assert!(!few_rows(&paused, false));
    let once: Vec<f64> = every(120.0, 8).into_iter().chain([845.0]).collect();
    assert!(few_rows(&once, false));
    // Half of the steps are enough, at half of the usual time.
    assert!(few_rows(&[0.0, 1.0, 100.0], false) && !few_rows(&[0.0, 1.0, 2.0, 100.0], false));
    assert!(few_rows(&[], false) && few_rows(&[3.0], false));
}

#[test]
fn rows_by_hand_are_half_a_minute_apart_or_more_at_round_times_in_tenths() {
    assert!(by_hand(&[0.0, 45.0, 105.0, 405.0]));
    assert!(by_hand(&[0.0, 30.0, 90.0]) && !by_hand(&[0.0, 15.0, 45.0]));
    assert!(!by_hand(&[0.0, 61.0]) && !by_hand(&[]));
    let t_s = every(60.0, 12);
    let tenths: Vec<f64> = (0..12).map(|i| 20.0 + 0.3 * f64::from(i)).collect();
    let finer: Vec<f64> = tenths
        .iter()
        .enumerate()
        .map(|(i, y)| y + 0.01 * (i % 3) as f64)
        .collect();
    assert!(read_by_eye(&t_s, &tenths) && !read_by_eye(&t_s, &finer));
    assert!(!read_by_eye(&every(60.0, 41), &vec![20.0; 41]));
    // Many rows only in coarser steps.
    let halves = |rows: u32| -> Vec<f64> { (0..rows).map(|i| 20.0 + 0.5 * f64::from(i)).collect() };
    assert!(
        read_by_eye(&every(30.0, 41), &halves(41)) && read_by_eye(&every(30.0, 64), &halves(64))
    );
    assert!(!read_by_eye(&every(30.0, 65), &halves(65)));
    assert!(curve(0, &t_s, &tenths, false).by_eye && !curve(0, &t_s, &tenths, true).by_eye);
    near(grain_degc(&tenths), 0.3, 1e-9);
    near(grain_degc(&[20.0, 20.0]), 0.1, 1e-12);
    near(grain_degc(&[20.05, 20.05]), 0.0, 1e-12);
    near(grain_degc(&[20.0, 20.25, 20.5]), 0.25, 1e-12);
}

#[test]
fn a_slip_of_the_pen_goes_there_and_back_or_stands_at_an_end() {
    let at = |y: &[f64]| -> Vec<usize> {
        let all = slips(y);
        (0..y.len()).filter(|i| all[*i]).collect()
    };
    // Four fifths of the changes are 1 °C or less: 1.5 with half a degree, so 6 in the middle and 12 at
    // an end are still believed.
    let mut y: Vec<f64> = (0..16).map(|i| 20.0 + f64::from(i)).collect();
    assert!(at(&y).is_empty());
    y[8] += 7.2;
    assert_eq!(at(&y), [8]);
    y[8] -= 1.3;
    assert!(at(&y).is_empty());
    y[8] -= 5.9;
    // A step that stays is none, nor is one at an end that is not large.
    let step: Vec<f64> = y
        .iter()
        .enumerate()
        .map(|(i, y)| if i > 7 { y + 20.0 } else { *y })
        .collect();
    assert!(at(&step).is_empty());
    y[15] += 11.2;
    assert_eq!(at(&y), [15]);
    y[15] -= 0.4;
    assert!(at(&y).is_empty());
    y[0] -= 11.2;
    assert_eq!(at(&y), [0]);
    assert!(at(&[20.0]).is_empty() && at(&[]).is_empty());
}

#[test]
fn a_slip_in_a_short_table_does_not_hide_itself_nor_one_beside_it() {
    let at = |y: &[f64]| -> Vec<usize> {
        let all = slips(y);
        (0..y.len()).filter(|i| all[*i]).collect()
    };
    // Three rows of rest, a lamp, and cooling; 31.4 was written where 21.4 was meant, and so forth.
    let table = [
        21.0, 21.0, 21.1, 24.3, 26.4, 27.8, 26.0, 24.6, 23.6, 22.9, 22.4,
    ];
    for rows in 5..=table.len() {
        assert!(at(&table[..rows]).is_empty(), "{rows} rows");
        for row in 1..rows - 1 {
            for by in [20.0, -20.0] {
                let mut y = table[..rows].to_vec();
                y[row] += by;
                let seen = at(&y);
                assert!(
                    seen.is_empty() || seen == [row],
                    "{rows} rows, {row}: {seen:?}"
                );
                assert!(rows < 7 || seen == [row], "{rows} rows, {row}: {by}");
            }
        }
    }
    let mut two = table.to_vec();
    (two[2], two[8]) = (41.1, 3.6);
    assert_eq!(at(&two), [2, 8]);
    // A lamp that burns from one row to the next, and a thin sample that cools as fast: no slip.
    for fall in [0.4_f64, 0.6, 0.8] {
        let y: Vec<f64> = (0..9)
            .map(|i| match i {
                0..=3 => 20.0,
                _ => 20.0 + 9.0 * (1.0 - fall).powi(i - 4),
            })
            .collect();
        assert!(at(&y).is_empty(), "falls by {fall}: {y:?}");
    }
}

#[test]
fn a_spike_is_far_from_the_median_of_nine() {
    let mut draw = rng(1);
    let mut y: Vec<f64> = (0..60)
        .map(|i| 20.0 + 0.01 * f64::from(i) + 0.02 * normal(&mut draw))
        .collect();
    assert!(spikes(&y, 0.02).iter().all(|s| !s));
    (y[0], y[30], y[59]) = (21.0, 19.0, 24.0);
    let found: Vec<usize> = spikes(&y, 0.02)
        .iter()
        .enumerate()
        .filter(|(_, s)| **s)
        .map(|(i, _)| i)
        .collect();
    assert_eq!(found, [0, 30, 59]);
    // Six standard deviations of the noise, where the neighbours do not scatter at all.
    let mut flat = vec![20.0; 20];
    flat[10] = 20.59;
    assert!(!spikes(&flat, 0.1)[10]);
    flat[10] = 20.61;
    assert!(spikes(&flat, 0.1)[10] && spikes(&flat, 0.1).iter().filter(|s| **s).count() == 1);
    assert_eq!(spikes(&[20.0, 99.0, 20.0], 0.1), [false; 3]);
    assert!(spikes(&[20.0, 20.0, 20.0, 20.0, 99.0, 20.0, 20.0, 20.0, 20.0], 0.1)[4]);
}

#[test]
fn the_least_noise_is_the_step_s_share_or_the_reader_s_watch() {
    let t_s = every(2.0, 100);
    let stepped: Vec<f64> = t_s
        .iter()
        .map(|t| (20.0 + 0.0137 * t) / 0.0625)
        .map(|y| y.round() * 0.0625)
        .collect();
    let c = curve(0, &t_s, &stepped, true);
    near(c.floor_degc, 0.0625 / 12.0_f64.sqrt(), 1e-9);
    assert!(c.sd_degc >= c.floor_degc && c.inflation == 1.0);
    // Read by a person: three seconds of half a degree a minute beside the step's share.
    let by_eye = curve(
        0,
        &every(60.0, 10),
        &(0..10)
            .map(|i| 20.0 + 0.5 * f64::from(i))
            .collect::<Vec<f64>>(),
        false,
    );
    assert!(by_eye.by_eye);
    near(
        by_eye.floor_degc,
        (0.5 / 12.0_f64.sqrt()).hypot(3.0 * 0.5 / 60.0),
        1e-9,
    );
    // Without any step a trace of the range.
    let way = |t: &f64| 20.0 + 3e-7 * t * t + 1e-9 * t.powi(3);
    let smooth: Vec<f64> = t_s.iter().map(way).collect();
    let c = curve(0, &t_s, &smooth, true);
    assert!(c.floor_degc >= 1e-9 && c.floor_degc < 1e-4);
}

fn thousand(sd: f64) -> (Curve, Vec<f64>) {
    let mut draw = rng(7);
    let t_s = every(1.0, 1000);
    let r: Vec<f64> = t_s.iter().map(|_| sd * normal(&mut draw)).collect();
    let c = Curve {
        degc: r.clone(),
        t_s,
        sd_degc: 1.0,
        floor_degc: 1e-3,
        inflation: 1.0,
        ..Curve::default()
    };
    (c, r)
}

#[test]
fn measured_noise_is_the_residuals_own_whatever_a_few_of_them_are() {
    let (mut c, mut r) = thousand(0.2);
    c.measure(&r, 1.0);
    near(c.sd_degc, 0.2, 0.015);
    near(c.inflation, 1.0, 0.15);
    // Fewer degrees of freedom: a larger estimate. No less than a tenth of them is believed.
    let whole = c.sd_degc;
    c.measure(&r, 0.25);
    near(c.sd_degc, 2.0 * whole, 1e-9);
    c.measure(&r, 0.0);
    near(c.sd_degc, whole / 0.1_f64.sqrt(), 1e-9);
    // A touch of fifty rows: neither size nor correlation follow it.
    r[300..350].iter_mut().for_each(|v| *v += 5.0);
    c.measure(&r, 1.0);
    assert!((0.19..0.28).contains(&c.sd_degc), "{}", c.sd_degc);
    near(c.inflation, 1.0, 0.15);
    // Nothing left: the floor.
    c.measure(&vec![0.0; 1000], 1.0);
    near(c.sd_degc, 1e-3, 1e-12);
    // A mean of four rows scatters by half as much.
    let (mut c, r) = thousand(0.2);
    c.rows = vec![4.0; 1000].into();
    c.measure(&r, 1.0);
    near(c.sd_degc, 0.4, 0.03);
}

/// Huber's weights (Huber, Robust estimation of a location parameter, Annals of Mathematical Statistics
/// 35, 1964): 1 up to k standard deviations, then k over the distance.
#[test]
fn trust_falls_off_with_distance_and_faster_from_five_on_but_near_edges() {
    let (mut c, _) = thousand(1.0);
    c.sd_degc = 0.1;
    let mut r = vec![0.0; 1000];
    for (i, z) in [
        (100, 2.4),
        (200, -3.0),
        (300, 4.9),
        (400, 10.0),
        (500, -10.0),
        (501, 10.0),
    ] {
        r[i] = 0.1 * z;
    }
    c.reweigh(&r, &[441.0, 520.0]);
    let trust: Vec<f64> = c.trust.iter().take(1000).collect();
    near(trust[0], 1.0, 1e-12);
    near(trust[100], 1.0, 1e-12);
    near(trust[200], 2.5 / 3.0, 1e-9);
    near(trust[300], 2.5 / 4.9, 1e-9);
    near(trust[400], 0.25, 1e-9);
    near(trust[500], 0.25, 1e-9);
    c.reweigh(&r, &[460.0, 561.5]);
    let trust: Vec<f64> = c.trust.iter().take(1000).collect();
    near(trust[400], 0.25 * 0.25, 1e-9);
    near(trust[500], 0.25, 1e-9);
    near(trust[501], 0.25 * 0.25, 0.19);
    // A mean of four rows is twice as strange.
    c.rows = vec![4.0; 1000].into();
    c.reweigh(&r, &[]);
    let trust: Vec<f64> = c.trust.iter().take(1000).collect();
    near(trust[100], 2.5 / 4.8, 1e-9);
    let root: Vec<f64> = c.root_weights().collect();
    assert_eq!(root.len(), 1000);
    near(root[0], 2.0 / 0.1, 1e-9);
    near(root[100], 2.0 * (2.5 / 4.8_f64).sqrt() / 0.1, 1e-9);
    c.inflation = 4.0;
    near(c.root_weights().next().unwrap(), 10.0, 1e-9);
}

#[test]
fn blocks_are_even_finer_near_instants_and_weigh_their_rows() {
    let t_s = every(1.0, 100);
    let c = curve(
        0,
        &t_s,
        &t_s.iter().map(|t| 20.0 + 0.5 * t).collect::<Vec<f64>>(),
        true,
    );
    let coarse = blocks(&c, 10.0, &[], 0.0);
    assert_eq!(
        coarse.t_s,
        (0..10)
            .map(|k| 4.5 + 10.0 * f64::from(k))
            .collect::<Vec<f64>>()
    );
    near(coarse.degc[3], 20.0 + 0.5 * 34.5, 1e-9);
    assert_eq!(
        coarse.rows.iter().take(10).collect::<Vec<f64>>(),
        [10.0; 10]
    );
    let fine = blocks(&c, 10.0, &[50.0], 5.5);
    // 45 to 55 s row by row; of the blocks about them what is left.
    let about: Vec<f64> = fine
        .t_s
        .iter()
        .copied()
        .filter(|t| (40.0..60.0).contains(t))
        .collect();
    assert_eq!(
        about,
        [
            42.0, 45.0, 46.0, 47.0, 48.0, 49.0, 50.0, 51.0, 52.0, 53.0, 54.0, 55.0, 57.5
        ]
    );
    // Blocks of blocks are means of all rows.
    let again = blocks(&fine, 50.0, &[], 0.0);
    near(again.t_s[0], 27.0, 1e-9);
    assert_eq!(
        again.rows.iter().take(2).collect::<Vec<f64>>(),
        [55.0, 45.0]
    );
    assert!(blocks(&Curve::default(), 10.0, &[], 0.0).t_s.is_empty());
    near(width_for(&c, 33), 3.0, 1e-9);
    assert_eq!(width_for(&c, 100), 0.0);
    assert_eq!(c.thinned(100).t_s, c.t_s);
    assert!((10..=12).contains(&c.thinned(10).t_s.len()));
    let part = c.part(&[1.0, 2.0], &[20.5, 21.0]);
    assert_eq!(
        (part.t_s.len(), part.degc.len(), part.rows.iter().nth(5)),
        (2, 2, Some(1.0))
    );
    assert_eq!(
        Each::from(vec![1.0, 2.0, 3.0])
            .part(1, 3)
            .iter()
            .collect::<Vec<f64>>(),
        [2.0, 3.0]
    );
}
