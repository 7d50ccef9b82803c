//! Large tables: time to read and to analyse them.

use std::fmt::Write;
use std::time::Instant;

use crate::bench_model::{self, rng};

/// Time to read and to analyse a fortnight-and-more of rows, and ten hours at 10 Hz.
pub(crate) fn large() {
    for (name, every_s, rows) in [
        ("30 days at 1 Hz", 1.0, 2_592_000),
        ("10 h at 10 Hz", 0.1, 360_000),
    ] {
        let mut draw = rng(1);
        let mut text = String::from("elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n");
        let day = 86_400.0 / std::f64::consts::TAU;
        for i in 0..rows {
            let t = f64::from(i) * every_s;
            let wave = (t / day).sin();
            let a = 18.0 + 6.0 * wave + 0.05 * bench_model::normal(&mut draw);
            let b = 17.0 + 4.0 * wave + 0.05 * bench_model::normal(&mut draw);
            let _ = writeln!(
                text,
                "{t:.3},2026-03-14T10:32:05.000Z,{a:.3},{b:.3},settling,"
            );
        }
        let begin = Instant::now();
        let (series, _) = duskmark::analysis::table(text.as_bytes()).unwrap();
        let read = begin.elapsed().as_secs_f64();
        let request = duskmark::analysis::Request {
            marks_s: Some(3600.0),
            ..Default::default()
        };
        let summary = duskmark::analysis::analyse(&series, &request);
        println!(
            "{name}: {:.0} MB read in {read:.2} s, analysed in {:.2} s, {} edges, {} marks",
            text.len() as f64 / 1e6,
            begin.elapsed().as_secs_f64() - read,
            summary.lamp.len(),
            summary.marks.len()
        );
    }
}
