//! A sample that was taken from under the lamp, which looks like the lamp going off.
//!
//! The bench is nearly linear and time-invariant: going off changes each sample's slope by minus what going
//! on changed it by. Where one sample answers an off-edge so and another, that answered the on-edge, warms on as
//! if nothing had been, the lamp is on and the one that answered was moved, or its probe.

use super::line::fit_line;
use crate::lamp::{Curve, Edge, Kind};

/// Slopes are taken over so many seconds before an edge and after its lags, or a third of the heating.
const WINDOW_S: f64 = 60.0;

/// The lags of probe and lamp are over after so many seconds.
const LAGS_S: f64 = 15.0;

/// Rows in each window that tell a slope.
const ROWS: usize = 6;

/// A sample answered the on-edge when its slope changed by so many standard uncertainties.
const CLEAR: f64 = 6.0;

/// Of that change a sample takes back less than the first share where the lamp stays on, and more than
/// the second where it goes off, each with two standard uncertainties.
const STAYS: f64 = 0.3;
const GOES: f64 = 0.5;

/// Which sample was moved, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Moved {
    /// Its channel, from 0.
    pub(super) channel: usize,
    /// When, in seconds.
    pub(super) at_s: f64,
    /// Until when its readings are surely those of a sample under the lamp, in seconds.
    pub(super) until_s: f64,
}

/// The sample that alone did what the first off-edge after a lamp-on says. Only there: what a sample did that
/// was taken away and brought back tells nothing of the edges that follow.
pub(super) fn moved(curves: &[Curve], edges: &[Edge]) -> Option<Moved> {
    let [on, off, ..] = edges else { return None };
    if on.edge != Kind::On {
        return None;
    }
    let answers = curves.iter().filter_map(|c| answer(c, on.at_s, off.at_s));
    let answers: Vec<Answer> = answers.collect();
    let mut gone = answers.iter().filter(|a| a.share - 2.0 * a.u > GOES);
    let stays = |a: &Answer| a.warms_on && a.share + 2.0 * a.u < STAYS;
    match (gone.next(), gone.next(), answers.iter().any(stays)) {
        (Some(one), None, true) => Some(Moved {
            channel: one.channel,
            at_s: off.at_s,
            until_s: off.low_s.min(off.at_s - LAGS_S),
        }),
        _ => None,
    }
}

/// What a sample does as the lamp goes off.
struct Answer {
    channel: usize,
    /// What share of its change of slope at the on-edge it takes back.
    share: f64,
    /// The share's standard uncertainty.
    u: f64,
    /// It is plainly still getting warmer.
    warms_on: bool,
}

/// None where a curve's answer to either edge cannot be told.
fn answer(curve: &Curve, on_s: f64, off_s: f64) -> Option<Answer> {
    let width_s = WINDOW_S.min((off_s - on_s - LAGS_S) / 3.0);
    let change = |at_s: f64| {
        let before = slope(curve, at_s - width_s, width_s)?;
        let after = slope(curve, at_s + LAGS_S, width_s)?;
        Some((after.0 - before.0, before.1.hypot(after.1), after))
    };
    let (on, u_on, _) = change(on_s)?;
    let (off, u_off, after) = change(off_s)?;
    let share = -off / on;
    (on > CLEAR * u_on).then(|| Answer {
        channel: curve.channel,
        share,
        u: (u_off / on).hypot(share * u_on / on),
        warms_on: after.0 > CLEAR * after.1,
    })
}

/// A curve's slope over some seconds, with its standard uncertainty; none of too few rows.
fn slope(curve: &Curve, from_s: f64, width_s: f64) -> Option<(f64, f64)> {
    let a = curve.t_s.partition_point(|t| *t < from_s);
    let b = curve.t_s.partition_point(|t| *t <= from_s + width_s).max(a);
    let (t, y) = (curve.t_s.get(a..b)?, curve.degc.get(a..b)?);
    let line = fit_line(t, y).filter(|_| t.len() >= ROWS)?;
    // Readings that all stand on one step have no scatter of their own. Of even rows the variance is a
    // twelfth of the width's square.
    let spread = line.residual_sd.max(curve.sd_degc) * curve.inflation.sqrt();
    let u = spread * (12.0 / t.len() as f64).sqrt() / (t.last()? - t.first()?);
    Some((line.slope, u))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lamp::{LEVEL, curve};

    fn approach(since_s: f64, tau_s: f64) -> f64 {
        -(-since_s.max(0.0) / tau_s).exp_m1()
    }

    fn edges(off_s: f64) -> [Edge; 2] {
        [(Kind::On, 100.0), (Kind::Off, off_s)].map(|(edge, at_s)| Edge {
            edge,
            at_s,
            low_s: at_s - 5.0,
            high_s: at_s + 5.0,
            level: LEVEL,
        })
    }

    /// Samples lit from 100 s on; each is away from its own instant on, and the lamp goes off at 700 s.
    fn bench(away_s: &[f64]) -> Vec<Curve> {
        let t_s: Vec<f64> = (0..1200).map(f64::from).collect();
        let samples = away_s.iter().enumerate();
        samples
            .map(|(i, away_s)| {
                let off_s = away_s.min(700.0);
                let degc = |t: &f64| {
                    let lit = approach(t - 100.0, 300.0) - approach(t - off_s, 300.0);
                    ((22.0 + 10.0 * lit + 0.01 * (t * 12.9898).sin()) * 16.0).round() / 16.0
                };
                let degc: Vec<f64> = t_s.iter().map(degc).collect();
                curve(i, &t_s, &degc, true)
            })
            .collect()
    }

    #[test]
    fn who_leaves_the_lamp_alone_was_moved() {
        let stay = f64::INFINITY;
        let found = moved(&bench(&[300.0, stay]), &edges(300.0)).unwrap();
        assert_eq!(
            (found.channel, found.at_s, found.until_s),
            (0, 300.0, 285.0)
        );
        let found = moved(&bench(&[stay, stay, 300.0]), &edges(300.0));
        assert_eq!(found.map(|one| one.channel), Some(2));
    }

    #[test]
    fn a_lamp_that_goes_off_moves_nobody() {
        let stay = f64::INFINITY;
        assert_eq!(moved(&bench(&[stay, stay]), &edges(700.0)), None);
        assert_eq!(moved(&bench(&[stay]), &edges(700.0)), None);
        // Who was away before says nothing of it, and who went with the lamp is not told from it.
        assert_eq!(moved(&bench(&[stay, 300.0]), &edges(700.0)), None);
        assert_eq!(moved(&bench(&[stay, 700.0]), &edges(700.0)), None);
        assert_eq!(moved(&bench(&[300.0, stay]), &edges(300.0)[..1]), None);
    }
}
