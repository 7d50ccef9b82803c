//! The analysis core's input: one time axis, one column per sample.

use std::borrow::Cow;

/// One sample's temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// The sample's name as people gave it.
    pub name: String,
    /// Temperatures in degrees Celsius on the series' time axis; NaN where there is no value.
    pub degc: Vec<f64>,
    /// Smallest step that a reading can show, in degrees Celsius, where it is known.
    pub resolution_degc: Option<f64>,
    /// Standard uncertainty common to all readings of this channel (calibration, resistor
    /// tolerance), in degrees Celsius, where it is known.
    pub u_common_degc: Option<f64>,
}

/// A run's temperatures: all channels on one strictly increasing time axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Times in seconds, finite and strictly increasing, in the input's own time base.
    pub t_s: Vec<f64>,
    /// The samples; every column is as long as `t_s`.
    pub channels: Vec<Channel>,
    /// Places of the rows, in order, of which nobody knows well when they were measured: they waited
    /// somewhere and came all at once.
    pub unsure: Vec<usize>,
}

/// Whether a row's flags, as `readings.csv` has them, say that nobody knows well when it was measured.
#[must_use]
pub fn is_late(flags: &str) -> bool {
    flags.split(' ').any(|flag| flag == "late")
}

/// Rows of unsure times are left out where they are at most one of so many; where a board's rows come
/// in bursts as a habit, a record without them would be none.
const ONE_OF: usize = 3;

impl Series {
    /// Whether rows of unsure times are few enough to do without them.
    #[must_use]
    pub fn is_sure_without(unsure: usize, rows: usize) -> bool {
        unsure > 0 && unsure * ONE_OF <= rows
    }

    /// What results follow from: without the rows of unsure times where these are few. A row that was
    /// measured before a gap and bears a time behind it would bend a curve, or switch a lamp.
    #[must_use]
    pub fn sure(&self) -> Cow<'_, Self> {
        if !Self::is_sure_without(self.unsure.len(), self.t_s.len()) {
            return Cow::Borrowed(self);
        }
        let keep = |column: &[f64]| {
            let mut unsure = self.unsure.iter().peekable();
            let rows = column.iter().enumerate();
            rows.filter(|(row, _)| unsure.next_if(|unsure| *unsure == row).is_none())
                .map(|(_, value)| *value)
                .collect()
        };
        Cow::Owned(Self {
            t_s: keep(&self.t_s),
            channels: self
                .channels
                .iter()
                .map(|channel| Channel {
                    name: channel.name.clone(),
                    degc: keep(&channel.degc),
                    ..*channel
                })
                .collect(),
            unsure: Vec::new(),
        })
    }
}

/// Decimals that are looked for at most: no thermometer of a lesson shows more.
const MOST_DECIMALS: i32 = 4;

/// Different values from which a coarser step than that of the last decimal is believed: by chance
/// five are all even, say, in one record of sixteen.
const FEWEST_VALUES: usize = 5;

/// The step in which these temperatures are written, in °C: that of the last decimal, or where there are
/// values enough the coarser one that all of them keep (0.5, 0.0625); none if there is no value, or if
/// they have more decimals than a thermometer shows (converted from another unit).
///
/// A printed step is the least that a reading's resolution can be: the rectangular distribution
/// of JCGM 100:2008, F.2.2.1, has the standard uncertainty step/√12.
#[must_use]
pub fn printed_step_degc(degc: &[f64]) -> Option<f64> {
    let mut decimals = None;
    for value in degc.iter().filter(|v| v.is_finite()) {
        let mut d = decimals.unwrap_or(0);
        while !is_whole(value * 10_f64.powi(d)) {
            d += 1;
            if d > MOST_DECIMALS {
                return None;
            }
        }
        decimals = Some(d);
    }
    let scale = 10_f64.powi(decimals?);
    Some(common_step(degc, scale) as f64 / scale)
}

/// The largest whole number that divides all differences of the scaled values.
fn common_step(degc: &[f64], scale: f64) -> u64 {
    let mut whole = degc
        .iter()
        .filter(|v| v.is_finite())
        .map(|v| (v * scale).round() as i64);
    let Some(first) = whole.next() else {
        return 1;
    };
    let (mut step, mut seen) = (0, vec![first]);
    for value in whole {
        step = greatest_divisor(step, value.abs_diff(first));
        if step == 1 {
            return 1;
        }
        if seen.len() < FEWEST_VALUES && !seen.contains(&value) {
            seen.push(value);
        }
    }
    if seen.len() < FEWEST_VALUES { 1 } else { step }
}

/// Euclid's algorithm.
fn greatest_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a
    } else {
        greatest_divisor(b, a % b)
    }
}

/// Whether a scaled decimal is a whole number, to the rounding of its product.
fn is_whole(scaled: f64) -> bool {
    (scaled - scaled.round()).abs() <= 1e-9 * scaled.abs().max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_unsure_times_are_left_out_where_they_are_few() {
        let series = |unsure: &[usize]| Series {
            t_s: vec![0.0, 1.0, 2.0, 3.0, 4.0, 5.0],
            channels: vec![Channel {
                name: "moss".into(),
                degc: vec![20.0, 21.0, f64::NAN, 23.0, 24.0, 25.0],
                resolution_degc: Some(1.0),
                u_common_degc: None,
            }],
            unsure: unsure.to_vec(),
        };
        let two = series(&[1, 4]);
        let sure = two.sure();
        assert_eq!(sure.t_s, [0.0, 2.0, 3.0, 5.0]);
        assert_eq!(sure.channels[0].degc[2..], [23.0, 25.0]);
        assert_eq!(sure.channels[0].resolution_degc, Some(1.0));
        assert!(sure.unsure.is_empty());
        let (none, half) = (series(&[]), series(&[0, 1, 2]));
        assert_eq!(none.sure().t_s, none.t_s);
        assert_eq!(half.sure().t_s, half.t_s);
    }

    #[test]
    fn the_step_is_that_of_the_finest_value_written() {
        let step = |values: &[f64]| printed_step_degc(values).map(|s| (1.0 / s).round());
        assert_eq!(step(&[23.0, 24.0]), Some(1.0));
        assert_eq!(step(&[23.0, 23.4, f64::NAN]), Some(10.0));
        assert_eq!(step(&[23.0625, 23.125]), Some(10_000.0));
        assert_eq!(step(&[22.821, 22.817, 22.82]), Some(1000.0));
        assert_eq!(step(&[(73.0 - 32.0) / 1.8]), None);
        assert_eq!(step(&[f64::NAN]), None);
        let every = |step: f64| {
            (0..7)
                .map(|i| 22.5 + step * f64::from(i * i))
                .collect::<Vec<f64>>()
        };
        for coarse in [0.5, 0.0625, 0.2, 2.0] {
            assert_eq!(printed_step_degc(&every(coarse)), Some(coarse));
        }
        let odd = [every(0.5), vec![22.6]].concat();
        assert_eq!(step(&odd), Some(10.0));
        assert_eq!(step(&[]), None);
    }
}
