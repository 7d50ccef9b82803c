//! The rows of a run, thinned so that a fortnight takes no more room than a lesson.

use std::collections::VecDeque;

use crate::analysis::fit_line;

/// Points kept at most: more than any terminal has dots in a row.
const MOST: usize = 2048;

/// The trend is that of so many seconds.
const TREND_S: f64 = 30.0;

/// Rows closer together than this are left out of the trend: bounds its memory.
const LEAST_STEP_S: f64 = 0.25;

/// Rows that a trend needs at least.
const FEWEST: usize = 5;

/// Points of all channels over time.
#[derive(Debug, Clone, Default)]
pub struct History {
    points: Vec<Point>,
    /// Rows that make one point.
    rows_per_point: usize,
    open: Point,
    recent: VecDeque<(f64, Vec<f64>)>,
}

/// The mean of some rows.
#[derive(Debug, Clone, Default)]
struct Point {
    t_s: f64,
    rows: usize,
    /// Sum and number of the readings of each channel.
    sums: Vec<(f64, usize)>,
}

impl Point {
    fn add(&mut self, other: &Self) {
        let rows = (self.rows + other.rows).max(1) as f64;
        self.t_s += (other.t_s - self.t_s) * other.rows as f64 / rows;
        self.rows += other.rows;
        self.sums
            .resize(self.sums.len().max(other.sums.len()), (0.0, 0));
        for (mine, theirs) in self.sums.iter_mut().zip(&other.sums) {
            *mine = (mine.0 + theirs.0, mine.1 + theirs.1);
        }
    }

    fn degc(&self, channel: usize) -> f64 {
        match self.sums.get(channel) {
            Some(&(sum, n)) if n > 0 => sum / n as f64,
            _ => f64::NAN,
        }
    }
}

impl History {
    /// Takes in a row: run time in seconds, temperatures in °C, NaN where there is none.
    pub fn push(&mut self, t_s: f64, degc: &[f64]) {
        if !t_s.is_finite() {
            return;
        }
        let reading = |d: &f64| if d.is_finite() { (*d, 1) } else { (0.0, 0) };
        self.open.add(&Point {
            t_s,
            rows: 1,
            sums: degc.iter().map(reading).collect(),
        });
        if self.open.rows >= self.rows_per_point.max(1) {
            self.points.push(std::mem::take(&mut self.open));
        }
        if self.points.len() >= MOST {
            self.halve();
        }
        self.remember(t_s, degc);
    }

    fn halve(&mut self) {
        let mut halved = Vec::with_capacity(MOST);
        for pair in self.points.chunks(2) {
            let mut sum = Point::default();
            for point in pair {
                sum.add(point);
            }
            halved.push(sum);
        }
        self.points = halved;
        self.rows_per_point = self.rows_per_point.max(1) * 2;
    }

    fn remember(&mut self, t_s: f64, degc: &[f64]) {
        let last_s = self.recent.back().map(|(t, _)| *t);
        if last_s.is_some_and(|last_s| t_s - last_s < LEAST_STEP_S) {
            return;
        }
        self.recent.push_back((t_s, degc.to_vec()));
        while self.recent.len() > FEWEST
            && self.recent.front().is_some_and(|(t, _)| t_s - t > TREND_S)
        {
            self.recent.pop_front();
        }
    }

    /// Time and temperature of a channel's points, in order of time; NaN where there is no reading.
    pub(super) fn points(&self, channel: usize) -> impl Iterator<Item = (f64, f64)> {
        let open = (self.open.rows > 0).then_some(&self.open);
        let all = self.points.iter().chain(open);
        all.map(move |point| (point.t_s, point.degc(channel)))
    }

    /// First and last time in seconds, if there is any.
    pub(super) fn times_s(&self) -> Option<(f64, f64)> {
        let first_s = self.points(0).next()?.0;
        let last_s = self.recent.back().map_or(first_s, |(t, _)| *t);
        Some((first_s, last_s.max(first_s)))
    }

    /// A channel's temperature at an instant, on the line between the points around it; none beyond
    /// them.
    pub(super) fn at(&self, channel: usize, t_s: f64) -> Option<f64> {
        let mut before = None;
        for (point_s, degc) in self.points(channel).filter(|(_, degc)| degc.is_finite()) {
            if point_s >= t_s {
                let (before_s, before_degc) = before.unwrap_or((point_s, degc));
                let near = before.is_some() || point_s - t_s < 1.0;
                let share = (t_s - before_s) / (point_s - before_s).max(1e-9);
                return near.then_some(before_degc + share.clamp(0.0, 1.0) * (degc - before_degc));
            }
            before = Some((point_s, degc));
        }
        before
            .filter(|(last_s, _)| t_s - last_s < 1.0)
            .map(|(_, degc)| degc)
    }

    /// Drift of a channel over the last half minute in °C/min; none until there is enough.
    #[must_use]
    pub fn trend_degc_per_min(&self, channel: usize) -> Option<f64> {
        let first_s = self.recent.front()?.0;
        let reading = |(t, row): &(f64, Vec<f64>)| Some((t - first_s, *row.get(channel)?));
        let (t_s, degc): (Vec<f64>, Vec<f64>) = self
            .recent
            .iter()
            .filter_map(reading)
            .filter(|(_, degc)| degc.is_finite())
            .unzip();
        let enough = t_s.len() >= FEWEST;
        Some(fit_line(&t_s, &degc).filter(|_| enough)?.slope * 60.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_is_bounded_and_the_shape_stays() {
        let mut history = History::default();
        for k in 0..100_000 {
            let t_s = f64::from(k) * 0.25;
            history.push(t_s, &[20.0 + t_s / 1000.0, f64::NAN]);
        }
        assert!(history.points.len() < MOST && history.recent.len() < 130);
        let middle = history.at(0, 12_500.0).unwrap();
        assert!((middle - 32.5).abs() < 1e-6, "{middle}");
        assert_eq!(history.at(1, 12_500.0), None);
        assert_eq!(history.at(0, 26_000.0), None);
        let trend = history.trend_degc_per_min(0).unwrap();
        assert!((trend - 0.06).abs() < 1e-9, "{trend}");
        assert_eq!(history.trend_degc_per_min(1), None);
    }

    #[test]
    fn a_single_row_is_there_at_once() {
        let mut history = History::default();
        assert!(history.times_s().is_none());
        history.push(3.0, &[21.0]);
        assert_eq!(history.at(0, 3.2), Some(21.0));
        assert_eq!(history.trend_degc_per_min(0), None);
    }
}
