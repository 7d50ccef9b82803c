//! A day at the window, added to a record.

use rand_pcg::Pcg64;

use super::{Bench, Record, normal, run};

/// A bench at the window: with the air's swing, and sun through clouds that last some 25 minutes, both
/// as samples of a quarter of an hour's time constant follow them. Readings are rounded at the end.
pub fn sunlit(bench: &Bench, cloudy: f64, draw: &mut Pcg64) -> Record {
    let fine = Bench {
        step_degc: 0.0,
        ..bench.clone()
    };
    let mut record = run(&fine, draw);
    let last = *record.t_s.last().unwrap();
    let mut cloud = vec![1.7 * normal(draw)];
    while (cloud.len() as f64) < last + 2.0 {
        let kick = 1.7 * (2.0 / 1500.0_f64).sqrt() * normal(draw);
        cloud.push(cloud[cloud.len() - 1] * (1.0 - 1.0 / 1500.0) + kick);
    }
    let phase = normal(draw);
    for (channel, sun_degc) in record.channels.iter_mut().zip([15.0, 10.0]) {
        let (mut now, mut before_s) = (f64::NAN, 0.0);
        for (value, t) in channel.iter_mut().zip(&record.t_s) {
            let day = (t / 86_400.0 * std::f64::consts::TAU + phase).sin();
            let veil = cloudy * 0.75 / (1.0 + (-3.0 * cloud[*t as usize]).exp());
            let target = 3.0 * day + sun_degc * day.max(0.0).powf(1.3) * (1.0 - veil);
            if now.is_nan() {
                now = target;
            }
            now += (target - now) * ((t - before_s) / 900.0).min(1.0);
            before_s = *t;
            *value += now;
            if bench.step_degc > 0.0 {
                *value = (*value / bench.step_degc).round() * bench.step_degc;
            }
        }
    }
    record
}
