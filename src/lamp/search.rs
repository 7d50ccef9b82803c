//! Coarse search: which instants, roughly, over a grid that covers the whole record.
//!
//! For a time constant and a grid instant `g` the column `S(t - g)` is made orthogonal to the
//! smooth part of the model once; after that the misfit of *any* set of edges is a quadratic form
//! in precomputed dot products, so that every pair of instants can be tried.

use nalgebra::{DMatrix, DVector};

use super::Kind;
use super::clean::Curve;
use super::project::{dot, orthonormalise, remove};
use super::response::Chain;

/// Most instants tried.
const GRID: usize = 100;

/// Sets of edges of one size that are kept, and the parts of a record from each of which a pair may
/// come.
const KEPT: usize = 8;
const PARTS: usize = 8;

/// Time constants tried per channel, between a few blocks and several records.
const TAUS: usize = 6;

/// Places of edges on the grid, with their misfit.
type Set = (Vec<usize>, f64);

/// The sets of least misfit, no two alike.
fn cheapest(mut sets: Vec<Set>) -> Vec<Set> {
    sets.retain(|set| set.1.is_finite());
    sets.sort_by(|a, b| a.1.total_cmp(&b.1));
    sets.dedup_by(|a, b| a.0 == b.0);
    sets.truncate(KEPT);
    sets
}

/// A set of edges worth refining.
#[derive(Debug, Clone)]
pub(super) struct Start {
    /// Kind of the first edge.
    pub(super) first: Kind,
    /// Instants in seconds, increasing.
    pub(super) at_s: Vec<f64>,
    /// Misfit: sum of squares in units of the noise.
    pub(super) cost: f64,
    /// Best time constant of each curve, in seconds.
    pub(super) tau_s: Vec<f64>,
}

/// Dot products of one curve's columns for one time constant.
struct Table {
    tau_s: f64,
    smooth_cost: f64,
    with_data: DVector<f64>,
    gram: DMatrix<f64>,
}

impl Table {
    fn new(curve: &Curve, grid: &[f64], tau_s: f64, lags_s: (f64, f64), drift: bool) -> Self {
        let weights: Vec<f64> = curve.root_weights().collect();
        let start = curve.t_s.first().copied().unwrap_or(0.0);
        let weighted = |value: &dyn Fn(f64) -> f64| -> Vec<f64> {
            let pairs = curve.t_s.iter().zip(&weights);
            pairs.map(|(&t, w)| w * value(t - start)).collect()
        };
        let mut smooth = vec![weighted(&|_| 1.0), weighted(&|u| (-u / tau_s).exp())];
        if drift {
            smooth.push(weighted(&|u| u));
        }
        orthonormalise(&mut smooth);
        let mut data: Vec<f64> = curve
            .degc
            .iter()
            .zip(&weights)
            .map(|(y, w)| y * w)
            .collect();
        remove(&smooth, &mut data);
        let chain = Chain::new(&[tau_s, lags_s.0, lags_s.1]);
        let responses = chain.on(&curve.t_s);
        let columns: Vec<Vec<f64>> = grid
            .iter()
            .map(|&g| {
                let mut column = vec![0.0; curve.t_s.len()];
                responses.add(g, 1.0, &mut column);
                column.iter_mut().zip(&weights).for_each(|(x, w)| *x *= w);
                remove(&smooth, &mut column);
                column
            })
            .collect();
        let rows = data.len();
        let flat = DMatrix::from_iterator(rows, grid.len(), columns.into_iter().flatten());
        Self {
            tau_s,
            smooth_cost: dot(&data, &data),
            with_data: flat.tr_mul(&DVector::from_vec(data)),
            gram: flat.tr_mul(&flat),
        }
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "places are indices of the grid that both tables were built from"
    )]
    /// Misfit with alternating edges at the grid places; a step of the wrong sign gains nothing.
    fn cost(&self, first: Kind, places: &[usize]) -> f64 {
        let (mut along, mut length) = (0.0, 0.0);
        let mut sign = first.sign();
        for (j, &p) in places.iter().enumerate() {
            along += sign * self.with_data[p];
            let mut other = first.sign();
            for &q in places.iter().take(j) {
                length += 2.0 * sign * other * self.gram[(p, q)];
                other = -other;
            }
            length += self.gram[(p, p)];
            sign = -sign;
        }
        if along > 0.0 && length > 1e-9 {
            (self.smooth_cost - along * along / length).max(0.0)
        } else {
            self.smooth_cost
        }
    }
}

/// The searchable record: one table per curve and time constant.
pub(super) struct Search {
    grid: Vec<f64>,
    tables: Vec<Vec<Table>>,
}

impl Search {
    /// Prepares the search. `lags_s` holds each curve's probe lag and the lamp's.
    pub(super) fn new(curves: &[Curve], lags_s: &[(f64, f64)], drift: bool) -> Self {
        let grid = grid(curves);
        let span = span(curves);
        let tables = curves
            .iter()
            .zip(lags_s)
            .map(|(curve, &lags)| {
                (0..TAUS)
                    .map(|i| {
                        let share = 0.04 * 75.0_f64.powf(i as f64 / (TAUS - 1) as f64);
                        Table::new(curve, &grid, share * span, lags, drift)
                    })
                    .collect()
            })
            .collect();
        Self { grid, tables }
    }

    /// Misfit over all curves, each with its best time constant.
    fn cost(&self, first: Kind, places: &[usize]) -> f64 {
        self.cost_below(first, places, f64::INFINITY)
    }

    /// The same, as far as it takes to see that it is no less than `limit`.
    fn cost_below(&self, first: Kind, places: &[usize], limit: f64) -> f64 {
        let mut sum = 0.0;
        for tables in &self.tables {
            let costs = tables.iter().map(|t| t.cost(first, places));
            sum += costs.fold(f64::INFINITY, f64::min);
            if sum >= limit {
                break;
            }
        }
        sum
    }

    fn start(&self, first: Kind, places: &[usize], cost: f64) -> Start {
        let tau_s = self
            .tables
            .iter()
            .filter_map(|tables| {
                let by_cost = |a: &&Table, b: &&Table| {
                    a.cost(first, places).total_cmp(&b.cost(first, places))
                };
                tables.iter().min_by(by_cost).map(|t| t.tau_s)
            })
            .collect();
        Start {
            first,
            at_s: places
                .iter()
                .filter_map(|&p| self.grid.get(p).copied())
                .collect(),
            cost,
            tau_s,
        }
    }

    /// Best starts with 0 to `most` edges, in turn: for each count the best of either first kind.
    ///
    /// A second lesson in a record hides from one edge alone, and from the best pair too. So several
    /// sets of each size are kept, and to each one edge is added, or two, or one put before all.
    pub(super) fn best(&self, most: usize) -> impl Iterator<Item = Vec<Start>> + '_ {
        let none = self.start(Kind::On, &[], self.cost(Kind::On, &[]));
        let most = most.min(self.grid.len().saturating_sub(2));
        let nothing = || vec![(Vec::new(), f64::INFINITY)];
        let mut last = [Kind::On, Kind::Off].map(|first| (first, [nothing(), nothing()]));
        let counted = (1..=most).map(move |count| {
            let mut starts = Vec::new();
            let [(_, [_, after_on]), (_, [_, after_off])] = last.clone();
            for (first, [older, old]) in &mut last {
                let others = if *first == Kind::On {
                    &after_off
                } else {
                    &after_on
                };
                let mut sets = Vec::new();
                if count != 2 {
                    sets.extend(old.iter().map(|set| self.with_one_more(*first, &set.0)));
                }
                if count >= 2 {
                    sets.extend(
                        older
                            .iter()
                            .flat_map(|set| self.with_two_more(*first, &set.0)),
                    );
                }
                if count > 2 {
                    let before = others
                        .iter()
                        .map(|set| self.with_one_before(*first, &set.0));
                    sets.extend(before);
                }
                let mut sets = cheapest(sets);
                if let Some(top) = sets.first_mut() {
                    let (places, cost) = std::mem::take(top);
                    *top = self.settled(*first, places, cost);
                    starts.push(self.start(*first, &top.0, top.1));
                }
                *older = std::mem::replace(old, sets);
            }
            starts.sort_by(|a, b| a.cost.total_cmp(&b.cost));
            starts
        });
        std::iter::once(vec![none]).chain(counted)
    }

    /// Good pairs to add, at most one for each part of the record in which the first of them lies;
    /// a coarser grid where there are others already.
    fn with_two_more(&self, first: Kind, places: &[usize]) -> Vec<Set> {
        let stride = if places.is_empty() { 1 } else { 3 };
        let part = self.grid.len().div_ceil(PARTS).max(1);
        let mut best: Vec<Set> = Vec::new();
        for i in (0..self.grid.len()).step_by(stride) {
            if best.len() <= i / part {
                best.resize(i / part + 1, (Vec::new(), f64::INFINITY));
            }
            for j in (i + 1..self.grid.len()).step_by(stride) {
                let mut trial = places.to_vec();
                trial.extend([i, j]);
                trial.sort_unstable();
                let distinct = trial.iter().zip(trial.iter().skip(1)).all(|(a, b)| a < b);
                let Some(slot) = best.get_mut(i / part).filter(|_| distinct) else {
                    continue;
                };
                let cost = self.cost_below(first, &trial, slot.1);
                if cost < slot.1 {
                    *slot = (trial, cost);
                }
            }
        }
        best
    }

    /// The best edge to put before all of `places`.
    fn with_one_before(&self, first: Kind, places: &[usize]) -> Set {
        let end = places.first().copied().unwrap_or(0);
        let mut best = (places.to_vec(), f64::INFINITY);
        for g in 0..end {
            let trial: Vec<usize> = std::iter::once(g).chain(places.iter().copied()).collect();
            let cost = self.cost_below(first, &trial, best.1);
            if cost < best.1 {
                best = (trial, cost);
            }
        }
        best
    }

    fn with_one_more(&self, first: Kind, places: &[usize]) -> Set {
        let mut best = (places.to_vec(), f64::INFINITY);
        for g in (0..self.grid.len()).filter(|g| !places.contains(g)) {
            let mut trial = places.to_vec();
            trial.push(g);
            trial.sort_unstable();
            let cost = self.cost_below(first, &trial, best.1);
            if cost < best.1 {
                best = (trial, cost);
            }
        }
        best
    }

    /// Moves one edge at a time to its best place until none moves (a few rounds at most).
    fn settled(&self, first: Kind, start: Vec<usize>, cost: f64) -> Set {
        let (mut best, mut lowest) = (start, cost);
        for _ in 0..4 {
            let before = lowest;
            for j in 0..best.len() {
                let mut others = best.clone();
                others.remove(j);
                let (trial, cost) = self.with_one_more(first, &others);
                if cost < lowest {
                    (best, lowest) = (trial, cost);
                }
            }
            if lowest >= before {
                break;
            }
        }
        (best, lowest)
    }
}

/// Time from the first to the last value of any curve, in seconds.
pub(super) fn span(curves: &[Curve]) -> f64 {
    let (start, end) = limits(curves);
    end - start
}

/// First and last time of any curve.
pub(super) fn limits(curves: &[Curve]) -> (f64, f64) {
    let firsts = curves.iter().filter_map(|c| c.t_s.first());
    let lasts = curves.iter().filter_map(|c| c.t_s.last());
    (
        firsts.copied().fold(f64::INFINITY, f64::min),
        lasts.copied().fold(f64::NEG_INFINITY, f64::max),
    )
}

/// Typical time between neighbouring values, in seconds.
pub(super) fn spacing(curves: &[Curve]) -> f64 {
    let mut steps: Vec<f64> = curves
        .iter()
        .flat_map(|c| c.t_s.iter().zip(c.t_s.iter().skip(1)).map(|(a, b)| b - a))
        .collect();
    super::noise::median(&mut steps).max(1e-3)
}

/// Evenly spaced instants, none at the very ends.
fn grid(curves: &[Curve]) -> Vec<f64> {
    let (start, end) = limits(curves);
    let rows = curves.iter().map(|c| c.t_s.len()).max().unwrap_or(0);
    let count = GRID.min(4 * rows);
    let step = (end - start) / (count + 1) as f64;
    (1..=count).map(|i| start + step * i as f64).collect()
}
