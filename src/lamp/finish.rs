//! The final fit of a chosen number of edges: on fine blocks, with as rich a body as the rows can bear.

use super::LampOptions;
use super::choose::{Candidate, fitted};
use super::clean::{Curve, thinned};
use super::fitted::cost;
use super::interval::freedom;
use super::refine::Terms;
use super::search::Start;

/// Values per channel in the final fit, away from the edges.
const FINE: usize = 1200;

/// Within this many seconds of an edge the final fit's blocks are ten times finer.
const NEAR_S: f64 = 60.0;

/// With fewer rows than this a sum of modes could follow anything.
pub(super) const SPARSE: usize = 16;

/// One node for each sample.
pub(super) const PLAIN: Terms = Terms {
    drift: false,
    surface: false,
    modes: false,
};

/// Any number of nodes.
pub(super) const MODES: Terms = Terms {
    modes: true,
    ..PLAIN
};

/// The final fit on fine blocks, with a drift and a second node where they earn their place.
pub(super) fn finish(
    curves: &[Curve],
    choice: &Candidate,
    options: &LampOptions,
    channels: usize,
) -> Option<Candidate> {
    let at_s = choice.fit.at_s().to_vec();
    if at_s.is_empty() {
        return None;
    }
    let fine: Vec<Curve> = curves
        .iter()
        .map(|c| thinned(c, FINE, &at_s, NEAR_S))
        .zip(&choice.curves)
        .map(|(c, noise)| Curve {
            sd_degc: noise.sd_degc,
            inflation: noise.inflation,
            ..c
        })
        .collect();
    let start = Start {
        first: choice.fit.first,
        tau_s: choice.fit.tau_s(curves.len()),
        at_s,
        cost: 0.0,
    };
    if fine.iter().any(|c| c.t_s.len() < SPARSE) {
        // Few rows cannot rule out a surface node or a drift, and without them the intervals
        // would be too narrow: they stay wherever the rows can bear them.
        let values: usize = fine.iter().map(|c| c.t_s.len()).sum();
        let spare = |per_curve: usize| values > per_curve * fine.len() + start.at_s.len() + 2;
        let terms = Terms {
            surface: spare(7),
            drift: spare(8),
            modes: false,
        };
        return fitted(&fine, &start, terms, options, channels, 2);
    }
    // A lag that is not known cannot be told from fast modes of the bench but by its prior: then
    // all modes are let in, lest the interval be too narrow.
    let known = options.declared_lamp_lag_s().is_some()
        && (0..channels).all(|c| {
            let is_declared = options.declared_probe_lag_s(c, channels).is_some();
            is_declared && options.probe_lag_u_s(c).is_none()
        });
    if !known {
        return fitted(&fine, &start, MODES, options, channels, 3);
    }
    earned(|terms| fitted(&fine, &start, terms, options, channels, 2))
}

/// Of plain and richer bodies the one that earns its place by Schwarz's criterion.
fn earned(fit: impl Fn(Terms) -> Option<Candidate>) -> Option<Candidate> {
    let mut best = fit(PLAIN);
    let richer = [(true, false), (false, true), (true, true)].map(|(drift, surface)| Terms {
        drift,
        surface,
        modes: false,
    });
    for terms in richer.into_iter().chain([MODES]) {
        let Some(trial) = fit(terms) else {
            continue;
        };
        let wins = best.as_ref().is_none_or(|now| {
            let gain = cost(&now.residuals_degc, &trial.curves)
                - cost(&trial.residuals_degc, &trial.curves);
            let more = trial.fit.parameters as f64 - now.fit.parameters as f64;
            gain > more * (freedom(&trial.fit, &trial.curves) + 3.0).ln()
        });
        if wins {
            best = Some(trial);
        }
    }
    best
}
