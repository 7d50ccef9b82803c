//! Records with many edges: candidates by bends at several scales, then each edge in its window.
//!
//! Between two neighbouring edges a first-order sample forgets everything but one exponential, so
//! a window from the edge before to the edge after holds a complete model of the one inside.
//! Cost is linear in rows.

use super::choose::{COARSE, about_lags};
use super::clean::{Curve, thinned, width_for};
use super::hinge::template;
use super::interval::edges;
use super::noise::median;
use super::project::dot;
use super::refine::{Problem, Terms};
use super::search::{Start, limits};
use super::season::swings;
use super::sharp::is_sharp;
use super::{Edge, Kind, LampFit, LampOptions, Method};

/// Places of the even grid over the whole record.
const PLACES: usize = 6000;

/// Half-widths of the windows in which bends are looked for, in places.
const SCALES: [usize; 5] = [6, 12, 24, 48, 96];

/// A bend counts when it is this many standard deviations of the quiet places of its scale.
const GATE: f64 = 8.0;

/// So manieth part of all places is quiet, and what it stays below of noise, in standard deviations.
const QUIET_PART: usize = 4;
const QUIET_SD: f64 = 0.3186;

/// Bends of noise grow with the window by so much at most: it lasts longer than the narrowest.
const GROWS: f64 = 3.0;

/// Edges of one lamp are of similar strength: weaker bends than this share do not count.
const ALIKE: f64 = 0.15;

/// Fewest rows of one curve at least.
const FEWEST: usize = 300;

/// More bends than this make a record long.
pub(super) const MANY: usize = 6;

/// Lags of probe and lamp in seconds that bends are looked for behind.
const LAGS_S: (f64, f64) = (5.0, 1.6);

/// A candidate: place in time, kind, strength in standard deviations.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bend {
    pub(super) at_s: f64,
    pub(super) kind: Kind,
    pub(super) strength: f64,
}

/// Whether the record has more strong bends than one model of the whole is asked to hold.
pub(super) fn has_many(curves: &[Curve]) -> bool {
    if curves.iter().all(|c| c.t_s.len() < FEWEST) {
        return false;
    }
    let all = bends(curves);
    let strongest = all.iter().map(|b| b.strength).fold(0.0, f64::max);
    all.iter()
        .filter(|b| b.strength > ALIKE * strongest)
        .count()
        > MANY
}

/// Each curve on one even grid, gaps bridged by straight lines.
pub(super) fn even(curve: &Curve, from: f64, step: f64, places: usize) -> Vec<f64> {
    let mut rows = curve.t_s.iter().zip(&curve.degc).peekable();
    let first = curve.degc.first().copied().unwrap_or(0.0);
    let mut left = (from - step, first);
    (0..places)
        .map(|i| {
            let t = from + step * i as f64;
            while let Some((rt, ry)) = rows.next_if(|(rt, _)| **rt <= t) {
                left = (*rt, *ry);
            }
            match rows.peek() {
                Some((rt, ry)) if **rt > left.0 => {
                    left.1 + (*ry - left.1) * (t - left.0) / (**rt - left.0)
                }
                _ => left.1,
            }
        })
        .collect()
}

/// Strong bends over all scales, alternating in kind, in order of time.
fn bends(curves: &[Curve]) -> Vec<Bend> {
    let (from, to) = limits(curves);
    let width = curves
        .iter()
        .map(|c| width_for(c, PLACES))
        .fold(0.0, f64::max);
    // Of so many rows the median step is no wider (half of them are at least as long as it, and
    // all of them make up the record), and need not be looked for.
    let step = if curves.iter().all(|c| c.t_s.len() > 2 * PLACES + 1) {
        width
    } else {
        width.max(super::search::spacing(curves))
    };
    let places = (((to - from) / step) as usize + 1).min(PLACES + 2);
    let grid = |c: &Curve| {
        if width > 0.0 {
            let blocks = super::clean::blocks(c, width, &[], 0.0);
            even(&blocks, from, step, places)
        } else {
            even(c, from, step, places)
        }
    };
    let grids: Vec<Vec<f64>> = curves.iter().map(grid).collect();
    let floors: Vec<f64> = curves.iter().map(|c| c.floor_degc).collect();
    let mut found = Vec::new();
    let mut narrowest: Option<Vec<f64>> = None;
    for half in SCALES {
        let lags = (LAGS_S.0 / step, LAGS_S.1 / step);
        // The lags' bend in the middle, not its beginning: off the middle the template answers a bend that lags
        // less with as much of the other sign beside it.
        let late = (lags.0 + lags.1).min(0.5 * half as f64);
        let h = template(2 * half + 1, half as f64 - late, lags);
        let along = grids
            .iter()
            .map(|grid| grid.windows(h.len()).map(|w| dot(w, &h)).collect());
        let along: Vec<Vec<f64>> = along.collect();
        let quiet = along.iter().zip(&floors);
        let quiet: Vec<f64> = quiet.map(|(a, floor)| quiet_sd(a).max(*floor)).collect();
        // Where lessons are short no place of a wide window is quiet.
        let narrowest = narrowest.get_or_insert_with(|| quiet.clone());
        let both = quiet.iter().zip(narrowest.iter());
        let scales: Vec<f64> = both.map(|(own, least)| own.min(GROWS * least)).collect();
        let sums = joint_strength(&along, &scales);
        let own = peaks(&sums, half);
        if are_crowded(&own, half) {
            break;
        }
        found.extend(own.into_iter().map(|(i, strength)| Bend {
            at_s: from + step * ((i + half) as f64 - late),
            kind: if strength > 0.0 { Kind::On } else { Kind::Off },
            strength: strength.abs(),
        }));
    }
    let gap = 3.0 * step;
    alternating(strongest(found, gap.max(10.0)))
}

/// Signed strength at every place: bends of all curves in units of the usual size of each.
fn joint_strength(along: &[Vec<f64>], scales: &[f64]) -> Vec<f64> {
    let places = along.first().map_or(0, Vec::len);
    let mut sums = vec![0.0; places];
    let root = (along.len() as f64).sqrt();
    for (along, scale) in along.iter().zip(scales) {
        for (sum, bend) in sums.iter_mut().zip(along) {
            *sum += bend / (scale * root);
        }
    }
    sums
}

/// Standard deviation of the quieter part: between many short lessons most of the record is bent.
fn quiet_sd(along: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = along.iter().map(|a| a.abs()).collect();
    let place = sizes.len() / QUIET_PART;
    if place >= sizes.len() {
        return 0.0;
    }
    *sizes.select_nth_unstable_by(place, f64::total_cmp).1 / QUIET_SD
}

/// Places that stand out and are the largest within `half` on both sides.
fn peaks(z: &[f64], half: usize) -> Vec<(usize, f64)> {
    z.iter()
        .enumerate()
        .filter(|(i, v)| {
            let window = z.get(i.saturating_sub(half)..(i + half + 1).min(z.len()));
            v.abs() > GATE && window.is_some_and(|w| w.iter().all(|o| o.abs() <= v.abs()))
        })
        .map(|(i, v)| (i, *v))
        .collect()
}

/// Whether windows commonly reach into those of their neighbours: then they answer to more than one bend.
fn are_crowded(own: &[(usize, f64)], half: usize) -> bool {
    let apart = own.iter().zip(own.iter().skip(1));
    let mut apart: Vec<f64> = apart.map(|(a, b)| (b.0 - a.0) as f64).collect();
    apart.len() >= MANY && median(&mut apart) < 2.0 * half as f64
}

/// Keeps the strongest of candidates closer together than `gap_s`.
fn strongest(mut all: Vec<Bend>, gap_s: f64) -> Vec<Bend> {
    all.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    all.truncate(4000);
    let mut kept: Vec<Bend> = Vec::new();
    for bend in all {
        if kept.iter().all(|k| (k.at_s - bend.at_s).abs() > gap_s) {
            kept.push(bend);
        }
    }
    kept.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    kept
}

/// Of neighbours of one kind only the stronger can be an edge.
pub(super) fn alternating(all: Vec<Bend>) -> Vec<Bend> {
    let mut kept: Vec<Bend> = Vec::new();
    for bend in all {
        match kept.last_mut() {
            Some(last) if last.kind == bend.kind => {
                if bend.strength > last.strength {
                    *last = bend;
                }
            }
            _ => kept.push(bend),
        }
    }
    kept
}

/// Edges of a long record, each fitted in the window between its neighbours.
pub(super) fn find(curves: &[Curve], options: &LampOptions, channels: usize) -> LampFit {
    let mut candidates = bends(curves);
    let lags_s = about_lags(curves, options, channels);
    let mut kept: Vec<(Edge, f64)> = Vec::new();
    // Two rounds: when a candidate fails, its neighbours see a longer window in the second.
    for _ in 0..2 {
        kept.clear();
        let (from, to) = limits(curves);
        for (j, bend) in candidates.iter().enumerate() {
            let before = j
                .checked_sub(1)
                .and_then(|i| candidates.get(i))
                .map_or(from, |b| b.at_s);
            let after = candidates.get(j + 1).map_or(to, |b| b.at_s);
            let window: Vec<Curve> = inside(curves, before, after)
                .iter()
                .map(|c| thinned(c, COARSE, &[], 0.0))
                .collect();
            let refined = one(&window, bend, (before, after), options, channels);
            kept.extend(refined.filter(|(edge, _)| {
                is_sharp(&window, edge.at_s, edge.edge, (before, after), &lags_s)
            }));
        }
        candidates = alternating(
            kept.iter()
                .map(|(e, _)| Bend {
                    at_s: e.at_s,
                    kind: e.edge,
                    strength: 1.0 / (e.high_s - e.low_s).max(1e-3),
                })
                .collect(),
        );
    }
    let edges: Vec<Edge> = kept.iter().map(|k| k.0).collect();
    if !swings(curves, &edges) {
        kept.clear();
    }
    kept.retain(|(e, _)| candidates.iter().any(|c| (c.at_s - e.at_s).abs() < 1e-9));
    let mut noise_degc = vec![None; channels];
    for c in curves {
        if let Some(slot) = noise_degc.get_mut(c.channel) {
            *slot = Some(c.sd_degc);
        }
    }
    LampFit {
        method: if kept.is_empty() {
            Method::NoEdge
        } else {
            Method::Pieces
        },
        lag_share: kept.iter().map(|k| k.1).collect(),
        edges: kept.into_iter().map(|k| k.0).collect(),
        noise_degc,
    }
}

/// The rows between two instants; every curve stays, if need be empty.
pub(super) fn inside(curves: &[Curve], before: f64, after: f64) -> Vec<Curve> {
    curves
        .iter()
        .map(|c| {
            let from = c.t_s.partition_point(|t| *t < before);
            let to = c.t_s.partition_point(|t| *t <= after);
            let part = |v: &[f64]| v.get(from..to).unwrap_or_default().to_vec();
            Curve {
                t_s: part(&c.t_s),
                degc: part(&c.degc),
                rows: c.rows.part(from, to),
                trust: c.trust.part(from, to),
                ..*c
            }
        })
        .collect()
}

/// Fits the one edge of a window.
fn one(
    window: &[Curve],
    bend: &Bend,
    reach: (f64, f64),
    options: &LampOptions,
    channels: usize,
) -> Option<(Edge, f64)> {
    let mut usable: Vec<Curve> = window
        .iter()
        .filter(|c| c.t_s.len() >= 8)
        .cloned()
        .collect();
    if usable.is_empty() {
        return None;
    }
    let start = Start {
        first: bend.kind,
        at_s: vec![bend.at_s],
        cost: 0.0,
        tau_s: vec![0.3 * (reach.1 - reach.0); usable.len()],
    };
    let terms = Terms {
        drift: true,
        surface: false,
        modes: false,
    };
    let mut found = None;
    for _ in 0..2 {
        let (mut problem, values) = Problem::new(&usable, &start, terms, options, channels);
        let fit = problem.solve(values)?;
        let residuals = problem.residuals_degc(&fit.values);
        for (c, r) in usable.iter_mut().zip(&residuals) {
            c.measure(r, 0.95);
            c.reweigh(r, fit.at_s());
        }
        found = Some(fit);
    }
    let (list, shares) = edges(&found?, &usable, options, channels);
    let edge = *list.first()?;
    let within = edge.at_s > reach.0 && edge.at_s < reach.1;
    within.then_some((edge, shares.first().copied().unwrap_or(0.0)))
}

#[cfg(test)]
mod tests;
