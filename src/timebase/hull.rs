//! The straight line under a sliding window of points, by their lower convex hull.

use std::collections::VecDeque;

/// Length of the window in seconds of board time. A board warmed by a lamp moves its clock by
/// some 10 ppm/°C: over ten minutes that bends the line by less than a millisecond per degree.
const WINDOW_S: f64 = 600.0;

/// One point is kept per so many seconds, the lowest: bounds memory at `WINDOW_S / BLOCK_S`
/// points, whatever the rate.
const BLOCK_S: f64 = 2.0;

/// A slope is taken only from a window at least so long: below it, delays of up to 16 ms would
/// pass for skew.
const SPAN_FOR_SLOPE_S: f64 = 20.0;

/// Skew is bounded by what clocks on boards do (ceramic resonators: ±0.5 % by their data sheets,
/// common practice, no source).
const MOST_SLOPE: f64 = 0.005;

/// Points `(x, delay)` in seconds, `x` not falling.
#[derive(Debug, Clone, Default)]
pub(super) struct LowerHull {
    blocks: VecDeque<(f64, f64)>,
    line: Line,
}

#[derive(Debug, Clone, Copy, Default)]
struct Line {
    x: f64,
    delay: f64,
    slope: Option<f64>,
}

impl LowerHull {
    /// Takes in a point.
    pub(super) fn add(&mut self, x: f64, delay: f64) {
        let first = self.blocks.is_empty();
        match self.blocks.back_mut() {
            Some(last) if (x / BLOCK_S).floor() <= (last.0 / BLOCK_S).floor() => {
                if delay < last.1 {
                    *last = (x, delay);
                }
            }
            _ => {
                self.blocks.push_back((x, delay));
                while self.blocks.front().is_some_and(|p| p.0 < x - WINDOW_S) {
                    self.blocks.pop_front();
                }
                self.refit();
            }
        }
        // A point below the line is a smaller delay than any so far: the line comes down to it.
        if first || delay < self.at(x) {
            self.line = Line {
                x,
                delay,
                slope: self.line.slope,
            };
        }
    }

    /// Height of the line at `x`, in seconds.
    pub(super) fn at(&self, x: f64) -> f64 {
        self.line.delay + self.line.slope.unwrap_or(0.0) * (x - self.line.x)
    }

    fn refit(&mut self) {
        let (Some(&first), Some(&last)) = (self.blocks.front(), self.blocks.back()) else {
            return;
        };
        if last.0 - first.0 < SPAN_FOR_SLOPE_S {
            let lowest = self
                .blocks
                .iter()
                .fold(first, |a, &b| if b.1 < a.1 { b } else { a });
            self.line = Line {
                x: lowest.0,
                delay: lowest.1,
                slope: None,
            };
            return;
        }
        let middle = self.blocks.iter().map(|p| p.0).sum::<f64>() / self.blocks.len() as f64;
        let mut hull: Vec<(f64, f64)> = Vec::with_capacity(32);
        for &point in &self.blocks {
            while let [.., a, b] = hull.as_slice()
                && (b.0 - a.0) * (point.1 - a.1) <= (b.1 - a.1) * (point.0 - a.0)
            {
                hull.pop();
            }
            hull.push(point);
        }
        let edge = hull.windows(2).find_map(|pair| match pair {
            [a, b] if b.0 >= middle => Some((*a, *b)),
            _ => None,
        });
        if let Some((a, b)) = edge {
            let slope = (b.1 - a.1) / (b.0 - a.0);
            self.line = Line {
                x: a.0,
                delay: a.1,
                slope: Some(slope.clamp(-MOST_SLOPE, MOST_SLOPE)),
            };
        }
    }
}
