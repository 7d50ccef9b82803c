//! A run's curves in bounded memory: the lowest and highest reading of each of at most so many
//! stretches of time, which double when there are too many.

/// Stretches at most; a picture is at most some 2000 pixels wide, and each stretch gives two points.
const MOST: usize = 4096;

/// One channel's extremes within a stretch, with their times.
#[derive(Debug, Clone, Copy)]
struct Extremes {
    low: (f64, f64),
    high: (f64, f64),
}

impl Extremes {
    const NONE: Self = Self {
        low: (f64::NAN, f64::INFINITY),
        high: (f64::NAN, f64::NEG_INFINITY),
    };

    fn take(&mut self, other: Self) {
        if other.low.1 < self.low.1 {
            self.low = other.low;
        }
        if other.high.1 > self.high.1 {
            self.high = other.high;
        }
    }
}

/// Extremes of all channels, stretch by stretch.
#[derive(Debug)]
pub(super) struct Thin {
    channels: usize,
    /// Length of a stretch in seconds; 0 while every row has one of its own.
    width_s: f64,
    /// Start of each stretch in seconds.
    starts_s: Vec<f64>,
    /// Channels of the first stretch, then of the second.
    cells: Vec<Extremes>,
}

impl Thin {
    pub(super) fn new(channels: usize) -> Self {
        Self {
            channels,
            width_s: 0.0,
            starts_s: Vec::new(),
            cells: Vec::new(),
        }
    }

    /// Takes in a row; times never go back.
    pub(super) fn push(&mut self, t_s: f64, degc: &[f64]) {
        let same = |start: &f64| t_s < start + self.width_s;
        if !self.starts_s.last().is_some_and(same) {
            if self.starts_s.len() == MOST {
                self.double();
                return self.push(t_s, degc);
            }
            let start_s = if self.width_s > 0.0 {
                (t_s / self.width_s).floor() * self.width_s
            } else {
                t_s
            };
            self.starts_s.push(start_s);
            self.cells.extend(vec![Extremes::NONE; self.channels]);
        }
        let from = self.cells.len() - self.channels;
        for (cell, &value) in self.cells.iter_mut().skip(from).zip(degc) {
            if value.is_finite() {
                let point = (t_s, value);
                cell.take(Extremes {
                    low: point,
                    high: point,
                });
            }
        }
    }

    /// Makes stretches of twice the length.
    fn double(&mut self) {
        let (Some(first), Some(last)) = (self.starts_s.first(), self.starts_s.last()) else {
            return;
        };
        self.width_s = if self.width_s > 0.0 {
            2.0 * self.width_s
        } else {
            // A file with all rows at one instant is none of ours, but must end too.
            (2.0 * (last - first) / (MOST - 1) as f64).max(1e-3)
        };
        let mut starts_s: Vec<f64> = Vec::with_capacity(MOST);
        let mut cells: Vec<Extremes> = Vec::with_capacity(MOST * self.channels);
        for (start, row) in self.starts_s.iter().zip(self.cells.chunks(self.channels)) {
            let joined_s = (start / self.width_s).floor() * self.width_s;
            if starts_s.last().is_some_and(|last| *last >= joined_s) {
                let from = cells.len() - self.channels;
                for (cell, other) in cells.iter_mut().skip(from).zip(row) {
                    cell.take(*other);
                }
            } else {
                starts_s.push(joined_s);
                cells.extend_from_slice(row);
            }
        }
        (self.starts_s, self.cells) = (starts_s, cells);
    }

    /// The points of a channel, in order of time.
    pub(super) fn points(&self, channel: usize) -> (Vec<f64>, Vec<f64>) {
        let (mut t_s, mut degc) = (Vec::new(), Vec::new());
        let mut point = |(t, value): (f64, f64)| {
            t_s.push(t);
            degc.push(value);
        };
        for row in self.cells.chunks(self.channels.max(1)) {
            let Some(cell) = row.get(channel).filter(|c| !c.low.0.is_nan()) else {
                continue;
            };
            let (a, b) = if cell.low.0 <= cell.high.0 {
                (cell.low, cell.high)
            } else {
                (cell.high, cell.low)
            };
            point(a);
            if a.0 < b.0 {
                point(b);
            }
        }
        (t_s, degc)
    }

    /// Usual distance of rows in seconds while every row has a stretch of its own.
    pub(super) fn spacing_s(&self) -> Option<f64> {
        let pairs = self.starts_s.iter().zip(self.starts_s.iter().skip(1));
        let mut apart: Vec<f64> = pairs.map(|(a, b)| b - a).collect();
        let middle = apart.len() / 2;
        if apart.is_empty() {
            return None;
        }
        Some(*apart.select_nth_unstable_by(middle, f64::total_cmp).1)
    }

    /// Length of a stretch in seconds: points are at most twice this far apart where rows are not.
    pub(super) fn width_s(&self) -> f64 {
        self.width_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fortnight_stays_small_and_keeps_every_extreme() {
        let mut thin = Thin::new(2);
        for row in 0..1_209_600_u32 {
            let t_s = f64::from(row);
            let spike = if row == 700_123 { 60.0 } else { 0.0 };
            thin.push(
                t_s,
                &[20.0 + spike, if row % 2 == 0 { f64::NAN } else { 10.0 }],
            );
        }
        let (t_s, degc) = thin.points(0);
        assert!(t_s.len() <= 2 * MOST, "{}", t_s.len());
        let spike = degc.iter().position(|d| *d > 50.0).unwrap();
        assert!((t_s[spike] - 700_123.0).abs() < 1e-9);
        assert!(t_s.windows(2).all(|w| w[0] < w[1]));
        assert!(
            t_s[0] < thin.width_s() && t_s.last().unwrap() + 2.0 * thin.width_s() > 1_209_599.0
        );
        assert!(thin.points(1).1.iter().all(|d| (*d - 10.0).abs() < 1e-12));
    }

    #[test]
    fn a_lesson_is_kept_whole() {
        let mut thin = Thin::new(1);
        for row in 0..4000_u32 {
            thin.push(f64::from(row) * 0.25, &[f64::from(row)]);
        }
        assert_eq!(thin.points(0).0.len(), 4000);
        assert!(thin.points(3).0.is_empty());
    }
}
