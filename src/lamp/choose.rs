//! How many edges: models of growing size compete, and an edge must be sharp to count.

use super::clean::{Curve, curve, move_times, origin_s, thinned};
use super::doubt::{Doubt, close_pair, doubted};
use super::finish::finish;
use super::fitted::{Fitted, cost};
use super::interval::edges;
use super::refine::{Problem, Terms};
use super::search::{Search, Start, limits};
use super::season::is_lamp;
use super::sense::makes_sense;
use super::sharp::{beats_polynomials, is_sharp};
use super::{Kind, LampFit, LampOptions, Method, days, few, long, touch};

/// Values per channel in the search and the choice of model.
pub(super) const COARSE: usize = 300;

/// Most edges that one model of the whole record is asked to hold.
const MOST: usize = 8;

/// So many edges are tried even if fewer gained nothing: two lessons, or three, hide from fewer.
const FAR: usize = 6;

/// Fewest rows of a curve for a drift or a second node to be considered.
pub(super) const RICH: usize = 40;

/// Prior lags in seconds used where a lag only needs to be about right.
const ABOUT_S: (f64, f64) = (5.0, 1.6);

/// One candidate: a fit with the noise that it leaves.
pub(super) struct Candidate {
    pub(super) fit: Fitted,
    pub(super) residuals_degc: Vec<Vec<f64>>,
    pub(super) curves: Vec<Curve>,
}

/// The room's main path; see [`super::find_edges`].
pub(super) fn find(t_s: &[f64], channels: &[&[f64]], options: &LampOptions) -> LampFit {
    let curve = |(i, degc): (usize, &&[f64])| curve(i, t_s, degc, options.logged);
    find_in(
        &mut channels.iter().enumerate().map(curve).collect(),
        options,
    )
}

/// The same of curves that are there already, one for each channel in order; they stay as they are.
pub(super) fn find_in(curves: &mut Vec<Curve>, options: &LampOptions) -> LampFit {
    let channels = curves.len();
    let changes = |c: &Curve| c.t_s.len() >= 4 && c.degc.iter().any(|y| Some(y) != c.degc.first());
    let origin_s = origin_s(curves);
    move_times(curves, -origin_s);
    let (usable, rest): (Vec<Curve>, _) = std::mem::take(curves).into_iter().partition(changes);
    let mut fit = find_of(&usable, channels, options);
    curves.extend(usable);
    curves.extend(rest);
    curves.sort_by_key(|c| c.channel);
    move_times(curves, origin_s);
    for edge in &mut fit.edges {
        edge.at_s += origin_s;
        edge.low_s += origin_s;
        edge.high_s += origin_s;
    }
    fit
}

fn find_of(curves: &[Curve], channels: usize, options: &LampOptions) -> LampFit {
    let none = LampFit {
        edges: Vec::new(),
        lag_share: Vec::new(),
        noise_degc: vec![None; channels],
        method: Method::NoEdge,
    };
    if curves.is_empty() {
        return none;
    }
    if few::are_few(curves)
        && let Some(fit) = few::find(curves, options, channels)
    {
        let fit = Some(fit).filter(|fit| makes_sense(&fit.edges, curves));
        return fit.unwrap_or(none);
    }
    if days::are_days(curves) {
        return days::find(curves, options, channels);
    }
    let curves = &touch::without_jumps(curves);
    let pieces = long::has_many(curves).then(|| long::find(curves, options, channels));
    let mut pieces = pieces.filter(|found| found.edges.len() > long::MANY);
    // So few edges that one model can hold them all: it knows more than pieces do.
    if let Some(found) = pieces.take_if(|found| found.edges.len() > MOST) {
        return found;
    }
    // Many short lessons hide from any few edges, and from rows far apart with one node for each sample.
    let found = match (whole(curves, options, channels), pieces) {
        (Some(whole), Some(pieces)) if whole.edges.len() < pieces.edges.len() => Some(pieces),
        (whole, pieces) => whole.or(pieces),
    };
    let held = found.as_ref().map_or(0, |fit| fit.edges.len());
    let more = (held != 2).then(|| few::find_several(curves, options, channels));
    let more = more.flatten().filter(|fit| fit.edges.len() > held);
    let more = more.filter(|fit| makes_sense(&fit.edges, curves));
    more.or(found).unwrap_or(none)
}

/// The edges that one model of the whole record holds.
fn whole(curves: &[Curve], options: &LampOptions, channels: usize) -> Option<LampFit> {
    let choice = Choice::new(curves, options, channels);
    let mut winners = choice.winners();
    // Where the last one's edges are no lamp's, fewer may do.
    while let Some(winner) = winners.pop() {
        let last = finish(curves, &winner, options, channels);
        let last = last.as_ref().unwrap_or(&winner);
        let (edges, lag_share) = edges(&last.fit, &last.curves, options, channels);
        if edges.is_empty() {
            // What is left about a model without a lamp is the course of the day, not noise.
            return None;
        }
        let (problem, _) = problem_of(last, options, channels);
        let lamp_degc = problem.lamp_degc(&last.fit.values);
        if !is_lamp(last.fit.first, &last.curves, &lamp_degc) || !makes_sense(&edges, curves) {
            continue;
        }
        let Some(doubted) = doubted(&edges, &lag_share, &last.curves) else {
            return Some(LampFit {
                method: Method::Whole,
                noise_degc: noise(&last.curves, channels),
                edges,
                lag_share,
            });
        };
        winners.extend(choice.without(&winner, doubted));
    }
    None
}

/// The problem that a candidate solves.
fn problem_of<'a>(
    found: &'a Candidate,
    options: &LampOptions,
    channels: usize,
) -> (Problem<'a>, Vec<f64>) {
    let start = Start {
        first: found.fit.first,
        at_s: found.fit.at_s().to_vec(),
        cost: 0.0,
        tau_s: vec![1.0; found.curves.len()],
    };
    Problem::new(&found.curves, &start, found.fit.terms, options, channels)
}

/// Each channel's noise.
fn noise(curves: &[Curve], channels: usize) -> Vec<Option<f64>> {
    let of = |channel| curves.iter().find(|c| c.channel == channel);
    (0..channels).map(|i| of(i).map(|c| c.sd_degc)).collect()
}

/// Each curve's lags, declared or about what the prior says.
pub(super) fn about_lags(
    curves: &[Curve],
    options: &LampOptions,
    channels: usize,
) -> Vec<(f64, f64)> {
    let lamp = options.declared_lamp_lag_s().unwrap_or(ABOUT_S.1);
    curves
        .iter()
        .map(|c| {
            let probe = options.declared_probe_lag_s(c.channel, channels);
            (probe.unwrap_or(ABOUT_S.0), lamp)
        })
        .collect()
}

/// Fits from a start and measures the noise left, some rounds of it, and fits once more with the
/// weights that the last one gave.
pub(super) fn fitted(
    curves: &[Curve],
    start: &Start,
    terms: Terms,
    options: &LampOptions,
    channels: usize,
    rounds: usize,
) -> Option<Candidate> {
    let mut curves = curves.to_vec();
    let mut values = None;
    let mut result = None;
    for _ in 0..rounds {
        let (problem, fresh) = Problem::new(&curves, start, terms, options, channels);
        let mut problem = problem.loosely();
        let fit = problem.solve(values.take().unwrap_or(fresh))?;
        let residuals_degc = problem.residuals_degc(&fit.values);
        let count: usize = curves.iter().map(|c| c.t_s.len()).sum();
        let share = 1.0 - fit.parameters as f64 / count.max(1) as f64;
        let mut next = curves.clone();
        for (c, r) in next.iter_mut().zip(&residuals_degc) {
            c.measure(r, share);
            // Among few rows none can be told to be strange.
            if r.len() >= RICH {
                c.reweigh(r, fit.at_s());
            }
        }
        values = Some(fit.values.clone());
        result = Some((fit, residuals_degc, curves));
        curves = next;
    }
    let (fit, residuals_degc, _) = result?;
    // The noise measured last goes with the fit: its covariance is brought to the same scale.
    let (mut problem, fresh) = Problem::new(&curves, start, terms, options, channels);
    let fit = problem.solve(fit.values.clone()).unwrap_or_else(|| {
        let mut kept = fit.clone();
        kept.values.resize(fresh.len(), 0.0);
        kept
    });
    Some(Candidate {
        fit,
        residuals_degc,
        curves,
    })
}

/// The contest between numbers of edges, on coarse blocks.
struct Choice<'a> {
    curves: Vec<Curve>,
    options: &'a LampOptions,
    channels: usize,
    lags_s: Vec<(f64, f64)>,
    drift: bool,
}

impl<'a> Choice<'a> {
    fn new(curves: &[Curve], options: &'a LampOptions, channels: usize) -> Self {
        let curves: Vec<Curve> = curves
            .iter()
            .map(|c| thinned(c, COARSE, &[], 0.0))
            .collect();
        let drift = curves.iter().all(|c| c.t_s.len() >= RICH);
        Self {
            lags_s: about_lags(&curves, options, channels),
            curves,
            options,
            channels,
            drift,
        }
    }

    /// Every model that won over those before it, the last one being the best.
    fn winners(&self) -> Vec<Candidate> {
        let values: usize = self.curves.iter().map(|c| c.t_s.len()).sum();
        let spare = values.saturating_sub((4 + usize::from(self.drift)) * self.curves.len() + 1);
        let search = Search::new(&self.curves, &self.lags_s, self.drift);
        let terms = Terms {
            drift: self.drift,
            surface: self.drift,
            modes: false,
        };
        let mut best: Vec<Candidate> = Vec::new();
        let mut held = 0;
        for (count, starts) in search.best(MOST.min(spare)).enumerate() {
            if count > (held + 2).max(FAR) {
                break;
            }
            let tried = starts
                .iter()
                .filter_map(|s| fitted(&self.curves, s, terms, self.options, self.channels, 2));
            let Some(trial) = tried.min_by(common_cost) else {
                continue;
            };
            // Two edges upon each other are none: what is left may be what the search missed.
            let trial = self.without_pair(&trial).unwrap_or(trial);
            let count = trial.fit.edges;
            if count <= held && !best.is_empty() {
                continue;
            }
            let wins = match best.last() {
                None => true,
                Some(now) => {
                    self.beats(&trial, now, count - held)
                        && self.apart(&trial)
                        && self.all_sharp(&trial)
                }
            };
            if wins {
                held = count;
                best.push(trial);
            }
        }
        best
    }

    /// Whether `more` edges are worth it: the gain, in units of the noise and correlation that
    /// the larger model leaves, against the price of three effective logarithms for each edge
    /// (its instant was searched for, not given), and one for each curve's first step. A lamp that went
    /// off must have gone on: where only the one was seen so far, the other costs no more than its instant.
    fn beats(&self, trial: &Candidate, now: &Candidate, more: usize) -> bool {
        let gain =
            cost(&now.residuals_degc, &trial.curves) - cost(&trial.residuals_degc, &trial.curves);
        let effective: f64 = trial
            .curves
            .iter()
            .map(|c| c.t_s.len() as f64 / c.inflation)
            .sum();
        let log = effective.max(3.0).ln();
        let each = 3.0 * more as f64;
        let price = match (now.fit.edges, now.fit.first, trial.fit.first) {
            (0, ..) => each + self.curves.len() as f64,
            (1, Kind::Off, Kind::On) if more == 1 => 1.0,
            _ => each,
        };
        gain > price * log
    }

    /// Whether no two neighbouring edges are closer than a lamp's can be told to be.
    fn apart(&self, trial: &Candidate) -> bool {
        close_pair(trial.fit.at_s(), &self.curves).is_none()
    }

    /// The same model without two edges that came to lie upon each other, where there are such.
    fn without_pair(&self, trial: &Candidate) -> Option<Candidate> {
        let first = close_pair(trial.fit.at_s(), &self.curves)?;
        self.less(trial, first, 2)
    }

    /// The same model without what is in doubt; none for one edge amid others, as edges alternate.
    fn without(&self, winner: &Candidate, doubt: Doubt) -> Option<Candidate> {
        let less = match doubt {
            Doubt::Pair(first) => self.less(winner, first, 2),
            Doubt::One(edge) if edge == 0 || edge + 1 == winner.fit.edges => {
                self.less(winner, edge, 1)
            }
            Doubt::One(_) => None,
        }?;
        self.all_sharp(&less).then_some(less)
    }

    /// The same model without some edges, fitted again.
    fn less(&self, trial: &Candidate, from: usize, count: usize) -> Option<Candidate> {
        let mut at_s = trial.fit.at_s().to_vec();
        at_s.drain(from..from + count);
        let begins_later = from == 0 && count % 2 == 1;
        let first = trial.fit.first;
        let start = Start {
            first: if begins_later { first.other() } else { first },
            tau_s: trial.fit.tau_s(self.curves.len()),
            at_s,
            cost: 0.0,
        };
        let terms = trial.fit.terms;
        fitted(&self.curves, &start, terms, self.options, self.channels, 2)
    }

    fn all_sharp(&self, trial: &Candidate) -> bool {
        let (from, to) = limits(&trial.curves);
        let at_s = trial.fit.at_s();
        if trial.curves.iter().all(|c| c.t_s.len() < RICH) {
            let misfit = cost(&trial.residuals_degc, &trial.curves);
            return beats_polynomials(&trial.curves, misfit, trial.fit.parameters);
        }
        // A ramp behind other lags than the bench's is no better than a polynomial when the data
        // are clean: the lags that the fit itself came to are tried beside the usual ones.
        let lags_s = [self.lags_s.as_slice(), &trial.fit.lags_s];
        let mut kind = trial.fit.first;
        let sharp = at_s.iter().enumerate().filter(|&(j, &at)| {
            let before = j.checked_sub(1).and_then(|i| at_s.get(i));
            let before = before.copied().unwrap_or(from);
            let after = at_s.get(j + 1).copied().unwrap_or(to);
            let sharp = lags_s
                .iter()
                .any(|lags| is_sharp(&trial.curves, at, kind, (before, after), lags));
            kind = kind.other();
            sharp
        });
        // A touch beside an edge may blur one of several.
        sharp.count() + usize::from(at_s.len() > 1) >= at_s.len()
    }
}

/// Orders two candidates of equal size by misfit in the units of the first one's noise.
fn common_cost(a: &Candidate, b: &Candidate) -> std::cmp::Ordering {
    let of = |c: &Candidate| cost(&c.residuals_degc, &a.curves);
    of(a).total_cmp(&of(b))
}

#[cfg(test)]
mod tests;
