//! What is said of rows: gaps, probes that come and go, corrections, flags.

use super::super::tests::plain;
use super::super::{Sampler, SamplerSetup};
use super::*;
use crate::wire::{Field, PROTOCOL_VERSION, Unit, encode_hello, encode_sample};

const MS: i64 = 1_000_000;

fn hello(period_ms: Option<u32>) -> Vec<u8> {
    let mut line = Vec::new();
    let hello = Hello {
        version: PROTOCOL_VERSION,
        board_id: "K7F2".into(),
        channels: 2,
        unit: Unit::Degc,
        full_scale: None,
        fixed_ohm: None,
        ntc_side: None,
        period_ms,
        skew_us: None,
    };
    encode_hello(&mut line, &hello);
    line
}

/// A native line each, at its own time in ms, with these fields; `None` stands for no reading.
fn native(setup: SamplerSetup, lines: &[(u32, u32, [Option<f64>; 2])]) -> Vec<Product> {
    let mut sampler = Sampler::new(setup);
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    sampler.bytes(0, &hello(Some(250)), &mut out);
    let mut last_ns = 0;
    for &(seq, ms, values) in lines {
        let number = |value| Field::Number { value, decimals: 1 };
        let fields = values.map(|value| value.map_or(Field::Empty, number));
        let mut line = Vec::new();
        encode_sample(&mut line, seq, ms, &fields);
        last_ns = i64::from(ms) * MS;
        sampler.bytes(last_ns, &line, &mut out);
    }
    sampler.finish(last_ns + 2000 * MS, &mut out);
    out
}

fn rows(out: &[Product]) -> Vec<Row> {
    let row = |product: &Product| match product {
        Product::Row(row) => Some(row.clone()),
        Product::Event(_) => None,
    };
    out.iter().filter_map(row).collect()
}

/// Events of a kind: when in ms, which channel, in which words.
fn said(out: &[Product], kind: EventKind) -> Vec<(i64, Option<usize>, String)> {
    let said = |product: &Product| match product {
        Product::Event(e) if e.kind == kind => Some((e.t_ns / MS, e.channel, e.detail.clone())),
        _ => None,
    };
    out.iter().filter_map(said).collect()
}

const BOTH: [Option<f64>; 2] = [Some(20.5), Some(21.5)];

#[test]
fn a_gap_is_flagged_and_told_with_what_was_lost() {
    let lines = [
        (0, 250, BOTH),
        (1, 500, BOTH),
        // Two and a half periods are none yet.
        (3, 1125, BOTH),
        (7, 2125, BOTH),
        (8, 2375, BOTH),
    ];
    let out = native(SamplerSetup::default(), &lines);
    let doubts: Vec<(u32, bool)> = rows(&out)
        .iter()
        .map(|row| (row.doubts.lost, row.doubts.gap))
        .collect();
    assert_eq!(
        doubts,
        [(0, false), (0, false), (1, false), (3, true), (0, false)]
    );
    // The gap at the end of the run is within the quiet minute of the one before.
    assert_eq!(
        said(&out, EventKind::Gap),
        [
            (1125, None, "1.000 s without a row, 3 lines lost".to_owned()),
            (
                4375,
                None,
                "1 more of this kind since the last one told".to_owned()
            ),
        ]
    );
    let out = native(SamplerSetup::default(), &lines[..2]);
    let at_end = (500, None, "2.000 s without a row".to_owned());
    assert_eq!(said(&out, EventKind::Gap), [at_end]);
}

#[test]
fn every_long_gap_is_told_however_soon_after_another() {
    let lines = [
        (0, 250, BOTH),
        (1, 500, BOTH),
        (2, 6000, BOTH),
        (3, 6250, BOTH),
        (4, 14_000, BOTH),
    ];
    let said = said(&native(SamplerSetup::default(), &lines), EventKind::Gap);
    let at: Vec<i64> = said.iter().map(|(at_ms, ..)| *at_ms).collect();
    assert_eq!(at[..2], [500, 6250], "{said:?}");
}

#[test]
fn where_no_period_is_stated_the_usual_interval_is_the_median() {
    let seconds = |gap_ms: i64| (1..=8).map(|k| k * 1000).chain([8000 + gap_ms]);
    for (gap_ms, gap) in [(2499, false), (2510, true)] {
        let rows = plain(seconds(gap_ms));
        let flagged: Vec<bool> = rows.iter().map(|row| row.doubts.gap).collect();
        assert_eq!(flagged.last(), Some(&gap), "{gap_ms} ms");
        assert!(flagged[..flagged.len() - 1].iter().all(|gap| !gap));
    }
    // Half-second rows in the minority make no gap of 2.4 s.
    let mixed = [
        500, 1000, 1500, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 10_400,
    ];
    assert!(plain(mixed).iter().all(|row| !row.doubts.gap));
}

#[test]
fn a_probe_that_goes_and_comes_is_told_once_each() {
    let line = |seq: u32, values| (seq, 250 + seq * 250, values);
    let out = native(
        SamplerSetup::default(),
        &[
            line(0, BOTH),
            line(1, [Some(20.5), None]),
            line(2, [Some(20.5), None]),
            line(3, BOTH),
        ],
    );
    assert_eq!(
        said(&out, EventKind::Probe),
        [
            (500, Some(1), "the board has no reading".to_owned()),
            (1000, Some(1), "reads again".to_owned()),
        ]
    );
    assert_eq!(rows(&out).len(), 4);
}

#[test]
fn what_a_calibration_adds_is_added_to_its_channel() {
    let setup = SamplerSetup {
        corrections: vec![Correction::default(), Correction::constant(-0.25)],
        ..SamplerSetup::default()
    };
    let out = native(setup, &[(0, 250, BOTH)]);
    let row = &rows(&out)[0];
    assert_eq!((row.degc(0), row.degc(1)), (20.5, 21.25));
}

#[test]
fn a_second_line_at_once_is_late() {
    let rows = plain((1..=30).map(|k| k * 1000).chain([30_004, 31_000]));
    let late: Vec<usize> = (0..rows.len()).filter(|k| rows[*k].doubts.late).collect();
    assert_eq!(late, [rows.len() - 2]);
}

#[test]
fn lines_of_a_stalled_read_get_their_own_seconds() {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    for k in 0..=30_i64 {
        sampler.bytes(k * 1000 * MS, b"20.5,21.5\n", &mut out);
    }
    let lines = |count: usize| b"20.5,21.5\n".repeat(count);
    sampler.bytes(35_004 * MS, &lines(5), &mut out);
    // Of the next five only two are left, and nobody can know which: perhaps the last.
    sampler.bytes(40_004 * MS, &lines(2), &mut out);
    sampler.finish(40_004 * MS, &mut out);
    let rows = rows(&out);
    let seconds = [31, 32, 33, 34, 35, 39, 40];
    let last = &rows[rows.len() - seconds.len()..];
    for (row, s) in last.iter().zip(seconds) {
        let off_ns = row.t_ns - s * 1000 * MS;
        assert!(off_ns.abs() < 20 * MS, "{s} s: {row:?}");
        assert_eq!(row.doubts.late, s >= 39, "{s} s");
    }
}

#[test]
fn counts_of_every_channel_become_temperatures() {
    let setup = || SamplerSetup {
        probes: crate::probe::ProbeSetup {
            unit: Some(Unit::Adc),
            full_scale: Some(1024),
            ..crate::probe::ProbeSetup::default()
        },
        ..SamplerSetup::default()
    };
    for lines in ["512,512\n", "T1=512 T2=512\n", "T1=512\nT2=512\n"] {
        let mut sampler = Sampler::new(setup());
        let mut out = Vec::new();
        sampler.opened(0, "p", &mut out);
        for k in 1..8_i64 {
            sampler.bytes(k * 1000 * MS, lines.as_bytes(), &mut out);
        }
        let rows = rows(&out);
        assert!(rows.len() >= 5, "{lines}");
        for row in rows {
            for channel in 0..2 {
                assert!((row.degc(channel) - 25.0).abs() < 1e-9, "{lines}: {row:?}");
            }
        }
    }
}

#[test]
fn flags_are_codes_with_a_space_between_them() {
    let doubts = Doubts::default();
    let readings = [
        Reading::Fault(ProbeFault::Open),
        Reading::Degc {
            value: 20.5,
            decimals: 1,
        },
    ];
    let row = |doubts: Doubts| Row {
        t_ns: 0,
        readings: readings.into_iter().collect(),
        doubts,
    };
    let slugs = ["slate".to_owned(), "moss".to_owned()];
    assert_eq!(row(doubts).flags(&slugs), "slate:open");
    let all = Doubts {
        lost: 3,
        gap: true,
        reset: true,
        merged: true,
        late: true,
        skewed: true,
        joined: true,
        ..doubts
    };
    assert_eq!(
        row(all).flags(&slugs),
        "lost:3 gap reset merged late skewed interpolated slate:open"
    );
}

#[test]
fn a_digital_probe_that_has_not_measured_yet_is_no_reading() {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    sampler.bytes(0, b"half of a line\n", &mut out);
    let lines = ["85.00,185.0", "23.4,24.1", "85.00,24.1", "23.5,24.1"];
    for (place, line) in (1..).zip(lines) {
        sampler.bytes(place * 500 * MS, format!("{line}\n").as_bytes(), &mut out);
    }
    let flags: Vec<Vec<&str>> = rows(&out)
        .iter()
        .map(|row| {
            let fault = |reading: &Reading| match reading {
                Reading::Degc { .. } => "",
                Reading::Fault(fault) => fault.code(),
            };
            row.readings.iter().map(fault).collect()
        })
        .collect();
    let none = vec!["", ""];
    assert_eq!(
        flags,
        [
            vec!["power-on", ""],
            none.clone(),
            vec!["power-on", ""],
            none
        ]
    );
    // The second time is too soon after the first to be told again.
    assert_eq!(said(&out, EventKind::Probe).len(), 2);
}
