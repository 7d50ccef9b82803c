//! Tables of few rows, as a person with a watch writes them down: one heating, and what may be said.
//!
//! A handful of rows minutes apart cannot tell the shape of the curve, and any one shape that is
//! fitted to them gives a false precision or no edge at all. Here nothing is fitted: every pair of
//! instants on a grid gets the likelihood that many shapes give it together (see [`super::evidence`]),
//! and the answer is where most of the posterior lies. A lamp that was on before the first row, or
//! stays on beyond the last, is among the pairs.

mod several;
mod table;

use super::clean::{Curve, are_apart, few_rows};
use super::evidence::{Evidence, Late, Shaped, misfit_without};
use super::interval::{UNSEEN_ROWS, UNSEEN_S};
use super::noise::median;
use super::{Kind, LampFit, LampOptions, Method};
use table::{Posterior, Table};

/// Fewest rows that say anything.
const FEWEST: usize = 5;

/// Most rows of which several heatings are weighed, and most curves, those that moved most: cost grows with the
/// cube of the rows. Further curves tell little more.
const MOST_ROWS: usize = 64;
const MOST_CURVES: usize = 3;

/// Instants to a row that are enough where there are so many.
const ROUGH: f64 = 3.0;

/// Misfit a row without a lamp, in units of the noise, below which nothing is left for several to explain.
const EXPLAINED: f64 = 0.8;

/// The lamp must be more likely than its absence by this much, as a natural logarithm.
const CLEAR: f64 = 4.0;

/// So many rows by hand are a long table: in an hour a room does more that is no lamp, which gave logarithms of up
/// to 12 in unlit tables of 41 to 64 rows, lamps 13 and more in nearly all (chosen by simulation). Where it is
/// not as clear as this, a model of the whole has its say.
const LONG_ROWS: usize = 40;
const LONG_CLEAR: f64 = 13.0;

/// Misfit a row, in units of the noise, from which on one heating is not what the table shows.
const STRANGE: f64 = 9.0;

/// The same from which on several may show it better: short lessons pass for a long one in coarse readings, and
/// lessons alone left 1.6 at most (by simulation).
const POOR: f64 = 1.5;

/// Seconds by which a person reads late, the more of them for each sample read before, and their
/// standard deviation (common practice, no source).
const LATE_S: f64 = 4.0;
const LATER_S: f64 = 3.0;
const LATE_SD_S: f64 = 4.0;

/// Medians of the lags' priors and their standard deviations, in seconds; see [`LampOptions`].
const PROBE_S: (f64, f64) = (5.4, 3.0);
const LAMP_S: (f64, f64) = (1.6, 1.5);

/// Whether the curves are such a table.
pub(super) fn are_few(curves: &[Curve]) -> bool {
    curves
        .iter()
        .all(|c| c.t_s.len() >= FEWEST && few_rows(&c.t_s, c.by_eye))
}

/// The edges of a table of few rows; none where it shows what no lamp does.
pub(super) fn find(curves: &[Curve], options: &LampOptions, channels: usize) -> Option<LampFit> {
    one_heating(&Few::new(curves, options, channels), several_of)
}

/// Several heatings of the curves that moved most.
fn several_of(few: &Few) -> Option<LampFit> {
    if few.curves.len() <= MOST_CURVES {
        return several::find(few);
    }
    let (moved, table) = (most_moved(few.curves), few.table.clone());
    several::find(&Few::with(&moved, few.options, few.channels, table))
}

/// The edges of two heatings or more in rows far apart, where no model of the whole has any.
pub(super) fn find_several(
    curves: &[Curve],
    options: &LampOptions,
    channels: usize,
) -> Option<LampFit> {
    let sparse = |c: &Curve| (FEWEST..=MOST_ROWS).contains(&c.t_s.len()) && are_apart(&c.t_s);
    let hand = curves.iter().all(|c| c.by_eye);
    let is_open = |c| misfit_without(c, late(c, options, channels, hand)) > EXPLAINED;
    if !curves.iter().all(sparse) || !curves.iter().any(is_open) {
        return None;
    }
    let moved = most_moved(curves);
    let rough = Table::with(&moved, hand, ROUGH);
    several::find(&Few::with(&moved, options, channels, rough))
}

/// The curves whose range is largest, in units of their noise.
fn most_moved(curves: &[Curve]) -> Vec<Curve> {
    let moved = |c: &Curve| {
        let top = c.degc.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = c.degc.iter().copied().fold(f64::INFINITY, f64::min);
        (top - low) / c.floor_degc
    };
    let mut all: Vec<&Curve> = curves.iter().collect();
    all.sort_by(|a, b| moved(b).total_cmp(&moved(a)));
    all.truncate(MOST_CURVES);
    all.into_iter().cloned().collect()
}

/// The edges of a window about one heating; none where it shows what one does not make.
pub(super) fn find_one(
    curves: &[Curve],
    options: &LampOptions,
    channels: usize,
) -> Option<LampFit> {
    one_heating(&Few::new(curves, options, channels), |_| None)
}

/// The edges of one heating; what is `more` where none is there, or it does not explain the rows.
fn one_heating(few: &Few, more: fn(&Few) -> Option<LampFit>) -> Option<LampFit> {
    let table = &few.table;
    let each: Vec<Evidence> = few.shaped.iter().map(Shaped::alone).collect();
    let anywhere = table.posterior(&each, &table.on)?;
    let without: f64 = each.iter().map(|e| e.without).sum();
    if few.is_long() && anywhere.ln_evidence - without < LONG_CLEAR {
        return None;
    }
    // Whether there was a lamp is not to hang on when a person would have switched it on.
    if anywhere.ln_evidence - without < CLEAR {
        // Several weak heatings hide from any one.
        let explained = each.iter().all(|e| e.misfit_without < STRANGE);
        return more(few).or_else(|| explained.then(|| few.no_lamp()));
    }
    let posterior = match &table.by_hand {
        Some(on) => table.posterior(&each, on)?,
        None => anywhere,
    };
    if is_strange(&each, posterior.top) {
        return if few.is_long() { None } else { more(few) };
    }
    let is_poor = leaves_more(&each, posterior.top, POOR);
    let heating = Heating {
        each,
        posterior,
        table: few.table.clone(),
    };
    let several = is_poor.then(|| more(few)).flatten();
    several.or_else(|| Some(few.told(&[heating], 0.0)))
}

/// Curves of few rows, and what is known of them beforehand.
struct Few<'a> {
    curves: &'a [Curve],
    options: &'a LampOptions,
    channels: usize,
    /// Whether a person wrote them.
    hand: bool,
    table: Table,
    shaped: Vec<Shaped>,
}

impl<'a> Few<'a> {
    fn new(curves: &'a [Curve], options: &'a LampOptions, channels: usize) -> Self {
        let hand = curves.iter().all(|c| c.by_eye);
        Self::with(curves, options, channels, Table::new(curves, hand))
    }

    /// The same on a table's instants.
    fn with(curves: &'a [Curve], options: &'a LampOptions, channels: usize, table: Table) -> Self {
        let hand = curves.iter().all(|c| c.by_eye);
        let of = |c: &Curve| Shaped::new(c, &table.grid, late(c, options, channels, hand));
        Self {
            shaped: curves.iter().map(of).collect(),
            curves,
            options,
            channels,
            hand,
            table,
        }
    }

    /// Whether a person wrote more rows than most lessons have.
    fn is_long(&self) -> bool {
        self.hand && self.curves.iter().any(|c| c.t_s.len() > LONG_ROWS)
    }

    fn no_lamp(&self) -> LampFit {
        LampFit {
            edges: Vec::new(),
            lag_share: Vec::new(),
            noise_degc: vec![None; self.channels],
            method: Method::NoEdge,
        }
    }

    /// What a pair of instants leaves of the noise is each curve's own.
    fn noise_degc(&self, heating: &Heating) -> Vec<Option<f64>> {
        let mut noise_degc = vec![None; self.channels];
        for (curve, e) in self.curves.iter().zip(&heating.each) {
            let misfit = e.misfit.get(heating.posterior.top).copied();
            if let Some((slot, misfit)) = noise_degc.get_mut(curve.channel).zip(misfit) {
                let scatter = e.noise_degc * misfit.max(0.3).sqrt();
                *slot = Some(scatter.hypot(curve.floor_degc));
            }
        }
        noise_degc
    }

    /// Edges from what is said about each heating in turn, known no better than to `unlike_s`.
    fn told(&self, heatings: &[Heating], unlike_s: f64) -> LampFit {
        let mut fit = self.no_lamp();
        let beside_s = beside_s(self.options, self.hand);
        let rows_s = unlike_s.hypot(UNSEEN_ROWS * self.table.row_s);
        for heating in heatings {
            let posterior = &heating.posterior;
            for (kind, share) in [(Kind::On, &posterior.on), (Kind::Off, &posterior.off)] {
                let told = heating.table.edge(kind, share, beside_s.hypot(rows_s));
                if let Some((edge, fitted_s)) = told {
                    fit.edges.push(edge);
                    let all = fitted_s.powi(2) + beside_s.powi(2) + rows_s.powi(2);
                    fit.lag_share.push(beside_s.powi(2) / all.max(1e-9));
                }
            }
        }
        if let Some(heating) = heatings.last().filter(|_| !fit.edges.is_empty()) {
            fit.method = Method::Whole;
            fit.noise_degc = self.noise_degc(heating);
        }
        fit
    }
}

/// Whether some curve has nothing of what it would have with this pair.
fn is_strange(each: &[Evidence], pair: (usize, usize)) -> bool {
    leaves_more(each, pair, STRANGE)
}

/// Whether this pair leaves more than so much of some curve, as a misfit a row.
fn leaves_more(each: &[Evidence], pair: (usize, usize), most: f64) -> bool {
    let misfit = |e: &Evidence| e.misfit.get(pair).copied();
    each.iter().filter_map(misfit).any(|m| m > most)
}

/// What is said about one heating, on its part of the table.
struct Heating {
    table: Table,
    each: Vec<Evidence>,
    posterior: Posterior,
}
/// What delays a curve's readings.
fn late(curve: &Curve, options: &LampOptions, channels: usize, hand: bool) -> Late {
    let probe = options.declared_probe_lag_s(curve.channel, channels);
    let lamp = options.declared_lamp_lag_s();
    let reader_s = LATE_S + LATER_S * curve.channel as f64;
    Late {
        lags_s: [probe.unwrap_or(PROBE_S.0), lamp.unwrap_or(LAMP_S.0)],
        reader_s: if hand { reader_s } else { 0.0 },
    }
}

/// Standard uncertainty in seconds of what shifts both edges alike: lags and the reader's delay.
fn beside_s(options: &LampOptions, hand: bool) -> f64 {
    let lamp = options.declared_lamp_lag_s().is_some();
    let measured_s = options.probe_lag_u_s.iter().flatten();
    let measured_s = measured_s.copied().fold(0.0, f64::max);
    let of = |known: bool, sd: f64| if known { 0.0 } else { sd };
    of(options.probe_lag_s.is_some(), PROBE_S.1)
        .hypot(measured_s)
        .hypot(of(lamp, LAMP_S.1))
        .hypot(of(lamp, UNSEEN_S))
        .hypot(of(!hand, LATE_SD_S))
}

/// Typical size of the slopes about each row, in degrees Celsius per second.
pub(super) fn slopes(t_s: &[f64], degc: &[f64]) -> Vec<f64> {
    let steps: Vec<f64> = (t_s.iter().zip(t_s.iter().skip(1)))
        .zip(degc.iter().zip(degc.iter().skip(1)))
        .map(|((t0, t1), (y0, y1))| ((y1 - y0) / (t1 - t0)).abs())
        .collect();
    (0..t_s.len())
        .map(|i| {
            let from = i.saturating_sub(1);
            let mut two = steps
                .get(from..(i + 1).min(steps.len()))
                .unwrap_or_default()
                .to_vec();
            let slope = median(&mut two);
            if slope.is_finite() { slope } else { 0.0 }
        })
        .collect()
}

#[cfg(test)]
mod tests;
