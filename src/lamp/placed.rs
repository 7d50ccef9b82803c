//! Where an edge that was noticed lies.
//!
//! The evidence along the age of the ramp tells. Yet the filters clip what is too strange, so that a strong edge seems to
//! have come earlier than it has: where one stands out, a curve that flattens and a lagged ramp are fitted to the
//! blocks that are kept by least squares, for each age of the ramp.

use super::project::{dot, orthonormalise, remove};
use super::trace::Trace;
use super::track::OLDEST;
use super::watch::{Bend, EdgeSeen, Watcher, all};

/// Evidence from which on an edge is placed by the blocks themselves.
const SHARP: f64 = 40.0;

/// Time constant of the curve in seconds, beside a straight line.
const CURVE_S: f64 = 60.0;

/// Blocks that must lie before the ramp and that it must have.
const BEFORE: usize = 8;
const SINCE: usize = 2;

/// How much better each age of a ramp describes the blocks than none does, in squares of degrees, and what the best
/// leaves a block.
pub(super) fn profile(
    blocks: &[f64],
    shape: &[f64],
    width_s: f64,
) -> Option<(Vec<(usize, f64)>, f64)> {
    let n = blocks.len();
    let oldest = n.checked_sub(BEFORE)?;
    let time = |i: usize| i as f64 / n as f64;
    let curve = |i: usize| (-(i as f64) * width_s / CURVE_S).exp();
    let mut basis = vec![
        vec![1.0; n],
        (0..n).map(time).collect(),
        (0..n).map(curve).collect(),
    ];
    orthonormalise(&mut basis);
    let mut left = blocks.to_vec();
    remove(&basis, &mut left);
    let total = dot(&left, &left);
    let explained = |age: usize| {
        let since = |i: usize| (i + age + 1).checked_sub(n).and_then(|u| shape.get(u));
        let mut ramp: Vec<f64> = (0..n).map(|i| since(i).copied().unwrap_or(0.0)).collect();
        remove(&basis, &mut ramp);
        let along = dot(&ramp, &left);
        (age, along * along / dot(&ramp, &ramp).max(1e-12))
    };
    let ages: Vec<(usize, f64)> = (SINCE..oldest.min(shape.len())).map(explained).collect();
    let most = ages.iter().map(|(_, e)| *e).fold(0.0, f64::max);
    let free = n.checked_sub(5).filter(|free| *free > 0)?;
    Some((ages, (total - most) / free as f64))
}

impl Watcher {
    /// What the channels' blocks say of a ramp that stands out, by its age.
    fn placed(&self) -> Vec<(f64, f64)> {
        let each = |t: &Trace| t.placed(&self.shape, self.width_s);
        let channels: Vec<_> = self.traces.iter().filter_map(each).flatten().collect();
        let at = |age: usize| channels.iter().filter(|c| c.0 == age).map(|c| c.1).sum();
        (1..=OLDEST).map(|age| (age as f64, at(age))).collect()
    }

    /// Estimate and interval from the evidence along the age of the ramp.
    pub(super) fn locate(&self, bend: &Bend, newest_s: f64, t_s: f64) -> EdgeSeen {
        let evidence = |age: usize| all(&self.ramps(age), bend.kind);
        let mut profile: Vec<(f64, f64)> = (1..=OLDEST).map(|a| (a as f64, evidence(a))).collect();
        let mut top = profile.iter().map(|p| p.1).fold(0.0, f64::max);
        if top > SHARP {
            profile = self.placed();
            top = profile.iter().map(|p| p.1).fold(0.0, f64::max);
        }
        let near = |p: &&(f64, f64)| p.1 > top - 4.0;
        let place = |p: Option<&(f64, f64)>| p.map_or(bend.age as f64, |p| p.0);
        let best = place(profile.iter().find(|p| p.1 >= top));
        let youngest = place(profile.iter().find(near));
        let oldest = place(profile.iter().rfind(near));
        let lag = 2.0 * self.lag_spread_s;
        let at_s = newest_s - best * self.width_s;
        let low = (oldest + 1.0 - best) * self.width_s;
        let high = (best - youngest + 1.0) * self.width_s;
        let seen = EdgeSeen {
            edge: bend.kind,
            at_s,
            low_s: at_s - low.hypot(lag),
            high_s: (at_s + high.hypot(lag)).min(t_s),
            noticed_s: t_s,
        };
        self.or_within_gap(seen, top, newest_s)
    }
}
