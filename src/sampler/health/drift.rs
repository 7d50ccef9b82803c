//! Even drift of one channel while the samples settle and another is steady.
//!
//! A sample that comes to room temperature slows down as it goes; a fault in the circuit need not.
//! Twenty minutes of half-minute medians are parted in halves: a drift whose second half is nearly as
//! steep as the first is none that settles within hours.

use arrayvec::ArrayVec;

/// Medians that are looked at.
const POINTS: usize = 40;

/// They must have moved so far from end to end, in °C, and in smallest steps.
const LEAST_DEGC: f64 = 0.75;
const LEAST_STEPS: f64 = 5.0;

/// And at such a rate, in °C/min: slower, where the points span more than half an hour, is what a room
/// does.
const LEAST_RATE: f64 = 0.025;

/// The second half is at least so steep as a share of the first, and so sure, in standard
/// uncertainties. A sample whose time constant is three hours keeps 0.95, one of an hour 0.85.
const EVEN: f64 = 0.88;
const SURE: f64 = 2.0;

/// Another channel is steady when it has moved no more than this share, and this, in °C.
const STEADY_SHARE: f64 = 0.1;
const STEADY_DEGC: f64 = 0.05;

/// One channel's medians while the samples settle.
#[derive(Debug, Clone, Default)]
pub(super) struct Drift {
    points: ArrayVec<(i64, f64), POINTS>,
}

impl Drift {
    pub(super) fn take(&mut self, t_ns: i64, degc: f64) {
        if self.points.is_full() {
            self.points.remove(0);
        }
        self.points.push((t_ns, degc));
    }

    /// Since when, and how fast in °C/min, it drifts evenly while another is steady.
    pub(super) fn since<'a>(
        &self,
        step_degc: f64,
        others: impl Iterator<Item = &'a Drift>,
    ) -> Option<(i64, f64)> {
        let (since_ns, _) = *self.points.first().filter(|_| self.points.is_full())?;
        let moved = self.moved()?;
        let rate = 60.0 * slope(&self.points)?.0;
        if moved.abs() < LEAST_DEGC.max(LEAST_STEPS * step_degc) || rate.abs() < LEAST_RATE {
            return None;
        }
        let (early, late) = self.points.split_at(POINTS / 2);
        let ((first, u_first), (second, u_second)) = (slope(early)?, slope(late)?);
        let sign = moved.signum();
        let even = sign * (second - EVEN * first);
        let u = u_second.hypot(EVEN * u_first);
        let mut steady = others.filter_map(Drift::moved);
        let is = sign * first > 0.0
            && even >= SURE * u
            && steady.any(|other| other.abs() <= STEADY_DEGC.max(STEADY_SHARE * moved.abs()));
        is.then_some((since_ns, rate))
    }

    /// How far it went from end to end, in °C.
    fn moved(&self) -> Option<f64> {
        let (first, last) = self.points.first().zip(self.points.last())?;
        let slope = slope(self.points.as_slice()).filter(|_| self.points.is_full())?;
        Some(slope.0 * (last.0 - first.0) as f64 / 1e9)
    }

    pub(super) fn forget(&mut self) {
        self.points.clear();
    }
}

/// Slope of the least-squares line in °C/s and its standard uncertainty from the scatter around it.
fn slope(points: &[(i64, f64)]) -> Option<(f64, f64)> {
    let (first_ns, _) = *points.first()?;
    let n = points.len() as f64;
    let time = |t_ns: i64| (t_ns - first_ns) as f64 / 1e9;
    let mean_t = points.iter().map(|p| time(p.0)).sum::<f64>() / n;
    let mean_y = points.iter().map(|p| p.1).sum::<f64>() / n;
    let (mut tt, mut ty) = (0.0, 0.0);
    for &(t_ns, y) in points {
        let t = time(t_ns) - mean_t;
        tt += t * t;
        ty += t * (y - mean_y);
    }
    let slope = ty / tt;
    let left = |&(t_ns, y): &(i64, f64)| y - mean_y - slope * (time(t_ns) - mean_t);
    let rss: f64 = points.iter().map(|p| left(p).powi(2)).sum();
    let u = (rss / (n - 2.0) / tt).sqrt();
    (slope.is_finite() && u.is_finite()).then_some((slope, u))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(minutes: f64, way: impl Fn(f64) -> f64) -> Drift {
        let mut drift = Drift::default();
        for k in 0..(minutes * 2.0) as i64 {
            let wobble = if k % 2 == 0 { 0.002 } else { -0.002 };
            drift.take(k * 30_000_000_000, way(k as f64 / 2.0) + wobble);
        }
        drift
    }

    #[test]
    fn an_even_drift_is_told_and_one_that_slows_down_is_not() {
        let steady = after(20.0, |_| 22.0);
        let even = after(20.0, |min| 23.0 + 0.05 * min);
        let (_, rate) = even.since(0.01, std::iter::once(&steady)).unwrap();
        assert!((rate - 0.05).abs() < 0.002, "{rate}");
        let slows = after(20.0, |min| 25.0 - 2.0 * (-min / 30.0).exp());
        assert_eq!(slows.since(0.01, std::iter::once(&steady)), None);
        assert_eq!(even.since(0.01, std::iter::once(&even)), None);
        assert_eq!(even.since(0.01, std::iter::empty()), None);
    }
}
