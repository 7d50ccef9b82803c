//! Ready-made benches in the green-roof lesson. All their numbers are invented.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::air::{AirSpec, DaySpec};
use super::config::BoardConfig;
use super::thermal::LampSpec;

/// The lesson: slate and moss rest for about 90 s, then ten minutes under the lamp and ten
/// minutes without, a sample every 250 ms.
///
/// A hand works the switch: on within some seconds after 90 s, off one to five seconds after ten
/// minutes are over. The exact times are in `lamp.on_off_s`.
#[must_use]
pub fn lesson(seed: u64) -> BoardConfig {
    let mut rng = Pcg64::seed_from_u64(seed ^ 0x1E55_0000);
    let on_s = 90.0 + rng.random_range(0.0..4.0);
    let off_s = on_s + 600.0 + rng.random_range(1.0..5.0);
    let mut config = BoardConfig::new(seed);
    config.lamp = LampSpec {
        on_off_s: vec![(on_s, off_s)],
        warm_up_s: 2.0,
        afterglow_s: 3.0,
    };
    // A run goes on for some seconds after the last mark of its plan.
    config.end_s = Some(off_s + 610.0);
    config
}

/// A fortnight on a window sill without a lamp: one sample a minute for 14 days, from six in the
/// evening.
#[must_use]
pub fn fortnight(seed: u64) -> BoardConfig {
    let mut config = BoardConfig::new(seed);
    let day = DaySpec {
        start_h: 18.0,
        dawn_h: 6.2,
        dusk_h: 19.8,
        soft_h: 0.7,
        swing_degc: 1.8,
        cloud: 0.75,
    };
    config.air = AirSpec {
        mean_degc: 20.0,
        drift_degc: 0.5,
        day: Some(day),
    };
    config.period_ms = 60_000;
    config.end_s = Some(14.0 * 86_400.0);
    config
}

/// One of a class's benches, counted from 0: the same lesson with another board, room corner,
/// lamp distance, clock and hand.
#[must_use]
pub fn class_bench(seed: u64, n: u64) -> BoardConfig {
    let own = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(n);
    let mut rng = Pcg64::seed_from_u64(own ^ 0xC1A5_5000);
    let mut config = lesson(own);
    config.board_id = format!("BENCH-{}", n + 1);
    config.air.mean_degc += rng.random_range(-0.8..0.8);
    config.clock.ppm = rng.random_range(-1500.0..1500.0);
    config.clock.start_ms = rng.random_range(0..30_000);
    let distance = rng.random_range(0.9..1.1);
    for sample in &mut config.samples {
        sample.lamp_w *= distance * rng.random_range(0.97..1.03);
        sample.surface_air_w_per_k *= rng.random_range(0.95..1.05);
        sample.probe.offset_degc = rng.random_range(-0.15..0.15);
        sample.probe.lag_s = rng.random_range(4.0..9.0);
    }
    config
}
