//! Where a cooling goes and how fast, when it was not watched to its end.
//!
//! One exponential through the first part of a cooling goes to a level that is too high and gets there too
//! soon: what is slow about a body has hardly begun by then. So the level L is weighed over
//!
//! ```text
//! T(t) = L + a·exp(-k₁·t) + b·exp(-k₂·t),   a, b ≥ 0
//! ```
//!
//! two lumped nodes (Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 5), for each
//! level with the pair of rate constants that fits best, and with what is known of it beforehand: a
//! sample at rest before the lamp goes back to about where it was, or to somewhat more, for what stands around
//! it was warmed too. The level is the posterior's mean, its standard deviation the standard uncertainty (JCGM
//! 101:2008, 5.6). The time constant is that of the one exponential to such a level.

mod levels;

use super::decay::Decay;
use super::line::local;
use super::sample::{Judge, Uncertain};
use levels::{Single, Sums, grid};

/// Levels of the grid.
const LEVELS: usize = 41;

/// How often the levels that count are looked at more closely, what does not count, and which share of them is to
/// count.
const LOOKS: usize = 6;
const NEGLIGIBLE: f64 = 16.0;
const ENOUGH: f64 = 0.4;

/// Longest time constant beside the one exponential's, in its own and in seconds: a tray of stone follows
/// its room within the hour (common practice, no source).
const SLOWEST: f64 = 10.0;
const SLOWEST_S: f64 = 3600.0;

/// By which share of its own warming what stands around a sample may have warmed.
const AROUND: f64 = 0.3;

/// Degrees of freedom of what is known, and how far from it levels are looked at, in standard uncertainties.
const TAILS: f64 = 3.0;
const FAR: f64 = 6.0;

/// The air's wandering that no such model follows, as a standard deviation in °C of what it does to a sample, and in
/// how many pieces it falls over a cooling (common practice, no source). Where rows follow a curve more closely
/// than that it is no more than their noise.
const WANDER_DEGC: f64 = 0.02;
const WANDERS: f64 = 5.0;

/// What two exponentials and a level take from the rows.
const FREE: usize = 5;

/// Rows that are looked at: more change nothing but the time it takes.
const POINTS: usize = 160;

/// Fewest rows before the lamp, and shortest time in seconds, whose drift is followed.
const DRIFT_ROWS: usize = 10;
const DRIFT_S: f64 = 60.0;

/// Standard uncertainty in °C of where a sample at rest goes back to, since the room changes meanwhile; and of
/// one whose rest one row or few tell (common practice, no source).
const ROOM_DEGC: f64 = 0.5;
const HARDLY_SEEN_DEGC: f64 = 1.0;

/// What is known of the level beforehand, in °C: it lies from `rest` to somewhat above, give or take `u`.
#[derive(Debug, Clone, Copy)]
struct Known {
    rest: f64,
    u: f64,
    /// By how much the sample warmed.
    rise: f64,
    /// What one exponential says of the level, three of its standard uncertainties lower: looked at in any case, for
    /// a room may have cooled by more than is expected.
    lower: f64,
}

impl Known {
    /// What a level costs that is so far from it: as of Student's distribution, so that rooms may change by
    /// more where the rows say so.
    fn strange(&self, level: f64) -> f64 {
        let above = level - self.rest - AROUND * self.rise.max(0.0);
        let apart = above.max(self.rest - level).max(0.0);
        (TAILS + 1.0) * ((apart / self.u).powi(2) / TAILS).ln_1p()
    }
}

/// Rows of a cooling, and the noise of one of them.
#[derive(Debug, Clone, Copy)]
struct Cooled<'a> {
    /// Seconds since the cooling began.
    after_s: &'a [f64],
    degc: &'a [f64],
    /// Variance of a slowly varying estimate for each row, correlation included.
    variance: f64,
}

impl Cooled<'_> {
    /// Variance of a row that stands for the wandering, beside noise of this variance.
    fn wandering(&self, noise: f64) -> f64 {
        WANDER_DEGC.powi(2).min(noise) * self.after_s.len() as f64 / WANDERS
    }

    /// Raises the variance to what the best fit leaves, if that is more than was known; whether it was by much.
    fn louder(&self, misfit: f64, variance: &mut f64) -> bool {
        let free = self.after_s.len().saturating_sub(FREE).max(1) as f64;
        let noise = self.variance.max(misfit / free);
        let left = noise + self.wandering(noise);
        let is_louder = left > 1.2 * *variance;
        *variance = left.max(*variance);
        is_louder
    }
}

/// Level in °C and time constant in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Towards {
    pub(super) level: Uncertain,
    pub(super) tau_s: Uncertain,
}

impl Judge<'_> {
    /// Where the cooling from the lamp-off goes that `one` exponential describes.
    pub(super) fn goes_to(&self, peak: Option<Uncertain>, one: &Decay) -> Option<Towards> {
        let (off, _) = self.at.off?;
        let (t, y) = self.rows(off + self.guard(off, self.at.end_s), self.at.end_s);
        let thin = self.curve.part(t, y).thinned(POINTS);
        let begin_s = off + self.at.lag_s;
        let after_s: Vec<f64> = thin.t_s.iter().map(|t| t - begin_s).collect();
        let spacing_s = (after_s.last()? - after_s.first()?) / after_s.len().max(2) as f64;
        let each = thin.rows.iter().next().unwrap_or(1.0);
        let cooled = Cooled {
            after_s: &after_s,
            degc: &thin.degc,
            variance: self.sd_degc.powi(2) * self.curve.inflation.min(9.0) / each,
        };
        let known = self.resting(peak, one);
        let shortest_s = self.at.lag_s.max(spacing_s);
        let mut found = towards(cooled, known, (one.tau_s(), shortest_s))?;
        let by_parts_s = one.u_k_by_parts_per_s * one.tau_s().powi(2);
        found.tau_s.1 = found.tau_s.1.hypot(by_parts_s);
        // The air that it goes to wanders even where its noise is small.
        found.level.1 = found.level.1.hypot(WANDER_DEGC * WANDERS.sqrt());
        Some(found)
    }

    /// What is known of that level from before the lamp: the level that the sample was on its way to, where it
    /// was seen to move. Nothing but the cooling itself, where the lamp was on already.
    fn resting(&self, peak: Option<Uncertain>, one: &Decay) -> Known {
        let lower = one.level() - (3.0 * one.u_level).min(one.change.abs());
        let nothing = Known {
            rest: one.level(),
            u: 0.5 * one.change.abs(),
            rise: 0.0,
            lower,
        };
        let Some(((on, u_on), start)) = self.at.on.zip(self.start()) else {
            return nothing;
        };
        let rise = peak.map_or(0.0, |peak| peak.0 - start.0);
        let (t, y) = self.rows(f64::NEG_INFINITY, on - u_on);
        let is_seen = t.len() >= DRIFT_ROWS && on - t.first().unwrap_or(&on) >= DRIFT_S;
        let drift = local(t, y, on, 1).filter(|_| is_seen);
        let Some(drift) = drift else {
            return Known {
                rest: start.0,
                u: start.1.hypot(HARDLY_SEEN_DEGC),
                rise,
                lower,
            };
        };
        let spread = drift.residual_sd.max(self.sd_degc) * self.curve.inflation.sqrt().min(3.0);
        let onward = one.tau_s() * drift.slope;
        let u_onward = (one.tau_s() * drift.slope_share * spread).hypot(0.5 * onward);
        Known {
            rest: start.0 + onward,
            u: start.1.hypot(ROOM_DEGC).hypot(u_onward),
            rise,
            lower,
        }
    }
}

/// Where a cooling goes; `tau_s` is the time constant of one exponential through all of it, `soonest_s` the
/// shortest that its rows can tell. None where the rows say nothing.
fn towards(cooled: Cooled<'_>, known: Known, (tau_s, soonest_s): (f64, f64)) -> Option<Towards> {
    let slowest_s = (SLOWEST * tau_s).max(SLOWEST_S);
    let rates = grid(slowest_s, soonest_s.min(0.5 * tau_s))?;
    let sums = Sums::of(&rates, cooled.after_s, cooled.degc)?;
    let last = *cooled.degc.last()?;
    let lowest = (known.rest - FAR * known.u).min(known.lower);
    let highest = last.max(known.rest) + 2.0 * cooled.variance.sqrt();
    let mut between = (lowest, highest);
    let mut found = None;
    let mut variance = cooled.variance + cooled.wandering(cooled.variance);
    for _ in 0..LOOKS {
        let step = (between.1 - between.0) / (LEVELS - 1) as f64;
        let levels = (0..LEVELS).filter_map(|i| {
            let level = between.0 + step * i as f64;
            Some((
                level,
                sums.pair(level, variance),
                sums.single(&rates, level)?,
            ))
        });
        let levels: Vec<(f64, (f64, f64), Single)> = levels.collect();
        let told: Vec<(f64, f64, Single)> = levels
            .iter()
            .map(|(level, (_, of_two), one)| {
                let cost = cost_of(one.misfit / variance, *of_two);
                (*level, cost + known.strange(*level), *one)
            })
            .collect();
        let least = told.iter().map(|t| t.1).fold(f64::INFINITY, f64::min);
        let mut likely = told.iter().filter(|t| t.1 < least + NEGLIGIBLE);
        let first = likely.next()?.0;
        let last = likely.next_back().map_or(first, |t| t.0);
        found = weighed(&told, least, variance);
        let misfit = levels.iter().map(|(_, two, one)| two.0.min(one.misfit));
        let is_louder = cooled.louder(misfit.fold(f64::INFINITY, f64::min), &mut variance);
        if !is_louder && last - first > ENOUGH * (between.1 - between.0) {
            break;
        }
        between = ((first - step).max(lowest), (last + step).min(highest));
    }
    found
}

/// Minus twice the logarithm of the likelihood that one exponential or two cost so much.
fn cost_of(one: f64, two: f64) -> f64 {
    let (least, most) = (one.min(two), one.max(two));
    least - 2.0 * (0.5 * (least - most)).exp().ln_1p()
}

/// Mean and spread of level and time constant over the levels, each with its cost.
fn weighed(told: &[(f64, f64, Single)], least: f64, variance: f64) -> Option<Towards> {
    let weigh = |of: &dyn Fn(f64, &Single) -> f64| {
        let (mut sum, mut all) = (0.0, 0.0);
        for (level, cost, single) in told {
            let weight = (-0.5 * (cost - least)).exp();
            sum += weight * of(*level, single);
            all += weight;
        }
        sum / all
    };
    let mean = weigh(&|level, _| level);
    let spread = weigh(&|level, _| (level - mean).powi(2));
    let tau = weigh(&|_, single| single.tau_s);
    let by_level = weigh(&|_, single| (single.tau_s - tau).powi(2));
    let by_noise = weigh(&|_, single| variance * single.tau_square_by_variance);
    let is_told = mean.is_finite() && tau.is_finite();
    is_told.then(|| Towards {
        level: (mean, spread.sqrt()),
        tau_s: (tau, (by_level + by_noise).sqrt()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cooling to 21.0 °C, a row every five seconds from `from_s` on, with a small even wobble for noise.
    fn cooled(terms: &[(f64, f64)], to_s: f64) -> (Vec<f64>, Vec<f64>) {
        let after_s: Vec<f64> = (4..1000)
            .map(|i| 5.0 * f64::from(i))
            .take_while(|t| *t < to_s)
            .collect();
        let degc = after_s.iter().map(|t| {
            let sum: f64 = terms.iter().map(|(c, tau)| c * (-t / tau).exp()).sum();
            21.0 + sum + 0.01 * (12.9898 * t).sin()
        });
        let degc = degc.collect();
        (after_s, degc)
    }

    fn told((after_s, degc): &(Vec<f64>, Vec<f64>), rest: f64, u: f64, tau_s: f64) -> Towards {
        let variance = 0.007_f64.powi(2);
        let cooled = Cooled {
            after_s,
            degc,
            variance,
        };
        towards(
            cooled,
            Known {
                rest,
                u,
                rise: 12.0,
                lower: 20.5,
            },
            (tau_s, 8.0),
        )
        .unwrap()
    }

    #[test]
    fn one_exponential_that_was_watched_is_recovered() {
        let rows = cooled(&[(12.0, 300.0)], 900.0);
        let found = told(&rows, 20.8, 0.5, 300.0);
        assert!((found.tau_s.0 - 300.0).abs() < 10.0, "{found:?}");
        assert!((found.level.0 - 21.0).abs() < 0.1, "{found:?}");
        assert!(
            (found.tau_s.0 - 300.0).abs() < 2.0 * found.tau_s.1,
            "{found:?}"
        );
    }

    #[test]
    fn a_surface_alone_does_not_tell_where_its_body_goes() {
        // Nine minutes of 5 °C that go within a minute and 9 °C that take half an hour: one exponential ends at
        // some 27 °C.
        let rows = cooled(&[(5.0, 60.0), (9.0, 1800.0)], 540.0);
        let one = super::super::decay::fit_decay(&rows.0, &rows.1, 0.0, None).unwrap();
        assert!(one.level() > 24.0 && one.u_level < 0.5, "{one:?}");
        let found = told(&rows, 21.0, 0.5, one.tau_s());
        assert!(
            (found.level.0 - 21.0).abs() < 2.0 * found.level.1,
            "{found:?}"
        );
        assert!(found.level.1 > 0.5, "{found:?}");
    }

    #[test]
    fn what_is_known_gives_way_where_the_rows_say_otherwise() {
        let rows = cooled(&[(12.0, 200.0)], 1200.0);
        for rest in [17.0, 24.0, 28.0] {
            let found = told(&rows, rest, 0.5, 200.0);
            assert!((found.level.0 - 21.0).abs() < 0.3, "{rest}: {found:?}");
        }
    }
}
