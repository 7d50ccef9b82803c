//! Are the samples steady? Decided from the slope of each channel and its uncertainty.

use std::collections::VecDeque;

use crate::analysis::fit_line;

/// The slope is that of so many seconds: long enough that noise of a tenth of a degree leaves a
/// slope known to some hundredths of a degree per minute.
const WINDOW_S: f64 = 60.0;

/// A board that reads seldom needs a longer window: so many rows at least.
const FEWEST_ROWS: usize = 10;

/// Readings closer together than this are thinned: bounds memory at 10 Hz and above.
const LEAST_STEP_S: f64 = 0.2;

/// Coverage factor of the slope's interval, for a level of some 95 % (JCGM 100:2008, G.6.6).
const COVERAGE_FACTOR: f64 = 2.0;

/// Watches the drift of a bench.
#[derive(Debug, Clone)]
pub struct Steadiness {
    limit_degc_per_min: f64,
    rows: VecDeque<(f64, Vec<f64>)>,
}

impl Steadiness {
    /// Steady means that every channel that has readings drifts by less than the limit.
    #[must_use]
    pub fn new(limit_degc_per_min: f64) -> Self {
        Self {
            limit_degc_per_min,
            rows: VecDeque::new(),
        }
    }

    /// Takes in a row.
    pub fn push(&mut self, t_s: f64, degc: &[f64]) {
        if self
            .rows
            .back()
            .is_some_and(|(last, _)| t_s - last < LEAST_STEP_S)
        {
            return;
        }
        self.rows.push_back((t_s, degc.to_vec()));
        while self.rows.len() > FEWEST_ROWS
            && self
                .rows
                .front()
                .is_some_and(|(first, _)| t_s - first > WINDOW_S * 1.05)
        {
            self.rows.pop_front();
        }
    }

    /// The port was lost: what was read before it tells nothing about now.
    pub fn forget(&mut self) {
        self.rows.clear();
    }

    /// The largest drift of any channel in °C/min, with its sign, and its expanded uncertainty,
    /// once the window is full.
    #[must_use]
    pub fn drift_degc_per_min(&self) -> Option<(f64, f64)> {
        self.slopes()?
            .into_iter()
            .map(|(slope, u)| (slope * 60.0, COVERAGE_FACTOR * u * 60.0))
            .max_by(|a, b| (a.0.abs() + a.1).total_cmp(&(b.0.abs() + b.1)))
    }

    /// Whether all channels are steady, their slope's expanded uncertainty counted.
    #[must_use]
    pub fn is_steady(&self) -> bool {
        self.slopes().is_some_and(|slopes| {
            slopes.iter().all(|(slope, u)| {
                (slope.abs() + COVERAGE_FACTOR * u) * 60.0 < self.limit_degc_per_min
            })
        })
    }

    /// Slope and its standard uncertainty for each channel with readings, in °C/s.
    fn slopes(&self) -> Option<Vec<(f64, f64)>> {
        let (first, last) = (self.rows.front()?.0, self.rows.back()?.0);
        if last - first < WINDOW_S * 0.95 || self.rows.len() < FEWEST_ROWS {
            return None;
        }
        let channels = self.rows.front()?.1.len();
        let slopes: Vec<(f64, f64)> = (0..channels)
            .filter_map(|channel| {
                let (t_s, degc): (Vec<f64>, Vec<f64>) = self
                    .rows
                    .iter()
                    .filter_map(|(t, row)| Some((t - first, *row.get(channel)?)))
                    .filter(|(_, degc)| degc.is_finite())
                    .unzip();
                let line = fit_line(&t_s, &degc)?;
                Some((line.slope, line.u_slope))
            })
            .collect();
        (!slopes.is_empty()).then_some(slopes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(seconds: u32, degc: impl Fn(f64) -> Vec<f64>) -> Steadiness {
        let mut steadiness = Steadiness::new(0.1);
        for k in 0..seconds * 4 {
            let t_s = f64::from(k) / 4.0;
            steadiness.push(t_s, &degc(t_s));
        }
        steadiness
    }

    #[test]
    fn a_drifting_sample_is_not_steady_and_a_flat_one_is() {
        let wobble = |t: f64| 0.01 * (t * 7.0).sin();
        let flat = after(70, |t| vec![23.0 + wobble(t), 22.9 - wobble(t)]);
        assert!(flat.is_steady());
        let drifting = after(70, |t| vec![23.0 + wobble(t), 22.9 + 0.2 * t / 60.0]);
        assert!(!drifting.is_steady());
        let (drift, expanded) = drifting.drift_degc_per_min().unwrap();
        assert!(
            (drift - 0.2).abs() < 0.01 && expanded < 0.01,
            "{drift} ± {expanded}"
        );
    }

    #[test]
    fn a_board_that_reads_once_a_minute_settles_in_ten_rows() {
        let mut steadiness = Steadiness::new(0.1);
        let steady: Vec<bool> = (0..12)
            .map(|k| {
                steadiness.push(f64::from(k) * 60.0, &[23.0, 22.9]);
                steadiness.is_steady()
            })
            .collect();
        assert_eq!(steady.iter().position(|s| *s), Some(9));
    }

    #[test]
    fn too_little_is_not_steady_and_a_dead_channel_does_not_count() {
        assert!(!after(30, |_| vec![23.0, 23.0]).is_steady());
        assert!(after(70, |_| vec![23.0, f64::NAN]).is_steady());
        assert!(!after(70, |_| vec![f64::NAN, f64::NAN]).is_steady());
    }
}
