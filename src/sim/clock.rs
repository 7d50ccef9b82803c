//! The board's clock against true time.

use super::config::ClockSpec;
use super::thermal::{ThermalBench, decay};

/// How slowly the lamp warms the board, in seconds.
const BOARD_WARMS_S: f64 = 300.0;
/// The temperature at which the clock runs as stated, in degrees Celsius.
const CALM_DEGC: f64 = 23.0;

/// A clock that counts milliseconds from power-up, a little too fast or too slow.
#[derive(Debug, Clone)]
pub(super) struct BoardClock {
    spec: ClockSpec,
    /// True time up to which the clock has been run, in seconds.
    true_s: f64,
    /// What it shows then, in milliseconds, before wrapping.
    shown_ms: f64,
    /// How far the lamp has warmed the board, in degrees Celsius.
    warmed_degc: f64,
}

impl BoardClock {
    pub(super) fn new(spec: ClockSpec) -> Self {
        let shown_ms = f64::from(spec.start_ms);
        Self {
            spec,
            true_s: 0.0,
            shown_ms,
            warmed_degc: 0.0,
        }
    }

    /// Power comes at a true time: the clock begins at zero.
    pub(super) fn restart(&mut self, true_s: f64) {
        self.true_s = true_s;
        self.shown_ms = 0.0;
    }

    /// Clock seconds per true second, now.
    fn rate(&self, bench: &ThermalBench) -> f64 {
        let degc = bench.air_degc() + self.warmed_degc - CALM_DEGC;
        let drift = self.spec.ppm_per_h * self.true_s / 3600.0;
        1.0 + 1e-6 * (self.spec.ppm + drift + self.spec.ppm_per_degc * degc)
    }

    /// Runs the clock to a true time at its present rate; returns the milliseconds shown.
    pub(super) fn run_to(&mut self, true_s: f64, bench: &ThermalBench) -> f64 {
        let h_s = true_s - self.true_s;
        if h_s > 0.0 {
            self.shown_ms += 1e3 * h_s * self.rate(bench);
            let target = self.spec.lamp_warms_degc * bench.lamp_output();
            self.warmed_degc = target + (self.warmed_degc - target) * decay(h_s, BOARD_WARMS_S);
            self.true_s = true_s;
        }
        self.shown_ms
    }

    /// The true time at which the clock, run at its present rate, will show so many milliseconds.
    pub(super) fn when_s(&self, shown_ms: f64, bench: &ThermalBench) -> f64 {
        self.true_s + 1e-3 * (shown_ms - self.shown_ms) / self.rate(bench)
    }

    /// Milliseconds shown at the time last run to.
    pub(super) fn shown_ms(&self) -> f64 {
        self.shown_ms
    }

    /// True seconds that so many microseconds on the clock take, near enough for jitter.
    pub(super) fn jitter_s(&self, share: f64) -> f64 {
        share * self.spec.jitter_us * 1e-6
    }
}
