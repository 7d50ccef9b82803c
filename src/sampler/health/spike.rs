//! Single readings far off: away within one row and back after one or two.

use arrayvec::ArrayVec;

/// A reading is far off from so many times the usual scatter on, …
const FAR_SD: f64 = 20.0;

/// … so many times the largest of the last steps, …
const FAR_STEPS: f64 = 10.0;

/// … and so much, in °C.
const FAR_DEGC: f64 = 0.5;

/// It has come back when no more than this share of the leap is left. A slope within the last two
/// conditions moves three tenths of a leap in three rows.
const LEFT: f64 = 0.35;

/// Rows that may be off; what stays longer is no spike.
const MOST_ROWS: usize = 2;

/// Steps that are remembered.
const STEPS: usize = 8;

/// Readings that were off and came back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spiked {
    pub(super) from_ns: i64,
    pub(super) to_ns: i64,
    /// How far off, in °C, with its sign.
    pub(super) by_degc: f64,
}

/// Watches one channel for spikes.
#[derive(Debug, Clone, Default)]
pub(super) struct Spikes {
    base: Option<f64>,
    steps: ArrayVec<f64, STEPS>,
    oldest: usize,
    off: ArrayVec<(i64, f64), MOST_ROWS>,
}

impl Spikes {
    /// Takes a reading; `sd_degc` is the usual scatter, `step_degc` the smallest step.
    pub(super) fn take(
        &mut self,
        t_ns: i64,
        degc: f64,
        sd_degc: f64,
        step_degc: f64,
    ) -> Option<Spiked> {
        let Some(base) = self.base else {
            self.base = Some(degc);
            return None;
        };
        let leap = degc - base;
        let least = self.off.iter().map(|(_, by)| by.abs()).reduce(f64::min);
        match least {
            Some(least) if leap.abs() <= LEFT * least => {
                let spiked = self.off.first().zip(self.off.last());
                let spiked = spiked.map(|(first, last)| Spiked {
                    from_ns: first.0,
                    to_ns: last.0,
                    by_degc: first.1,
                });
                self.off.clear();
                self.base = Some(degc);
                spiked
            }
            _ if self.steps.is_full() && leap.abs() >= self.far(sd_degc, step_degc) => {
                if self.off.try_push((t_ns, leap)).is_err() {
                    // It has stayed: a touch, a probe that was moved.
                    self.forget();
                    self.base = Some(degc);
                }
                None
            }
            _ => {
                self.off.clear();
                self.step(leap.abs());
                self.base = Some(degc);
                None
            }
        }
    }

    fn far(&self, sd_degc: f64, step_degc: f64) -> f64 {
        let largest = self.steps.iter().copied().fold(0.0, f64::max);
        (FAR_SD * sd_degc)
            .max(FAR_STEPS * largest)
            .max(5.0 * step_degc)
            .max(FAR_DEGC)
    }

    fn step(&mut self, size: f64) {
        if let Some(place) = self.steps.get_mut(self.oldest) {
            *place = size;
        } else {
            self.steps.push(size);
        }
        self.oldest = (self.oldest + 1) % STEPS;
    }

    /// Rows are missing here, or the level is another.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }
}
