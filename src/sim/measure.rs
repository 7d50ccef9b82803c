//! From a probe's tip to the number on the line: offset, noise, thermistor, divider, converter.

use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64;

use super::ailment::Ailment;
use super::config::{BoardConfig, Speech};
use super::speech::Values;
use crate::wire::{MAX_CHANNELS, Unit};

/// What is wrong with a thermistor's circuit, and until when.
#[derive(Debug, Clone, Copy, Default)]
struct Wiring {
    open_until_s: f64,
    shorted_until_s: f64,
}

/// The board's front end.
#[derive(Debug, Clone)]
pub(super) struct FrontEnd {
    rng: Pcg64,
    wiring: [Wiring; MAX_CHANNELS],
    ailments: Vec<Ailment>,
    /// Chance for ailments alone: a sound channel reads the same beside an ill one.
    ill: Pcg64,
}

impl FrontEnd {
    pub(super) fn new(seed: u64) -> Self {
        Self {
            rng: Pcg64::seed_from_u64(seed ^ 0xF207_7E2D),
            wiring: Default::default(),
            ailments: Vec::new(),
            ill: Pcg64::seed_from_u64(seed ^ 0x111_5EED),
        }
    }

    pub(super) fn break_circuit(&mut self, channel: usize, until_s: f64) {
        if let Some(wiring) = self.wiring.get_mut(channel) {
            wiring.open_until_s = wiring.open_until_s.max(until_s);
        }
    }

    pub(super) fn short_circuit(&mut self, channel: usize, until_s: f64) {
        if let Some(wiring) = self.wiring.get_mut(channel) {
            wiring.shorted_until_s = wiring.shorted_until_s.max(until_s);
        }
    }

    pub(super) fn ail(&mut self, ailment: Option<Ailment>) {
        self.ailments.extend(ailment);
    }

    /// What the board makes of its probes' tips at a time.
    pub(super) fn values(&mut self, config: &BoardConfig, now_s: f64, tip_degc: &[f64]) -> Values {
        let wirings = self.wiring;
        self.ailments.retain(|ailment| !ailment.is_over(now_s));
        let channels = config.samples.iter().zip(tip_degc).zip(wirings).enumerate();
        let mut values = Values::new();
        for (channel, ((sample, tip), wiring)) in channels.take(MAX_CHANNELS) {
            let felt: f64 = self.rng.sample(StandardNormal);
            let read: f64 = self.rng.sample(StandardNormal);
            let mut degc = tip + sample.probe.offset_degc + config.electronics.noise_degc * felt;
            let mut open = now_s < wiring.open_until_s;
            for ailment in self.ailments.iter().filter(|a| a.channel == channel) {
                degc = ailment.degc(degc, now_s, self.ill.sample(StandardNormal));
                open |= ailment.is_open(now_s);
            }
            let ohm = if open {
                f64::INFINITY
            } else if now_s < wiring.shorted_until_s {
                0.0
            } else {
                config.electronics.law.signal_at(degc)
            };
            let mut said = number(config, ohm, degc, read);
            for ailment in self.ailments.iter_mut().filter(|a| a.channel == channel) {
                if let Some(top) = ailment.top_degc().filter(|top| degc > *top) {
                    said = number(config, config.electronics.law.signal_at(top), top, 0.0);
                }
                said = ailment.said(said);
            }
            values.push(said);
        }
        values
    }
}

/// The number that the board puts on the line; `None` where it knows that it has none.
fn number(config: &BoardConfig, ohm: f64, degc: f64, read: f64) -> Option<f64> {
    let e = &config.electronics;
    let unit = if config.speech == Speech::Native {
        e.unit
    } else {
        Unit::Degc
    };
    let is_whole = ohm.is_finite() && ohm > 0.0;
    match unit {
        Unit::Adc => {
            let top = f64::from(e.full_scale) - 1.0;
            let at_tap = if ohm.is_finite() {
                config.divider().counts_at(ohm)
            } else {
                // The limit of the divider's equation; inf/inf is no number.
                config.divider().counts_at(f64::MAX)
            };
            let noise = if is_whole { e.noise_counts * read } else { 0.0 };
            // Rounded, so that count over full scale is the best estimate of the share, as the
            // protocol asks of a board.
            Some(libm::floor(at_tap + noise + 0.5).clamp(0.0, top))
        }
        Unit::Ohm => ohm.is_finite().then_some(ohm),
        _ => is_whole.then_some(degc),
    }
}
