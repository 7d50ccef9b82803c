//! The instants that are tried of a table of few rows, what is believed of them beforehand, and what the rows
//! then say.

use std::ops::Range;

use nalgebra::DMatrix;

use super::super::clean::Curve;
use super::super::evidence::{Evidence, Grid};
use super::super::search::{limits, spacing};
use super::super::{Edge, Kind, LEVEL};

/// Instants that are tried at most: as many as the longest table without a pause has.
const MOST_INSTANTS: f64 = 480.0;

/// Instants before the first row at which the lamp may have gone on, in seconds, and their shares of
/// the prior; together they have [`BEFORE`] of it.
const EARLIER: [(f64, f64); 7] = [
    (1800.0, 0.07),
    (600.0, 0.07),
    (300.0, 0.07),
    (120.0, 0.11),
    (60.0, 0.22),
    (30.0, 0.23),
    (15.0, 0.23),
];
const BEFORE: f64 = 0.2;

/// Share of the prior for a lamp that a person switched on as the first row was written, give or take
/// [`NEAR_ROW_S`] (common practice, no source).
const AT_FIRST: f64 = 0.3;

/// Share of the prior for a lamp that stays on beyond the last row.
const BEYOND: f64 = 0.1;

/// About this share of the prior lies within so many seconds of a row that a person took: a plan's edges fall on
/// its rows (common practice, no source).
const AT_ROWS: f64 = 0.3;
const NEAR_ROW_S: f64 = 15.0;

/// The grid of a table, with its prior.
#[derive(Clone)]
pub(super) struct Table {
    pub(super) grid: Grid,
    /// Prior weights of the on- and the off-edge at each instant.
    pub(super) on: Vec<f64>,
    pub(super) off: Vec<f64>,
    /// Those of the on-edge where a person wrote the table.
    pub(super) by_hand: Option<Vec<f64>>,
    /// First and last instant at which an edge is told.
    pub(super) first_s: f64,
    pub(super) last_s: f64,
    pub(super) row_s: f64,
}

/// What the table says about a pair of edges.
pub(super) struct Posterior {
    /// Logarithm of the likelihood of one heating, averaged over the prior.
    pub(super) ln_evidence: f64,
    /// The most likely pair, and the logarithm of its likelihood alone.
    pub(super) top: (usize, usize),
    pub(super) ln_top: f64,
    pub(super) on: Vec<f64>,
    pub(super) off: Vec<f64>,
}

impl Table {
    /// About ten seconds apart, but at least four and at most twelve to a row; fewer where there are many
    /// rows, for cost grows with the square.
    pub(super) fn new(curves: &[Curve], hand: bool) -> Self {
        let (first_s, last_s) = limits(curves);
        let is_long = last_s - first_s > 24.0 * spacing(curves);
        Self::with(curves, hand, if is_long { 6.0 } else { 12.0 })
    }

    /// The same with so many instants to a row at most.
    pub(super) fn with(curves: &[Curve], hand: bool, most: f64) -> Self {
        let (first_s, last_s) = limits(curves);
        let row_s = spacing(curves);
        let step_s = row_s / (row_s / 10.0).round().clamp(most.min(4.0), most);
        let step_s = step_s.max((last_s - first_s) / MOST_INSTANTS);
        let inside = ((last_s - first_s) / step_s).floor() as usize + 1;
        let mut at_s: Vec<f64> = EARLIER.iter().map(|(by, _)| first_s - by).collect();
        let (mut on, mut off) = (
            EARLIER.map(|(_, share)| BEFORE * share).to_vec(),
            vec![0.0; EARLIER.len()],
        );
        let rows_s: Vec<f64> = curves.first().map_or_else(Vec::new, |c| c.t_s.clone());
        let even: Vec<f64> = (0..inside).map(|i| first_s + step_s * i as f64).collect();
        let near = |t: &f64| rows_s.iter().any(|row| (row - t).abs() <= NEAR_ROW_S);
        let near_count = even.iter().filter(|t| near(t)).count().max(1);
        // Nobody switches a lamp by a logger's rows.
        let at_rows = if hand { AT_ROWS } else { 0.0 };
        for t in &even {
            let at_row = if near(t) { at_rows } else { 0.0 } / near_count as f64;
            let share = (1.0 - at_rows) / inside as f64 + at_row;
            on.push((1.0 - BEFORE) * share);
            off.push((1.0 - BEYOND) * share);
        }
        at_s.extend(even);
        at_s.push(f64::INFINITY);
        on.push(0.0);
        off.push(BEYOND);
        let by_hand = hand.then(|| at_the_first(&at_s, first_s, &on));
        Self {
            grid: Grid { at_s },
            on,
            off,
            by_hand,
            first_s: first_s - if hand { NEAR_ROW_S } else { 0.0 },
            last_s,
            row_s,
        }
    }

    /// The part of it with some of the instants.
    pub(super) fn part(&self, places: &Range<usize>) -> Self {
        let of = |all: &[f64]| all.get(places.clone()).unwrap_or_default().to_vec();
        Self {
            grid: Grid {
                at_s: of(&self.grid.at_s),
            },
            on: of(&self.on),
            off: of(&self.off),
            by_hand: self.by_hand.as_deref().map(of),
            ..*self
        }
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the tables are as wide and as high as the grid"
    )]
    /// Likelihoods of all channels times the prior, over pairs nearly a row apart.
    pub(super) fn posterior(&self, each: &[Evidence], on: &[f64]) -> Option<Posterior> {
        let n = self.grid.at_s.len();
        let mut ln = DMatrix::from_element(n, n, f64::NEG_INFINITY);
        let (mut top, mut prior) = ((0, 0), 0.0);
        for (i, (a, on)) in self.grid.at_s.iter().zip(on).enumerate() {
            for (j, (b, off)) in self.grid.at_s.iter().zip(&self.off).enumerate() {
                if b - a < 0.9 * self.row_s || on * off <= 0.0 {
                    continue;
                }
                prior += on * off;
                let all: f64 = each.iter().map(|e| e.pairs[(i, j)]).sum();
                ln[(i, j)] = all + (on * off).ln();
                if ln[(i, j)] > ln[top] {
                    top = (i, j);
                }
            }
        }
        let highest = ln[top];
        let share = ln.map(|v| (v - highest).exp());
        let sum = share.sum();
        (highest.is_finite() && sum > 0.0).then(|| Posterior {
            ln_evidence: highest + sum.ln() - prior.ln(),
            top,
            ln_top: each.iter().map(|e| e.pairs[top]).sum(),
            on: share.row_iter().map(|row| row.sum() / sum).collect(),
            off: share
                .column_iter()
                .map(|column| column.sum() / sum)
                .collect(),
        })
    }

    /// An edge from its posterior, where it most likely lies within the table; `wider_s` is a standard
    /// uncertainty to add. Also the standard uncertainty without that.
    pub(super) fn edge(&self, kind: Kind, share: &[f64], wider_s: f64) -> Option<(Edge, f64)> {
        let at_s = &self.grid.at_s;
        let within = |t: f64| t >= self.first_s && t <= self.last_s;
        let both = at_s.iter().zip(share);
        let own: Vec<(f64, f64)> = both
            .filter(|(t, _)| within(**t))
            .map(|(t, p)| (*t, *p))
            .collect();
        let sum: f64 = own.iter().map(|(_, p)| p).sum();
        if sum <= 0.5 {
            return None;
        }
        let quantile = |q: f64| quantile(&own, q * sum);
        let (low_s, at_s, high_s) = (quantile(0.025), quantile(0.5), quantile(0.975));
        let arm = |arm_s: f64| arm_s.max(0.0).hypot(1.96 * wider_s);
        let edge = Edge {
            edge: kind,
            at_s,
            low_s: at_s - arm(at_s - low_s),
            high_s: at_s + arm(high_s - at_s),
            level: LEVEL,
        };
        Some((edge, (high_s - low_s) / (2.0 * 1.96)))
    }
}

/// Gives the instants about the first row their share of the prior.
fn at_the_first(at_s: &[f64], first_s: f64, on: &[f64]) -> Vec<f64> {
    let near: Vec<bool> = at_s
        .iter()
        .map(|t| (t - first_s).abs() <= NEAR_ROW_S)
        .collect();
    let count = near.iter().filter(|near| **near).count().max(1) as f64;
    let more = |near| if near { AT_FIRST / count } else { 0.0 };
    let both = on.iter().zip(near);
    both.map(|(share, near)| (1.0 - AT_FIRST) * share + more(near))
        .collect()
}

/// Where so much of the mass lies before, along straight lines between the middles of the cells.
pub(super) fn quantile(cells: &[(f64, f64)], mass: f64) -> f64 {
    let mut below = 0.0;
    let mut last: Option<(f64, f64)> = None;
    for (t, p) in cells {
        let middle = below + 0.5 * p;
        below += p;
        if middle >= mass {
            return match last {
                Some((t0, m0)) if middle > m0 => t0 + (t - t0) * (mass - m0) / (middle - m0),
                _ => *t,
            };
        }
        last = Some((*t, middle));
    }
    last.map_or(f64::NAN, |(t, _)| t)
}
