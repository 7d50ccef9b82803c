//! Rows of sound and of ill probes, from a generator that shares nothing with the program: one heat
//! store a sample behind a lagging probe, driven by air, lamp and sun; noise that lasts, and rounding.
//! All data from here are invented.

#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    reason = "test and study use their own parts"
)]

use arrayvec::ArrayVec;
use duskmark::probe::{ProbeFault, Reading};
use duskmark::sampler::{Doubts, Row};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

/// The row that a board's values in °C make; one that is no number is an open circuit.
pub fn row_of(t_s: f64, values: &[f64]) -> Row {
    let readings = values.iter().map(|&value| {
        if value.is_nan() {
            Reading::Fault(ProbeFault::Open)
        } else {
            Reading::Degc { value, decimals: 3 }
        }
    });
    Row {
        t_ns: (t_s * 1e9) as i64,
        readings: readings.collect::<ArrayVec<_, 8>>(),
        doubts: Doubts::default(),
    }
}

/// What happens around the samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Make {
    Steady,
    Lessons,
    Draughty,
    Days,
    FromTheFridge,
}

pub const MAKES: [(Make, &str); 5] = [
    (Make::Steady, "steady room"),
    (Make::Lessons, "lamp on and off"),
    (Make::Draughty, "drifting air, heating that cycles, windows"),
    (Make::Days, "dawn and dusk, clouds"),
    (Make::FromTheFridge, "samples that come to room temperature"),
];

/// What is wrong with one channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ill {
    Stuck,
    /// Never above (or, below) what it reads when the fault begins.
    Saturated,
    Noisy {
        degc: f64,
    },
    /// All scatter is gone but a hundredth; slow change stays.
    Quiet,
    Spikes {
        degc: f64,
        every_rows: f64,
    },
    Drift {
        degc_per_min: f64,
    },
    Loose {
        every_rows: f64,
    },
    Wander {
        degc: f64,
        period_s: f64,
    },
}

/// How a record is made.
#[derive(Debug, Clone)]
pub struct Record {
    pub make: Make,
    pub seed: u64,
    pub every_s: f64,
    pub step_degc: f64,
    pub channels: usize,
    pub length_s: f64,
    /// Channel, since when, what.
    pub ill: Option<(usize, f64, Ill)>,
}

pub fn pick<T: Copy>(random: &mut Pcg64, list: &[T]) -> T {
    let index = random.random_range(0..list.len());
    list.get(index).copied().unwrap_or_else(|| unreachable!())
}

impl Record {
    /// A sound record, its board drawn from the seed.
    pub fn sound(make: Make, seed: u64, length_s: f64) -> Self {
        let mut random = Pcg64::seed_from_u64(seed ^ 0x50_0D);
        let every_s = match make {
            Make::Days => pick(&mut random, &[5.0, 10.0, 60.0]),
            _ => pick(&mut random, &[0.25, 0.25, 1.0, 1.0, 2.0, 10.0, 60.0]),
        };
        Self {
            make,
            seed,
            every_s,
            step_degc: pick(&mut random, &[0.001, 0.01, 0.0625, 0.1, 0.1, 0.25]),
            channels: pick(&mut random, &[1, 2, 2, 2, 3, 4]),
            length_s,
            ill: None,
        }
    }

    /// Calls `each` with time in seconds and the channels' values; NaN where there is none.
    pub fn run(&self, mut each: impl FnMut(f64, &[f64])) {
        let mut world = World::new(self);
        let rows = (self.length_s / self.every_s) as u64;
        let mut row = vec![0.0; self.channels];
        for k in 0..rows {
            let t_s = k as f64 * self.every_s;
            world.go(t_s, self.every_s);
            for (place, value) in row.iter_mut().enumerate() {
                *value = world.read(place, t_s, self);
            }
            each(t_s, &row);
        }
    }
}

struct Body {
    tau_s: f64,
    tip_s: f64,
    lamp_degc: f64,
    sun_degc: f64,
    below_degc: f64,
    inner: f64,
    tip: f64,
    wander: f64,
    offset: f64,
    held: Option<f64>,
    phase: f64,
}

struct World {
    random: Pcg64,
    bodies: Vec<Body>,
    make: Make,
    lit: bool,
    next_switch_s: f64,
    cloudy: bool,
    next_cloud_s: f64,
    fan: f64,
    next_fan_s: f64,
    window: f64,
    window_now: f64,
    next_window_s: f64,
    waves: [(f64, f64, f64); 3],
    noise_degc: f64,
    electronics_degc: f64,
    lasts_s: f64,
    plume: f64,
}

fn normal(random: &mut Pcg64) -> f64 {
    StandardNormal.sample(random)
}

impl World {
    fn new(record: &Record) -> Self {
        let mut random = Pcg64::seed_from_u64(record.seed);
        let r = &mut random;
        let draughty = record.make == Make::Draughty;
        let days = record.make == Make::Days;
        let heater = if draughty {
            r.random_range(0.1..0.5)
        } else {
            0.0
        };
        let waves = [
            (
                r.random_range(0.02..0.3),
                r.random_range(2400.0..9000.0),
                r.random_range(0.0..6.0),
            ),
            (
                heater,
                r.random_range(500.0..1800.0),
                r.random_range(0.0..6.0),
            ),
            (if days { 2.0 } else { 0.0 }, 86_400.0, 3.0),
        ];
        let start = match record.make {
            Make::FromTheFridge => r.random_range(-14.0..-2.0),
            _ => r.random_range(-0.4..0.4),
        };
        let bodies = (0..record.channels)
            .map(|_| {
                let at = 21.0 + start + r.random_range(-0.3..0.3);
                Body {
                    tau_s: r.random_range(250.0..1500.0),
                    tip_s: r.random_range(2.0..12.0),
                    lamp_degc: r.random_range(8.0..25.0),
                    sun_degc: r.random_range(6.0..20.0),
                    below_degc: r.random_range(0.0..2.0),
                    inner: at,
                    tip: at,
                    wander: 0.0,
                    offset: r.random_range(-0.3..0.3),
                    held: None,
                    phase: r.random_range(0.0..6.0),
                }
            })
            .collect();
        let noise_degc = pick(r, &[0.003, 0.01, 0.02, 0.05]);
        Self {
            bodies,
            make: record.make,
            lit: false,
            next_switch_s: r.random_range(90.0..900.0),
            cloudy: false,
            next_cloud_s: 0.0,
            fan: 1.0,
            next_fan_s: r.random_range(1000.0..20_000.0),
            window: 0.0,
            window_now: 0.0,
            next_window_s: r.random_range(2000.0..9000.0),
            waves,
            noise_degc,
            electronics_degc: noise_degc * r.random_range(0.1..1.0),
            lasts_s: r.random_range(0.3..12.0),
            plume: r.random_range(1.0..3.0),
            random,
        }
    }

    fn events(&mut self, t_s: f64) {
        let r = &mut self.random;
        if self.make == Make::Lessons && t_s >= self.next_switch_s {
            self.lit = !self.lit;
            let pause_s = if self.lit {
                r.random_range(300.0..900.0)
            } else {
                r.random_range(400.0..2400.0)
            };
            self.next_switch_s = t_s + pause_s;
        }
        if self.make == Make::Days && t_s >= self.next_cloud_s {
            self.cloudy = r.random_range(0.0..1.0) < 0.5;
            self.next_cloud_s = t_s + r.random_range(60.0..1800.0);
        }
        if t_s >= self.next_fan_s {
            // Stirred air scatters more, at all samples.
            self.fan = if self.fan > 1.0 {
                1.0
            } else {
                r.random_range(1.5..4.0)
            };
            self.next_fan_s = t_s + r.random_range(1000.0..20_000.0);
        }
        if self.make == Make::Draughty && t_s >= self.next_window_s {
            self.window = if self.window < 0.0 {
                0.0
            } else {
                r.random_range(-4.0..-1.0)
            };
            self.next_window_s = t_s + r.random_range(600.0..9000.0);
        }
    }

    fn go(&mut self, t_s: f64, every_s: f64) {
        self.events(t_s);
        let follow = |now: f64, to: f64, tau_s: f64| to + (now - to) * (-every_s / tau_s).exp();
        self.window_now = follow(self.window_now, self.window, 180.0);
        let wave: f64 = self
            .waves
            .iter()
            .map(|(a, p, at)| a * (std::f64::consts::TAU * t_s / p + at).sin())
            .sum();
        let air = 21.0 + wave + self.window_now;
        let hour = (t_s / 3600.0 + 18.0).rem_euclid(24.0);
        let height = ((hour - 6.0) / 14.0 * std::f64::consts::PI).sin().max(0.0);
        let is_day = self.make == Make::Days && (6.0..20.0).contains(&hour);
        let sun = if is_day {
            height * if self.cloudy { 0.3 } else { 1.0 }
        } else {
            0.0
        };
        let lamp = f64::from(u8::from(self.lit));
        let lasts = (-every_s / self.lasts_s).exp();
        let stirred = self.fan * if self.lit { self.plume } else { 1.0 };
        for body in &mut self.bodies {
            let to = air - body.below_degc + lamp * body.lamp_degc + sun * body.sun_degc;
            body.inner = follow(body.inner, to, body.tau_s);
            body.tip = follow(body.tip, body.inner, body.tip_s);
            let push = stirred * self.noise_degc * (1.0 - lasts * lasts).sqrt();
            body.wander = lasts * body.wander + push * normal(&mut self.random);
        }
    }

    fn read(&mut self, place: usize, t_s: f64, record: &Record) -> f64 {
        let step = record.step_degc;
        let electronics = self.electronics_degc * normal(&mut self.random);
        let Some(body) = self.bodies.get_mut(place) else {
            return f64::NAN;
        };
        let slow = body.tip + body.offset;
        let sound = slow + body.wander + electronics;
        let round = |degc: f64| (degc / step).round() * step;
        let Some((_, from_s, ill)) = record
            .ill
            .filter(|(who, from_s, _)| *who == place && t_s >= *from_s)
        else {
            return round(sound);
        };
        let since_s = t_s - from_s;
        let held = *body.held.get_or_insert(sound);
        let r = &mut self.random;
        match ill {
            Ill::Stuck => round(held),
            Ill::Saturated => round(sound.min(held)),
            Ill::Noisy { degc } => round(sound + degc * normal(r)),
            Ill::Quiet => round(slow + 0.01 * (sound - slow)),
            Ill::Spikes { degc, every_rows } => {
                let hit = r.random_range(0.0..1.0) < 1.0 / every_rows;
                let sign = if r.random_range(0.0..1.0) < 0.5 {
                    -1.0
                } else {
                    1.0
                };
                round(if hit {
                    sound + sign * degc * r.random_range(0.5..1.5)
                } else {
                    sound
                })
            }
            Ill::Drift { degc_per_min } => round(sound + degc_per_min * since_s / 60.0),
            Ill::Loose { every_rows } => {
                if r.random_range(0.0..1.0) < 1.0 / every_rows {
                    f64::NAN
                } else {
                    round(sound)
                }
            }
            Ill::Wander { degc, period_s } => {
                let turn = std::f64::consts::TAU * since_s / period_s;
                round(
                    sound
                        + degc
                            * (0.7 * ((turn + body.phase).sin() - body.phase.sin())
                                + 0.5 * (1.7 * turn).sin()),
                )
            }
        }
    }
}
