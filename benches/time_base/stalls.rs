//! What a host that does not look for a while makes of rows without a clock.

use duskmark::sampler::{Product, Sampler, SamplerSetup};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;

use super::ns;

/// A board without a clock whose host does not look for a while: rows' errors in seconds, whether they
/// are marked late, and whether they bear a gap.
fn stalled(seed: u64, lost: bool) -> Vec<(f64, bool, bool)> {
    let mut random = Pcg64::seed_from_u64(seed);
    let period_s = random.random_range(0.25..3.0);
    let from_s = random.random_range(30.0..120.0);
    let end_s = from_s + random.random_range(4.0 * period_s..120.0);
    let bytes_of_a_read = random.random_range(16..4096);
    let mut sampler = Sampler::new(SamplerSetup {
        baud: Some(115_200),
        ..SamplerSetup::default()
    });
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    let mut waiting: Vec<String> = Vec::new();
    for k in 0..((end_s + 60.0) / period_s) as u32 {
        let number = f64::from(k) / 100.0;
        let (line, truth_s) = (
            format!("{number:.2},20.00\n"),
            0.1 + f64::from(k) * period_s,
        );
        let at_s = truth_s + random.random_range(0.001..0.016);
        if (from_s..end_s).contains(&at_s) {
            waiting.push(line);
            continue;
        }
        if at_s >= end_s && !waiting.is_empty() {
            let room = waiting.len() / if lost { 2 } else { 1 };
            let all: String = waiting.drain(..).take(room).collect();
            let reads = all.as_bytes().chunks(bytes_of_a_read);
            for (read, ms) in reads.zip(0_i64..) {
                sampler.bytes(ns(end_s) + ms * 200_000, read, &mut out);
            }
        }
        sampler.bytes(ns(at_s), line.as_bytes(), &mut out);
    }
    sampler.finish(ns(end_s + 60.0), &mut out);
    let row = |product: Product| match product {
        Product::Row(row) => {
            let truth_s = 0.1 + (row.degc(0) * 100.0).round() * period_s;
            let error_s = (row.t_ns as f64 / 1e9 - truth_s).abs();
            Some((error_s, row.doubts.late, row.doubts.gap))
        }
        Product::Event(_) => None,
    };
    out.into_iter().filter_map(row).collect()
}

/// What a stall leaves wrong, marked and unmarked.
pub(super) fn table() {
    println!(
        "\n| 200 stalls of 4 intervals to 2 min | rows unmarked: worst | late: number, worst, rms | gaps |\n|---|---|---|---|"
    );
    for (name, lost) in [("all lines come", false), ("the newer half is lost", true)] {
        let rows: Vec<_> = (0..200).flat_map(|seed| stalled(seed, lost)).collect();
        let worst = |late: bool| {
            let errors = rows.iter().filter(|row| row.1 == late).map(|row| row.0);
            errors.fold(0.0, f64::max)
        };
        let late: Vec<f64> = rows.iter().filter(|row| row.1).map(|row| row.0).collect();
        let squares = late
            .iter()
            .fold(0.0, |sum, error_s| sum + error_s * error_s);
        println!(
            "| {name} | {:.3} s | {}, {:.3} s, {:.3} s | {} |",
            worst(false),
            late.len(),
            worst(true),
            (squares / late.len().max(1) as f64).sqrt(),
            rows.iter().filter(|row| row.2).count()
        );
    }
}
