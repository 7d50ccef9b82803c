//! Kinds of lessons, each with what the best test is told of it.

use rand_pcg::Pcg64;

use crate::bench_model::virtual_bench::{NOISE_DEGC, virtual_lesson};
use crate::bench_model::{Bench, Record, rng, run};
use crate::cusum::Told;

/// A kind of lesson.
pub(crate) struct Family {
    pub(crate) name: &'static str,
    bench: From,
    /// Seconds of rows before the lamp goes on, where they are not drawn.
    settle_s: Option<f64>,
}

enum From {
    /// The studies' own bench, with spikes and touches or without, and the time from row to row.
    Model { messy: bool, every_s: f64 },
    /// The program's virtual bench.
    Virtual,
}

const fn family(name: &'static str, bench: From, settle_s: Option<f64>) -> Family {
    Family {
        name,
        bench,
        settle_s,
    }
}

const TIDY: From = From::Model {
    messy: false,
    every_s: 1.0,
};
const MESSY: From = From::Model {
    messy: true,
    every_s: 1.0,
};
const OFTEN: From = From::Model {
    messy: true,
    every_s: 0.25,
};

impl Family {
    pub(crate) const ALL: [Self; 10] = [
        family("lesson, tidy", TIDY, None),
        family("lesson, messy", MESSY, None),
        family("tidy after 30 s", TIDY, Some(30.0)),
        family("tidy after 1 min", TIDY, Some(60.0)),
        family("tidy after 2 min", TIDY, Some(120.0)),
        family("tidy after 2.5 h", TIDY, Some(9000.0)),
        family("virtual after 30 s", From::Virtual, Some(30.0)),
        family("virtual after 1 min", From::Virtual, Some(60.0)),
        family("virtual after 2 min", From::Virtual, Some(120.0)),
        family("messy, 4 a second", OFTEN, None),
    ];

    pub(crate) fn lesson(&self, seed: u64) -> Record {
        match self.bench {
            From::Model { messy, every_s } => {
                let (bench, mut draw) = self.model(seed, messy, every_s);
                run(&bench, &mut draw)
            }
            From::Virtual => self.virtually(seed, 2, NOISE_DEGC),
        }
    }

    /// What the best test is told of edge `slot` (0 on, 1 off); it runs on tidy data, for it knows nothing
    /// of spikes.
    pub(crate) fn best(&self, seed: u64, slot: usize) -> Told {
        let told = match self.bench {
            From::Model { every_s, .. } => {
                let (bench, draw) = self.model(seed, false, every_s);
                let quiet = |happen: usize| {
                    let bench = Bench {
                        noise_degc: 0.0,
                        step_degc: 0.0,
                        happen,
                        ..bench.clone()
                    };
                    run(&bench, &mut draw.clone())
                };
                let phi = bench.correlation.powf(bench.every_s);
                let own = bench.noise_degc.powi(2) * (1.0 - phi * phi);
                Told {
                    noisy: run(&bench, &mut draw.clone()),
                    with: quiet(slot + 1),
                    without: quiet(slot),
                    edge_s: 0.0,
                    phi,
                    variance: own + bench.step_degc.powi(2) / 12.0,
                }
            }
            From::Virtual => Told {
                noisy: self.virtually(seed, 2, NOISE_DEGC),
                with: self.virtually(seed, slot + 1, 0.0),
                without: self.virtually(seed, slot, 0.0),
                edge_s: 0.0,
                phi: 0.0,
                variance: NOISE_DEGC.powi(2),
            },
        };
        let edge_s = told.noisy.edges_s[slot];
        Told { edge_s, ..told }
    }

    fn virtually(&self, seed: u64, happen: usize, noise_degc: f64) -> Record {
        virtual_lesson(seed, self.settle_s.unwrap_or(90.0), happen, noise_degc)
    }

    /// The studies' bench with rows so often; a messy one has spikes and touches.
    fn model(&self, seed: u64, messy: bool, every_s: f64) -> (Bench, Pcg64) {
        let mut draw = rng(seed);
        let bench = Bench::lesson(&mut draw);
        let settle_s = self.settle_s.unwrap_or(bench.settle_s);
        let bench = Bench {
            every_s,
            gap: false,
            settle_s,
            ..bench
        };
        let tidy = Bench {
            spikes: 0.0,
            touch: false,
            ..bench.clone()
        };
        (if messy { bench } else { tidy }, draw)
    }
}
