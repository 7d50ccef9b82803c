//! The families of data: what is drawn for each seed, and what is known about its lags.
//!
//! All data are invented.

use duskmark::lamp::LampOptions;
use rand_pcg::Pcg64;

use crate::bench_model::{Bench, Record, newton, normal, rng, run};

/// Noise of the records that have a bound, in degrees Celsius.
const NOISE_DEGC: f64 = newton::NOISE_DEGC;

/// Standard uncertainty of a measured lag, as a share of it.
const MEASURED: f64 = 0.2;

/// What the estimator is told of the lags.
#[derive(Clone, Copy, PartialEq)]
enum Told {
    Nothing,
    /// That there are none, of probes and lamp.
    NoLags,
    /// Each probe's, as it was measured: off by a normal error of [`MEASURED`], which is told too.
    Measured,
    /// Each probe's true one.
    Probes,
}

/// A kind of data.
pub(crate) struct Family {
    pub(crate) name: &'static str,
    told: Told,
    /// Whether every row is known to be a logger's.
    logged: bool,
    /// Draws a record.
    pub(crate) make: fn(&mut Pcg64) -> Record,
}

impl Family {
    /// Whether lags are declared as none.
    pub(crate) fn no_lags(&self) -> bool {
        self.told == Told::NoLags
    }

    /// What the estimator is told of a record; a measured lag's error is drawn from the seed.
    pub(crate) fn options(&self, record: &Record, seed: u64) -> LampOptions {
        let lags = match self.told {
            Told::Nothing => LampOptions::default(),
            Told::NoLags => LampOptions::no_lags(),
            Told::Probes => LampOptions {
                probe_lag_s: Some(record.lags_s.clone()),
                ..LampOptions::default()
            },
            Told::Measured => {
                let mut draw = rng(seed.wrapping_mul(0x9e37_79b9).wrapping_add(77));
                let measure = |lag: &f64| lag * (1.0 + MEASURED * normal(&mut draw)).max(0.3);
                let lags_s: Vec<f64> = record.lags_s.iter().map(measure).collect();
                LampOptions {
                    probe_lag_u_s: Some(lags_s.iter().map(|lag| MEASURED * lag).collect()),
                    probe_lag_s: Some(lags_s),
                    ..LampOptions::default()
                }
            }
        };
        LampOptions {
            logged: self.logged,
            ..lags
        }
    }

    /// Cramér–Rao bound of each off-edge in seconds. Defined where lags are known to be none and
    /// the noise is white: with open lags the bound rests on the lags' prior, and rounding,
    /// spikes and touches have no density to take it from.
    pub(crate) fn bounds_s(&self, record: &Record) -> Vec<f64> {
        if !self.no_lags() {
            return Vec::new();
        }
        newton::bounds_s(&record.t_s, &record.nodes, &record.edges_s, NOISE_DEGC)
            .into_iter()
            .skip(1)
            .step_by(2)
            .collect()
    }
}

/// Every family, in the order of the table.
pub(crate) static ALL: [Family; 18] = [
    open("lesson", |rng| run(&Bench::lesson(rng), rng)),
    Family {
        told: Told::Measured,
        ..open("lesson, lags measured", |rng| run(&Bench::lesson(rng), rng))
    },
    Family {
        told: Told::Probes,
        ..open("lesson, lags declared", |rng| run(&Bench::lesson(rng), rng))
    },
    open("slow probes", slow),
    Family {
        told: Told::Measured,
        ..open("slow probes, lags measured", slow)
    },
    Family {
        told: Told::Probes,
        ..open("slow probes, lags declared", slow)
    },
    open("lesson, 0.25 s rows", |rng| every(0.25, rng)),
    open("lesson, 1 s rows", |rng| every(1.0, rng)),
    open("lesson, 5 s rows", |rng| every(5.0, rng)),
    open("lesson, one channel", |rng| channels(1, rng)),
    open("lesson, eight channels", |rng| channels(8, rng)),
    open("lesson, one of two dead", one_dead),
    open("lesson, two cycles", |rng| {
        let bench = Bench {
            cycles: 2,
            ..Bench::lesson(rng)
        };
        run(&bench, rng)
    }),
    open("lesson, minute rows", |rng| run(&calm(60.0, rng), rng)),
    Family {
        logged: false,
        ..open("hand-timed, 3 min", |rng| {
            let bench = Bench {
                step_degc: 0.1,
                settle_s: 400.0,
                heat_s: 1100.0,
                cool_s: 1100.0,
                ..calm(180.0, rng)
            };
            run(&bench, rng)
        })
    },
    none("clean, random benches", |rng| run(&Bench::clean(), rng)),
    none("clean, one fixed bench", newton::record),
    open("steady or drifting", |rng| {
        let bench = Bench {
            power: 0.0,
            ..Bench::lesson(rng)
        };
        let mut record = run(&bench, rng);
        record.edges_s.clear();
        record
    }),
];

const fn open(name: &'static str, make: fn(&mut Pcg64) -> Record) -> Family {
    Family {
        name,
        told: Told::Nothing,
        logged: true,
        make,
    }
}

const fn none(name: &'static str, make: fn(&mut Pcg64) -> Record) -> Family {
    Family {
        name,
        told: Told::NoLags,
        logged: true,
        make,
    }
}

/// A lesson with a row every so many seconds.
fn every(every_s: f64, rng: &mut Pcg64) -> Record {
    let bench = Bench {
        every_s,
        ..Bench::lesson(rng)
    };
    run(&bench, rng)
}

/// A lesson with probes that lag by more than most do.
fn slow(rng: &mut Pcg64) -> Record {
    let bench = Bench {
        lag_s: (9.0, 15.0),
        ..Bench::lesson(rng)
    };
    run(&bench, rng)
}

/// A lesson with so many channels.
fn channels(channels: usize, rng: &mut Pcg64) -> Record {
    let bench = Bench {
        channels,
        ..Bench::lesson(rng)
    };
    run(&bench, rng)
}

/// A lesson noted by hand: no spikes, no gap, no touch.
fn calm(every_s: f64, rng: &mut Pcg64) -> Bench {
    Bench {
        every_s,
        spikes: 0.0,
        gap: false,
        touch: false,
        ..Bench::lesson(rng)
    }
}

/// A lesson whose second channel never has a value (where the lamp stays on longer than 690 s,
/// half of the draws) or is stuck at its first one.
fn one_dead(rng: &mut Pcg64) -> Record {
    let bench = Bench::lesson(rng);
    let mut record = run(&bench, rng);
    if let [_, dead] = record.channels.as_mut_slice() {
        let first = dead.iter().copied().find(|value| value.is_finite());
        let stuck = if bench.heat_s > 690.0 {
            f64::NAN
        } else {
            first.unwrap_or(f64::NAN)
        };
        dead.fill(stuck);
    }
    record
}
