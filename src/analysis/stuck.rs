//! A probe that showed one number for a while and then leapt to where its sample had gone meanwhile.
//!
//! The leap looks like a lamp, and the rows before it like a sample that nothing warms. A sound probe's
//! readings may stand still as well, where they are rounded; but what comes then is a step of the rounding, or
//! a slope that goes on. So a leap is what the rows after it are nowhere near.

use std::borrow::Cow;
use std::ops::Range;

use super::{RowsWarning, Series, Warning};

/// Fewest rows of one number.
const ROWS: usize = 10;

/// A leap is so many times what the rows after it change by at most, and so many steps of the readings, and
/// so many degrees Celsius, at least.
const TIMES: f64 = 4.0;
const STEPS: f64 = 5.0;
const LEAST_DEGC: f64 = 0.3;

/// So many rows after a leap tell how fast the sample goes.
const AFTER: usize = 8;

/// The rows in which a probe stood and the leap that ends them, in degrees Celsius.
#[derive(Debug, Clone, PartialEq)]
struct Stood {
    rows: Range<usize>,
    leap_degc: f64,
}

/// The series without what stuck probes showed, and what is to be told of it.
pub(super) fn without_stuck(series: &Series) -> (Cow<'_, Series>, Vec<Warning>) {
    let mut found = Vec::new();
    for (place, channel) in series.channels.iter().enumerate() {
        let step_degc = channel.resolution_degc.unwrap_or(0.0);
        found.extend(
            stood(&channel.degc, step_degc)
                .into_iter()
                .map(|s| (place, s)),
        );
    }
    if found.is_empty() {
        return (Cow::Borrowed(series), Vec::new());
    }
    let mut less = series.clone();
    let mut told = Vec::new();
    for (place, Stood { rows, leap_degc }) in found {
        let time = |row: usize| series.t_s.get(row).copied().unwrap_or(0.0);
        if let Some(channel) = less.channels.get_mut(place) {
            told.push(
                RowsWarning::Stood {
                    sample: channel.name.clone(),
                    at_s: time(rows.start),
                    until_s: time(rows.end - 1),
                    leap_degc,
                }
                .into(),
            );
            let own = channel.degc.get_mut(rows).unwrap_or_default();
            own.fill(f64::NAN);
        }
    }
    (Cow::Owned(less), told)
}

/// Where a channel with readings in such steps stood.
fn stood(degc: &[f64], step_degc: f64) -> Vec<Stood> {
    let known = degc.iter().enumerate().filter(|(_, v)| v.is_finite());
    let mut found = Vec::new();
    // First and last row of the run, its value, and how many rows it has.
    let mut run: Option<(usize, usize, f64, usize)> = None;
    for (row, &value) in known {
        run = match run {
            Some((first, _, same, rows)) if same.total_cmp(&value).is_eq() => {
                Some((first, row, same, rows + 1))
            }
            ended => {
                if let Some((first, last, before, rows)) = ended
                    && rows >= ROWS
                    && leaps(degc, row, value - before, step_degc)
                {
                    found.push(Stood {
                        rows: first + 1..last + 1,
                        leap_degc: value - before,
                    });
                }
                Some((row, row, value, 1))
            }
        };
    }
    found
}

/// Whether the rows after this one are nowhere near a change by so much.
fn leaps(degc: &[f64], row: usize, leap_degc: f64, step_degc: f64) -> bool {
    let from = degc.get(row..).unwrap_or_default();
    let after = from.iter().filter(|v| v.is_finite()).take(AFTER + 1);
    // Back and forth is a spike; one reading alone tells no pace.
    let pairs = after.clone().zip(after.clone().skip(1));
    let most = pairs.map(|(a, b)| (b - a).abs()).fold(0.0, f64::max);
    let least = LEAST_DEGC.max(STEPS * step_degc).max(TIMES * most);
    after.count() > 3 && leap_degc.abs() > least
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twenty rows of a number, then what comes.
    fn then(after: &[f64]) -> Vec<f64> {
        let still = std::iter::repeat_n(21.5, 20);
        [21.4, 21.6]
            .into_iter()
            .chain(still)
            .chain(after.iter().copied())
            .collect()
    }

    #[test]
    fn a_leap_that_nothing_after_it_comes_near_is_a_probe_that_stood() {
        let found = stood(&then(&[24.7, 24.8, 24.8, 24.9, 25.0]), 0.1);
        let [one] = found.as_slice() else {
            panic!("{found:?}")
        };
        assert_eq!(one.rows, 3..22);
        assert!((one.leap_degc - 3.2).abs() < 1e-9);
    }

    #[test]
    fn a_lamp_a_spike_a_step_and_the_end_are_none() {
        // Minute rows as the lamp goes on: 2.5 °C, then 1.4.
        assert_eq!(stood(&then(&[24.0, 25.4, 26.4, 27.2, 27.9]), 0.1), []);
        assert_eq!(stood(&then(&[60.0, 21.5, 21.5, 21.6, 21.6]), 0.1), []);
        assert_eq!(stood(&then(&[22.0, 22.0, 22.0, 22.0, 22.5]), 0.5), []);
        assert_eq!(stood(&then(&[24.7]), 0.1), []);
        // A probe that is taken into the hand goes the way of its lag.
        assert_eq!(stood(&then(&[22.6, 23.6, 24.5, 25.3, 26.0]), 0.1), []);
    }

    #[test]
    fn what_it_showed_is_told_and_does_not_count() {
        let degc = then(&[24.7, 24.8, 24.8, 24.9, 25.0]);
        let channel = super::super::Channel {
            name: "slate".into(),
            degc,
            resolution_degc: Some(0.1),
            u_common_degc: None,
        };
        let series = Series {
            t_s: (0..27).map(f64::from).collect(),
            channels: vec![channel],
            unsure: Vec::new(),
        };
        let (less, told) = without_stuck(&series);
        assert_eq!(
            less.channels[0].degc.iter().filter(|v| v.is_nan()).count(),
            19
        );
        let said = told[0].to_string();
        assert!(
            said.starts_with("slate showed one and the same number from 0:03 to 0:21"),
            "{said}"
        );
        let (same, told) = without_stuck(&less);
        assert!(told.is_empty() && matches!(same, Cow::Borrowed(_)));
    }
}
