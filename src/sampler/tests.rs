//! The whole path of a bench, against the virtual board that knows the truth.

use proptest::prelude::*;

use super::*;
use crate::sim::{BoardConfig, Fault, FaultKind, Happening, Speech, VirtualBoard, lesson};
use crate::wire::Verdict;

/// What the host saw, and what was true: (sampled, tip temperatures).
struct Story {
    happenings: Vec<Happening>,
    truth: Vec<(f64, Vec<f64>)>,
    offsets: Vec<f64>,
    baud: Option<u32>,
}

fn story(config: BoardConfig) -> Story {
    let offsets = config.samples.iter().map(|s| s.probe.offset_degc).collect();
    let baud = config.link.baud;
    let happenings: Vec<Happening> = VirtualBoard::new(config).unwrap().collect();
    let truth = happenings
        .iter()
        .filter_map(|happening| match happening {
            Happening::Bytes(burst) => {
                let sampled_s = burst.sampled_s?;
                Some((sampled_s, burst.tip_degc.to_vec()))
            }
            _ => None,
        })
        .collect();
    Story {
        happenings,
        truth,
        offsets,
        baud,
    }
}

fn ns(t_s: f64) -> i64 {
    (t_s * 1e9).round() as i64
}

fn products(story: &Story) -> (Vec<Row>, Vec<Event>) {
    let mut sampler = Sampler::new(SamplerSetup {
        baud: story.baud,
        ..SamplerSetup::default()
    });
    let mut out = Vec::new();
    sampler.opened(0, "virtual", &mut out);
    let mut last_ns = 0;
    for happening in &story.happenings {
        last_ns = ns(happening.at_s());
        match happening {
            Happening::Bytes(burst) => sampler.bytes(last_ns, &burst.bytes, &mut out),
            Happening::Unplugged { .. } => sampler.lost(last_ns, "pulled", &mut out),
            Happening::Replugged { .. } => sampler.opened(last_ns, "virtual", &mut out),
        }
    }
    sampler.finish(last_ns, &mut out);
    let mut rows = Vec::new();
    let mut events = Vec::new();
    for product in out {
        match product {
            Product::Row(row) => rows.push(row),
            Product::Event(event) => events.push(event),
        }
    }
    (rows, events)
}

/// The largest errors of time in seconds and of temperature in °C of rows that are not marked late.
fn worst(story: &Story, rows: &[Row]) -> (f64, f64) {
    let (mut time, mut degc) = (0.0_f64, 0.0_f64);
    for row in rows {
        let t_s = row.t_ns as f64 / 1e9;
        let after = story
            .truth
            .partition_point(|(sampled_s, _)| *sampled_s < t_s);
        let near = [after.wrapping_sub(1), after]
            .into_iter()
            .filter_map(|i| story.truth.get(i))
            .min_by(|a, b| (a.0 - t_s).abs().total_cmp(&(b.0 - t_s).abs()))
            .unwrap();
        if !row.doubts.late {
            time = time.max((near.0 - t_s).abs());
        }
        for (channel, (tip, offset)) in near.1.iter().zip(&story.offsets).enumerate() {
            let read = row.degc(channel);
            if read.is_finite() {
                degc = degc.max((read - tip - offset).abs());
            }
        }
    }
    (time, degc)
}

/// A sampler that was given this text in one read at 1 s, and what came of it.
fn told(setup: SamplerSetup, text: &str) -> (Sampler, Vec<Product>) {
    let mut sampler = Sampler::new(setup);
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    sampler.bytes(1_000_000_000, text.as_bytes(), &mut out);
    (sampler, out)
}

#[test]
fn what_is_known_of_a_board_that_introduces_itself() {
    let hello = "!duskmark 1 id=a channels=1 unit=degc*208B\n";
    let (sampler, _) = told(SamplerSetup::default(), "");
    assert_eq!(
        (sampler.channels(), sampler.usual_interval_ns()),
        (None, None)
    );
    assert!(sampler.hello().is_none() && sampler.dialect().is_none());
    assert!(sampler.converter().is_none() && !sampler.has_checksums());
    assert!(!sampler.wants_hello() && sampler.finding().verdict() == Verdict::Undecided);
    assert_eq!(sampler.reason(), "0 lines so far are too few to tell");

    let (sampler, _) = told(SamplerSetup::default(), hello);
    assert_eq!(sampler.channels(), Some(1));
    assert_eq!(sampler.names(), ["probe 1"]);
    assert_eq!(sampler.labels(), None);
    assert_eq!(sampler.hello().map(|h| h.board_id.as_str()), Some("a"));
    assert_eq!(sampler.dialect().map(Dialect::name), Some("native"));
    assert!(sampler.has_checksums() && sampler.converter().is_some());
    assert!(!sampler.wants_hello() && sampler.fault().is_none());
    assert_eq!(
        sampler.reason(),
        "duskmark's own lines: the board has introduced itself"
    );
    assert_eq!(
        sampler.finding().verdict(),
        Verdict::Decided(crate::wire::DialectKind::Native)
    );
    let named = SamplerSetup {
        samples: vec!["moss".into()],
        ..SamplerSetup::default()
    };
    assert_eq!(told(named, hello).0.names(), ["moss"]);
}

#[test]
fn native_lines_wait_until_the_board_says_what_they_are() {
    let line = ">17,4250,33120,30011*1ECC\n";
    let (mut sampler, mut out) = told(SamplerSetup::default(), line);
    assert!(sampler.wants_hello());
    assert!(!out.iter().any(|p| matches!(p, Product::Row(_))));
    out.clear();
    sampler.finish(2_000_000_000, &mut out);
    let Some(Product::Event(event)) = out.last() else {
        panic!("{out:?}")
    };
    assert_eq!(
        event.detail,
        "1 lines were left out: the board never said what they are"
    );
}

#[test]
fn after_the_port_came_back_lines_wait_for_whose_they_are() {
    let hello = "!duskmark 1 id=a channels=1 unit=degc*208B\n";
    let sample = |seq: u32, degc: f64| {
        let mut line = Vec::new();
        let field = crate::wire::Field::Number {
            value: degc,
            decimals: 1,
        };
        crate::wire::encode_sample(&mut line, seq, seq * 1000, &[field]);
        line
    };
    let (mut sampler, mut out) = told(SamplerSetup::default(), hello);
    sampler.bytes(2_000_000_000, &sample(2, 20.5), &mut out);
    sampler.lost(3_000_000_000, "pulled", &mut out);
    sampler.opened(4_000_000_000, "p", &mut out);
    sampler.bytes(5_000_000_000, &sample(3, 99.9), &mut out);
    assert!(sampler.wants_hello());
    let rows = |out: &[Product]| {
        let rows = out.iter().filter(|p| matches!(p, Product::Row(_)));
        rows.count()
    };
    assert_eq!(rows(&out), 1);
    sampler.bytes(5_100_000_000, hello.as_bytes(), &mut out);
    assert!(!sampler.wants_hello());
    assert_eq!(rows(&out), 2);
}

#[test]
fn numbers_that_cannot_become_temperatures_are_told_once_with_the_reason() {
    let setup = SamplerSetup {
        probes: ProbeSetup {
            unit: Some(crate::wire::Unit::Adc),
            ..ProbeSetup::default()
        },
        ..SamplerSetup::default()
    };
    let (sampler, out) = told(setup, "x\n100,200\n100,200\n100,200\n100,200\n");
    assert_eq!(sampler.fault(), Some(&SetupFault::NoFullScale));
    assert!(sampler.converter().is_none());
    let told = out.iter().filter(|product| {
        matches!(product, Product::Event(e) if e.detail == SetupFault::NoFullScale.to_string())
    });
    assert_eq!(told.count(), 1, "{out:?}");
    assert!(!out.iter().any(|p| matches!(p, Product::Row(_))));
}

#[test]
fn labels_and_the_usual_interval_are_learnt_from_lines() {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    for k in 1..12_i64 {
        let line = format!("slate={}.5 moss={}.5\n", 20 + k, 30 + k);
        sampler.bytes(k * 500_000_000, line.as_bytes(), &mut out);
    }
    assert_eq!(sampler.channels(), Some(2));
    assert_eq!(sampler.names(), ["slate", "moss"]);
    let labels: Vec<&str> = sampler.labels().unwrap().iter().map(|l| &**l).collect();
    assert_eq!(labels, ["slate", "moss"]);
    assert_eq!(sampler.usual_interval_ns(), Some(500_000_000));
    assert!(!sampler.has_checksums() && sampler.hello().is_none());
}

fn short_lesson(seed: u64) -> BoardConfig {
    let mut config = lesson(seed);
    config.end_s = Some(300.0);
    config
}

#[test]
fn every_row_of_a_sound_board_is_the_truth_at_its_time() {
    let story = story(short_lesson(11));
    let (rows, events) = products(&story);
    assert_eq!(rows.len(), story.truth.len());
    let (time_s, degc) = worst(&story, &rows);
    // The cable's delay of up to 16 ms is taken out but for its smallest; noise is 8 mK.
    assert!(time_s < 0.02, "{time_s} s");
    assert!(degc < 0.06, "{degc} °C");
    let kinds: Vec<EventKind> = events.iter().map(|e| e.kind).collect();
    assert_eq!(
        kinds,
        [EventKind::PortOpen, EventKind::Dialect, EventKind::Hello]
    );
}

#[test]
fn faults_cost_rows_and_never_make_a_wrong_one() {
    for seed in 0..20 {
        let mut config = short_lesson(seed);
        let at = |k: u64| 5.0 + ((k * 7 + seed * 13) % 280) as f64;
        let kinds = [
            FaultKind::Garbage { bytes: 200 },
            FaultKind::FlippedBit,
            FaultKind::LostLine,
            FaultKind::OpenThermistor {
                channel: 0,
                for_s: 4.0,
            },
            FaultKind::ShortedThermistor {
                channel: 1,
                for_s: 4.0,
            },
            FaultKind::Reset,
            FaultKind::Silence { for_s: 5.0 },
            FaultKind::Hold { for_s: 3.0 },
            FaultKind::Unplug { for_s: 6.0 },
            FaultKind::FlippedBit,
            FaultKind::Garbage { bytes: 1 },
        ];
        config.faults = (0..)
            .zip(kinds)
            .map(|(k, kind)| Fault { at_s: at(k), kind })
            .collect();
        let story = story(config);
        let (rows, events) = products(&story);
        assert!(
            rows.len() > story.truth.len() * 3 / 4,
            "seed {seed}: {} rows",
            rows.len()
        );
        assert!(rows.windows(2).all(|pair| pair[0].t_ns < pair[1].t_ns));
        let (_, degc) = worst(&story, &rows);
        assert!(degc < 0.25, "seed {seed}: {degc} °C");
        assert!(
            events.iter().any(|e| e.kind == EventKind::BadLine),
            "seed {seed}"
        );
        assert!(
            events.iter().any(|e| e.kind == EventKind::PortLost),
            "seed {seed}"
        );
    }
}

#[test]
fn every_way_of_speaking_gives_the_same_temperatures() {
    for speech in [Speech::Plain, Speech::Labelled, Speech::Json] {
        let mut config = short_lesson(3);
        config.speech = speech;
        let story = story(config);
        let (rows, _) = products(&story);
        assert!(
            rows.len() + 3 > story.truth.len(),
            "{speech:?}: {} rows",
            rows.len()
        );
        let (_, degc) = worst(&story, &rows);
        assert!(degc < 0.06, "{speech:?}: {degc} °C");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Cut anywhere, the same bytes at the same arrival give the same rows.
    #[test]
    fn cuts_of_the_stream_change_nothing(cuts in proptest::collection::vec(1..40usize, 1..60)) {
        let mut config = short_lesson(5);
        config.end_s = Some(8.0);
        config.faults = vec![
            Fault { at_s: 3.0, kind: FaultKind::Garbage { bytes: 64 } },
            Fault { at_s: 5.0, kind: FaultKind::Reset },
        ];
        let bytes: Vec<u8> = VirtualBoard::new(config)
            .unwrap()
            .filter_map(|happening| match happening {
                Happening::Bytes(burst) => Some(burst.bytes),
                _ => None,
            })
            .flatten()
            .collect();
        let fed = |cuts: &[usize]| {
            let mut sampler = Sampler::new(SamplerSetup::default());
            let mut out = Vec::new();
            sampler.opened(0, "p", &mut out);
            let mut rest = bytes.as_slice();
            for &cut in cuts.iter().cycle() {
                if rest.is_empty() {
                    break;
                }
                let (piece, tail) = rest.split_at(cut.min(rest.len()));
                sampler.bytes(1_000_000_000, piece, &mut out);
                rest = tail;
            }
            out
        };
        prop_assert_eq!(fed(&cuts), fed(&[bytes.len()]));
    }

    /// Nothing that a board can send makes the sampler panic or its times fall.
    #[test]
    fn no_bytes_make_it_panic(
        pieces in proptest::collection::vec(
            (0..2_000_000_000_i64, proptest::collection::vec(any::<u8>(), 0..80)), 0..40),
    ) {
        let mut sampler = Sampler::new(SamplerSetup::default());
        let mut out = Vec::new();
        sampler.opened(0, "p", &mut out);
        let mut t_ns = 0;
        for (step_ns, bytes) in pieces {
            t_ns += step_ns;
            sampler.bytes(t_ns, &bytes, &mut out);
        }
        sampler.finish(t_ns, &mut out);
        let times: Vec<i64> = out
            .iter()
            .filter_map(|p| match p {
                Product::Row(row) => Some(row.t_ns),
                Product::Event(_) => None,
            })
            .collect();
        prop_assert!(times.windows(2).all(|pair| pair[0] < pair[1]));
    }
}

/// Rows of a board without a clock that sends a line at each of these times in ms.
pub(super) fn plain(at_ms: impl IntoIterator<Item = i64>) -> Vec<Row> {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    sampler.bytes(0, b"half of a line\n", &mut out);
    let mut last_ns = 0;
    for ms in at_ms {
        last_ns = ms * 1_000_000;
        sampler.bytes(last_ns, b"20.5,21.5\n", &mut out);
    }
    sampler.finish(last_ns, &mut out);
    let row = |product: Product| match product {
        Product::Row(row) => Some(row),
        Product::Event(_) => None,
    };
    out.into_iter().filter_map(row).collect()
}
