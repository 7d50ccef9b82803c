//! Samples that warmed and cooled though no switching stands out.

use super::{RowsWarning, Series, Warning};
use crate::lamp::{Curve, Edge};

/// Least warming and cooling in degrees Celsius that are worth a word.
const LEAST_DEGC: f64 = 3.0;

/// Longest record in seconds that is taken for a lesson: in a longer one the day warms as well.
const LONGEST_S: f64 = 6.0 * 3600.0;

/// Values at an end that say where a sample was.
const VALUES: usize = 5;

/// What is to be told of the sample that warmed most and cooled again, where no edge was found.
pub(super) fn unlike(edges: &[Edge], curves: &[Curve], series: &Series) -> Option<Warning> {
    if !edges.is_empty() {
        return None;
    }
    let most = curves
        .iter()
        .filter_map(|curve| Some((curve.channel, warmed(curve)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let (channel, rise_degc) = most;
    let sample = series.channels.get(channel)?.name.clone();
    Some(RowsWarning::UnlikeOneLamp { sample, rise_degc }.into())
}

/// By how much a curve rose before it fell again; none for little of either.
fn warmed(curve: &Curve) -> Option<f64> {
    let values = &curve.degc;
    let span_s = curve.t_s.last()? - curve.t_s.first()?;
    let first = middle(values.get(..VALUES)?)?;
    let last = middle(values.get(values.len() - VALUES..)?)?;
    let highest = values
        .windows(VALUES)
        .filter_map(middle)
        .fold(f64::NEG_INFINITY, f64::max);
    let (rise, fall) = (highest - first, highest - last);
    (span_s <= LONGEST_S && rise >= LEAST_DEGC && fall >= LEAST_DEGC).then_some(rise)
}

fn middle(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Channel;

    fn told(degc: impl Fn(f64) -> f64, step_s: f64) -> Option<String> {
        let t_s: Vec<f64> = (0..200).map(|i| step_s * f64::from(i)).collect();
        let degc: Vec<f64> = t_s.iter().map(|t| degc(t / step_s)).collect();
        let channel = Channel {
            name: "slate".into(),
            degc: Vec::new(),
            resolution_degc: None,
            u_common_degc: None,
        };
        let series = Series {
            channels: vec![channel],
            ..Series::default()
        };
        let curve = crate::lamp::curve(0, &t_s, &degc, true);
        unlike(&[], &[curve], &series).map(|w| w.to_string())
    }

    #[test]
    fn a_sample_that_warmed_and_cooled_is_named() {
        let hill = |i: f64| 21.0 + 8.0 * (-((i - 100.0) / 40.0).powi(2)).exp();
        let text = told(hill, 5.0).unwrap();
        assert!(
            text.starts_with("slate warmed by 8.0 °C and cooled again"),
            "{text}"
        );
        // A day, a spike, one that warms on, and one that hardly warms.
        assert_eq!(told(hill, 300.0), None);
        assert_eq!(
            told(|i| if (i - 90.0).abs() < 0.5 { 60.0 } else { 21.0 }, 5.0),
            None
        );
        assert_eq!(told(|i| 21.0 + 0.05 * i, 5.0), None);
        assert_eq!(told(|i| 21.0 + 0.3 * (hill(i) - 21.0), 5.0), None);
    }
}
