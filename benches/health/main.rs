//! What the watch over the probes' health finds and what it makes up:
//! `cargo bench --bench health [-- sound HOURS | faults RUNS | settling RUNS] [from=SEED]
//! [only=WORD]`; the word is one of a make's or a fault's name.
//!
//! Sound and ill records come from a generator that shares nothing with the program
//! (`tests/health_model`). All data are invented.

#![expect(clippy::print_stdout, reason = "a study prints its table")]

#[path = "../../tests/health_model/mod.rs"]
mod health_model;
mod settling;

use std::collections::BTreeMap;
use std::time::Instant;

use duskmark::sampler::{Event, Finding, Health, Sign};
use health_model::{Ill, MAKES, Make, Record, row_of};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = words.iter().find_map(|w| w.parse::<u64>().ok());
    let from = words
        .iter()
        .find_map(|w| w.strip_prefix("from=")?.parse().ok())
        .unwrap_or(0);
    let asked = |word: &str| {
        let some = ["sound", "faults", "settling"]
            .iter()
            .any(|w| words.iter().any(|x| x == w));
        !some || words.iter().any(|w| w == word)
    };
    let only = words.iter().find_map(|w| w.strip_prefix("only="));
    let wanted = |name: &str| only.is_none_or(|only| name.contains(only));
    if asked("sound") {
        sound(number.unwrap_or(1000), from, wanted);
    }
    if asked("faults") {
        faults(number.unwrap_or(100), from, wanted);
    }
    if asked("settling") {
        settling::study(number.unwrap_or(200), from);
    }
}

/// Events of a record with their times in seconds, and its rows.
fn watch(record: &Record, settling: bool, each: impl FnMut(f64, &Event)) -> u64 {
    let mut each = each;
    let mut health = Health::new(settling);
    let mut findings = Vec::new();
    let mut rows = 0;
    record.run(|t_s, values| {
        rows += 1;
        let mut row = row_of(t_s, values);
        health.push(&mut row, &mut findings);
        for finding in findings.drain(..) {
            if let Finding::Event(event) = finding {
                each(t_s, &event);
            }
        }
    });
    rows
}

fn length_s(make: Make) -> f64 {
    match make {
        Make::Days => 14.0 * 86_400.0,
        Make::FromTheFridge => 2.0 * 3600.0,
        _ => 5.0 * 3600.0,
    }
}

/// False alarms in sound records, at least `hours` of each make.
fn sound(hours: u64, from: u64, wanted: impl Fn(&str) -> bool) {
    println!(
        "make                                          hours  records  rows/1e6  false alarms"
    );
    for (make, name) in MAKES.into_iter().filter(|(_, name)| wanted(name)) {
        let length_s = length_s(make);
        let records = (hours as f64 * 3600.0 / length_s).ceil().max(20.0) as u64;
        let (mut alarms, mut rows, begin) = (0_u32, 0, Instant::now());
        for seed in from..from + records {
            let record = Record::sound(make, seed, length_s);
            let settling = make == Make::FromTheFridge || make == Make::Steady;
            rows += watch(&record, settling, |t_s, event| {
                if !event.detail.contains(" is over") {
                    alarms += 1;
                    println!(
                        "  seed {seed} at {t_s:.0} s, channel {:?} of {}, {} s rows, step {}: {}",
                        event.channel,
                        record.channels,
                        record.every_s,
                        record.step_degc,
                        event.detail
                    );
                }
            });
        }
        println!(
            "{name:45} {:6.0} {records:8} {:9.2} {alarms:8}   ({:.2} µs a row, generator and all)",
            records as f64 * length_s / 3600.0,
            rows as f64 / 1e6,
            begin.elapsed().as_secs_f64() * 1e6 / rows as f64
        );
    }
}

/// Delay and misses of each kind of fault.
fn faults(runs: u64, from: u64, wanted: impl Fn(&str) -> bool) {
    println!(
        "\nkind               rows every  step     found  median delay    95 %   other signs  on others"
    );
    let kinds: [(&str, Ill, &[Sign]); 9] = [
        ("stuck", Ill::Stuck, &[Sign::Stuck, Sign::Saturated]),
        ("saturated", Ill::Saturated, &[Sign::Saturated, Sign::Stuck]),
        ("noisy, 1 °C", Ill::Noisy { degc: 1.0 }, &[Sign::Noisy]),
        ("quiet", Ill::Quiet, &[Sign::Quiet, Sign::Stuck]),
        (
            "spikes of 5 °C",
            Ill::Spikes {
                degc: 5.0,
                every_rows: 100.0,
            },
            &[Sign::Spike],
        ),
        (
            "drift 0.05/min",
            Ill::Drift { degc_per_min: 0.05 },
            &[Sign::Drift],
        ),
        (
            "drift 0.2/min",
            Ill::Drift { degc_per_min: 0.2 },
            &[Sign::Drift],
        ),
        ("loose", Ill::Loose { every_rows: 30.0 }, &[Sign::Loose]),
        (
            "wander of 0.8 °C",
            Ill::Wander {
                degc: 0.8,
                period_s: 600.0,
            },
            &[Sign::Wander],
        ),
    ];
    for (name, ill, expected) in kinds.into_iter().filter(|(name, ..)| wanted(name)) {
        for (every_s, step_degc) in [
            (0.25, 0.01),
            (1.0, 0.001),
            (1.0, 0.0625),
            (1.0, 0.1),
            (60.0, 0.01),
            (60.0, 0.1),
        ] {
            one_kind(name, ill, expected, (every_s, step_degc), (runs, from));
        }
    }
}

fn one_kind(
    name: &str,
    ill: Ill,
    expected: &[Sign],
    (every_s, step_degc): (f64, f64),
    (runs, from): (u64, u64),
) {
    let settling = matches!(ill, Ill::Drift { .. });
    let make = if settling || matches!(ill, Ill::Wander { .. }) {
        Make::Steady
    } else {
        Make::Lessons
    };
    let begin_s = if every_s > 5.0 { 8.0 * 3600.0 } else { 1200.0 };
    let patience_s = if every_s > 5.0 { 12.0 * 3600.0 } else { 3600.0 };
    let mut delays = Vec::new();
    let (mut others, mut elsewhere) = (BTreeMap::new(), 0);
    for seed in from + 100_000..from + 100_000 + runs {
        let record = Record {
            make,
            seed,
            every_s,
            step_degc,
            channels: 2,
            length_s: begin_s + patience_s,
            ill: Some((0, begin_s, ill)),
        };
        let mut delay = None;
        watch(&record, settling, |t_s, event| {
            let Some(sign) = expected
                .iter()
                .chain(&[
                    Sign::Stuck,
                    Sign::Saturated,
                    Sign::Noisy,
                    Sign::Quiet,
                    Sign::Spike,
                    Sign::Drift,
                    Sign::Loose,
                    Sign::Wander,
                ])
                .find(|sign| event.detail.starts_with(&format!("{}:", sign.code())))
            else {
                return;
            };
            if event.channel != Some(0) {
                elsewhere += 1;
                if std::env::var("EACH").is_ok() {
                    println!(
                        "    seed {seed} at {t_s:.0} s on the other channel: {}",
                        event.detail
                    );
                }
            } else if expected.contains(sign) && t_s >= begin_s {
                delay.get_or_insert(t_s - begin_s);
            } else {
                *others.entry(sign.code()).or_insert(0_u32) += 1;
            }
        });
        delays.extend(delay);
    }
    delays.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let index = (share * runs as f64).ceil() as usize;
        delays
            .get(index.saturating_sub(1))
            .map_or("–".to_owned(), |s| format!("{s:.0} s"))
    };
    println!(
        "{name:18} {every_s:8} s {step_degc:8} {:4} of {runs} {:>10} {:>10}   {others:?}  {elsewhere}",
        delays.len(),
        at(0.5),
        at(0.95)
    );
}
