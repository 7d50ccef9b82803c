//! One channel followed as rows arrive, and the evidence for a ramp that set in some places ago.
//!
//! The temperature goes on with its slope, which dies away with a time constant and wanders: Kalman's
//! filter with two states, level and slope, in units of the noise's variance. Noise that lasts from
//! place to place (correlation φ) is whitened, `y - φ·y₋₁`. Time constant and wandering are not known:
//! a bank of filters goes along, each learning its own φ and noise, and the one counts that foretold
//! the last quarter of an hour best, but for the newest places in which an edge may have begun.
//! A sample that settles or heats is foretold with a narrow margin; under clouds a filter wins that
//! expects its slope to wander, and to it a bend is nothing new.
//!
//! An edge adds a lagged ramp. What a ramp of unit slope that set in `a` places ago adds to the
//! filter's innovations, `g`, follows from the gains of those places (Willsky and Jones, A generalized
//! likelihood ratio approach to the detection and estimation of jumps in linear systems, IEEE
//! Transactions on Automatic Control 21, 1976). With innovations `ν` of variance `S·R` twice the
//! logarithm of the likelihood ratio is `(Σ g·ν/S)² / (R·Σ g²/S)`.

use std::collections::VecDeque;

/// Oldest onset that is looked for, in places, and the onsets that are tried at every place.
pub(super) const OLDEST: usize = 42;
pub(super) const AGES: [usize; 15] = [3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 29, 35, OLDEST];

/// The bank: time constants in seconds, and wandering of the slope in noise a place and root of places.
const BANK: [(f64, f64); 11] = [
    (150.0, 3e-5),
    (400.0, 3e-5),
    (1200.0, 3e-5),
    (1e9, 3e-5),
    (150.0, 3e-4),
    (400.0, 3e-4),
    (1200.0, 3e-4),
    (1e9, 3e-4),
    (1e9, 1.5e-3),
    (1e9, 7e-3),
    (1e9, 3e-2),
];

/// What the first filters are ahead by, for each that comes later.
const AHEAD: f64 = 0.5;

/// Places that an innovation waits before it counts for the noise: an edge may have begun in it.
const FRESH: usize = 20;

/// Places over which noise and correlation are averaged, and the filters' success.
const MEMORY: f64 = 300.0;
const LONG_MEMORY: f64 = 900.0;

/// Places that the first guesses of noise and correlation are worth, and that of the correlation over a second
/// (or from place to place, where these are longer).
const GUESS: f64 = 12.0;
const PHI: f64 = 0.7;
const MOST_PHI: f64 = 0.95;

/// Innovations count up to so many standard deviations.
const CLIP: f64 = 5.0;

/// Standard deviations of the slope in degrees a second: of a sample at rest, and after an edge.
const AT_REST: f64 = 5e-3;
const MOVING: f64 = 0.1;

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
}

/// One of the bank.
#[derive(Debug, Clone)]
struct Filter {
    keep: f64,
    reach: f64,
    wander: f64,
    level: f64,
    slope: f64,
    /// Variances of level and slope and their covariance between them.
    p: [f64; 3],
    /// How far the last reading was from the level; none if there was none.
    left: Option<f64>,
    along: f64,
    power: f64,
    /// Sum and count of the noise's variance, and the least that it can be.
    noise: [f64; 2],
    least: f64,
    score: f64,
    steps: VecDeque<Step>,
}

/// A ramp that set in some places ago, as one channel has it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ramp {
    /// Its slope in degrees a place.
    pub(super) slope: f64,
    /// Twice the logarithm of the likelihood ratio.
    pub(super) evidence: f64,
    /// Slope now, in degrees a place.
    pub(super) after: f64,
}

impl Filter {
    fn new((tau_s, wander): (f64, f64), width_s: f64, variance: f64) -> Self {
        let keep = (-width_s / tau_s).exp();
        Self {
            keep,
            reach: (1.0 - keep) * tau_s / width_s,
            wander: wander * wander,
            level: 0.0,
            slope: 0.0,
            p: [0.0; 3],
            left: None,
            along: GUESS * PHI.powf(width_s.min(1.0)) * variance,
            power: GUESS * variance,
            noise: [GUESS * variance, GUESS],
            least: 0.0,
            score: 0.0,
            steps: VecDeque::with_capacity(OLDEST + 1),
        }
    }

    fn variance(&self) -> f64 {
        (self.noise[0] / self.noise[1]).max(self.least)
    }

    fn phi(&self) -> f64 {
        (self.along / self.power.max(1e-300)).clamp(0.0, MOST_PHI)
    }

    /// Begins anew at a level, with a slope known to `sd` degrees a place.
    fn restart(&mut self, level: f64, sd: f64) {
        (self.level, self.slope, self.left) = (level, 0.0, None);
        self.p = [100.0, 0.0, sd * sd / self.variance()];
        self.steps.clear();
    }

    fn take(&mut self, value: Option<f64>) {
        let [pl, pc, ps] = self.p;
        let (keep, reach, q) = (self.keep, self.reach, self.wander);
        self.level += reach * self.slope;
        self.slope *= keep;
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
        let size = sight[0] * seen[0] + sight[1] * seen[1] + own;
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
            let scale = size * variance;
            let fit = -0.5 * (scale.ln() + innovation * innovation / scale);
            self.score = (1.0 - 1.0 / LONG_MEMORY) * self.score + fit;
        }
    }

    /// A ramp that set in `age` places ago; `shape` is one of unit slope behind the lags.
    fn ramp(&self, age: usize, shape: &[f64]) -> Option<Ramp> {
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
    fn foretold(&self, age: usize) -> Option<Vec<f64>> {
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

/// One channel's filters.
#[derive(Debug, Clone, Default)]
pub(super) struct Track {
    filters: Vec<Filter>,
    chosen: usize,
    places: usize,
}

impl Track {
    /// Takes one place's reading, if there is one; `usual` is the standard deviation that readings
    /// seem to have, `least` the least that rounded ones can have, `width_s` the time from place to place.
    pub(super) fn take(&mut self, value: Option<f64>, usual: f64, least: f64, width_s: f64) {
        if self.filters.is_empty() {
            let Some(value) = value.filter(|_| usual.is_finite()) else {
                return;
            };
            let new = |one: &(f64, f64)| Filter::new(*one, width_s, usual * usual);
            self.filters = BANK.iter().map(new).collect();
            self.restart(value, AT_REST * width_s);
        }
        for filter in &mut self.filters {
            filter.least = least * least;
            filter.take(value);
        }
        self.places += 1;
        let of = |(i, filter): (usize, &Filter)| (i, filter.score - AHEAD * i as f64);
        let best = self
            .filters
            .iter()
            .enumerate()
            .map(of)
            .max_by(|a, b| a.1.total_cmp(&b.1));
        self.chosen = best.map_or(0, |(i, _)| i);
    }

    /// Whether a first reading was taken.
    pub(super) fn has_begun(&self) -> bool {
        !self.filters.is_empty()
    }

    fn restart(&mut self, level: f64, sd: f64) {
        self.places = 0;
        for filter in &mut self.filters {
            filter.restart(level, sd);
        }
    }

    /// Begins anew after an edge, with what was learnt of the noise.
    pub(super) fn moved(&mut self, level: f64, width_s: f64) {
        self.restart(level, MOVING * width_s);
    }

    /// What the level was foretold to be in each of the newest places, as of `age` places ago.
    pub(super) fn foretold(&self, age: usize) -> Option<Vec<f64>> {
        self.filters.get(self.chosen)?.foretold(age)
    }

    /// Places since the beginning.
    pub(super) fn places(&self) -> usize {
        self.places
    }

    /// A ramp that set in `age` places ago, where so many are there.
    pub(super) fn ramp(&self, age: usize, shape: &[f64]) -> Option<Ramp> {
        self.filters.get(self.chosen)?.ramp(age, shape)
    }
}
