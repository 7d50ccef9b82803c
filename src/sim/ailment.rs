//! Probes and front ends that give numbers, but not sound ones: by time alone, so that a sound
//! channel beside an ill one reads what it would have read.

use core::f64::consts::TAU;

use super::fault::FaultKind;

/// Length of a wandering's main wave in seconds.
const WAVE_S: f64 = 600.0;

/// Share of the time that a loose wire is open.
const OPEN: f64 = 0.3;

/// Something wrong with one channel, for a time.
#[derive(Debug, Clone)]
pub(super) struct Ailment {
    pub(super) channel: usize,
    from_s: f64,
    until_s: f64,
    kind: Kind,
    held: Held,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Stuck,
    Saturated(f64),
    Noisy(f64),
    Spike(f64),
    Loose(f64),
    Drift(f64),
    Wander(f64),
}

/// What a stuck channel shows.
#[derive(Debug, Clone, Copy, Default)]
enum Held {
    /// It has shown nothing yet.
    #[default]
    Unsaid,
    Said(Option<f64>),
}

impl Ailment {
    /// What a fault does to a channel's numbers from a time on, if it is of this kind.
    pub(super) fn of(fault: &FaultKind, from_s: f64) -> Option<Self> {
        let (channel, for_s, kind) = match *fault {
            FaultKind::StuckReading { channel, for_s } => (channel, for_s, Kind::Stuck),
            FaultKind::Saturated {
                channel,
                for_s,
                top_degc,
            } => (channel, for_s, Kind::Saturated(top_degc)),
            FaultKind::Noisy {
                channel,
                for_s,
                degc,
            } => (channel, for_s, Kind::Noisy(degc)),
            FaultKind::Spike { channel, degc } => (channel, f64::INFINITY, Kind::Spike(degc)),
            FaultKind::LooseWire {
                channel,
                for_s,
                every_s,
            } => (channel, for_s, Kind::Loose(every_s)),
            FaultKind::Drift {
                channel,
                for_s,
                degc_per_min,
            } => (channel, for_s, Kind::Drift(degc_per_min)),
            FaultKind::Wander {
                channel,
                for_s,
                degc,
            } => (channel, for_s, Kind::Wander(degc)),
            _ => return None,
        };
        Some(Self {
            channel,
            from_s,
            until_s: from_s + for_s,
            kind,
            held: Held::Unsaid,
        })
    }

    pub(super) fn is_over(&self, now_s: f64) -> bool {
        now_s >= self.until_s
    }

    /// What the probe feels, in °C; `normal` is a standard normal variate.
    pub(super) fn degc(&self, degc: f64, now_s: f64, normal: f64) -> f64 {
        let since_s = now_s - self.from_s;
        match self.kind {
            Kind::Stuck | Kind::Loose(_) | Kind::Saturated(_) => degc,
            Kind::Noisy(sd) => degc + sd * normal,
            Kind::Spike(by) => degc + by,
            Kind::Drift(rate) => degc + rate * since_s / 60.0,
            Kind::Wander(by) => {
                let turn = TAU * since_s / WAVE_S;
                degc + by * (0.7 * libm::sin(turn) + 0.5 * libm::sin(1.7 * turn))
            }
        }
    }

    /// Whether the circuit is open.
    pub(super) fn is_open(&self, now_s: f64) -> bool {
        match self.kind {
            Kind::Loose(every_s) => (now_s - self.from_s).rem_euclid(every_s) < OPEN * every_s,
            _ => false,
        }
    }

    /// The highest temperature that the channel shows, in °C.
    pub(super) fn top_degc(&self) -> Option<f64> {
        match self.kind {
            Kind::Saturated(top_degc) => Some(top_degc),
            _ => None,
        }
    }

    /// The number on the line in place of `number`. A spike is over once it was said.
    pub(super) fn said(&mut self, number: Option<f64>) -> Option<f64> {
        match self.kind {
            Kind::Stuck => match self.held {
                Held::Said(number) => number,
                Held::Unsaid => {
                    self.held = Held::Said(number);
                    number
                }
            },
            Kind::Spike(_) => {
                self.until_s = self.from_s;
                number
            }
            _ => number,
        }
    }
}
