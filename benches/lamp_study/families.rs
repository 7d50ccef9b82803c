//! The families of data: what is drawn for each seed, and what is known about its lags.
//!
//! All data are invented.

use duskmark::lamp::LampOptions;
use rand_pcg::Pcg64;

use crate::bench_model::{Bench, Record, newton, run};

/// Noise of the records that have a bound, in degrees Celsius.
const NOISE_DEGC: f64 = newton::NOISE_DEGC;

/// A kind of data.
pub(crate) struct Family {
    pub(crate) name: &'static str,
    /// Whether lags are declared as none; else they are open.
    pub(crate) no_lags: bool,
    /// Draws a record.
    pub(crate) make: fn(&mut Pcg64) -> Record,
}

impl Family {
    /// What the estimator is told.
    pub(crate) fn options(&self) -> LampOptions {
        if self.no_lags {
            LampOptions::no_lags()
        } else {
            LampOptions::default()
        }
    }

    /// Cramér–Rao bound of each off-edge in seconds. Defined where lags are known to be none and
    /// the noise is white: with open lags the bound rests on the lags' prior, and rounding,
    /// spikes and touches have no density to take it from.
    pub(crate) fn bounds_s(&self, record: &Record) -> Vec<f64> {
        if !self.no_lags {
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
pub(crate) const ALL: [Family; 13] = [
    open("lesson", |rng| run(&Bench::lesson(rng), rng)),
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
    open("hand-timed, 3 min", |rng| {
        let bench = Bench {
            step_degc: 0.1,
            settle_s: 400.0,
            heat_s: 1100.0,
            cool_s: 1100.0,
            ..calm(180.0, rng)
        };
        run(&bench, rng)
    }),
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
        no_lags: false,
        make,
    }
}

const fn none(name: &'static str, make: fn(&mut Pcg64) -> Record) -> Family {
    Family {
        name,
        no_lags: true,
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
