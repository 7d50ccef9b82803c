//! The program's own virtual benches, as their boards would read them without the wire between.

use duskmark::sim::{LampSpec, ThermalBench, class_bench};

use super::{Record, normal, rng};

/// Standard deviation of such a board's readings near 23 °C: 0.008 °C of its own beside 3 counts of
/// its converter, each 1.4 m°C.
pub const NOISE_DEGC: f64 = 0.009;

/// Ten minutes under the lamp and five without, after `settle_s` seconds of rows every 250 ms. Only the
/// first `happen` edges really come; `noise_degc` is white.
pub fn virtual_lesson(seed: u64, settle_s: f64, happen: usize, noise_degc: f64) -> Record {
    let config = class_bench(seed, seed % 24);
    // A hand works the switch.
    let (planned_s, planned_off_s) = config.lamp.on_off_s[0];
    let on_s = settle_s + (planned_s - planned_s.floor());
    let off_s = on_s + (planned_off_s - planned_s);
    let end_s = off_s + 300.0;
    let lit = match happen {
        0 => Vec::new(),
        1 => vec![(on_s, 1e9)],
        _ => vec![(on_s, off_s)],
    };
    let lamp = LampSpec {
        on_off_s: lit,
        ..config.lamp
    };
    let mut bench = ThermalBench::new(config.air, lamp, &config.samples, config.seed);
    let mut draw = rng(seed ^ 0x5eed);
    let mut record = Record {
        channels: vec![Vec::new(); config.samples.len()],
        on_s,
        off_s,
        edges_s: vec![on_s, off_s],
        ..Record::default()
    };
    for i in 0..(4.0 * end_s) as u32 {
        let t_s = 0.25 * f64::from(i);
        bench.advance_to(t_s);
        record.t_s.push(t_s);
        let tips = bench.tip_degc().zip(&config.samples);
        for (channel, (tip, sample)) in record.channels.iter_mut().zip(tips) {
            let read = tip + sample.probe.offset_degc;
            channel.push(read + noise_degc * normal(&mut draw));
        }
    }
    record
}
