//! Where a record bends sharply, at several scales: the candidates for a lamp's edges.

use crate::lamp::Kind;
use crate::lamp::clean::{Curve, blocks, width_for};
use crate::lamp::hinge::template;
use crate::lamp::noise::median;
use crate::lamp::project::dot;
use crate::lamp::search::{limits, spacing};

use super::MANY;

/// Places of the even grid over the whole record.
const PLACES: usize = 6000;

/// Half-widths of the windows in which bends are looked for, in places.
const SCALES: [usize; 5] = [6, 12, 24, 48, 96];

/// A bend counts when it is this many standard deviations of the quiet places of its scale (set by simulation:
/// short lessons of slow samples reach no more).
const GATE: f64 = 5.0;

/// Windows whose half is longer than so much of the usual time between bends answer to more than one of them.
const CROWDED: f64 = 0.8;

/// Of the bends of many lessons at least this share is followed by one of the other kind.
const ALTERNATE: f64 = 0.8;

/// So manieth part of all places is quiet, and what it stays below of noise, in standard deviations.
const QUIET_PART: usize = 4;
const QUIET_SD: f64 = 0.3186;

/// Bends of noise grow with the window by so much at most: it lasts longer than the narrowest.
const GROWS: f64 = 3.0;

/// Lags of probe and lamp in seconds that bends are looked for behind.
const LAGS_S: (f64, f64) = (5.0, 1.6);

/// A candidate: place in time, kind, strength in standard deviations.
#[derive(Debug, Clone, Copy)]
pub(in crate::lamp) struct Bend {
    pub(in crate::lamp) at_s: f64,
    pub(in crate::lamp) kind: Kind,
    pub(in crate::lamp) strength: f64,
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

/// All curves on one even grid: its first time and its step in seconds, and their values.
pub(in crate::lamp) struct Grids {
    pub(in crate::lamp) from: f64,
    pub(in crate::lamp) step: f64,
    pub(in crate::lamp) along: Vec<Vec<f64>>,
}

/// The curves on a grid of at most about so many places.
pub(in crate::lamp) fn on_grid(curves: &[Curve], most: usize) -> Grids {
    let (from, to) = limits(curves);
    let width = curves.iter().map(|c| width_for(c, most));
    let width = width.fold(0.0, f64::max);
    // Of so many rows the median step is no wider (half of them are at least as long as it, and
    // all of them make up the record), and looking for it would cost a copy of all times.
    let step = if curves.iter().all(|c| c.t_s.len() > 2 * most + 1) {
        width
    } else {
        width.max(spacing(curves))
    };
    let places = (((to - from) / step) as usize + 1).min(most + 2);
    let grid = |c: &Curve| {
        if width > 0.0 {
            even(&blocks(c, width, &[], 0.0), from, step, places)
        } else {
            even(c, from, step, places)
        }
    };
    let along = curves.iter().map(grid).collect();
    Grids { from, step, along }
}

/// Strong bends over all scales, alternating in kind, in order of time.
pub(super) fn bends(curves: &[Curve]) -> Vec<Bend> {
    let Grids {
        from,
        step,
        along: grids,
    } = on_grid(curves, PLACES);
    let floors: Vec<f64> = curves.iter().map(|c| c.floor_degc).collect();
    let mut found = Vec::new();
    let mut narrowest: Option<Vec<f64>> = None;
    let mut apart = f64::INFINITY;
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
        apart = apart.min(usually_apart(&own));
        if half as f64 > CROWDED * apart {
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
pub(super) fn joint_strength(along: &[Vec<f64>], scales: &[f64]) -> Vec<f64> {
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
pub(super) fn quiet_sd(along: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = along.iter().map(|a| a.abs()).collect();
    let place = sizes.len() / QUIET_PART;
    if place >= sizes.len() {
        return 0.0;
    }
    *sizes.select_nth_unstable_by(place, f64::total_cmp).1 / QUIET_SD
}

/// Places that stand out and are the largest within `half` on both sides.
pub(super) fn peaks(z: &[f64], half: usize) -> Vec<(usize, f64)> {
    z.iter()
        .enumerate()
        .filter(|(i, v)| {
            let window = z.get(i.saturating_sub(half)..(i + half + 1).min(z.len()));
            v.abs() > GATE && window.is_some_and(|w| w.iter().all(|o| o.abs() <= v.abs()))
        })
        .map(|(i, v)| (i, *v))
        .collect()
}

/// Places from one bend to the next, in the middle of many that mostly alternate in kind; infinite for others.
///
/// Wider windows than those that see them may see fewer, and such that are none.
pub(super) fn usually_apart(own: &[(usize, f64)]) -> f64 {
    let pairs = || own.iter().zip(own.iter().skip(1));
    let mut apart: Vec<f64> = pairs().map(|(a, b)| (b.0 - a.0) as f64).collect();
    let alternate = pairs().filter(|(a, b)| a.1 * b.1 < 0.0).count();
    if apart.len() >= MANY && alternate as f64 >= ALTERNATE * apart.len() as f64 {
        median(&mut apart)
    } else {
        f64::INFINITY
    }
}

/// Keeps the strongest of candidates closer together than `gap_s`.
pub(super) fn strongest(mut all: Vec<Bend>, gap_s: f64) -> Vec<Bend> {
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
pub(in crate::lamp) fn alternating(all: Vec<Bend>) -> Vec<Bend> {
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

#[cfg(test)]
mod tests;
