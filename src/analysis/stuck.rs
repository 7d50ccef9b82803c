//! A probe that showed one number for a while and then leapt to where its sample had gone meanwhile, and one that
//! shows one number where it does not answer.
//!
//! The leap looks like a lamp, and the rows before it like a sample that nothing warms. A sound probe's
//! readings may stand still as well, where they are rounded; but what comes then is a step of the rounding, or
//! a slope that goes on. So a leap is what the rows on its other side are nowhere near.

use std::borrow::Cow;
use std::ops::Range;

use super::{RowsWarning, Series, Warning};

/// Fewest rows of one number.
const ROWS: usize = 10;

/// A leap is so many times what the rows on its other side change by at most, and so many steps of the readings,
/// and so many degrees Celsius, at least.
const TIMES: f64 = 4.0;
const STEPS: f64 = 5.0;
const LEAST_DEGC: f64 = 0.3;

/// A leap into a number that stays is at least so large, in degrees Celsius: no lamp does that between two rows.
const INTO_DEGC: f64 = 5.0;

/// So many rows beside a leap tell how fast the sample goes.
const BESIDE: usize = 8;

/// Behind a pause of more than so many of the rows' usual steps a sample may be anywhere.
const PAUSE: f64 = 4.0;

/// What probes show that do not answer, in degrees Celsius: a digital one that was never asked to measure, one
/// without power, and one that is not there (common practice, no source).
const NO_ANSWER_DEGC: [f64; 3] = [85.0, 0.0, -127.0];

/// Rows that are no sample's, and why.
#[derive(Debug, Clone, PartialEq)]
enum Stood {
    /// A leap of so many degrees Celsius ends them.
    Leapt(Range<usize>, f64),
    /// They show this temperature and nothing else.
    Dead(Range<usize>, f64),
}

/// The series without what stuck and dead probes showed, and what is to be told of it.
pub(super) fn without_stuck(series: &Series) -> (Cow<'_, Series>, Vec<Warning>) {
    let mut found = Vec::new();
    for (place, channel) in series.channels.iter().enumerate() {
        let step_degc = channel.resolution_degc.unwrap_or(0.0);
        let all = stood(&series.t_s, &channel.degc, step_degc);
        found.extend(all.into_iter().map(|s| (place, s)));
    }
    if found.is_empty() {
        return (Cow::Borrowed(series), Vec::new());
    }
    let mut less = series.clone();
    let mut told = Vec::new();
    for (place, stood) in found {
        let time = |row: usize| series.t_s.get(row).copied().unwrap_or(0.0);
        let Some(channel) = less.channels.get_mut(place) else {
            continue;
        };
        let sample = channel.name.clone();
        let (Stood::Leapt(rows, _) | Stood::Dead(rows, _)) = &stood;
        let rows = rows.clone();
        let (at_s, until_s) = (time(rows.start), time(rows.end - 1));
        let warning = match stood {
            Stood::Leapt(_, leap_degc) => RowsWarning::Stood {
                sample,
                at_s,
                until_s,
                leap_degc,
            },
            Stood::Dead(_, degc) => RowsWarning::NoAnswer {
                sample,
                at_s,
                until_s,
                degc,
            },
        };
        told.push(warning.into());
        channel
            .degc
            .get_mut(rows)
            .unwrap_or_default()
            .fill(f64::NAN);
    }
    (Cow::Owned(less), told)
}

/// A run of one number: its first and last row, and how many rows have it.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    last: usize,
    degc: f64,
    rows: usize,
}

/// Where a channel with readings in such steps stood.
fn stood(t_s: &[f64], degc: &[f64], step_degc: f64) -> Vec<Stood> {
    let mut known = degc.iter().enumerate().filter(|(_, v)| v.is_finite());
    let mut found = Vec::new();
    let Some(mut run) = known.next().map(Run::of) else {
        return found;
    };
    for (row, &value) in known {
        if run.degc.total_cmp(&value).is_eq() {
            (run.last, run.rows) = (row, run.rows + 1);
            continue;
        }
        let leap_degc = value - run.degc;
        let long = run.rows >= ROWS;
        if long && run.is_dead(degc, step_degc) {
            found.push(Stood::Dead(run.first..run.last + 1, run.degc));
        } else if long
            && !is_pause(t_s, run.last, row)
            && nowhere_near(behind(degc, row), leap_degc, step_degc, LEAST_DEGC)
        {
            found.push(Stood::Leapt(run.first + 1..run.last + 1, leap_degc));
        }
        run = Run::of((row, &value));
    }
    if run.rows >= ROWS && run.is_dead(degc, step_degc) {
        found.push(Stood::Dead(run.first..run.last + 1, run.degc));
    }
    found
}

impl Run {
    fn of((row, degc): (usize, &f64)) -> Self {
        Self {
            first: row,
            last: row,
            degc: *degc,
            rows: 1,
        }
    }

    /// Whether a probe that does not answer made this run: nothing else is there, and that is what such probes
    /// show; or the rows before it leapt there, or those after it from there, to where no lamp gets between two rows.
    fn is_dead(&self, degc: &[f64], step_degc: f64) -> bool {
        let before = degc.get(..self.first).unwrap_or_default();
        let after = degc.get(self.last + 1..).unwrap_or_default();
        let last = before.iter().rev().find(|v| v.is_finite());
        let next = after.iter().find(|v| v.is_finite());
        let is_such = NO_ANSWER_DEGC.iter().any(|v| (v - self.degc).abs() < 1e-6);
        let far = |leap: f64| is_such && leap.abs() > INTO_DEGC;
        match (last, next) {
            (None, None) => is_such,
            (Some(last), _) => {
                let leap = self.degc - last;
                let beside = || before.iter().rev().copied();
                far(leap) && nowhere_near(beside(), leap, step_degc, INTO_DEGC)
            }
            (None, Some(next)) => {
                let leap = next - self.degc;
                far(leap) && nowhere_near(behind(degc, self.last + 1), leap, step_degc, INTO_DEGC)
            }
        }
    }
}

/// Whether the rows from `last` to `row` are further apart than those after them usually are.
fn is_pause(t_s: &[f64], last: usize, row: usize) -> bool {
    let beside = t_s.get(row..).unwrap_or_default();
    let beside = beside
        .get(..beside.len().min(BESIDE + 1))
        .unwrap_or_default();
    let (Some(first), Some(end)) = (beside.first(), beside.last()) else {
        return false;
    };
    let usual = (end - first) / beside.len().saturating_sub(1).max(1) as f64;
    let between = t_s.get(last).map_or(0.0, |last| first - last);
    beside.len() > 1 && between > PAUSE * usual
}

/// The values from a row on.
fn behind(degc: &[f64], row: usize) -> impl Iterator<Item = f64> {
    degc.get(row..).unwrap_or_default().iter().copied()
}

/// Whether the rows beside a leap are nowhere near a change by so much, which is at least `least`.
fn nowhere_near(
    beside: impl Iterator<Item = f64>,
    leap_degc: f64,
    step_degc: f64,
    least: f64,
) -> bool {
    let beside: Vec<f64> = beside.filter(|v| v.is_finite()).take(BESIDE + 1).collect();
    // Back and forth is a spike; one reading alone tells no pace.
    let pairs = beside.iter().zip(beside.iter().skip(1));
    let most = pairs.map(|(a, b)| (b - a).abs()).fold(0.0, f64::max);
    let least = least.max(STEPS * step_degc).max(TIMES * most);
    beside.len() > 3 && leap_degc.abs() > least
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stood(degc: &[f64], step_degc: f64) -> Vec<Stood> {
        let t_s: Vec<f64> = (0..degc.len()).map(|i| i as f64).collect();
        super::stood(&t_s, degc, step_degc)
    }

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
        let [Stood::Leapt(rows, leap_degc)] = found.as_slice() else {
            panic!("{found:?}")
        };
        assert_eq!(*rows, 3..22);
        assert!((leap_degc - 3.2).abs() < 1e-9);
    }

    #[test]
    fn behind_a_pause_a_sample_may_be_anywhere() {
        let degc = then(&[24.7, 24.8, 24.8, 24.9, 25.0]);
        let at = |row: usize, pause: f64| row as f64 + if row < 22 { 0.0 } else { pause };
        for (pause, found) in [(2.0, 1), (60.0, 0)] {
            let t_s: Vec<f64> = (0..degc.len()).map(|row| at(row, pause)).collect();
            assert_eq!(super::stood(&t_s, &degc, 0.1).len(), found, "{pause}");
        }
    }

    #[test]
    fn what_probes_show_that_do_not_answer_is_no_temperature() {
        let moss: Vec<f64> = (0..15).map(|i| 22.0 + 0.1 * f64::from(i)).collect();
        for none in [85.0, 0.0, -127.0] {
            let all = [none; 30];
            assert_eq!(stood(&all, 0.1), [Stood::Dead(0..30, none)]);
            let midway = [moss.as_slice(), all.as_slice()].concat();
            assert_eq!(stood(&midway, 0.1), [Stood::Dead(15..45, none)]);
            let between = [moss.as_slice(), all.as_slice(), moss.as_slice()].concat();
            assert_eq!(stood(&between, 0.1), [Stood::Dead(15..45, none)]);
            let first = [all.as_slice(), moss.as_slice()].concat();
            assert_eq!(stood(&first, 0.1), [Stood::Dead(0..30, none)]);
        }
        // A reference that stays, and ice that a probe is put into.
        assert_eq!(stood(&[21.5; 30], 0.5), []);
        let into_ice = [21.0, 21.0, 13.0, 8.0, 5.0, 3.0, 1.8, 1.1, 0.6, 0.3, 0.1];
        let into_ice = [into_ice.as_slice(), &[0.0; 20]].concat();
        assert_eq!(stood(&into_ice, 0.1), []);
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
