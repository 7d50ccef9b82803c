//! Lowest, highest and mean of a record, whatever the lamp did.

use super::SampleValues;
use super::sample::tidy;
use crate::lamp::Curve;

/// A pause of more than this many usual intervals is a gap, of which nothing is known.
const GAP: f64 = 4.0;

/// What a whole record spans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    /// The lowest value.
    pub(super) lowest: f64,
    /// The highest value.
    pub(super) highest: f64,
    /// The mean over time.
    pub(super) mean: f64,
    /// Standard uncertainty of the mean for white noise of standard deviation one.
    pub(super) mean_share: f64,
}

/// Puts lowest, highest and mean of a curve into a sample's values and their uncertainties;
/// `level` adds to an uncertainty what all readings have in common.
pub(super) fn fill(
    curve: &Curve,
    sd_degc: f64,
    level: impl Fn((f64, f64)) -> (f64, f64),
    v: &mut SampleValues,
    u: &mut SampleValues,
) {
    let Some(span) = span(&curve.t_s, &curve.degc) else {
        return;
    };
    for (value, spread, found, share) in [
        (&mut v.lowest_degc, &mut u.lowest_degc, span.lowest, 1.0),
        (&mut v.highest_degc, &mut u.highest_degc, span.highest, 1.0),
        (
            &mut v.mean_degc,
            &mut u.mean_degc,
            span.mean,
            span.mean_share,
        ),
    ] {
        let (x, dx) = level((found, share * sd_degc));
        (*value, *spread) = (Some(tidy(x)), Some(tidy(dx)));
    }
}

/// Lowest, highest and mean of values at these rising times, in seconds; none without a value.
///
/// The mean is that of straight lines between neighbours (the trapezoidal rule), so that it does
/// not depend on where rows are denser. Nothing is drawn across a gap: the two values beside it
/// stand for two usual intervals each. The uncertainty follows from the weights (GUM, JCGM
/// 100:2008, 5.1.2).
pub(super) fn span(t_s: &[f64], values: &[f64]) -> Option<Span> {
    let (first, last) = (t_s.first()?, t_s.last()?);
    let usual = (last - first) / (t_s.len() as f64 - 1.0).max(1.0);
    let typical = typical_step(t_s).unwrap_or(usual);
    let steps = t_s.iter().zip(t_s.iter().skip(1));
    let after = steps.map(|(a, b)| (b - a).min(GAP * typical));
    let before = std::iter::once(0.0).chain(after.clone());
    let weights = before.zip(after.chain(std::iter::once(0.0)));
    let (mut whole, mut squares, mut sum) = (0.0, 0.0, 0.0);
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    // About the first value, so that no digits are lost in a long sum.
    let about = *values.first()?;
    for (value, (before, after)) in values.iter().zip(weights) {
        // A single value stands for itself.
        let weight = if t_s.len() == 1 {
            1.0
        } else {
            0.5 * (before + after)
        };
        whole += weight;
        squares += weight * weight;
        sum += weight * (value - about);
        lowest = lowest.min(*value);
        highest = highest.max(*value);
    }
    Some(Span {
        lowest,
        highest,
        mean: about + sum / whole,
        mean_share: squares.sqrt() / whole,
    })
}

/// Most steps that are looked at for the typical one.
const LOOKED_AT: usize = 10_000;

/// The median step of the times, from evenly picked steps where there are very many.
fn typical_step(t_s: &[f64]) -> Option<f64> {
    let stride = t_s.len() / LOOKED_AT + 1;
    let steps = t_s.iter().zip(t_s.iter().skip(1)).step_by(stride);
    let mut steps: Vec<f64> = steps.map(|(a, b)| b - a).collect();
    let middle = steps.len() / 2;
    (!steps.is_empty()).then(|| *steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::span;

    #[test]
    fn the_mean_is_over_time_and_not_over_rows() {
        // A straight line from 10 to 20 in 100 s has the mean 15, wherever its rows are.
        let t_s: Vec<f64> = (0..=20)
            .map(f64::from)
            .chain((6..=25).map(|k| 4.0 * f64::from(k)))
            .collect();
        let values: Vec<f64> = t_s.iter().map(|t| 10.0 + 0.1 * t).collect();
        let found = span(&t_s, &values).unwrap();
        assert!((found.mean - 15.0).abs() < 1e-9, "{found:?}");
        assert!((found.lowest - 10.0).abs() < 1e-12 && (found.highest - 20.0).abs() < 1e-12);
    }

    #[test]
    fn the_mean_of_even_rows_has_the_textbook_uncertainty() {
        // GUM (JCGM 100:2008) 4.2.3: that of a mean of n is 1/sqrt(n) of a single one's.
        let t_s: Vec<f64> = (0..10_000).map(f64::from).collect();
        let found = span(&t_s, &vec![20.0; t_s.len()]).unwrap();
        assert!((found.mean_share - 0.01).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn nothing_is_drawn_across_a_gap() {
        let t_s: Vec<f64> = (0..100).chain(1100..1200).map(f64::from).collect();
        let values: Vec<f64> = t_s
            .iter()
            .map(|t| if *t < 500.0 { 10.0 } else { 20.0 })
            .collect();
        let found = span(&t_s, &values).unwrap();
        assert!((found.mean - 15.0).abs() < 1e-9, "{found:?}");
        let lone = span(&[3.0], &[21.5]).unwrap();
        assert!((lone.mean - 21.5).abs() < 1e-12 && (lone.mean_share - 1.0).abs() < 1e-12);
        assert_eq!(span(&[], &[]), None);
    }
}
