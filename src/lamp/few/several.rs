//! Tables of few rows that show more than one heating.
//!
//! Every set of instants cannot be tried, so the heatings take turns: each is weighed over every pair of
//! instants between its neighbours while these stand where they were most likely last, until none moves. The
//! evidence for them all is what goes with each heating's own prior about the set that they end with
//! (Laplace's approximation by blocks: a heating's pair is integrated out, its neighbours' are not).

use std::ops::Range;

use super::super::choose::about_lags;
use super::super::evidence::Evidence;
use super::super::search::{Search, Start};
use super::super::season::swings_by;
use super::super::{Edge, Kind, LampFit};
use super::{CLEAR, Few, Heating, is_strange};

/// So many edges at most.
const MOST: usize = 8;

/// So many sizes without a gain are tried before it is given up: a further lesson adds two edges.
const FAR: usize = 3;

/// Several heatings must be likelier than none by this much, as a natural logarithm: wandering air is never
/// what the smooth changes are that it is weighed against. In 100 unlit tables of a windy room they were by
/// 22 at most; lamps that change samples by a few degrees make 30 and more.
const FAR_CLEARER: f64 = 24.0;

/// Some sample warms by so many degrees Celsius more while the lamp is on than while it is off: what a heating
/// or the sun does to a room now and then is less.
const LEAST_DEGC: f64 = 2.0;

/// No lesson is seen to begin with the last rows, so many of them: where they end a little higher, that is all.
const LATE_ROWS: f64 = 3.0;

/// So many turns at most.
const TURNS: usize = 5;

/// What all heatings say together about the shape of the response they are too sure of: what no shape has shifts
/// all their edges alike. As a standard deviation in rows (chosen by simulation).
const UNLIKE_ROWS: f64 = 0.2;

/// Where a lamp that was lit before the first row is put to begin with, in seconds before it.
const EARLIER_S: f64 = 600.0;

/// When each heating begins and ends, as places of the grid.
type Pairs = Vec<(usize, usize)>;

/// Heatings, and the logarithm of the evidence for them.
struct Several {
    heatings: Vec<Heating>,
    ln_evidence: f64,
}

/// The edges of the likeliest heatings, two or more; none where they leave more than noise.
pub(super) fn find(few: &Few) -> Option<LampFit> {
    let lags_s = about_lags(few.curves, few.options, few.channels);
    let search = Search::new(few.curves, &lags_s, false);
    let mut best: Option<Several> = None;
    let mut seen = Vec::new();
    let mut in_vain = 0;
    for starts in search.best(MOST).skip(2) {
        in_vain += 1;
        for trial in starts
            .iter()
            .take(1)
            .filter_map(|s| weighed(few, pairs(s, few), &mut seen))
        {
            let least = best.as_ref().map_or(f64::NEG_INFINITY, |now| {
                let more = trial.heatings.len() > now.heatings.len();
                now.ln_evidence + if more { CLEAR } else { 0.0 }
            });
            if trial.ln_evidence > least {
                best = Some(trial);
                in_vain = 0;
            }
        }
        if in_vain >= FAR {
            break;
        }
    }
    let best = best.filter(|best| best.heatings.len() > 1)?;
    let last = best.heatings.last()?;
    let without: f64 = last.each.iter().map(|e| e.without).sum();
    if best.ln_evidence - without < FAR_CLEARER {
        return None;
    }
    let is_strange = is_strange(&last.each, last.posterior.top);
    let mut fit = few.told(&best.heatings, UNLIKE_ROWS * few.table.row_s);
    let late_s = few.table.last_s - LATE_ROWS * few.table.row_s;
    let is_late = |edge: &Edge| edge.edge == Kind::On && edge.at_s > late_s;
    if fit.edges.last().is_some_and(is_late) {
        fit.edges.pop();
        fit.lag_share.pop();
    }
    (!is_strange && swings_by(few.curves, &fit.edges, LEAST_DEGC)).then_some(fit)
}

/// The edges of a start as heatings: before the first row and beyond the last one where they lack one.
fn pairs(start: &Start, few: &Few) -> Pairs {
    let grid = &few.table.grid.at_s;
    let mut places: Vec<usize> = start.at_s.iter().map(|t| place(grid, *t)).collect();
    if start.first == Kind::Off {
        places.insert(0, place(grid, few.table.first_s - EARLIER_S));
    }
    if places.len() % 2 == 1 {
        places.push(grid.len().saturating_sub(1));
    }
    let both = places.chunks_exact(2);
    both.filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
        .collect()
}

/// The first instant of the grid from this one on.
fn place(grid: &[f64], at_s: f64) -> usize {
    grid.partition_point(|t| *t < at_s)
        .min(grid.len().saturating_sub(1))
}

/// Lets the heatings take turns; none where they come to what was `seen` before.
fn weighed(few: &Few, mut pairs: Pairs, seen: &mut Vec<Pairs>) -> Option<Several> {
    let mut heatings = Vec::new();
    for _ in 0..TURNS {
        let before = pairs.clone();
        heatings.clear();
        for k in 0..pairs.len() {
            let heating = turn(few, &pairs, k)?;
            let (on, off) = heating.posterior.top;
            let from = between(few, &pairs, k).start;
            if let Some(slot) = pairs.get_mut(k) {
                *slot = (from + on, from + off);
            }
            heatings.push(heating);
        }
        if before == pairs {
            break;
        }
        if seen.contains(&pairs) {
            return None;
        }
        seen.push(pairs.clone());
    }
    let of_set = heatings.last()?.posterior.ln_top;
    let each = heatings.iter().map(|h| h.posterior.ln_evidence - of_set);
    Some(Several {
        ln_evidence: of_set + each.sum::<f64>(),
        heatings,
    })
}

/// The instants that lie between a heating's neighbours, a row from each.
fn between(few: &Few, pairs: &[(usize, usize)], k: usize) -> Range<usize> {
    let (grid, row_s) = (&few.table.grid.at_s, few.table.row_s);
    let at_s = |place: usize| grid.get(place).copied().unwrap_or(f64::INFINITY);
    let before = k.checked_sub(1).and_then(|k| pairs.get(k));
    let from = before.map_or(0, |(_, off)| {
        grid.partition_point(|t| *t < at_s(*off) + row_s)
    });
    let after = pairs.get(k + 1);
    let to = after.map_or(grid.len(), |(on, _)| {
        grid.partition_point(|t| *t <= at_s(*on) - row_s)
    });
    from..to.max(from)
}

/// What is said about one heating while the others stand.
fn turn(few: &Few, pairs: &[(usize, usize)], k: usize) -> Option<Heating> {
    let places = between(few, pairs, k);
    if places.len() < 2 {
        return None;
    }
    let others = pairs.iter().enumerate().filter(|(i, _)| *i != k);
    let others: Vec<(Kind, usize)> = others
        .flat_map(|(_, (on, off))| [(Kind::On, *on), (Kind::Off, *off)])
        .collect();
    let table = few.table.part(&places);
    let each = few.shaped.iter().map(|s| s.beside(places.clone(), &others));
    let each: Vec<Evidence> = each.collect();
    let posterior = table.posterior(&each, &table.on)?;
    Some(Heating {
        table,
        each,
        posterior,
    })
}
