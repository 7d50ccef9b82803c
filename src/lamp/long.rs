//! Records with many edges: candidates by bends at several scales, then each edge in its window.
//!
//! Between two neighbouring edges a first-order sample forgets everything but one exponential, so
//! a window from the edge before to the edge after holds a complete model of the one inside.
//! Cost is linear in rows.

mod bends;

use super::choose::{COARSE, about_lags};
use super::clean::{Curve, thinned};
use super::interval::edges;
use super::refine::{Problem, Terms};
use super::search::{Start, limits};
use super::season::swings;
use super::sharp::is_sharp;
use super::{Edge, LampFit, LampOptions, Method};
pub(super) use bends::{Bend, Grids, alternating, on_grid};

/// Edges of one lamp are of similar strength: weaker bends than this share do not count.
const ALIKE: f64 = 0.15;

/// Fewest rows of one curve at least.
const FEWEST: usize = 300;

/// More bends than this make a record long.
pub(super) const MANY: usize = 6;

/// Rows within so many lags of the edge before still tell of that one, and are left out; but no more than so
/// much of the time between the two.
const SETTLED: f64 = 3.0;
const SETTLED_PART: f64 = 0.25;

/// Whether the record has more strong bends than one model of the whole is asked to hold.
pub(super) fn has_many(curves: &[Curve]) -> bool {
    if curves.iter().all(|c| c.t_s.len() < FEWEST) {
        return false;
    }
    let all = bends::bends(curves);
    let strongest = all.iter().map(|b| b.strength).fold(0.0, f64::max);
    all.iter()
        .filter(|b| b.strength > ALIKE * strongest)
        .count()
        > MANY
}

/// An edge fitted in its window.
#[derive(Debug, Clone, Copy)]
struct Fitted {
    edge: Edge,
    lag_share: f64,
    is_sharp: bool,
}

/// The bends of a record, each to be fitted in the window between its neighbours.
struct Pieces<'a> {
    curves: &'a [Curve],
    options: &'a LampOptions,
    channels: usize,
    lags_s: Vec<(f64, f64)>,
}

/// Edges of a long record, each fitted in the window between its neighbours.
pub(super) fn find(curves: &[Curve], options: &LampOptions, channels: usize) -> LampFit {
    let pieces = Pieces {
        curves,
        options,
        channels,
        lags_s: about_lags(curves, options, channels),
    };
    // Two rounds: when a candidate fails, its neighbours see a longer window in the second.
    let first = trusted(&pieces.each(&bends::bends(curves)));
    let mut kept = trusted(&pieces.each(&by_width(&first)));
    let alternate = by_width(&kept);
    let edges: Vec<Edge> = kept.iter().map(|k| k.edge).collect();
    if !swings(curves, &edges) {
        kept.clear();
    }
    kept.retain(|k| {
        alternate
            .iter()
            .any(|c| (c.at_s - k.edge.at_s).abs() < 1e-9)
    });
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
        lag_share: kept.iter().map(|k| k.lag_share).collect(),
        edges: kept.into_iter().map(|k| k.edge).collect(),
        noise_degc,
    }
}

/// Edges as candidates that alternate in kind, the better known being the stronger.
fn by_width(kept: &[Fitted]) -> Vec<Bend> {
    let one = |k: &Fitted| Bend {
        at_s: k.edge.at_s,
        kind: k.edge.edge,
        strength: 1.0 / (k.edge.high_s - k.edge.low_s).max(1e-3),
    };
    alternating(kept.iter().map(one).collect())
}

/// Those that are sharp, and those between two that are: a lamp that went off twice went on between.
fn trusted(all: &[Fitted]) -> Vec<Fitted> {
    let sharp = |j: Option<usize>| {
        j.and_then(|j| all.get(j))
            .filter(|one| one.is_sharp)
            .map(|one| one.edge.edge)
    };
    let stays = |(j, one): (usize, &Fitted)| {
        let other = Some(one.edge.edge.other());
        let between = || sharp(j.checked_sub(1)) == other && sharp(Some(j + 1)) == other;
        (one.is_sharp || between()).then_some(*one)
    };
    all.iter().enumerate().filter_map(stays).collect()
}

impl Pieces<'_> {
    /// Each candidate that a fit is to be had for.
    fn each(&self, candidates: &[Bend]) -> Vec<Fitted> {
        let (from, to) = limits(self.curves);
        let at = |j: usize| candidates.get(j).map(|b| b.at_s);
        let one = |(j, bend): (usize, &Bend)| {
            let before = j.checked_sub(1).and_then(at).map(|s| self.settled(s, bend));
            let reach = (before.unwrap_or(from), at(j + 1).unwrap_or(to));
            let window: Vec<Curve> = inside(self.curves, reach.0, reach.1)
                .iter()
                .map(|c| thinned(c, COARSE, &[], 0.0))
                .collect();
            let (edge, lag_share) = one(&window, bend, reach, self.options, self.channels)?;
            Some(Fitted {
                is_sharp: is_sharp(&window, edge.at_s, edge.edge, reach, &self.lags_s),
                edge,
                lag_share,
            })
        };
        candidates.iter().enumerate().filter_map(one).collect()
    }

    /// From when on rows hardly tell of the edge before a bend any more.
    fn settled(&self, before_s: f64, bend: &Bend) -> f64 {
        let lags_s = self.lags_s.iter().map(|(probe, lamp)| probe + lamp);
        let after_s = SETTLED * lags_s.fold(0.0, f64::max);
        before_s + after_s.min(SETTLED_PART * (bend.at_s - before_s))
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
