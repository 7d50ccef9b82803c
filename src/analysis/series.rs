//! The analysis core's input: one time axis, one column per sample.

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
