//! The curve under a sliding window of delays: offset, skew and its slow change.
//!
//! For a given curvature the best straight line under the points is their lower convex hull's edge
//! over the mean of the window, the optimum of the linear programme of Moon, Skelly and Towsley
//! (INFOCOM 1999): the highest line that has no point below it. A board beside a warming lamp
//! changes its skew by 1 ppm/s and more, which no straight line follows for longer than a minute.
//! So the curvature is searched for as well, with a price on it: the highest parabola under the
//! points, which is concave and made of straight pieces in the curvature: where the tangents of two
//! pieces meet is the next place to look (J. E. Kelley's cutting planes, 1960, named from memory), and
//! a few looks find the optimum itself; a steady clock takes one.

use std::collections::VecDeque;

/// Length of the window in seconds of board time. Shorter follows a warming board better, longer
/// averages more: 200 s was the best of 100, 150, 200 and 300 s in `benches/time_base.rs`.
const WINDOW_S: f64 = 200.0;

/// Points that are kept at least, for boards that speak seldom.
const FEWEST_POINTS: usize = 16;

/// One point is kept per so many seconds, the lowest above the curve so far: bounds memory at
/// `WINDOW_S / BLOCK_S` points, whatever the rate.
const BLOCK_S: f64 = 2.0;

/// A pause this many times the window's mean spacing, and longer than the window, begins anew: the
/// board's temperature may be another one.
const LONG_PAUSE: f64 = 10.0;

/// A slope is taken only from a window at least so long: below it, delays of up to 16 ms would
/// pass for skew.
const SPAN_FOR_SLOPE_S: f64 = 4.0;

/// A curvature is taken only from a window at least so long.
const SPAN_FOR_BEND_S: f64 = 60.0;

/// Skew is bounded by what clocks on boards do (ceramic resonators: ±0.5 % by their data sheets,
/// common practice, no source).
const MOST_SLOPE: f64 = 0.005;

/// Half the fastest change of skew, in 1/s: 8 ppm/s is a board at 10 ppm/°C that warms by nearly
/// 1 °C a second. Keeps the curve sane over a stretch in which every line is late.
const MOST_BEND: f64 = 4e-6;

/// What a curvature costs, as the height in seconds that it must gain on average for each second
/// that it bends the window by: a little, so that a steady clock is given a straight line.
const PRICE_OF_BEND: f64 = 0.02;

/// Delays this far above the curve are stalls: they bound the curve and do not pull it up.
const STALL_S: f64 = 0.05;

/// Looks of the search for the curvature at most; the usual handful ends it sooner.
const MOST_LOOKS: u32 = 25;

/// Heights that differ by less are one, in seconds: far below what matters, far above rounding.
const SAME_S: f64 = 1e-12;

/// Points `(x, delay)` in seconds, `x` not falling.
#[derive(Debug, Clone, Default)]
pub(super) struct Envelope {
    blocks: VecDeque<(f64, f64)>,
    curve: Curve,
}

/// `delay + slope · u + bend · u²`, where `u = x − self.x` is negative inside the window.
#[derive(Debug, Clone, Copy, Default)]
struct Curve {
    x: f64,
    delay: f64,
    slope: f64,
    bend: f64,
}

impl Curve {
    fn at(&self, x: f64) -> f64 {
        let u = x - self.x;
        // Beyond the window the tangent is safer than the parabola.
        let bend = if u < 0.0 { self.bend } else { 0.0 };
        self.delay + (self.slope + bend * u) * u
    }
}

impl Envelope {
    /// Takes in a point.
    pub(super) fn add(&mut self, x: f64, delay: f64) {
        self.begin_after_pause(x);
        let first = self.blocks.is_empty();
        let curve = self.curve;
        match self.blocks.back_mut() {
            Some(last) if (x / BLOCK_S).floor() <= (last.0 / BLOCK_S).floor() => {
                if delay - curve.at(x) < last.1 - curve.at(last.0) {
                    *last = (x, delay);
                }
            }
            _ => {
                self.blocks.push_back((x, delay));
                while self.blocks.len() > FEWEST_POINTS
                    && self.blocks.front().is_some_and(|p| p.0 < x - WINDOW_S)
                {
                    self.blocks.pop_front();
                }
                self.refit(x);
            }
        }
        // A point below the curve is a smaller delay than any so far: the curve comes down to it.
        if first || delay < self.curve.at(x) {
            self.curve.delay += delay - self.curve.at(x);
        }
    }

    /// Height of the curve at `x`, in seconds.
    pub(super) fn at(&self, x: f64) -> f64 {
        self.curve.at(x)
    }

    /// After a long pause only the skew is kept: it is what a window of one point is seen with.
    fn begin_after_pause(&mut self, x: f64) {
        let (Some(first), Some(last)) = (self.blocks.front(), self.blocks.back()) else {
            return;
        };
        let spacing_s = (last.0 - first.0) / self.blocks.len() as f64;
        if x - last.0 > WINDOW_S.max(LONG_PAUSE * spacing_s) {
            self.blocks.clear();
        }
    }

    /// Fits the curve to the window, seen from its newest point at `x`.
    fn refit(&mut self, x: f64) {
        let points: Vec<(f64, f64)> = self.blocks.iter().map(|p| (p.0 - x, p.1)).collect();
        let span_s = self.span_s(&points, x);
        if span_s < SPAN_FOR_SLOPE_S {
            let slope = self.curve.slope;
            let heights = points.iter().map(|p| p.1 - slope * p.0);
            self.curve = Curve {
                x,
                delay: heights.fold(f64::INFINITY, f64::min),
                slope,
                bend: 0.0,
            };
            return;
        }
        let (mean, mean_square) = self.middle(&points, x);
        let price = PRICE_OF_BEND * WINDOW_S * WINDOW_S;
        let under = |bend: f64| line_under(&points, bend, mean);
        let height = |bend: f64| {
            let line = under(bend);
            let height = line.delay + line.slope * mean + bend * mean_square;
            (height, mean_square - line.square_at_mean)
        };
        let most = if span_s < SPAN_FOR_BEND_S {
            0.0
        } else {
            MOST_BEND
        };
        let bend = highest(most, price, height);
        let Line { delay, slope, .. } = under(bend);
        self.curve = Curve {
            x,
            delay,
            slope,
            bend,
        };
    }

    fn is_prompt(&self, point: &(f64, f64), x: f64) -> bool {
        point.1 - self.curve.at(point.0 + x) < STALL_S
    }

    /// How long a stretch the points that are no stalls cover: others may lie anywhere above.
    fn span_s(&self, points: &[(f64, f64)], x: f64) -> f64 {
        let prompt = |p: &&(f64, f64)| self.is_prompt(p, x);
        let first = points.iter().find(prompt);
        let last = points.iter().rfind(prompt);
        first
            .zip(last)
            .map_or(0.0, |(first, last)| last.0 - first.0)
    }

    /// Mean of the places, and of their squares, at which the curve is to be high: those of the
    /// points that are no stalls, where these are the most.
    fn middle(&self, points: &[(f64, f64)], x: f64) -> (f64, f64) {
        let sums = |keep: &dyn Fn(&(f64, f64)) -> bool| {
            points
                .iter()
                .filter(|p| keep(p))
                .fold((0.0, 0.0, 0.0), |s, p| {
                    (s.0 + 1.0, s.1 + p.0, s.2 + p.0 * p.0)
                })
        };
        let prompt = sums(&|p| self.is_prompt(p, x));
        let (n, sum, squares) = if prompt.0 * 2.0 < points.len() as f64 {
            sums(&|_| true)
        } else {
            prompt
        };
        (sum / n, squares / n)
    }
}

/// Where a concave function on ±`most`, less `price` times the distance from 0, is highest. `look` gives
/// the function and its slope, one of them where it has a corner.
fn highest(most: f64, price: f64, look: impl Fn(f64) -> (f64, f64)) -> f64 {
    let (at_zero, slope) = look(0.0);
    if most <= 0.0 || slope.abs() <= price {
        return 0.0;
    }
    let side = slope.signum();
    // From here on as if the highest place lay above 0.
    let look = |bend: f64| {
        let (height, slope) = look(side * bend);
        (height - price * bend, side * slope - price)
    };
    let mut low = (0.0, (at_zero, slope.abs() - price));
    let mut high = (most, look(most));
    if high.1.1 >= 0.0 {
        return side * most;
    }
    for _ in 0..MOST_LOOKS {
        let ((a, (at_a, up)), (b, (at_b, down))) = (low, high);
        // Where the two tangents meet, above which nothing is.
        let meet = ((at_b - at_a) + up * a - down * b) / (up - down);
        let meet = meet.clamp(a, b);
        let roof = at_a + up * (meet - a);
        let (height, slope) = look(meet);
        if roof - height <= SAME_S || slope == 0.0 || meet <= a || meet >= b {
            return side * meet;
        }
        if slope > 0.0 {
            low = (meet, (height, slope));
        } else {
            high = (meet, (height, slope));
        }
    }
    side * low.0
}

/// A straight line under points.
struct Line {
    /// Height at 0.
    delay: f64,
    slope: f64,
    /// The squares of the places at which it touches the points, joined by a straight line, at the mean.
    square_at_mean: f64,
}

/// The highest line at `mean` under the points less `bend · x²`.
fn line_under(points: &[(f64, f64)], bend: f64, mean: f64) -> Line {
    let mut hull: Vec<(f64, f64)> = Vec::with_capacity(32);
    for &(x, delay) in points {
        let point = (x, delay - bend * x * x);
        while let [.., a, b] = hull.as_slice()
            && (b.0 - a.0) * (point.1 - a.1) <= (b.1 - a.1) * (point.0 - a.0)
        {
            hull.pop();
        }
        hull.push(point);
    }
    let edge = hull.windows(2).find_map(|pair| match pair {
        [a, b] if b.0 >= mean => Some((*a, *b)),
        _ => None,
    });
    let steepness = edge.map_or(0.0, |(a, b)| (b.1 - a.1) / (b.0 - a.0));
    let slope = steepness.clamp(-MOST_SLOPE, MOST_SLOPE);
    let height = |p: &(f64, f64)| p.1 - slope * p.0;
    let lowest = hull.iter().min_by(|a, b| height(a).total_cmp(&height(b)));
    let square_at_mean = match edge {
        Some((a, b)) if steepness.abs() <= MOST_SLOPE => a.0 * a.0 + (b.0 + a.0) * (mean - a.0),
        _ => lowest.map_or(0.0, |p| p.0 * p.0),
    };
    Line {
        delay: lowest.map_or(f64::INFINITY, height),
        slope,
        square_at_mean,
    }
}

#[cfg(test)]
mod tests;
