//! Records of a day and longer: a lamp's sharp edges amid dawn, dusk, sun and clouds.
//!
//! A bend of the curve is measured against those of the hours about it: clouds and sun bend the
//! curve all day long and soft dawns bend it slowly, but a lamp's edge stands far above its own
//! neighbourhood. Each edge is then fitted in a window of its own, so that cost stays linear in rows.

use super::choose::fitted;
use super::clean::{Curve, thinned};
use super::finish::{MODES, PLAIN, SPARSE};
use super::hinge::template;
use super::interval::edges;
use super::long::{Bend, Grids, alternating, inside, on_grid};
use super::noise::median;
use super::project::dot;
use super::refine::Terms;
use super::search::{Start, limits};
use super::{Edge, Kind, LEVEL, LampFit, LampOptions, Method, few};

/// Shortest record that this is for, in seconds, and fewest rows.
const DAY_S: f64 = 86_400.0;
const FEWEST: usize = 150;

/// Places of the even grid over the whole record.
const PLACES: usize = 20_000;

/// Half-widths in seconds of the windows in which bends are looked for, and one for samples so slow that
/// the others see them less than [`PLAIN_SHARE`] of the gate; and the least in places.
const SCALES_S: [f64; 3] = [240.0, 480.0, 960.0];
const WIDE_S: f64 = 1920.0;
const PLAIN_SHARE: f64 = 1.5;
const NARROWEST: usize = 4;

/// Hours on both sides, in seconds, whose bends are the usual ones.
const ABOUT_S: f64 = 10_800.0;

/// A bend stands out from so many usual ones on; of a few places only, where noise rules, earlier
/// (set by simulation: `benches/unseen --families window,window-lamp`).
const GATE: f64 = 24.0;
const GATE_NARROW: f64 = 14.0;

/// Edges of one lamp are alike: weaker bends than this share of the middle one do not count.
const ALIKE: f64 = 0.4;

/// Least usual bend, in degrees Celsius.
const LEAST_DEGC: f64 = 0.02;

/// An edge is fitted within this many seconds on both sides, and at least so many rows.
const REACH_S: f64 = 2700.0;
const REACH_ROWS: f64 = 12.0;

/// Values of the fit in a window; those within some seconds of the edge are finer.
const VALUES: usize = 200;
const NEAR_S: f64 = 120.0;

/// A fit that leaves the bend by more places than this has gone astray.
const ASTRAY: f64 = 4.0;

/// A fit with a half-width of more than this, in seconds and places, says little.
const VAGUE_S: f64 = 45.0;
const VAGUE_STEPS: f64 = 2.0;

/// Standard uncertainty in places that the unsteady hours about an edge add (set by simulation).
const UNSTEADY: f64 = 0.15;

/// Rows this far apart in seconds leave few of them about a heating; most that are taken for a table.
const SPARSE_S: f64 = 100.0;
const TABLE: f64 = 50.0;

/// Whether the record is one of days.
pub(super) fn are_days(curves: &[Curve]) -> bool {
    let (from, to) = limits(curves);
    to - from >= DAY_S && curves.iter().all(|c| c.t_s.len() >= FEWEST)
}

/// The lamp's edges in a record of days.
pub(super) fn find(curves: &[Curve], options: &LampOptions, channels: usize) -> LampFit {
    let (bends, step_s) = bends(curves);
    let mut fit = LampFit {
        edges: Vec::new(),
        lag_share: Vec::new(),
        noise_degc: vec![None; channels],
        method: Method::NoEdge,
    };
    if bends.is_empty() {
        return fit;
    }
    let window = Windows {
        curves,
        options,
        channels,
        bends: &bends,
        step_s,
    };
    let mut told = window.each();
    window.heatings(&mut told);
    for one in without_vague_pairs(told) {
        fit.edges.push(one.edge);
        fit.lag_share.push(one.lag_share);
    }
    if fit.edges.is_empty() {
        return fit;
    }
    for c in curves {
        if let Some(slot) = fit.noise_degc.get_mut(c.channel) {
            *slot = Some(c.sd_degc);
        }
    }
    fit.method = Method::Pieces;
    fit
}

/// An edge as its window tells it.
#[derive(Debug, Clone, Copy)]
struct Told {
    edge: Edge,
    lag_share: f64,
    /// Whether no fit could be had, or one that says little.
    vague: bool,
}

/// Two neighbours of which neither is known well are clouds that came and went.
fn without_vague_pairs(told: Vec<Told>) -> Vec<Told> {
    let mut kept: Vec<Told> = Vec::new();
    for one in told {
        if one.vague && kept.last().is_some_and(|last| last.vague) {
            kept.pop();
        } else {
            kept.push(one);
        }
    }
    kept
}

/// The bends of a record and the windows in which each is looked at closely.
struct Windows<'a> {
    curves: &'a [Curve],
    options: &'a LampOptions,
    channels: usize,
    bends: &'a [Bend],
    step_s: f64,
}

impl Windows<'_> {
    /// From and to, in seconds: about the bends from one place to another, up to their neighbours.
    fn about(&self, first: usize, last: usize) -> (f64, f64) {
        let (from, to) = limits(self.curves);
        let reach_s = REACH_S.max(REACH_ROWS * self.step_s);
        let at = |j: usize| self.bends.get(j).map(|b| b.at_s);
        let before = first.checked_sub(1).and_then(at).unwrap_or(from);
        let after = at(last + 1).unwrap_or(to);
        (
            before.max(at(first).unwrap_or(from) - reach_s),
            after.min(at(last).unwrap_or(to) + reach_s),
        )
    }

    fn close(&self, edge: &Edge, bend: &Bend) -> bool {
        edge.edge == bend.kind && (edge.at_s - bend.at_s).abs() < ASTRAY * self.step_s
    }

    /// Each bend fitted by itself.
    fn each(&self) -> Vec<Told> {
        let one = |(j, bend): (usize, &Bend)| {
            let found = one(
                self.curves,
                bend,
                self.about(j, j),
                self.options,
                self.channels,
            );
            match found.filter(|(edge, _)| self.close(edge, bend)) {
                Some((edge, lag_share)) => Told {
                    vague: edge.high_s - edge.low_s > 2.0 * (VAGUE_S + VAGUE_STEPS * self.step_s),
                    edge: wider(edge, UNSTEADY * self.step_s),
                    lag_share,
                },
                None => Told {
                    edge: coarse(bend, self.step_s),
                    lag_share: 0.0,
                    vague: true,
                },
            }
        };
        self.bends.iter().enumerate().map(one).collect()
    }

    /// Where rows are minutes apart, a heating and what is about it make a table of few rows.
    fn heatings(&self, told: &mut [Told]) {
        if self.step_s < SPARSE_S {
            return;
        }
        for j in 0..self.bends.len() {
            let Some([on, off]) = self.bends.get(j..j + 2) else {
                continue;
            };
            let (before, after) = self.about(j, j + 1);
            if on.kind != Kind::On || (after - before) / self.step_s > TABLE {
                continue;
            }
            let table = inside(self.curves, before, after);
            if table.iter().any(|c| c.t_s.len() < 8) {
                continue;
            }
            let Some(fit) = few::find_one(&table, self.options, self.channels) else {
                continue;
            };
            let [first, second] = fit.edges.as_slice() else {
                continue;
            };
            if !self.close(first, on) || !self.close(second, off) {
                continue;
            }
            let found = fit.edges.iter().zip(&fit.lag_share);
            for (slot, (edge, lag_share)) in told.iter_mut().skip(j).zip(found) {
                *slot = Told {
                    edge: *edge,
                    lag_share: *lag_share,
                    vague: false,
                };
            }
        }
    }
}

/// What the bend alone says of its instant.
fn coarse(bend: &Bend, step_s: f64) -> Edge {
    Edge {
        edge: bend.kind,
        at_s: bend.at_s,
        low_s: bend.at_s - 2.0 * step_s,
        high_s: bend.at_s + 2.0 * step_s,
        level: LEVEL,
    }
}

/// The edge with a standard uncertainty added.
fn wider(edge: Edge, by_s: f64) -> Edge {
    let arm = |arm_s: f64| arm_s.max(0.0).hypot(1.96 * by_s);
    Edge {
        low_s: edge.at_s - arm(edge.at_s - edge.low_s),
        high_s: edge.at_s + arm(edge.high_s - edge.at_s),
        ..edge
    }
}

/// The edge of a window, fitted.
fn one(
    curves: &[Curve],
    bend: &Bend,
    (before, after): (f64, f64),
    options: &LampOptions,
    channels: usize,
) -> Option<(Edge, f64)> {
    let usable: Vec<Curve> = inside(curves, before, after)
        .iter()
        .filter(|c| c.t_s.len() >= 8)
        .map(|c| thinned(c, VALUES, &[bend.at_s], NEAR_S))
        .collect();
    if usable.is_empty() {
        return None;
    }
    let start = Start {
        first: bend.kind,
        at_s: vec![bend.at_s],
        cost: 0.0,
        tau_s: vec![0.3 * (after - before); usable.len()],
    };
    let terms = if usable.iter().all(|c| c.t_s.len() >= 2 * SPARSE) {
        MODES
    } else {
        Terms {
            drift: true,
            ..PLAIN
        }
    };
    let found = fitted(&usable, &start, terms, options, channels, 2)?;
    let (list, shares) = edges(&found.fit, &found.curves, options, channels);
    let edge = *list.first()?;
    let within = edge.at_s > before && edge.at_s < after;
    within.then_some((edge, shares.first().copied().unwrap_or(0.0)))
}

/// The bends that stand out on the scale that shows them best, and the grid's step in seconds.
fn bends(curves: &[Curve]) -> (Vec<Bend>, f64) {
    let Grids {
        from,
        step,
        along: grids,
    } = on_grid(curves, PLACES);
    let places_of = |s: f64| ((s / step).round() as usize).max(NARROWEST);
    let mut halves = SCALES_S.map(places_of).to_vec();
    halves.push(places_of(WIDE_S));
    halves.dedup();
    let mut best: (f64, Vec<Bend>) = (0.0, Vec::new());
    for half in halves {
        if half == places_of(WIDE_S) && best.0 >= PLAIN_SHARE {
            break;
        }
        let lags = (5.0 / step, 1.6 / step);
        let h = template(2 * half + 1, half as f64, lags);
        let sums = strengths(curves, &grids, &h, step);
        let gate = if half < 2 * NARROWEST {
            GATE_NARROW
        } else {
            GATE
        };
        let all: Vec<Bend> = peaks(&sums, half, gate)
            .into_iter()
            .map(|(i, strength)| Bend {
                at_s: from + step * (i + half) as f64,
                kind: if strength > 0.0 { Kind::On } else { Kind::Off },
                strength: strength.abs(),
            })
            .collect();
        // One alone may be an artefact: the second strongest tells how well a scale does.
        let mut by_size: Vec<f64> = all.iter().map(|b| b.strength).collect();
        by_size.sort_by(|a, b| b.total_cmp(a));
        let alone = by_size.first().map_or(0.0, |one| 0.5 * one);
        let second = by_size.get(1).copied().unwrap_or(alone);
        if second / gate > best.0 {
            let least = ALIKE * median(&mut by_size);
            let strong = all.into_iter().filter(|b| b.strength >= least);
            best = (second / gate, strong.collect());
        }
    }
    (alternating(best.1), step)
}

/// Signed strength at every place: bends of all curves in units of the usual ones of those hours.
fn strengths(curves: &[Curve], grids: &[Vec<f64>], h: &[f64], step_s: f64) -> Vec<f64> {
    let mut sums: Vec<f64> = Vec::new();
    let root = (grids.len() as f64).sqrt();
    for (curve, grid) in curves.iter().zip(grids) {
        let along: Vec<f64> = grid.windows(h.len()).map(|w| dot(w, h)).collect();
        let about = ((ABOUT_S / step_s) as usize).max(2 * h.len());
        let part = (about / 6).max(1);
        let floor = curve.floor_degc.max(LEAST_DEGC);
        sums.resize(along.len(), 0.0);
        for (k, piece) in along.chunks(part).enumerate() {
            let middle = k * part + part / 2;
            let near = along.get(middle.saturating_sub(about)..(middle + about).min(along.len()));
            let stride = (2 * about / 200).max(1);
            let sizes = near.unwrap_or_default().iter().step_by(stride);
            let usual = 1.4826 * median(&mut sizes.map(|a| a.abs()).collect::<Vec<_>>());
            let scale = usual.max(floor) * root;
            for (sum, a) in sums.iter_mut().skip(k * part).zip(piece) {
                *sum += a / scale;
            }
        }
    }
    sums
}

/// Places that stand out and are the largest within `half` on both sides.
fn peaks(z: &[f64], half: usize, gate: f64) -> Vec<(usize, f64)> {
    let one = |(i, v): (usize, &f64)| {
        let window = z.get(i.saturating_sub(half)..(i + half + 1).min(z.len()))?;
        let top = v.abs() > gate && window.iter().all(|o| o.abs() <= v.abs());
        top.then_some((i, *v))
    };
    z.iter().enumerate().filter_map(one).collect()
}

#[cfg(test)]
mod tests;
