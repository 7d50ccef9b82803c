//! How well one curve of few rows goes with every pair of edges, over many shapes of its response.
//!
//! The curve is the lamp's response, an unknown amount of it, on a background that is a Gaussian
//! process: a constant, a drift, what went on from before, the room's wandering, and a share of the
//! curve's range for all that no shape has (Rasmussen and Williams, Gaussian Processes for Machine
//! Learning, 2006, section 2.7). Amount and noise are integrated out: a normal prior for the one, an
//! inverse gamma one for the other. Whitened once, the response to an on-edge minus that to an
//! off-edge needs dot products only, so that every pair costs the same few operations.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::Kind;
use super::clean::{Curve, grain_degc};
use super::few::slopes;
use super::response::Chain;

/// Standard deviations of the background (chosen by simulation): what goes on from before, in
/// degrees; a drift in degrees an hour; wandering in degrees, with its time; and the share of the
/// range that the shapes leave out, forgotten within a share of the record. A person's late reading makes up
/// for some of that, a logger's rows are not late.
const BEFORE_DEGC: f64 = 1.0;
const DRIFT_PER_H: f64 = 1.5;
const WANDER_DEGC: f64 = 0.1;
const WANDER_S: f64 = 1800.0;
const UNLIKE: f64 = 0.03;
const UNLIKE_LOGGED: f64 = 0.05;
const UNLIKE_SPANS: f64 = 0.2;

/// Without a lamp samples may have been brought in far warmer or colder, and rooms change smoothly: by
/// so many degrees, within these shares of the record.
const BROUGHT_DEGC: f64 = 6.0;
const SMOOTH_DEGC: f64 = 1.0;
const SMOOTH_SPANS: [f64; 3] = [0.15, 0.3, 0.6];

/// Standard deviation of the lamp's full effect, in degrees (common practice, no source).
const EFFECT_DEGC: f64 = 20.0;

/// Noise of a reading besides its resolution in degrees, and half the degrees of freedom with which
/// it is known. A person's reading is not known to the second.
const READING_DEGC: f64 = 0.03;
const KNOWN: f64 = 3.0;
const TWICE_KNOWN: i32 = 6;

/// What is less likely than the most likely shape by this much, as a natural logarithm, adds nothing.
const NOTHING: f64 = 40.0;
const READER_S: f64 = 3.0;

/// Slow time constants: so many (with eight, bodies of one node by rows of five minutes had intervals that did
/// not hold), from this share of the record (at least a minute) to so many records.
const TAUS: usize = 12;
const FASTEST_S: f64 = 60.0;
const SHORTEST: f64 = 0.05;
const LONGEST: f64 = 4.0;

/// A faster node beside the slow one: its time constant in seconds and shares of the response. The
/// faster, the less there can be of it.
const FASTER: [(f64, [f64; 2]); 4] = [
    (12.0, [0.05, 0.1]),
    (50.0, [0.12, 0.25]),
    (180.0, [0.2, 0.45]),
    (500.0, [0.3, 0.6]),
];

/// Instants that are tried, in seconds; infinite for never.
#[derive(Clone)]
pub(super) struct Grid {
    pub(super) at_s: Vec<f64>,
}

/// What delays a reading, in seconds, and by how much the reading itself comes late.
#[derive(Clone, Copy)]
pub(super) struct Late {
    /// Lags of the probe and of the lamp.
    pub(super) lags_s: [f64; 2],
    pub(super) reader_s: f64,
}

/// Logarithms of likelihoods, all up to the same constant.
pub(super) struct Evidence {
    /// For each on-edge (row) and off-edge (column).
    pub(super) pairs: DMatrix<f64>,
    /// Misfit a row under the best shape, in units of the noise.
    pub(super) misfit: DMatrix<f64>,
    /// Without a lamp.
    pub(super) without: f64,
    /// The misfit a row that goes with it.
    pub(super) misfit_without: f64,
    /// Standard deviation of a reading as it is believed, in degrees Celsius.
    pub(super) noise_degc: f64,
}

/// A response: shares and time constants in seconds.
type Shape = Vec<(f64, f64)>;

/// A curve as every shape of its response sees it, whitened once for whatever edges are tried.
pub(super) struct Shaped {
    /// For each shape: its responses, a column an instant, the data, and the size of the variances.
    each: Vec<(DMatrix<f64>, DVector<f64>, f64)>,
    without: f64,
    misfit_without: f64,
    noise_degc: f64,
}

impl Shaped {
    pub(super) fn new(curve: &Curve, grid: &Grid, late: Late) -> Self {
        let ground = Ground::new(curve, late);
        let shapes = shapes(ground.span_s);
        let mut each = Vec::new();
        // Shapes with the same slow node follow each other, and stand on the same ground.
        let slow_s = |shape: &Shape| shape.first().map_or(1.0, |(_, tau)| *tau);
        for alike in shapes.chunk_by(|a, b| slow_s(a).total_cmp(&slow_s(b)).is_eq()) {
            let root = alike
                .first()
                .and_then(|shape| ground.whitener(slow_s(shape), true));
            let Some(root) = root else { continue };
            for shape in alike {
                let lit = root.solve_lower_triangular(&table(curve, grid, shape, late));
                let both = lit.zip(root.solve_lower_triangular(&ground.data));
                each.extend(both.map(|(lit, data)| (lit, data, ln_size(&root))));
            }
        }
        let (without, misfit_without) = ground.without(&shapes);
        Self {
            each,
            without,
            misfit_without,
            noise_degc: ground.noise_degc,
        }
    }

    /// What the curve says about every pair of edges.
    pub(super) fn alone(&self) -> Evidence {
        self.beside(0..self.each.first().map_or(0, |(lit, ..)| lit.ncols()), &[])
    }

    /// What it says about every pair at some instants, where the lamp went on and off at others too.
    pub(super) fn beside(&self, places: Range<usize>, others: &[(Kind, usize)]) -> Evidence {
        let mut mean = Mean::new(places.len());
        for (lit, data, size) in &self.each {
            let mut rest = DVector::zeros(data.len());
            let apart = others.iter();
            apart.for_each(|(kind, place)| rest.axpy(kind.sign(), &lit.column(*place), 1.0));
            let own = lit.columns(places.start, places.len());
            mean.add(&own.into_owned(), &rest, data, *size);
        }
        Evidence {
            without: self.without,
            misfit_without: self.misfit_without,
            pairs: mean.finish(),
            misfit: mean.misfit,
            noise_degc: self.noise_degc,
        }
    }
}

/// The misfit a row of what explains a curve best without a lamp, in units of the noise.
pub(super) fn misfit_without(curve: &Curve, late: Late) -> f64 {
    let ground = Ground::new(curve, late);
    ground.without(&shapes(ground.span_s)).1
}

/// Slow nodes, alone and with a faster one.
fn shapes(span_s: f64) -> Vec<Shape> {
    let from = FASTEST_S.max(SHORTEST * span_s);
    let ratio = (LONGEST * span_s / from).max(1.0);
    let slow = (0..TAUS).map(|i| from * ratio.powf(i as f64 / (TAUS - 1) as f64));
    let mut all = Vec::new();
    for tau in slow {
        all.push(vec![(1.0, tau)]);
        for (fast, shares) in FASTER.iter().filter(|(fast, _)| *fast < tau / 3.0) {
            all.extend(shares.map(|share| vec![(1.0 - share, tau), (share, *fast)]));
        }
    }
    all
}

/// The response to a lamp that goes on at each instant of the grid: a column each.
fn table(curve: &Curve, grid: &Grid, shape: &Shape, late: Late) -> DMatrix<f64> {
    let lags = late.lags_s;
    let nodes = shape.iter().map(|(share, tau)| {
        let chain = Chain::new(&[*tau, lags[0], lags[1]]);
        (*share, chain.on(&curve.t_s))
    });
    let nodes: Vec<_> = nodes.collect();
    let mut table = DMatrix::zeros(curve.t_s.len(), grid.at_s.len());
    for (mut column, at) in table.column_iter_mut().zip(&grid.at_s) {
        for (share, rows) in &nodes {
            rows.add(at - late.reader_s, *share, column.as_mut_slice());
        }
    }
    table
}

/// The curve's background and noise.
struct Ground<'a> {
    curve: &'a Curve,
    data: DVector<f64>,
    span_s: f64,
    range_degc: f64,
    /// The share of it that the shapes leave out.
    unlike: f64,
    noise_degc: f64,
    /// Variances of what there is with and without a lamp.
    common: DMatrix<f64>,
}

impl<'a> Ground<'a> {
    fn new(curve: &'a Curve, late: Late) -> Self {
        let n = curve.t_s.len();
        let mean = curve.degc.iter().sum::<f64>() / n.max(1) as f64;
        let data = DVector::from_iterator(n, curve.degc.iter().map(|y| y - mean));
        let first = curve.t_s.first().copied().unwrap_or(0.0);
        let span_s = curve.t_s.last().map_or(1.0, |last| last - first).max(1.0);
        let step = grain_degc(&curve.degc);
        let noise_degc = READING_DEGC.hypot(0.5 * step);
        let (reader_s, unlike) = if late.reader_s > 0.0 {
            (READER_S, UNLIKE)
        } else {
            (0.0, UNLIKE_LOGGED)
        };
        let slopes = slopes(&curve.t_s, &curve.degc);
        let u = |i: usize| curve.t_s.get(i).map_or(0.0, |t| t - first);
        let common = DMatrix::from_fn(n, n, |i, j| {
            let drift = (DRIFT_PER_H / 3600.0).powi(2) * u(i) * u(j);
            let wander = WANDER_DEGC.powi(2) * (-(u(i) - u(j)).abs() / WANDER_S).exp();
            let own = if i == j {
                let late = reader_s * slopes.get(i).copied().unwrap_or(0.0);
                noise_degc.powi(2) + late.powi(2)
            } else {
                0.0
            };
            // A constant that may be anything.
            1e4 + drift + wander + own
        });
        Self {
            range_degc: data.max() - data.min(),
            unlike,
            curve,
            data,
            span_s,
            noise_degc,
            common,
        }
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the table has a row and a column for each of the rows"
    )]
    fn plus(&self, more: impl Fn(f64, f64) -> f64) -> Option<DMatrix<f64>> {
        let first = self.curve.t_s.first().copied().unwrap_or(0.0);
        let u = |i: usize| self.curve.t_s.get(i).map_or(0.0, |t| t - first);
        let n = self.data.len();
        let all = DMatrix::from_fn(n, n, |i, j| self.common[(i, j)] + more(u(i), u(j)));
        all.cholesky().map(nalgebra::Cholesky::unpack)
    }

    /// Root of the variances where a sample of this time constant stands with or without a lamp.
    fn whitener(&self, tau_s: f64, lamp: bool) -> Option<DMatrix<f64>> {
        let before = if lamp { BEFORE_DEGC } else { BROUGHT_DEGC };
        let unlike = if lamp {
            self.unlike * self.range_degc
        } else {
            0.0
        };
        self.plus(|a, b| {
            before.powi(2) * (-(a + b) / tau_s).exp()
                + unlike.powi(2) * (-(a - b).abs() / (UNLIKE_SPANS * self.span_s)).exp()
        })
    }

    /// Likelihood without a lamp: samples that go to the room's temperature, or a smooth change. Also
    /// the misfit a row of what goes best.
    fn without(&self, shapes: &[Shape]) -> (f64, f64) {
        let slow = shapes.iter().filter(|shape| shape.len() == 1);
        let mut all: Vec<(f64, f64)> = slow
            .filter_map(|shape| self.whitener(shape.first()?.1, false))
            .map(|root| self.bare(&root))
            .collect();
        for share in SMOOTH_SPANS {
            let root = self.plus(|a, b| {
                let apart = (a - b) / (share * self.span_s);
                SMOOTH_DEGC.powi(2) * (-0.5 * apart * apart).exp()
            });
            all.extend(root.map(|root| self.bare(&root)));
        }
        let (top, misfit) =
            all.iter()
                .copied()
                .fold((f64::NEG_INFINITY, f64::INFINITY), |best, one| {
                    if one.0 > best.0 { one } else { best }
                });
        let sum: f64 = all.iter().map(|(ln, _)| (ln - top).exp()).sum();
        (top + (sum / all.len().max(1) as f64).ln(), misfit)
    }

    /// Likelihood of the background alone, and its misfit a row.
    fn bare(&self, root: &DMatrix<f64>) -> (f64, f64) {
        let white = root.solve_lower_triangular(&self.data);
        let misfit = white.map_or(f64::INFINITY, |w| w.norm_squared());
        let rows = self.data.len();
        (
            likelihood(misfit, rows) - ln_size(root),
            misfit / rows.max(1) as f64,
        )
    }
}

/// Half the logarithm of the determinant.
fn ln_size(root: &DMatrix<f64>) -> f64 {
    root.diagonal().iter().map(|d| d.ln()).sum()
}

/// Likelihood of a misfit with the noise's size integrated out, up to a constant.
fn likelihood(misfit: f64, rows: usize) -> f64 {
    -(KNOWN + 0.5 * rows as f64) * (0.5 * misfit / KNOWN).ln_1p()
}

/// The mean of likelihoods over shapes, kept in logarithms.
struct Mean {
    count: f64,
    top: DMatrix<f64>,
    sum: DMatrix<f64>,
    misfit: DMatrix<f64>,
}

impl Mean {
    fn new(n: usize) -> Self {
        Self {
            count: 0.0,
            top: DMatrix::from_element(n, n, f64::NEG_INFINITY),
            sum: DMatrix::zeros(n, n),
            misfit: DMatrix::from_element(n, n, f64::INFINITY),
        }
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the tables are as wide and as high as the grid"
    )]
    /// Takes one shape, whitened: its responses, what edges beside them do, data, size of the variances.
    fn add(&mut self, x: &DMatrix<f64>, rest: &DVector<f64>, data: &DVector<f64>, size: f64) {
        self.count += 1.0;
        let (along, gram) = (x.tr_mul(data), x.transpose() * x);
        let (by_rest, rest_along) = (x.tr_mul(rest), rest.dot(data));
        let (power, own) = (data.norm_squared(), rest.norm_squared());
        let rows = data.len();
        let prior = EFFECT_DEGC.powi(-2);
        let twice = i32::try_from(rows).unwrap_or(i32::MAX / 2) + TWICE_KNOWN;
        for j in 0..along.len() {
            for i in 0..j {
                let a = along[i] - along[j] + rest_along;
                if a <= 0.0 {
                    continue;
                }
                let both = gram[(i, i)] + gram[(j, j)] - 2.0 * gram[(i, j)];
                let length = both + own + 2.0 * (by_rest[i] - by_rest[j]) + prior;
                let misfit = (power - a * a / length).max(0.0);
                // `likelihood` and the amount's share in one logarithm, for there are millions of pairs. The
                // amount's normal prior is one-sided: twice as high.
                let inverse = (1.0 + 0.5 * misfit / KNOWN).powi(twice) * (length / prior);
                let ln = std::f64::consts::LN_2 - size - 0.5 * inverse.ln();
                if ln.is_finite() {
                    self.take((i, j), ln, misfit / rows.max(1) as f64);
                }
            }
        }
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the tables are as wide and as high as the grid"
    )]
    fn take(&mut self, pair: (usize, usize), ln: f64, misfit: f64) {
        if ln > self.top[pair] {
            let before = (self.top[pair] - ln).exp();
            self.sum[pair] = self.sum[pair] * before + 1.0;
            self.top[pair] = ln;
            self.misfit[pair] = misfit;
        } else if ln > self.top[pair] - NOTHING {
            self.sum[pair] += (ln - self.top[pair]).exp();
        }
    }

    fn finish(&self) -> DMatrix<f64> {
        let shapes = self.count.max(1.0);
        self.top.zip_map(&self.sum, |top, sum| {
            if sum > 0.0 {
                top + (sum / shapes).ln()
            } else {
                f64::NEG_INFINITY
            }
        })
    }
}

#[cfg(test)]
mod tests;
