//! One of the bank of filters that follow a channel.

use std::collections::VecDeque;

use super::OLDEST;

/// Places that an innovation waits before it counts for the noise: an edge may have begun in it.
const FRESH: usize = 20;

/// Places over which noise and correlation are averaged, and the filters' success.
const MEMORY: f64 = 300.0;
const LONG_MEMORY: f64 = 900.0;

/// Places that the first guesses of noise and correlation are worth, and that of the correlation over a second
/// (or from place to place, where these are longer).
const GUESS: f64 = 12.0;
const GUESS_PHI: f64 = 7.0;
const PHI: f64 = 0.7;
const MOST_PHI: f64 = 0.95;

/// Innovations count up to so many standard deviations.
const CLIP: f64 = 5.0;

/// Standard deviations of the slope in degrees a second: of a sample at rest, and after an edge.
pub(super) const AT_REST: f64 = 5e-3;
pub(super) const MOVING: f64 = 0.1;

/// Places after an edge in which the lags are not over, and by what share of itself a slope changes from one to the
/// next; later on by as much less as more have passed, since a sample heats with many time constants. Less so many
/// standard deviations of the noise. A filter that knew a steep slope too well would be left behind for minutes, and
/// learn that the noise is what it misses by.
const SETTLES: f64 = 30.0;
const SETTLING: f64 = 0.15;
const NOISY: f64 = 0.03;

/// After a gap the slope is known to this share of what it may have changed by on a curve with this time constant
/// in seconds, and to this share of what a sample's at rest is, once so many seconds have passed.
const CURVES: f64 = 0.3;
const CURVES_S: f64 = 300.0;
const RESTLESS: f64 = 0.3;
const RESTLESS_S: f64 = 60.0;

/// What one place gave a filter.
#[derive(Debug, Clone, Copy, Default)]
struct Step {
    /// Innovation and its variance in units of the noise; none where nothing was read.
    innovation: Option<(f64, f64)>,
    gain: [f64; 2],
    /// The correlation that was taken out; none where there was no place before.
    phi: Option<f64>,
    /// Level and slope (a place) as they were known then.
    level: f64,
    slope: f64,
    /// Products that the correlation is learnt from.
    along: f64,
    power: f64,
    /// Logarithm of the likelihood of what was read.
    fit: f64,
}

/// Least share of a slope that is left from row to row.
const LEAST_KEPT: f64 = 1e-6;

/// One of the bank.
#[derive(Debug, Clone)]
pub(super) struct Filter {
    keep: f64,
    reach: f64,
    pub(super) wander: f64,
    pub(super) level: f64,
    pub(super) slope: f64,
    /// Variances of level and slope and their covariance between them.
    p: [f64; 3],
    /// How far the last reading was from the level; none if there was none.
    left: Option<f64>,
    along: f64,
    power: f64,
    /// How many times the usual variance the noise of the next reading has.
    pub(super) noisier: f64,
    /// Sum and count of the noise's variance, and the least that it can be.
    noise: [f64; 2],
    pub(super) least: f64,
    pub(super) score: f64,
    /// How well the newest places were foretold, which the score does not know yet.
    pub(super) recent: f64,
    /// Places since an edge that was told: the slope has to come to its own.
    pub(super) since: Option<f64>,
    /// Largest variance and correlation that the noise can have.
    pub(super) most: Option<(f64, f64)>,
    steps: VecDeque<Step>,
}

/// A ramp that set in some places ago, as one channel has it.
#[derive(Debug, Clone, Copy)]
pub(in crate::lamp) struct Ramp {
    /// Its slope in degrees a place.
    pub(in crate::lamp) slope: f64,
    /// Twice the logarithm of the likelihood ratio.
    pub(in crate::lamp) evidence: f64,
    /// Slope now, in degrees a place.
    pub(in crate::lamp) after: f64,
}

impl Filter {
    pub(super) fn new((tau_s, wander): (f64, f64), width_s: f64, variance: f64) -> Self {
        // Rows many time constants apart keep nothing; what they came from is still divided by it.
        let keep = (-width_s / tau_s).exp().max(LEAST_KEPT);
        Self {
            keep,
            reach: (1.0 - keep) * tau_s / width_s,
            wander: wander * wander,
            level: 0.0,
            slope: 0.0,
            p: [0.0; 3],
            left: None,
            along: GUESS_PHI * PHI.powf(width_s.min(1.0)) * variance,
            power: GUESS_PHI * variance,
            noisier: 1.0,
            noise: [GUESS * variance, GUESS],
            least: 0.0,
            score: 0.0,
            recent: 0.0,
            since: None,
            most: None,
            steps: VecDeque::with_capacity(OLDEST + 1),
        }
    }

    pub(super) fn variance(&self) -> f64 {
        let own = (self.noise[0] / self.noise[1]).max(self.least);
        self.most.map_or(own, |(variance, _)| own.min(variance))
    }

    pub(super) fn phi(&self) -> f64 {
        let own = (self.along / self.power.max(1e-300)).clamp(0.0, MOST_PHI);
        self.most.map_or(own, |(_, phi)| own.min(phi))
    }

    /// Begins anew at a level, with a slope known to `sd` degrees a place.
    pub(super) fn restart(&mut self, level: f64, sd: f64) {
        (self.level, self.slope, self.left) = (level, 0.0, None);
        self.p = [100.0, 0.0, sd * sd / self.variance()];
        self.forget();
    }

    /// Goes on after a gap at `level`, with the slope foretold for so many places later, as far as it is known then.
    pub(super) fn resume(&mut self, level: f64, places: f64, width_s: f64) {
        self.since = self.since.map(|since| since + places);
        let before = self.slope;
        let keep = self.keep.powf(places);
        self.slope *= keep;
        let gap_s = places * width_s;
        let curve = CURVES * before.abs() * -(-gap_s / CURVES_S).exp_m1();
        let rest = RESTLESS * AT_REST * width_s * (gap_s / RESTLESS_S).min(1.0);
        let known = keep * keep * self.p[2] + self.wander * places;
        let doubt = (curve * curve + rest * rest) / self.variance();
        (self.level, self.left) = (level, None);
        self.p = [100.0, 0.0, known + doubt];
        self.forget();
    }

    /// Forgets the newest places.
    pub(super) fn forget(&mut self) {
        self.steps.clear();
        self.recent = 0.0;
    }

    /// How far the level goes in so many places.
    pub(super) fn goes(&self, places: f64) -> f64 {
        let each = if self.keep < 1.0 - 1e-9 {
            (1.0 - self.keep.powf(places)) / (1.0 - self.keep)
        } else {
            places
        };
        self.reach * self.slope * each
    }

    pub(super) fn take(&mut self, value: Option<f64>) {
        let (keep, reach, q) = (self.keep, self.reach, self.wander);
        self.level += reach * self.slope;
        self.slope *= keep;
        if let Some(since) = self.since {
            self.since = Some(since + 1.0);
            let late = (SETTLES / since.max(1.0)).min(1.0);
            let changes = late * SETTLING * self.slope.abs() / self.variance().sqrt() - NOISY;
            self.p[2] += changes.max(0.0).powi(2);
        }
        let [pl, pc, ps] = self.p;
        self.p = [
            pl + 2.0 * reach * pc + reach * reach * ps + q / 3.0,
            keep * (pc + reach * ps) + q / 2.0,
            keep * keep * ps + q,
        ];
        let mut step = Step::default();
        if let Some(value) = value {
            self.update(value, &mut step);
        } else {
            self.left = None;
        }
        (step.level, step.slope) = (self.level, self.slope);
        self.steps.push_back(step);
        self.learn();
    }

    fn update(&mut self, value: f64, step: &mut Step) {
        let phi = self.phi();
        let off = value - self.level;
        let [pl, pc, ps] = self.p;
        let (sight, off, own) = if let Some(left) = self.left {
            (step.along, step.power) = (off * left, left * left);
            step.phi = Some(phi);
            let sight = [1.0 - phi, phi * self.reach / self.keep];
            (sight, off - phi * left, 1.0)
        } else {
            ([1.0, 0.0], off, 1.0 / (1.0 - phi * phi))
        };
        let seen = [pl * sight[0] + pc * sight[1], pc * sight[0] + ps * sight[1]];
        let size = sight[0] * seen[0] + sight[1] * seen[1] + own * self.noisier;
        let limit = CLIP * (size * self.variance()).sqrt();
        let innovation = off.clamp(-limit, limit);
        let gain = seen.map(|s| s / size);
        self.level += gain[0] * innovation;
        self.slope += gain[1] * innovation;
        self.p = [
            pl - gain[0] * seen[0],
            pc - gain[0] * seen[1],
            ps - gain[1] * seen[1],
        ];
        self.left = Some(value - self.level);
        step.gain = gain;
        step.innovation = Some((innovation, size));
        let scale = size * self.variance();
        step.fit = -0.5 * (scale.ln() + innovation * innovation / scale);
        self.recent += step.fit;
    }

    /// Learns from the places that are no longer new.
    fn learn(&mut self) {
        let variance = self.variance();
        let from_end = |n: usize| self.steps.len().checked_sub(n + 1);
        let aged = from_end(FRESH).and_then(|i| self.steps.get(i)).copied();
        if let Some(step) = aged {
            let fade = 1.0 - 1.0 / MEMORY;
            self.along = fade * self.along
                + step
                    .along
                    .clamp(-CLIP * CLIP * variance, CLIP * CLIP * variance);
            self.power = fade * self.power + step.power.min(CLIP * CLIP * variance);
            if let Some((innovation, size)) = step.innovation {
                let sum = fade * self.noise[0] + innovation * innovation / size;
                self.noise = [sum, fade * self.noise[1] + 1.0];
            }
        }
        if self.steps.len() > OLDEST + 1
            && let Some(old) = self.steps.pop_front()
            && let Some((innovation, size)) = old.innovation
        {
            self.recent -= old.fit;
            let scale = size * variance;
            let fit = -0.5 * (scale.ln() + innovation * innovation / scale);
            self.score = (1.0 - 1.0 / LONG_MEMORY) * self.score + fit;
        }
    }

    /// A ramp that set in `age` places ago; `shape` is one of unit slope behind the lags.
    pub(super) fn ramp(&self, age: usize, shape: &[f64]) -> Option<Ramp> {
        let from = self.steps.len().checked_sub(age)?;
        let (mut level, mut slope) = (0.0, 0.0);
        let (mut along, mut norm, mut rate) = (0.0, 0.0, 0.0);
        let heights = shape.iter().zip(shape.iter().skip(1));
        for (step, (before, now)) in self.steps.iter().skip(from).zip(heights) {
            let last = level;
            level += self.reach * slope;
            slope *= self.keep;
            if let Some((innovation, size)) = step.innovation {
                let phi = step.phi.unwrap_or(0.0);
                let g = (now - level) - phi * (before - last);
                level += step.gain[0] * g;
                slope += step.gain[1] * g;
                along += g * innovation / size;
                norm += g * g / size;
            }
            rate = now - before;
        }
        let variance = self.variance();
        let size = along / norm.max(1e-300);
        Some(Ramp {
            slope: size,
            evidence: along * size.abs() / variance,
            // Part of the ramp the filter has taken for its own slope.
            after: self.slope + size * (rate - slope),
        })
    }

    /// What the level was foretold to be in each of the newest places, as of `age` places ago.
    pub(super) fn foretold(&self, age: usize) -> Option<Vec<f64>> {
        let from = self.steps.get(self.steps.len().checked_sub(age + 1)?)?;
        let (mut level, mut slope) = (from.level, from.slope);
        let next = |_| {
            level += self.reach * slope;
            slope *= self.keep;
            level
        };
        Some((0..age).map(next).collect())
    }
}

#[cfg(test)]
mod tests;
