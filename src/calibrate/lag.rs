//! How fast a probe follows: dipped from air into water, or the other way.
//!
//! A first-order probe approaches the bath exponentially from wherever it is, so the instant of the dip
//! need not be known, and what happens while the tip goes through the surface can be left out: the fit
//! begins when a part of the way is done.

use crate::analysis::fit_decay;
use crate::lamp::{inflation, student_975};

/// The fit begins after this share of the way: what comes before is dip and splash.
const LEFT_OUT: f64 = 0.2;

/// It ends where this share is done, and as long again as it took from the beginning.
const DONE: f64 = 0.98;

/// The least step that says something, in °C.
const LEAST_STEP_DEGC: f64 = 3.0;

/// Rows between [`LEFT_OUT`] and 0.95 of the way at least.
const LEAST_ROWS: usize = 4;

/// Rows before the step whose median is the beginning, and at the end, whose median is the bath.
const LEVEL_ROWS: usize = 5;

/// Relative standard uncertainty of using a lag that was measured in stirred water for a probe that
/// lies on a sample: it answers more slowly there, by an unknown amount (common practice, no source).
pub const TRANSFER: f64 = 0.2;

/// A first-order lag.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedLag {
    /// Time constant in seconds.
    pub tau_s: f64,
    /// Its standard uncertainty in seconds.
    pub u_s: f64,
    /// The interval that covers it at a level of 95 %, in seconds.
    pub interval_s: (f64, f64),
    /// How far the temperature went, in °C, with its sign.
    pub step_degc: f64,
    /// When the fit begins, in seconds of the rows' time base.
    pub from_s: f64,
    /// Rows that were fitted.
    pub rows: usize,
    /// Standard deviation of the residuals in °C.
    pub residual_sd_degc: f64,
}

/// Why there is no lag.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LagFault {
    /// Too few rows altogether.
    #[error("only {rows} rows; that is too few for a lag")]
    FewRows {
        /// How many.
        rows: usize,
    },
    /// The temperature hardly changed.
    #[error("the temperature changed by {step_degc:.1} °C only; a dip needs 3 °C or more")]
    NoStep {
        /// By how much, in °C.
        step_degc: f64,
    },
    /// The change is over between two rows.
    #[error("the change is over within {rows} rows: they are too far apart for this probe's lag")]
    TooFast {
        /// Rows within the change.
        rows: usize,
    },
    /// No exponential describes the rows.
    #[error("the rows do not follow one exponential: was the probe moved, or not yet at rest?")]
    NoFit,
}

/// Fits the lag to one probe's rows: times in seconds, strictly increasing, temperatures in °C, NaN where
/// there is none. They begin before the dip and end when the probe is at rest in the bath.
///
/// # Errors
/// [`LagFault`] says what is missing.
pub fn fit_lag(t_s: &[f64], degc: &[f64]) -> Result<FittedLag, LagFault> {
    let rows: Vec<(f64, f64)> = t_s
        .iter()
        .copied()
        .zip(degc.iter().copied())
        .filter(|(t, y)| t.is_finite() && y.is_finite())
        .collect();
    let few = LagFault::FewRows { rows: rows.len() };
    if rows.len() < 3 * LEVEL_ROWS {
        return Err(few);
    }
    let values: Vec<f64> = rows.iter().map(|(_, y)| *y).collect();
    let first = middle(values.get(..LEVEL_ROWS)).ok_or(few)?;
    let last = middle(values.get(values.len() - LEVEL_ROWS..)).ok_or(few)?;
    let step_degc = last - first;
    if step_degc.is_nan() || step_degc.abs() < LEAST_STEP_DEGC {
        return Err(LagFault::NoStep { step_degc });
    }
    let done = |y: f64| (y - first) / step_degc;
    // The last row of the way that is not yet so far, counted back: a splash before it is left out.
    let after = |share: f64| {
        let place = values.iter().rposition(|y| done(*y) < share);
        place.map_or(0, |place| place + 1)
    };
    let (from, nearly, end) = (after(LEFT_OUT), after(0.95), after(DONE));
    if nearly.saturating_sub(from) < LEAST_ROWS {
        let rows = nearly.saturating_sub(from);
        return Err(LagFault::TooFast { rows });
    }
    let end = (end + (end - from)).max(end + LEVEL_ROWS).min(rows.len());
    let part = rows.get(from..end).ok_or(LagFault::NoFit)?;
    let (t, y): (Vec<f64>, Vec<f64>) = part.iter().copied().unzip();
    let from_s = t.first().copied().ok_or(LagFault::NoFit)?;
    let fit = fit_decay(&t, &y, from_s, None).ok_or(LagFault::NoFit)?;
    let inflation = inflation(&fit.residuals);
    let u_s = fit.u_tau_s() * inflation.sqrt();
    let freedom = (t.len() as f64 / inflation - 3.0).max(1.0);
    let tau_s = fit.tau_s();
    // The approach must be towards where the rows ended, and be seen well enough to mean something.
    let reaches = (fit.level() - last).abs() < 0.1 * step_degc.abs();
    if !(reaches && tau_s > 0.0 && u_s < 0.5 * tau_s) {
        return Err(LagFault::NoFit);
    }
    let half = student_975(freedom) * u_s;
    Ok(FittedLag {
        tau_s,
        u_s,
        interval_s: ((tau_s - half).max(0.0), tau_s + half),
        step_degc,
        from_s,
        rows: t.len(),
        residual_sd_degc: fit.residual_sd,
    })
}

fn middle(values: Option<&[f64]>) -> Option<f64> {
    let mut sorted = values?.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_distr::StandardNormal;
    use rand_pcg::Pcg64;

    /// A dip at an unknown instant, with a splash: the tip is taken out again for a second.
    fn dip(tau_s: f64, seed: u64, noise: f64, period_s: f64) -> (Vec<f64>, Vec<f64>) {
        let mut rng = Pcg64::seed_from_u64(seed);
        let at_s = 20.0 + rng.random_range(0.0..3.0);
        let (mut t, mut y, mut tip, mut now_s) = (Vec::new(), Vec::new(), 22.0, 0.0);
        while now_s < at_s + 15.0 * tau_s {
            let wet = now_s >= at_s && !(at_s + 0.6..at_s + 1.2).contains(&now_s);
            let around = if wet { 46.0 } else { 22.0 };
            tip = around + (tip - around) * (-period_s / tau_s).exp();
            let felt: f64 = rng.sample(StandardNormal);
            t.push(now_s);
            y.push(tip + noise * felt);
            now_s += period_s;
        }
        (t, y)
    }

    #[test]
    fn the_lag_comes_out_with_its_interval_whenever_the_probe_was_dipped() {
        let runs = 300;
        let mut inside = 0;
        let mut worst: f64 = 0.0;
        for seed in 0..runs {
            let (t, y) = dip(6.0, seed, 0.02, 0.25);
            let fit = fit_lag(&t, &y).unwrap();
            let (low, high) = fit.interval_s;
            inside += usize::from((low..=high).contains(&6.0));
            worst = worst.max((fit.tau_s - 6.0).abs());
            assert!((fit.step_degc - 24.0).abs() < 0.1);
        }
        assert!(worst < 0.1, "{worst}");
        assert!((270..=298).contains(&inside), "{inside} of {runs}");
    }

    #[test]
    fn what_is_no_dip_is_refused() {
        let t: Vec<f64> = (0..200).map(f64::from).collect();
        let flat = vec![22.0; 200];
        assert!(matches!(fit_lag(&t, &flat), Err(LagFault::NoStep { .. })));
        let jump: Vec<f64> = t
            .iter()
            .map(|t| if *t < 60.0 { 22.0 } else { 46.0 })
            .collect();
        assert!(matches!(fit_lag(&t, &jump), Err(LagFault::TooFast { .. })));
        assert!(matches!(
            fit_lag(&t[..9], &flat[..9]),
            Err(LagFault::FewRows { .. })
        ));
        let ramp: Vec<f64> = t.iter().map(|t| 22.0 + 0.2 * t).collect();
        assert!(fit_lag(&t, &ramp).is_err());
    }
}
