//! Probes in one stirred bath: by how much do they differ, and does that matter for the lesson?

use super::mean::{Mean, mean_with_step};
use crate::analysis::printed_step_degc;

/// A difference matters from this share of the expected rise on: on a graph of the lesson that is as
/// much as a pencil line is thick (common practice, no source).
const SHARE_OF_RISE: f64 = 0.02;

/// Coverage factor: a difference within it may be nothing at all.
const COVERAGE: f64 = 2.0;

/// What a difference means for the lesson.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MatchVerdict {
    /// No difference can be told from noise and rounding.
    Agree,
    /// There is one, too small to matter for the lesson.
    Small,
    /// It would be seen on the graph.
    Matters,
}

/// Two channels against each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Channels, counted from 0.
    pub channels: (usize, usize),
    /// The first minus the second in °C, and its standard uncertainty.
    pub difference_degc: f64,
    /// Standard uncertainty of the difference in °C.
    pub u_degc: f64,
}

/// What the bath shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Matched {
    /// Each channel's own mean.
    pub means: Vec<Mean>,
    /// Each channel minus the mean of all, in °C, with its standard uncertainty.
    pub from_all: Vec<(f64, f64)>,
    /// The pair that differs most.
    pub widest: Pair,
    /// What that means.
    pub verdict: MatchVerdict,
    /// The difference from which on it matters, in °C.
    pub limit_degc: f64,
}

/// Compares channels that were read at the same instants in one bath; `rise_degc` is how much the
/// samples are expected to warm in the lesson, greater than 0.
///
/// Differences are taken at each instant, so that what the bath does to all probes cancels. None for
/// fewer than two channels, or fewer than two instants at which all read.
#[must_use]
pub fn matched(channels: &[Vec<f64>], rise_degc: f64) -> Option<Matched> {
    // One board writes all its channels alike: a channel that happens to show whole degrees only has
    // the others' digits.
    let steps = channels.iter().filter_map(|c| printed_step_degc(c));
    let step = steps.reduce(f64::min).unwrap_or(0.0);
    let means: Option<Vec<Mean>> = channels.iter().map(|c| mean_with_step(c, step)).collect();
    let means = means?;
    let rows = channels.iter().map(Vec::len).min()?;
    let at = |row: usize| -> Option<Vec<f64>> {
        let all: Vec<f64> = channels
            .iter()
            .filter_map(|c| c.get(row).copied().filter(|v| v.is_finite()))
            .collect();
        (all.len() == channels.len()).then_some(all)
    };
    let whole: Vec<Vec<f64>> = (0..rows).filter_map(at).collect();
    let difference = |of: &dyn Fn(&[f64]) -> f64| {
        let values: Vec<f64> = whole.iter().map(|row| of(row)).collect();
        mean_with_step(&values, step * 2.0_f64.sqrt())
    };
    let value = |row: &[f64], channel: usize| row.get(channel).copied().unwrap_or(f64::NAN);
    let mut from_all = Vec::new();
    let mut widest: Option<Pair> = None;
    for first in 0..channels.len() {
        let mean = difference(&|row| {
            value(row, first) - row.iter().sum::<f64>() / row.len().max(1) as f64
        })?;
        from_all.push((mean.degc, mean.u_degc));
        for second in first + 1..channels.len() {
            let mean = difference(&|row| value(row, first) - value(row, second))?;
            let pair = Pair {
                channels: (first, second),
                difference_degc: mean.degc,
                u_degc: mean.u_degc,
            };
            if widest.is_none_or(|w| w.difference_degc.abs() < pair.difference_degc.abs()) {
                widest = Some(pair);
            }
        }
    }
    let widest = widest?;
    let limit_degc = SHARE_OF_RISE * rise_degc;
    let size = widest.difference_degc.abs();
    let verdict = if size <= COVERAGE * widest.u_degc {
        MatchVerdict::Agree
    } else if size < limit_degc {
        MatchVerdict::Small
    } else {
        MatchVerdict::Matters
    };
    Some(Matched {
        means,
        from_all,
        widest,
        verdict,
        limit_degc,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bath whose temperature wanders by some tenths, and a probe that is off by so much.
    fn bath(offset: f64, digits: i32) -> Vec<f64> {
        let scale = 10_f64.powi(digits);
        (0..240)
            .map(|row| {
                let t = f64::from(row);
                let degc = 22.0 + 0.2 * (t / 40.0).sin() + offset;
                let noise = 0.01 * (t * 7.31).sin() * (1.0 + offset);
                ((degc + noise) * scale).round() / scale
            })
            .collect()
    }

    #[test]
    fn a_wandering_bath_cancels_and_the_verdict_is_that_of_the_lesson() {
        let of = |offset: f64, rise: f64| matched(&[bath(0.0, 3), bath(offset, 3)], rise).unwrap();
        let small = of(0.1, 12.0);
        assert!(
            (small.widest.difference_degc + 0.1).abs() < 0.003,
            "{small:?}"
        );
        assert!(small.widest.u_degc < 0.003 && small.verdict == MatchVerdict::Small);
        assert_eq!(of(0.1, 3.0).verdict, MatchVerdict::Matters);
        assert_eq!(of(0.5, 12.0).verdict, MatchVerdict::Matters);
        assert_eq!(of(0.0, 12.0).verdict, MatchVerdict::Agree);
        let halves: Vec<f64> = small.from_all.iter().map(|(d, _)| *d).collect();
        assert!((halves[0] + halves[1]).abs() < 1e-12 && (halves[1] - 0.05).abs() < 0.003);
    }

    #[test]
    fn coarse_digits_are_counted_and_too_little_is_no_answer() {
        let coarse = matched(&[vec![22.0; 60], vec![22.1; 60]], 10.0).unwrap();
        // Two roundings to 0.1 °C: 0.1/√12·√2 each way (JCGM 100:2008, F.2.2.1); 0.1 °C may be nothing.
        assert!(
            (coarse.widest.u_degc - 0.040_825).abs() < 1e-4,
            "{coarse:?}"
        );
        assert!(matched(&[vec![22.0; 60]], 10.0).is_none());
        assert!(matched(&[vec![22.0; 60], vec![f64::NAN; 60]], 10.0).is_none());
    }
}
