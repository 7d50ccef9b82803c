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

mod filter;

pub(super) use filter::Ramp;
use filter::{AT_REST, Filter, MOVING};

/// Oldest onset that is looked for, in places, and the onsets that are tried at every place.
pub(super) const OLDEST: usize = 42;
pub(super) const AGES: [usize; 15] = [3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 29, 35, OLDEST];

/// The bank: time constants in seconds, and wandering of the slope in noise a place and root of places.
const BANK: [(f64, f64); 15] = [
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
    (105.0, 3e-5),
    (75.0, 3e-5),
    (55.0, 3e-5),
    (40.0, 3e-5),
];

/// Those from here on are for bare probes under a lamp: they count once an edge was seen, growing faster.
const FAST: usize = 11;

/// Filters that wander no more than this describe a curve that flattens, and nothing else.
const STIFF: f64 = 4e-4;

/// What the first filters are ahead by, for each that comes later.
const AHEAD: f64 = 0.5;

/// How much more variance and correlation than at an edge a filter may ascribe to the noise after it: noise comes from
/// the probe, and what is more is what the filter misses the curve by.
const NOISIER: f64 = 1.5;
const LONGER: f64 = 0.15;

/// Twice the logarithm of a likelihood ratio that one of several filters is ahead by through chance alone.
const BY_CHANCE: f64 = 10.0;

/// Places after a gap until an edge in them can be told from one within the gap.
const AFTER_GAP: usize = 8;

/// One channel's filters.
#[derive(Debug, Clone, Default)]
pub(super) struct Track {
    filters: Vec<Filter>,
    chosen: usize,
    /// One for curves that flatten, where it has foretold the newest places better, and by how much: twice the
    /// logarithm of the ratio. Only after an edge.
    rival: Option<(usize, f64)>,
    has_moved: bool,
    places: usize,
    /// What the last gap left, until the filters reach back no further than its end.
    gap: Option<Gap>,
}

/// A gap, as the filter that counted before it has it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gap {
    /// Places without a reading, and those since.
    pub(super) places: usize,
    pub(super) since: usize,
    /// How far the first reading behind it was above the foretold, and how far the level was foretold to go.
    pub(super) above: f64,
    pub(super) goes: f64,
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
        if let Some(gap) = &mut self.gap {
            gap.since += 1;
        }
        self.gap = self.gap.take_if(|gap| gap.since <= OLDEST);
        let of = |(i, filter): (usize, &Filter)| {
            let chance = if i < FAST { 0.0 } else { BY_CHANCE };
            (i, filter.score - AHEAD * i as f64 - chance)
        };
        let count = if self.has_moved { BANK.len() } else { FAST };
        let each = self.filters.iter().enumerate().take(count).map(of);
        let best = each.max_by(|a, b| a.1.total_cmp(&b.1));
        self.chosen = best.map_or(0, |(i, _)| i);
        self.rival = best.filter(|_| self.has_moved).and_then(|(i, score)| {
            let all = self.filters.iter().enumerate();
            let stiff = all.filter(|(_, filter)| filter.wander < STIFF * STIFF);
            let now = stiff.map(|one| (one.0, of(one).1 + one.1.recent));
            let (rival, best) = now.max_by(|a, b| a.1.total_cmp(&b.1))?;
            let ahead = 2.0 * (best - score - self.filters.get(i)?.recent) - BY_CHANCE;
            (rival != i && ahead > 0.0).then_some((rival, ahead))
        });
    }

    /// The filter by which readings are foretold.
    fn foretelling(&self) -> usize {
        self.rival.map_or(self.chosen, |(rival, _)| rival)
    }

    /// The slope that is foretold, in degrees a place.
    pub(super) fn slope(&self) -> f64 {
        let filter = self.filters.get(self.foretelling());
        filter.map_or(0.0, |filter| filter.slope)
    }

    /// The noise of the readings that follow has so many times the usual variance.
    pub(super) fn weigh(&mut self, noisier: f64) {
        for filter in &mut self.filters {
            filter.noisier = noisier;
        }
    }

    /// Whether a first reading was taken.
    pub(super) fn has_begun(&self) -> bool {
        !self.filters.is_empty()
    }

    /// Nothing is read any more: what the last places say becomes too old.
    pub(super) fn lose(&mut self) {
        self.gap = None;
        for filter in &mut self.filters {
            filter.forget();
        }
    }

    /// Goes on at a level after a gap of so many places, of which the filters were handed all but the last `ahead`.
    pub(super) fn resume(&mut self, level: f64, (places, ahead): (usize, usize), width_s: f64) {
        let Some(filter) = self.filters.get(self.foretelling()) else {
            return;
        };
        let goes = filter.goes(places as f64);
        self.gap = Some(Gap {
            places,
            since: 0,
            above: level - filter.level - filter.goes(ahead as f64),
            goes,
        });
        self.places += ahead;
        for filter in &mut self.filters {
            filter.resume(level, ahead as f64, width_s);
        }
    }

    /// The last gap, and the ramp for an edge within it, whose lags are over; `line` is one of unit slope.
    pub(super) fn in_gap(&self, line: &[f64]) -> Option<(Gap, Ramp)> {
        let gap = self.gap.filter(|gap| gap.since >= AFTER_GAP)?;
        let ramp = self
            .filters
            .get(self.foretelling())?
            .ramp(gap.since, line)?;
        Some((gap, ramp))
    }

    fn restart(&mut self, level: f64, sd: f64) {
        self.places = 0;
        self.gap = None;
        for filter in &mut self.filters {
            filter.restart(level, sd);
        }
    }

    /// Begins anew after an edge, with what was learnt of the noise; it may be one that was not told.
    pub(super) fn moved(&mut self, level: f64, width_s: f64, is_told: bool) {
        self.restart(level, MOVING * width_s);
        self.rival = None;
        if is_told {
            self.has_moved = true;
            let best = self.filters.get(self.chosen);
            let most = best.map(|f| (NOISIER * f.variance(), f.phi() + LONGER));
            for filter in &mut self.filters {
                (filter.since, filter.most) = (Some(0.0), most);
            }
        }
    }

    /// What the level was foretold to be in each of the newest places, as of `age` places ago.
    pub(super) fn foretold(&self, age: usize) -> Option<Vec<f64>> {
        self.filters.get(self.foretelling())?.foretold(age)
    }

    /// Places since the beginning.
    pub(super) fn places(&self) -> usize {
        self.places
    }

    /// A ramp that set in `age` places ago, where so many are there.
    pub(super) fn ramp(&self, age: usize, shape: &[f64]) -> Option<Ramp> {
        if self.gap.is_some_and(|gap| age + AFTER_GAP > gap.since) {
            return None;
        }
        let ramp = self.filters.get(self.chosen)?.ramp(age, shape)?;
        let Some((rival, ahead)) = self.rival else {
            return Some(ramp);
        };
        // What a curve says that merely flattens is no evidence.
        let rest = (ramp.evidence.abs() - ahead).max(0.0);
        let rival = self.filters.get(rival)?.ramp(age, shape)?;
        if rival.evidence.abs() >= rest {
            return Some(rival);
        }
        let evidence = rest.copysign(ramp.evidence);
        Some(Ramp { evidence, ..ramp })
    }
}
