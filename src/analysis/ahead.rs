//! By how much time a sample is ahead of what its probe shows.
//!
//! A probe that follows by one first-order lag shows `S = R + lag · dR/dt` of its sample late: the sample's
//! temperature S follows from the reading R and its slope. That is a known effect of known sign, and is
//! corrected with the correction's own uncertainty (JCGM 100:2008, 3.2.4, 6.3.1).

use super::sample::Uncertain;
use crate::lamp::LampOptions;

/// What is held of lags where none is declared, mean and standard deviation in seconds
/// ([`LampOptions`]).
const PROBE_S: Uncertain = (6.0, 3.0);
const LAMP_S: Uncertain = (2.0, 1.5);

/// Relative standard uncertainty of a declared lag where it lies on a sample: as that of one that was
/// measured in water (common practice, no source).
const DECLARED: f64 = 0.2;

/// Seconds that a sample is ahead, each with its standard uncertainty.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ahead {
    /// Of its reading.
    pub(super) reading_s: Uncertain,
    /// Of its reading as the lamp goes off, until it is warmest: a lamp that glows on warms it for
    /// somewhere between none and all of its lag, a rectangular distribution (JCGM 100:2008, 4.3.7).
    pub(super) at_off_s: Uncertain,
}

impl Ahead {
    /// Of channel `index` of `count`.
    pub(super) fn of(options: &LampOptions, index: usize, count: usize) -> Self {
        let declared = options.declared_probe_lag_s(index, count);
        let measured = options.probe_lag_u_s(index);
        let probe = declared.map_or(PROBE_S, |lag_s| {
            (lag_s, measured.unwrap_or(DECLARED * lag_s))
        });
        let lamp = options
            .declared_lamp_lag_s()
            .map_or(LAMP_S, |lag_s| (lag_s, 0.0));
        let square = lamp.0.powi(2) / 12.0 + lamp.1.powi(2) / 3.0;
        Self {
            reading_s: probe,
            at_off_s: (probe.0 + 0.5 * lamp.0, probe.1.hypot(square.sqrt())),
        }
    }
}

/// A temperature moved on by so many seconds along a slope in °C/s, each with its standard uncertainty;
/// value and slope of one fit err together.
pub(super) fn moved_on(
    (degc, u_degc): Uncertain,
    (slope, u_slope): Uncertain,
    (by_s, u_s): Uncertain,
) -> Uncertain {
    let noise = u_degc + by_s * u_slope;
    (degc + slope * by_s, noise.hypot(slope * u_s))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008, 4.3.7 and 6.3.1.
    #[test]
    fn what_is_known_of_lags_moves_and_what_is_not_widens() {
        let near = |got: Uncertain, want: Uncertain| {
            assert!((got.0 - want.0).abs() < 1e-9 && (got.1 - want.1).abs() < 1e-3);
        };
        let none = Ahead::of(&LampOptions::no_lags(), 0, 2);
        near(none.at_off_s, (0.0, 0.0));
        let prior = Ahead::of(&LampOptions::default(), 1, 2);
        near(prior.reading_s, (6.0, 3.0));
        // Half of 2 s, give or take: √(2²/12 + 1.5²/3) = 1.041, with the probe's 3 s 3.175.
        near(prior.at_off_s, (7.0, 3.175));
        let measured = LampOptions {
            probe_lag_s: Some(vec![4.0, 8.0]),
            probe_lag_u_s: Some(vec![0.5, f64::NAN]),
            lamp_lag_s: Some(0.0),
            ..LampOptions::default()
        };
        near(Ahead::of(&measured, 0, 2).at_off_s, (4.0, 0.5));
        near(Ahead::of(&measured, 1, 2).at_off_s, (8.0, 1.6));
        near(
            moved_on((20.0, 0.1), (0.02, 0.01), (5.0, 2.0)),
            (20.1, 0.155_24),
        );
    }
}
