//! How exactly are rows timed? Synthetic captures (invented) with known sampling instants.
//!
//! `cargo bench --bench time_base` prints a table: root-mean-square error of the time against the
//! truth in milliseconds, for the arrival as it is, for an ordinary regression of arrivals on the
//! board's clock (mean delay taken out, over the same window), and for the time base. Each figure
//! is over 20 captures of 25 minutes, without the first minute. The least delay of every link is
//! zero, so that what one-way data cannot show is not in the figures.
#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]

#[path = "reach/mod.rs"]
mod reach;
#[path = "time_base/stalls.rs"]
mod stalls;

use std::collections::VecDeque;

use duskmark::timebase::{Arrival, TimeBase};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;

const CAPTURES: u64 = 20;
const LENGTH_S: f64 = 1500.0;
const BEGINNING_S: f64 = 60.0;

/// The lamp goes on, or off.
const WARMING_FROM_S: f64 = 200.0;
/// A board beside a lamp: 30 °C, at 10 ppm/°C.
const WARMING_PPM: f64 = 300.0;

/// What makes lines late, and how the board's clock runs.
#[derive(Clone, Copy)]
struct Scene {
    name: &'static str,
    ppm: f64,
    /// Change of skew in ppm, and its time constant in seconds.
    warming: (f64, f64),
    batch_ms: f64,
    bursts: bool,
    baud: Option<u32>,
    /// Standard deviation of what each turn of the board's loop takes longer or shorter, in ms.
    loop_jitter_ms: f64,
    lost: f64,
}

const PLAIN_LINK: Scene = Scene {
    name: "16 ms batching",
    ppm: 0.0,
    warming: (0.0, 300.0),
    batch_ms: 16.0,
    bursts: false,
    baud: None,
    loop_jitter_ms: 0.0,
    lost: 0.0,
};

fn scenes() -> Vec<Scene> {
    let skewed = |name, ppm| Scene {
        name,
        ppm,
        ..PLAIN_LINK
    };
    let hard = Scene {
        name: "all of it: +2000 ppm, warming, 9600 baud, bursts",
        ppm: 2000.0,
        warming: (WARMING_PPM, 300.0),
        bursts: true,
        baud: Some(9600),
        ..PLAIN_LINK
    };
    vec![
        PLAIN_LINK,
        skewed("and +2000 ppm", 2000.0),
        skewed("and -2000 ppm", -2000.0),
        Scene {
            name: "and warming by 30 °C, 2 min",
            warming: (WARMING_PPM, 120.0),
            ..PLAIN_LINK
        },
        Scene {
            name: "and warming by 30 °C, 5 min",
            warming: (WARMING_PPM, 300.0),
            ..PLAIN_LINK
        },
        Scene {
            name: "and cooling by 30 °C, 5 min",
            warming: (-WARMING_PPM, 300.0),
            ..PLAIN_LINK
        },
        Scene {
            name: "and 1 % bursts of 200 ms",
            bursts: true,
            ..PLAIN_LINK
        },
        Scene {
            name: "and 9600 baud",
            baud: Some(9600),
            ..PLAIN_LINK
        },
        Scene {
            name: "USB of its own, 1 ms",
            batch_ms: 1.0,
            ..PLAIN_LINK
        },
        hard,
    ]
}

/// A line: when it arrived, how long it was on the wire, what its clock showed, when it was true.
struct Line {
    at_s: f64,
    wire_s: f64,
    board_ms: u32,
    lines_after: u32,
    truth_s: f64,
}

fn capture(scene: Scene, rate_hz: f64, seed: u64) -> Vec<Line> {
    let mut random = Pcg64::seed_from_u64(seed);
    let (mut board_s, mut truth_s, mut last_at_s) = (random.random_range(0.0..1.0), 100.0, 0.0);
    let mut lines: Vec<Line> = Vec::new();
    while truth_s < 100.0 + LENGTH_S {
        let since_s = truth_s - 100.0 - WARMING_FROM_S;
        let warm = 1.0 - (-since_s.max(0.0) / scene.warming.1).exp();
        let rate = 1.0 + 1e-6 * (scene.ppm + scene.warming.0 * warm);
        let jitter = random.random_range(-1.7..1.7) * scene.loop_jitter_ms / 1000.0;
        let step_s = 1.0 / rate_hz + jitter;
        board_s += step_s;
        truth_s += step_s / rate;
        let bytes = random.random_range(18..24);
        let wire_s = scene
            .baud
            .map_or(0.0, |baud| f64::from(bytes * 10) / f64::from(baud));
        let mut delay_s = random.random_range(0.0..1.0) * scene.batch_ms / 1000.0;
        if scene.bursts && random.random_bool(0.01) {
            delay_s += 0.2;
        }
        // Bytes come in their order, so what follows a stalled line waits with it.
        let at_s = f64::max(truth_s + wire_s + delay_s, last_at_s);
        if at_s <= last_at_s {
            let together = lines.iter_mut().rev().take_while(|l| l.at_s >= at_s);
            together.for_each(|line| line.lines_after += 1);
        }
        last_at_s = at_s;
        if !random.random_bool(scene.lost) {
            lines.push(Line {
                at_s,
                wire_s,
                board_ms: (board_s * 1000.0) as u32,
                lines_after: 0,
                truth_s,
            });
        }
    }
    lines
}

/// Mean square of errors in ms², over the lines after the beginning.
fn mean_square(errors: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (sum, n) = errors
        .filter(|(truth_s, _)| *truth_s > 100.0 + BEGINNING_S)
        .fold((0.0, 0.0), |(sum, n), (_, error_s)| {
            (sum + (error_s * 1000.0).powi(2), n + 1.0)
        });
    sum / n
}

fn ns(s: f64) -> i64 {
    (s * 1e9).round() as i64
}

fn by_time_base(lines: &[Line], clocked: bool) -> f64 {
    let mut base = TimeBase::new();
    mean_square(lines.iter().enumerate().map(|(seq, line)| {
        let arrival = Arrival {
            at_ns: ns(line.at_s),
            wire_ns: ns(line.wire_s),
            lines_after: line.lines_after,
            ..Arrival::default()
        };
        let (board_ms, seq) = (
            clocked.then_some(line.board_ms),
            clocked.then_some(seq as u32),
        );
        let stamp = base.stamp(arrival, board_ms, seq);
        (line.truth_s, stamp.sampled_ns as f64 / 1e9 - line.truth_s)
    }))
}

/// Ordinary least squares of the delay on the board's time, over the same 200 s, read at its end,
/// less half the batching, as if that were known.
fn by_regression(lines: &[Line], batch_s: f64) -> f64 {
    let mut window: VecDeque<(f64, f64)> = VecDeque::new();
    mean_square(lines.iter().map(|line| {
        let x = f64::from(line.board_ms) / 1000.0;
        window.push_back((x, line.at_s - line.wire_s - x));
        while window.front().is_some_and(|p| p.0 < x - 200.0) {
            window.pop_front();
        }
        let n = window.len() as f64;
        let (mx, my) = window
            .iter()
            .fold((0.0, 0.0), |s, p| (s.0 + (p.0 - x) / n, s.1 + p.1 / n));
        let (sxy, sxx) = window.iter().fold((0.0, 1e-12), |s, p| {
            let dx = p.0 - x - mx;
            (s.0 + dx * (p.1 - my), s.1 + dx * dx)
        });
        let stamp_s = x + my - sxy / sxx * mx - batch_s / 2.0;
        (line.truth_s, stamp_s - line.truth_s)
    }))
}

fn rms(one: impl Fn(u64) -> f64) -> f64 {
    ((0..CAPTURES).map(one).sum::<f64>() / CAPTURES as f64).sqrt()
}

fn clocked() {
    println!(
        "| boards with a clock | rate | arrival | regression | time base |\n|---|---|---|---|---|"
    );
    let mut worst_ms = 0.0_f64;
    for scene in scenes() {
        for rate_hz in [1.0, 4.0, 10.0] {
            let arrival = rms(|seed| {
                let lines = capture(scene, rate_hz, seed);
                mean_square(lines.iter().map(|l| (l.truth_s, l.at_s - l.truth_s)))
            });
            let batch_s = scene.batch_ms / 1000.0;
            let regression = rms(|seed| by_regression(&capture(scene, rate_hz, seed), batch_s));
            let base = rms(|seed| by_time_base(&capture(scene, rate_hz, seed), true));
            println!(
                "| {} | {rate_hz} Hz | {arrival:.1} | {regression:.2} | {base:.2} |",
                scene.name
            );
            worst_ms = worst_ms.max(base);
        }
    }
    reach::told(
        "rows' times, boards with a clock: rms in the hardest case",
        format!("{worst_ms:.2} ms"),
        "1 ms",
        worst_ms <= 1.0,
    );
}

fn plain() {
    println!("\n| boards without a clock | rate | arrival | time base |\n|---|---|---|---|");
    let jittering = |name, loop_jitter_ms| Scene {
        name,
        loop_jitter_ms,
        ..PLAIN_LINK
    };
    let scenes = [
        PLAIN_LINK,
        Scene {
            name: "and 10 % of lines lost",
            lost: 0.1,
            ..PLAIN_LINK
        },
        Scene {
            name: "and 1 % bursts of 200 ms",
            bursts: true,
            ..PLAIN_LINK
        },
        Scene {
            name: "and warming by 30 °C, 5 min",
            warming: (WARMING_PPM, 300.0),
            ..PLAIN_LINK
        },
        Scene {
            name: "and 9600 baud",
            baud: Some(9600),
            ..PLAIN_LINK
        },
        jittering("turns that vary by 0.1 ms", 0.1),
        jittering("turns that vary by 1 ms", 1.0),
        jittering("turns that vary by 5 ms", 5.0),
        jittering("turns that vary by 30 ms", 30.0),
    ];
    for scene in scenes {
        for rate_hz in [1.0, 4.0, 10.0] {
            let arrival = rms(|seed| {
                let lines = capture(scene, rate_hz, seed);
                mean_square(lines.iter().map(|l| (l.truth_s, l.at_s - l.truth_s)))
            });
            let base = rms(|seed| by_time_base(&capture(scene, rate_hz, seed), false));
            println!(
                "| {} | {rate_hz} Hz | {arrival:.1} | {base:.2} |",
                scene.name
            );
        }
    }
}

/// From when on the rms error over all captures stays below a millisecond.
fn beginning() {
    println!(
        "\n| beginning (+2000 ppm, 16 ms batching) | 0-10 s | 10-20 s | 20-30 s | 30-60 s | 60-120 s |\n|---|---|---|---|---|---|"
    );
    let scene = Scene {
        ppm: 2000.0,
        ..PLAIN_LINK
    };
    for rate_hz in [1.0, 4.0, 10.0] {
        let mut sums = [(0.0, 0.0); 5];
        for seed in 0..CAPTURES {
            let mut base = TimeBase::new();
            for (seq, line) in capture(scene, rate_hz, seed).iter().enumerate() {
                let arrival = Arrival {
                    at_ns: ns(line.at_s),
                    ..Arrival::default()
                };
                let stamp = base.stamp(arrival, Some(line.board_ms), Some(seq as u32));
                let error_ms = (stamp.sampled_ns as f64 / 1e9 - line.truth_s) * 1000.0;
                let since_s = line.truth_s - 100.0;
                let place = [10.0, 20.0, 30.0, 60.0, 120.0]
                    .iter()
                    .position(|&end| since_s < end);
                if let Some(sum) = place.and_then(|place| sums.get_mut(place)) {
                    *sum = (sum.0 + error_ms * error_ms, sum.1 + 1.0);
                }
            }
        }
        let cells = sums.map(|(sum, n): (f64, f64)| format!("{:.2}", (sum / n).sqrt()));
        println!("| {rate_hz} Hz | {} |", cells.join(" | "));
    }
}

fn main() {
    // `cargo test` runs benchmarks too, to see that they build.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    println!("Root-mean-square error of the time, in ms.\n");
    clocked();
    plain();
    beginning();
    stalls::table();
}
