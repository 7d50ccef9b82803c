//! The air around a bench, and the sun at its window: functions of time alone, so that a bench
//! gives the same temperatures whatever steps it is advanced by.
//!
//! Invented, not measured: three slow sine waves of seeded length and phase stand for a room's
//! drift; a half sine between dawn and dusk with soft edges, dimmed by a seeded cover of cloud for
//! each day, stands for the sun.

use core::f64::consts::{PI, TAU};

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

const DAY_S: f64 = 86_400.0;
const HOUR_S: f64 = 3_600.0;
/// Days after which the seeded cloud cover repeats: longer than the runs that people leave alone.
const CLOUD_DAYS: usize = 64;

/// How the air behaves.
#[derive(Debug, Clone, PartialEq)]
pub struct AirSpec {
    /// Mean temperature in degrees Celsius.
    pub mean_degc: f64,
    /// Greatest excursion of the slow drift either way, in degrees Celsius, 0 or more.
    pub drift_degc: f64,
    /// The course of day and night, where there is a window.
    pub day: Option<DaySpec>,
}

/// A day at a window.
#[derive(Debug, Clone, PartialEq)]
pub struct DaySpec {
    /// Local time of day at the run's time zero, in hours, 0 to 24.
    pub start_h: f64,
    /// Hour of dawn, before `dusk_h`.
    pub dawn_h: f64,
    /// Hour of dusk, at most 24.
    pub dusk_h: f64,
    /// Time over which light comes and goes, in hours, greater than 0.
    pub soft_h: f64,
    /// Half the air's daily swing in degrees Celsius; it peaks at three in the afternoon.
    pub swing_degc: f64,
    /// Share of the light that the thickest cloud takes, 0 to 1.
    pub cloud: f64,
}

impl AirSpec {
    /// Whether every number is finite and within the range stated at its field.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let day = self.day.as_ref().is_none_or(|day| {
            (0.0..=24.0).contains(&day.start_h)
                && (0.0..24.0).contains(&day.dawn_h)
                && day.dusk_h > day.dawn_h
                && day.dusk_h <= 24.0
                && (1e-3..=12.0).contains(&day.soft_h)
                && day.swing_degc.is_finite()
                && (0.0..=1.0).contains(&day.cloud)
        });
        self.mean_degc.is_finite() && self.drift_degc.is_finite() && self.drift_degc >= 0.0 && day
    }
}

/// The air of one bench, seeded.
#[derive(Debug, Clone)]
pub struct Air {
    spec: AirSpec,
    /// Angular frequency in rad/s and phase in rad of each wave of the drift.
    waves: [(f64, f64); 3],
    /// Share of the light that each day's cloud takes.
    cover: Vec<f64>,
    /// Phase of the clouds that pass within a day, in rad.
    passing_rad: f64,
}

impl Air {
    /// Draws one room's air from a seed.
    #[must_use]
    pub fn new(spec: AirSpec, seed: u64) -> Self {
        let mut rng = Pcg64::seed_from_u64(seed ^ 0x0A1B_0A1B);
        let waves = [40.0, 95.0, 210.0].map(|minutes| {
            let period_s = 60.0 * minutes * rng.random_range(0.8..1.25);
            (TAU / period_s, rng.random_range(0.0..TAU))
        });
        let cover = (0..CLOUD_DAYS).map(|_| rng.random::<f64>()).collect();
        let passing_rad = rng.random_range(0.0..TAU);
        Self {
            spec,
            waves,
            cover,
            passing_rad,
        }
    }

    /// Air temperature in degrees Celsius at a time in seconds.
    #[must_use]
    pub fn degc_at(&self, t_s: f64) -> f64 {
        let wave: f64 = self
            .waves
            .iter()
            .map(|(w, phase)| libm::sin(w * t_s + phase))
            .sum();
        let day = self.spec.day.as_ref().map_or(0.0, |day| {
            let hour = day.start_h + t_s / HOUR_S;
            day.swing_degc * libm::sin(TAU * (hour - 9.0) / 24.0)
        });
        self.spec.mean_degc + self.spec.drift_degc * wave / 3.0 + day
    }

    /// Light of the sun at a time in seconds, from 0 (night) to 1 (clear noon).
    #[must_use]
    pub fn sun_at(&self, t_s: f64) -> f64 {
        let Some(day) = self.spec.day.as_ref() else {
            return 0.0;
        };
        let since_midnight_s = t_s + day.start_h * HOUR_S;
        let hour = since_midnight_s.rem_euclid(DAY_S) / HOUR_S;
        if hour <= day.dawn_h || hour >= day.dusk_h {
            return 0.0;
        }
        let height = libm::sin(PI * (hour - day.dawn_h) / (day.dusk_h - day.dawn_h));
        let edges =
            smooth((hour - day.dawn_h) / day.soft_h) * smooth((day.dusk_h - hour) / day.soft_h);
        let number = libm::floor(since_midnight_s / DAY_S).max(0.0) as usize % CLOUD_DAYS;
        let cover = self.cover.get(number).copied().unwrap_or(0.0);
        let passing = 0.5 + 0.5 * libm::sin(TAU * t_s / (0.7 * HOUR_S) + self.passing_rad);
        height * edges * (1.0 - day.cloud * cover * (0.6 + 0.4 * passing))
    }
}

/// Rises from 0 to 1 without a kink while x goes from 0 to 1 (the cubic 3x² − 2x³).
fn smooth(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window() -> Air {
        let day = DaySpec {
            start_h: 18.0,
            dawn_h: 6.0,
            dusk_h: 20.0,
            soft_h: 0.5,
            swing_degc: 2.0,
            cloud: 0.7,
        };
        Air::new(
            AirSpec {
                mean_degc: 20.0,
                drift_degc: 0.3,
                day: Some(day),
            },
            5,
        )
    }

    #[test]
    fn nights_are_dark_and_days_are_bright_and_neither_jumps() {
        let air = window();
        let mut before = air.sun_at(0.0);
        let mut brightest = [0.0_f64; 15];
        for minute in 1..14 * 24 * 60 {
            let t_s = f64::from(minute) * 60.0;
            let sun = air.sun_at(t_s);
            assert!((0.0..=1.0).contains(&sun));
            assert!(
                (sun - before).abs() < 0.08,
                "jump of {} at minute {minute}",
                sun - before
            );
            let hour = (18.0 + t_s / HOUR_S).rem_euclid(24.0);
            if !(6.0..20.0).contains(&hour) {
                assert!(sun <= 0.0);
            }
            let day = ((18.0 * HOUR_S + t_s) / DAY_S) as usize;
            brightest[day] = brightest[day].max(sun);
            before = sun;
        }
        assert!(brightest[1..14].iter().all(|&b| b > 0.25));
    }

    #[test]
    fn drift_stays_within_what_was_asked() {
        let air = Air::new(
            AirSpec {
                mean_degc: 23.0,
                drift_degc: 0.4,
                day: None,
            },
            11,
        );
        let all: Vec<f64> = (0..10_000)
            .map(|k| air.degc_at(f64::from(k) * 7.0))
            .collect();
        assert!(all.iter().all(|t| (t - 23.0).abs() <= 0.4));
        assert!(all.iter().any(|t| (t - 23.0).abs() > 0.15));
    }
}
