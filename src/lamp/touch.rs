//! Touched and moved probes: what jumps in one channel alone, taken out before edges are looked for.
//!
//! A lamp changes slopes, and all channels' at once. A hand on a probe makes one channel jump within
//! seconds; then it fades within a minute, or stays where the probe has moved. About each jump two
//! descriptions compete over rows from [`BEFORE_S`] before to [`AFTER_S`] after it, each beside a
//! parabola: the jump that fades or stays, and all that a lamp may do (light on the probe, nodes and a
//! ramp, all of them up or all of them down). The rows of the jump itself are left aside.

use super::clean::{Curve, blocks};
use super::noise::{inflation, robust_sd};
use super::project::{dot, fit, orthonormalise, remove};
use super::search::spacing;

/// Rows farther apart, in seconds, do not show how a jump goes on; records longer than this in seconds
/// have too many jumps of other kinds.
const FARTHEST_S: f64 = 6.0;
const LONGEST_S: f64 = 86_400.0;

/// Width of the blocks that are looked at, in seconds, and fewest of them about a jump.
const WIDTH_S: f64 = 2.0;
const FEWEST: usize = 16;

/// What of the record is looked at about a jump, and which rows belong to the jump itself, in seconds.
const BEFORE_S: f64 = 60.0;
const AFTER_S: f64 = 120.0;
const RISE_S: (f64, f64) = (6.0, 14.0);

/// A jump is so large at least, in degrees Celsius and in standard deviations of what else there is.
const LEAST_DEGC: f64 = 0.25;
const LEAST_SD: f64 = 5.0;

/// Jumps of one channel that are judged, and how far apart they are in seconds.
const MOST: usize = 12;
const APART_S: f64 = 20.0;

/// Times in seconds within which a touch may fade.
const FADES_S: [f64; 6] = [12.0, 18.0, 27.0, 40.0, 60.0, 90.0];

/// Time constants in seconds of what a lamp may do beside a ramp, light on the probe first, and of what no
/// jump looks like.
const NODES_S: [f64; 4] = [0.0, 15.0, 40.0, 120.0];
const SLOW_S: [f64; 2] = [40.0, 120.0];

/// By how much, in twice the log-likelihood, a touch describes the rows better than a lamp, a moved
/// probe better than a ramp; and what a ramp may add to a probe that moved.
const CLEAR: f64 = 15.0;
const ADDS: f64 = 8.0;

/// What a moved probe leaves is noise, whose correlation inflates variances by no more than this: what is taken
/// off stays off to the end of the record, so an edge shortly after a touch must not pass for a move.
const NOISE: f64 = 4.0;

/// A jump: when, by how much in degrees Celsius, and within how many seconds it fades, if it does.
#[derive(Debug, Clone, Copy)]
struct Jump {
    at_s: f64,
    size_degc: f64,
    fade_s: Option<f64>,
}

/// The curves without the jumps that one of them shows alone.
pub(super) fn without_jumps(curves: &[Curve]) -> Vec<Curve> {
    let seen: Vec<Vec<(f64, f64)>> = curves.iter().map(places).collect();
    let alone = |own: usize, at_s: f64| {
        let others = seen.iter().enumerate().filter(|(i, _)| *i != own);
        let mut others = others.flat_map(|(_, places)| places);
        !others.any(|(other_s, _)| (other_s - at_s).abs() < APART_S)
    };
    let all = curves.iter().enumerate();
    all.map(|(i, c)| one_without(c, |at_s| alone(i, at_s)))
        .collect()
}

/// One curve without its jumps, the largest first.
fn one_without(curve: &Curve, alone: impl Fn(f64) -> bool) -> Curve {
    let mut curve = curve.clone();
    let mut judged: Vec<f64> = Vec::new();
    while judged.len() < MOST {
        let even = blocks(&curve, WIDTH_S, &[], 0.0);
        let found = places(&curve).into_iter().find_map(|(at_s, _)| {
            let is_new = judged.iter().all(|j| (j - at_s).abs() >= APART_S);
            if !is_new || judged.len() >= MOST {
                return None;
            }
            judged.push(at_s);
            judge(&even, at_s).filter(|_| alone(at_s))
        });
        let Some(jump) = found else { break };
        curve = without(&curve, jump);
    }
    curve
}

/// Where a curve jumps and by how much, the largest first.
fn places(curve: &Curve) -> Vec<(f64, f64)> {
    let ends = curve.t_s.first().zip(curve.t_s.last());
    let span_s = ends.map_or(0.0, |(first, last)| last - first);
    let row_s = spacing(std::slice::from_ref(curve));
    if row_s > FARTHEST_S || span_s > LONGEST_S {
        return Vec::new();
    }
    let even = blocks(curve, WIDTH_S, &[], 0.0);
    let mean = |from_s: f64, to_s: f64| {
        let from = even.t_s.partition_point(|t| *t < from_s);
        let to = even.t_s.partition_point(|t| *t < to_s);
        let part = even.degc.get(from..to).unwrap_or_default();
        (!part.is_empty()).then(|| part.iter().sum::<f64>() / part.len() as f64)
    };
    let jump = |t: &f64| Some((*t, mean(t + 2.0, t + 12.0)? - mean(t - 10.0, t + 1e-6)?));
    let mut all: Vec<(f64, f64)> = even.t_s.iter().filter_map(jump).collect();
    let sizes: Vec<f64> = all.iter().map(|(_, jump)| *jump).collect();
    let least = LEAST_DEGC.max(LEAST_SD * robust_sd(&sizes));
    all.retain(|(_, jump)| jump.abs() > least);
    all.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    all
}

/// Rows about a jump, but for those of the jump itself.
struct Window {
    /// Seconds since the jump.
    since_s: Vec<f64>,
    /// Temperatures without the parabola, in degrees Celsius.
    rest_degc: Vec<f64>,
    /// The parabola, orthonormal.
    smooth: Vec<Vec<f64>>,
    floor: f64,
}

impl Window {
    fn new(even: &Curve, at_s: f64) -> Option<Self> {
        let rows = even.t_s.iter().zip(&even.degc).map(|(t, y)| (t - at_s, *y));
        let kept = |(u, _): &(f64, f64)| {
            (-BEFORE_S..=-RISE_S.0).contains(u) || (RISE_S.1..=AFTER_S).contains(u)
        };
        let (since_s, mut rest_degc): (Vec<f64>, Vec<f64>) = rows.filter(kept).unzip();
        let before = since_s.iter().filter(|u| **u < 0.0).count();
        if since_s.len() < FEWEST || before < 4 || since_s.len() - before < 8 {
            return None;
        }
        let power = |k| since_s.iter().map(|u| (u / AFTER_S).powi(k)).collect();
        let mut smooth: Vec<Vec<f64>> = (0..3).map(power).collect();
        orthonormalise(&mut smooth);
        remove(&smooth, &mut rest_degc);
        let floor = since_s.len() as f64 * even.floor_degc.powi(2);
        Some(Self {
            since_s,
            rest_degc,
            smooth,
            floor,
        })
    }

    fn column(&self, value: impl Fn(f64) -> f64) -> Vec<f64> {
        let since = self.since_s.iter();
        let shape = since.map(|u| if *u > 0.0 { value(*u) } else { 0.0 });
        let mut column: Vec<f64> = shape.collect();
        remove(&self.smooth, &mut column);
        column
    }

    /// What a lamp leaves that goes on or off: nodes of these time constants and a ramp, all of them up or all
    /// of them down.
    fn lamp(&self, nodes_s: &[f64]) -> Vec<f64> {
        let node = |tau_s: &f64| self.column(|u| -(-u / tau_s.max(1e-3)).exp_m1());
        let mut up: Vec<Vec<f64>> = nodes_s.iter().map(node).collect();
        up.push(self.column(|u| u / AFTER_S));
        let mut on = self.rest_degc.clone();
        fit(&mut [], &mut up, &mut on);
        let mut off: Vec<f64> = self.rest_degc.iter().map(|y| -y).collect();
        fit(&mut [], &mut up, &mut off);
        if dot(&on, &on) < dot(&off, &off) {
            on
        } else {
            off
        }
    }

    /// How much of one column there is, and what it leaves.
    fn one(&self, column: &[f64]) -> (f64, Vec<f64>) {
        let size = dot(column, &self.rest_degc) / dot(column, column).max(1e-12);
        let both = self.rest_degc.iter().zip(column);
        (size, both.map(|(y, c)| y - size * c).collect())
    }

    /// By how much the second description is better, in twice the log-likelihood.
    fn gain(&self, worse: &[f64], better: &[f64]) -> f64 {
        let ratio = (dot(worse, worse) + self.floor) / (dot(better, better) + self.floor);
        better.len() as f64 / inflation(better) * ratio.ln()
    }
}

/// What jumped at an instant of a curve in blocks, if it was no lamp.
fn judge(even: &Curve, at_s: f64) -> Option<Jump> {
    let rows = Window::new(even, at_s)?;
    let step = rows.column(|_| 1.0);
    let (lamp, slow) = (rows.lamp(&NODES_S), rows.lamp(&SLOW_S));
    let jump = |size_degc, fade_s| Jump {
        at_s,
        size_degc,
        fade_s,
    };
    let fading = FADES_S.map(|fade_s| {
        let (size, left) = rows.one(&rows.column(|u| (-u / fade_s).exp()));
        (jump(size, Some(fade_s)), left)
    });
    let by_rest =
        |a: &&(Jump, Vec<f64>), b: &&(Jump, Vec<f64>)| dot(&a.1, &a.1).total_cmp(&dot(&b.1, &b.1));
    let (size, moved) = rows.one(&step);
    let (touch, left) = fading.iter().min_by(by_rest)?;
    let large = |size: f64| size.abs() > LEAST_DEGC;
    if rows.gain(&lamp, left) > CLEAR && large(touch.size_degc) {
        return Some(*touch);
    }
    let is_noise = inflation(&moved) < NOISE;
    let is_moved = is_noise && rows.gain(&slow, &moved) > CLEAR && rows.gain(&moved, &lamp) < ADDS;
    (is_moved && large(size)).then(|| jump(size, None))
}

/// The curve without a jump: its rows are left out, and what it leaves behind is taken off.
fn without(curve: &Curve, jump: Jump) -> Curve {
    let after = |t: f64| {
        let since_s = t - jump.at_s;
        let left = jump.fade_s.map_or(1.0, |fade_s| (-since_s / fade_s).exp());
        if since_s > 0.0 {
            jump.size_degc * left
        } else {
            0.0
        }
    };
    let of_jump = |t: f64| (-RISE_S.0..RISE_S.1).contains(&(t - jump.at_s));
    let rows = curve.t_s.iter().zip(&curve.degc);
    let rows = rows.filter(|(t, _)| !of_jump(**t));
    let (t_s, degc): (Vec<f64>, Vec<f64>) = rows.map(|(t, y)| (*t, y - after(*t))).unzip();
    curve.part(&t_s, &degc)
}

#[cfg(test)]
mod tests {
    use super::super::clean::{Curve, curve};
    use super::{places, without_jumps};

    /// Half an hour of a row a second, in degrees Celsius: a lamp that is on from 300 to 1000 s, light that
    /// falls on the probe, noise, and what else happens.
    fn made(channel: usize, more: impl Fn(f64) -> f64) -> Curve {
        lit(channel, 0.6, 15.0, more)
    }

    /// The same with so much of the light on the probe, and so much of it on the sample, in degrees Celsius.
    fn lit(channel: usize, probe: f64, sample: f64, more: impl Fn(f64) -> f64) -> Curve {
        let t_s: Vec<f64> = (0..1800).map(f64::from).collect();
        let lamp = |u: f64| match u {
            u if u > 0.0 => probe * (1.0 - (-u / 5.0).exp()) + sample * (1.0 - (-u / 600.0).exp()),
            _ => 0.0,
        };
        let noise = |i: usize| 0.02 * ((i * i) as f64 * 0.7).sin();
        let value =
            |(i, t): (usize, &f64)| 21.0 + lamp(t - 300.0) - lamp(t - 1000.0) + noise(i) + more(*t);
        let degc: Vec<f64> = t_s.iter().enumerate().map(value).collect();
        curve(channel, &t_s, &degc, true)
    }

    fn touch(t: f64) -> f64 {
        let u = (t - 700.0).max(0.0);
        2.0 * (1.0 - (-u / 4.0).exp()) * (-u / 35.0).exp()
    }

    /// Largest difference of a curve from another, over the rows that both have.
    fn apart(one: &Curve, other: &Curve) -> f64 {
        let rows = one.t_s.iter().zip(&one.degc);
        let with = |(t, y): (&f64, &f64)| {
            let i = other.t_s.iter().position(|o| (o - t).abs() < 1e-9)?;
            Some((y - other.degc.get(i)?).abs())
        };
        rows.filter_map(with).fold(0.0, f64::max)
    }

    #[test]
    fn a_touch_and_a_moved_probe_are_taken_off() {
        let quiet = made(0, |_| 0.0);
        let touched = without_jumps(&[made(0, touch)]);
        assert!(
            apart(&touched[0], &quiet) < 0.3,
            "{}",
            apart(&touched[0], &quiet)
        );
        let moved = |t: f64| -1.6 * (1.0 - (-(t - 1400.0).max(0.0) / 2.0).exp());
        let moved = without_jumps(&[made(0, moved)]);
        assert!(
            apart(&moved[0], &quiet) < 0.2,
            "{}",
            apart(&moved[0], &quiet)
        );
    }

    #[test]
    fn much_light_on_one_probe_is_neither_a_touch_nor_a_move() {
        for (probe, sample) in [(0.5, 2.0), (1.0, 4.0), (4.0, 10.0)] {
            let curve = lit(0, probe, sample, |_| 0.0);
            assert!(
                places(&curve)
                    .iter()
                    .any(|(at_s, _)| (at_s - 300.0).abs() < 6.0)
            );
            let [after] = without_jumps(std::slice::from_ref(&curve))
                .try_into()
                .unwrap();
            assert_eq!(curve.t_s, after.t_s, "{probe}");
            assert!(apart(&curve, &after) < 1e-12, "{probe}");
        }
    }

    #[test]
    fn a_lamp_with_its_light_on_the_probe_stays_and_so_does_what_all_channels_show() {
        for curves in [vec![made(0, |_| 0.0)], vec![made(0, touch), made(1, touch)]] {
            for (before, after) in curves.iter().zip(without_jumps(&curves)) {
                assert_eq!(before.t_s, after.t_s);
                assert!(apart(before, &after) < 1e-12);
            }
        }
    }
}
