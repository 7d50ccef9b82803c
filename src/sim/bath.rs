//! Probes that stand in a bath instead of on their samples: for calibrations.

/// The skin of a hand that holds a probe, in °C (common practice, no source).
const SKIN_DEGC: f64 = 33.0;

/// A stirred bath, and what hands do with the probes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BathSpec {
    /// Temperature of the bath at time 0, in °C, −50 to 150.
    pub degc: f64,
    /// Its drift in °C/min, −100 to 100.
    pub degc_per_min: f64,
    /// When the probes are dipped into it, in seconds; before, they hang in the air.
    pub dipped_s: f64,
    /// A probe that a hand holds: channel from 0, from when on and how long, in seconds.
    pub held: Option<(usize, f64, f64)>,
}

impl BathSpec {
    /// Refuses what the fields' ranges forbid, and channels that are not there.
    #[must_use]
    pub fn is_sound(&self, channels: usize) -> bool {
        let held = self.held.is_none_or(|(channel, at_s, for_s)| {
            channel < channels && at_s.is_finite() && for_s.is_finite() && for_s > 0.0
        });
        (-50.0..=150.0).contains(&self.degc)
            && (-100.0..=100.0).contains(&self.degc_per_min)
            && self.dipped_s.is_finite()
            && held
    }

    /// What is around the tip of a channel's probe at a time, in °C.
    pub(super) fn around(&self, channel: usize, t_s: f64, air_degc: f64) -> f64 {
        if let Some((of, at_s, for_s)) = self.held
            && of == channel
            && (at_s..at_s + for_s).contains(&t_s)
        {
            return SKIN_DEGC;
        }
        if t_s < self.dipped_s {
            air_degc
        } else {
            self.degc + self.degc_per_min * t_s / 60.0
        }
    }

    /// The next time after `now_s` at which a probe is moved, in seconds.
    pub(super) fn next_s(&self, now_s: f64) -> f64 {
        let held = self.held.map(|(_, at_s, for_s)| [at_s, at_s + for_s]);
        let all = held.into_iter().flatten().chain([self.dipped_s]);
        all.filter(|s| *s > now_s).fold(f64::INFINITY, f64::min)
    }
}
