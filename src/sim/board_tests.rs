//! The virtual board as a host sees it.

use proptest::prelude::*;

use super::*;
use crate::sim::cable::Burst;
use crate::sim::config::Speech;
use crate::sim::preset::{class_bench, fortnight, lesson};
use crate::wire::Unit;

fn board(config: BoardConfig) -> VirtualBoard {
    VirtualBoard::new(config).expect("a sound board")
}

fn short(seed: u64, end_s: f64) -> BoardConfig {
    BoardConfig {
        end_s: Some(end_s),
        ..BoardConfig::new(seed)
    }
}

fn faulty(end_s: f64, faults: &[(f64, FaultKind)]) -> BoardConfig {
    let faults = faults
        .iter()
        .map(|(at_s, kind)| Fault {
            at_s: *at_s,
            kind: kind.clone(),
        })
        .collect();
    BoardConfig {
        faults,
        ..short(7, end_s)
    }
}

fn bursts(config: BoardConfig) -> Vec<Burst> {
    board(config)
        .filter_map(|happening| match happening {
            Happening::Bytes(burst) => Some(burst),
            _ => None,
        })
        .collect()
}

fn stream(config: BoardConfig) -> Vec<u8> {
    bursts(config)
        .into_iter()
        .flat_map(|burst| burst.bytes)
        .collect()
}

fn lines(config: BoardConfig) -> Vec<String> {
    let text = String::from_utf8_lossy(&stream(config)).into_owned();
    text.split_terminator('\n').map(str::to_owned).collect()
}

/// Bit by bit from the published parameters of CRC-16/IBM-3740 (CRC `RevEng` catalogue: width 16,
/// polynomial 0x1021, initial value 0xFFFF, not reflected, no final xor; check value 0x29B1).
fn crc16(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0xFFFF, |crc, byte| {
        (0..8).fold(crc ^ (u16::from(*byte) << 8), |crc, _| {
            if crc & 0x8000 == 0 {
                crc << 1
            } else {
                (crc << 1) ^ 0x1021
            }
        })
    })
}

fn is_sealed(line: &str) -> bool {
    line.rsplit_once('*')
        .is_some_and(|(body, sum)| sum == format!("{:04X}", crc16(body.as_bytes())))
}

fn numbers(line: &str) -> Vec<u32> {
    let body = line.trim_start_matches('>').split('*').next().unwrap();
    body.split(',')
        .map(|field| field.parse().unwrap())
        .collect()
}

#[test]
fn every_line_of_a_sound_board_carries_its_checksum() {
    assert_eq!(crc16(b"123456789"), 0x29B1);
    let all = lines(short(1, 60.0));
    assert!(all[0].starts_with("!duskmark 1 id=K7F2 channels=2 unit=adc full=65536 fixed_ohm=10000 ntc=low period_ms=250 skew_us=112*"));
    assert!(all.len() > 200 && all.iter().all(|line| is_sealed(line)));
    assert!(all.iter().all(|line| line.len() < 120));
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    assert_eq!(stream(lesson(42)), stream(lesson(42)));
    assert_ne!(stream(lesson(42)), stream(lesson(43)));
}

#[test]
fn the_lessons_bytes_are_those_of_every_machine() {
    // Pinned when the model was made: a change here is a change of the virtual bench.
    assert_eq!(crc32fast::hash(&stream(lesson(42))), 2_850_040_152);
}

#[test]
fn sequence_and_clock_count_on_through_their_wraps() {
    let mut config = short(3, 40.0);
    config.clock.start_ms = u32::MAX - 10_000;
    config.clock.start_seq = u32::MAX - 50;
    let all: Vec<Vec<u32>> = lines(config)
        .iter()
        .skip(1)
        .map(|line| numbers(line))
        .collect();
    assert!(all.len() > 100);
    for pair in all.windows(2) {
        assert_eq!(pair[1][0].wrapping_sub(pair[0][0]), 1);
        assert_eq!(pair[1][1].wrapping_sub(pair[0][1]), 250);
    }
    assert!(
        all[0][0] > all[99][0] && all[0][1] > all[99][1],
        "both have wrapped"
    );
}

#[test]
fn the_clock_runs_as_fast_as_stated() {
    let mut config = short(3, 3600.0);
    config.clock.ppm = 1500.0;
    config.clock.ppm_per_degc = 0.0;
    config.link.cut_share = 0.0;
    let truth: Vec<f64> = bursts(config)
        .iter()
        .filter_map(|burst| burst.sampled_s)
        .collect();
    let per_sample = (truth[truth.len() - 1] - truth[0]) / (truth.len() - 1) as f64;
    assert!(
        (0.25 / per_sample - 1.0015).abs() < 1e-7,
        "{}",
        0.25 / per_sample
    );
}

#[test]
fn a_native_lesson_shows_the_rises_of_slate_and_moss() {
    let config = lesson(5);
    let (converter, off_s) = (config.clone(), config.lamp.on_off_s[0].1);
    let at = |t_s: f64| -> Vec<f64> {
        let burst = bursts(config.clone())
            .into_iter()
            .find(|b| b.sampled_s.is_some_and(|s| s > t_s))
            .unwrap();
        let text = String::from_utf8(burst.bytes).unwrap();
        let fields = numbers(&text);
        let law = converter.electronics.law;
        let ohm = |counts: u32| converter.divider().ohm_at(f64::from(counts) + 0.5).unwrap();
        let read: Vec<f64> = fields[2..].iter().map(|c| law.degc_at(ohm(*c))).collect();
        for ((read, true_degc), sample) in read.iter().zip(&burst.tip_degc).zip(&converter.samples)
        {
            assert!((read - true_degc - sample.probe.offset_degc).abs() < 0.06);
        }
        read
    };
    let (before, after) = (at(60.0), at(off_s));
    assert!((after[0] - before[0] - 12.0).abs() < 1.0);
    assert!((after[1] - before[1] - 6.0).abs() < 1.0);
}

#[test]
fn a_line_of_another_unit_or_dialect_reads_as_a_person_would_expect() {
    let first = |speech: Speech, unit: Unit| {
        let mut config = short(9, 4.0);
        config.speech = speech;
        config.electronics.unit = unit;
        config.electronics.decimals = 1;
        lines(config)
            .into_iter()
            .find(|line| !line.starts_with('!'))
            .unwrap()
    };
    assert!(
        first(Speech::Plain, Unit::Adc)
            .split(',')
            .all(|v| v.parse::<f64>().unwrap() > 15.0)
    );
    let labelled = first(Speech::Labelled, Unit::Adc);
    assert!(
        labelled.starts_with("slate=2") && labelled.contains(" moss=2"),
        "{labelled}"
    );
    let json: serde_json::Value = serde_json::from_str(&first(Speech::Json, Unit::Adc)).unwrap();
    assert!(json["slate"].as_f64().unwrap() > 15.0 && json["moss"].as_f64().unwrap() > 15.0);
    let ohm = first(Speech::Native, Unit::Ohm);
    let value: f64 = ohm.split(',').nth(2).unwrap().parse().unwrap();
    assert!((9_000.0..14_000.0).contains(&value), "{ohm}");
}

#[test]
fn broken_and_shorted_thermistors_go_to_the_ends_of_the_scale() {
    let open = FaultKind::OpenThermistor {
        channel: 0,
        for_s: 2.0,
    };
    let short = FaultKind::ShortedThermistor {
        channel: 1,
        for_s: 2.0,
    };
    let config = faulty(20.0, &[(5.0, open), (10.0, short)]);
    let all: Vec<Vec<u32>> = lines(config)
        .iter()
        .skip(1)
        .map(|line| numbers(line))
        .collect();
    assert_eq!(all.iter().filter(|n| n[2] == 65_535).count(), 8);
    assert_eq!(all.iter().filter(|n| n[3] == 0).count(), 8);
    assert!(all.iter().all(|n| n[2] != 0 && n[3] != 65_535));
}

#[test]
fn a_flipped_bit_breaks_one_checksum_and_a_lost_line_leaves_one_gap() {
    let config = faulty(
        20.0,
        &[(5.0, FaultKind::FlippedBit), (10.0, FaultKind::LostLine)],
    );
    let all = lines(config);
    assert_eq!(all.iter().filter(|line| !is_sealed(line)).count(), 1);
    let seq: Vec<u32> = all
        .iter()
        .skip(1)
        .filter(|line| is_sealed(line))
        .map(|l| numbers(l)[0])
        .collect();
    let gaps = seq.windows(2).filter(|w| w[1] != w[0] + 1).count();
    assert_eq!(gaps, 2, "the broken line and the lost one");
}

#[test]
fn a_reset_splices_half_a_line_and_starts_clock_and_sequence_again() {
    let all = lines(faulty(20.0, &[(8.1, FaultKind::Reset)]));
    let spliced = all
        .iter()
        .position(|line| line.starts_with('>') && line.contains("!duskmark"))
        .expect("a splice");
    assert!(!is_sealed(&all[spliced]));
    let next = numbers(&all[spliced + 1]);
    assert_eq!(
        (next[0], next[1]),
        (0, 1450),
        "boot takes 1.2 s, the first sample a period more"
    );
}

#[test]
fn an_unplugged_board_is_silent_then_says_hello() {
    let config = faulty(20.0, &[(6.0, FaultKind::Unplug { for_s: 3.0 })]);
    let all: Vec<Happening> = board(config).collect();
    let out = all
        .iter()
        .position(|h| matches!(h, Happening::Unplugged { .. }))
        .expect("pulled");
    assert_eq!(all[out], Happening::Unplugged { at_s: 6.0 });
    assert_eq!(all[out + 1], Happening::Replugged { at_s: 9.0 });
    let Happening::Bytes(hello) = &all[out + 2] else {
        panic!("no bytes after the replug")
    };
    assert!(hello.bytes.starts_with(b"!") && hello.arrival_s > 10.2);
}

#[test]
fn held_lines_arrive_all_at_once_and_silence_leaves_a_hole() {
    let hold = (5.0, FaultKind::Hold { for_s: 2.0 });
    let hush = (10.0, FaultKind::Silence { for_s: 3.0 });
    let all = bursts(faulty(20.0, &[hold, hush]));
    let at_once = all
        .iter()
        .filter(|b| (b.arrival_s - 7.0).abs() < 1e-9)
        .count();
    assert!(at_once >= 7, "{at_once}");
    let longest = all
        .windows(2)
        .map(|w| w[1].arrival_s - w[0].arrival_s)
        .fold(0.0, f64::max);
    assert!((2.9..3.4).contains(&longest), "{longest}");
}

#[test]
fn a_question_is_answered_at_once_and_a_new_period_is_obeyed() {
    let mut config = short(4, 400.0);
    config.period_ms = 60_000;
    let mut asked = board(config);
    assert!(
        matches!(asked.next_before(5.0), Some(Happening::Bytes(_))),
        "hello at boot"
    );
    // Whoever has looked ahead a minute still gets the answer now.
    assert!(asked.next_due_s().unwrap() > 60.0);
    asked.receive(b"?\n?period_ms=1", 5.0);
    asked.receive(b"00\n?period_ms=0\n", 5.1);
    let answers: Vec<Happening> = std::iter::from_fn(|| asked.next_before(5.2)).collect();
    let text: Vec<u8> = answers
        .iter()
        .filter_map(|h| {
            if let Happening::Bytes(b) = h {
                Some(b.bytes.clone())
            } else {
                None
            }
        })
        .flatten()
        .collect();
    let text = String::from_utf8(text).unwrap();
    assert_eq!(
        text.lines()
            .filter(|l| l.contains("period_ms=60000"))
            .count(),
        1
    );
    assert_eq!(
        text.lines()
            .filter(|l| l.contains("period_ms=100 "))
            .count(),
        2,
        "{text}"
    );
    assert!(text.lines().all(is_sealed));
}

#[test]
fn a_long_or_senseless_request_changes_nothing() {
    let mut board = board(short(4, 30.0));
    while board.next_before(3.0).is_some() {}
    board.receive(&[b'x'; 10_000], 3.0);
    board.receive(b"\nhello\n", 3.0);
    let rest: Vec<u8> = board
        .filter_map(|h| {
            if let Happening::Bytes(b) = h {
                Some(b.bytes)
            } else {
                None
            }
        })
        .flatten()
        .collect();
    assert!(!rest.contains(&b'!'));
}

#[test]
fn presets_are_sound_and_differ_where_they_should() {
    assert!(lesson(1).check().is_ok() && fortnight(1).check().is_ok());
    let benches: Vec<BoardConfig> = (0..8).map(|n| class_bench(1, n)).collect();
    assert!(benches.iter().all(|bench| bench.check().is_ok()));
    assert!(
        benches
            .windows(2)
            .all(|w| w[0].board_id != w[1].board_id && w[0].lamp != w[1].lamp)
    );
    let samples = bursts(fortnight(2))
        .iter()
        .filter(|b| b.sampled_s.is_some())
        .count();
    assert!((20_150..=20_170).contains(&samples), "{samples}");
}

#[test]
fn nonsense_is_refused_at_the_door() {
    let refuse = |change: fn(&mut BoardConfig)| {
        let mut config = BoardConfig::new(1);
        change(&mut config);
        VirtualBoard::new(config).is_err()
    };
    assert!(refuse(|c| c.samples.clear()));
    assert!(refuse(|c| c.board_id = "a b".to_owned()));
    assert!(refuse(|c| c.clock.ppm = f64::NAN));
    assert!(refuse(|c| c.link.batch_ms = (16.0, 1.0)));
    assert!(refuse(|c| c.electronics.unit = Unit::Kelvin));
    assert!(refuse(|c| c.end_s = Some(f64::INFINITY)));
    assert!(refuse(|c| c.faults.push(Fault {
        at_s: f64::NAN,
        kind: FaultKind::Reset
    })));
    assert!(refuse(|c| c.faults.push(Fault {
        at_s: 1.0,
        kind: FaultKind::OpenThermistor {
            channel: 2,
            for_s: 1.0
        },
    })));
}

fn any_fault() -> impl Strategy<Value = FaultKind> {
    let for_s = 0.05_f64..5.0;
    prop_oneof![
        (1_usize..200).prop_map(|bytes| FaultKind::Garbage { bytes }),
        Just(FaultKind::FlippedBit),
        Just(FaultKind::LostLine),
        Just(FaultKind::Reset),
        for_s.clone().prop_map(|for_s| FaultKind::Silence { for_s }),
        for_s.clone().prop_map(|for_s| FaultKind::Hold { for_s }),
        for_s.clone().prop_map(|for_s| FaultKind::Unplug { for_s }),
        (0_usize..2, for_s)
            .prop_map(|(channel, for_s)| FaultKind::OpenThermistor { channel, for_s }),
    ]
}

proptest! {
    #[test]
    fn nothing_is_early_or_out_of_order_whatever_goes_wrong(
        seed: u64,
        faults in proptest::collection::vec((0.0_f64..30.0, any_fault()), 0..6),
        period_ms in 20_u32..2000,
        baud in prop_oneof![Just(None), Just(Some(9600_u32)), Just(Some(115_200_u32))],
    ) {
        let mut config = faulty(30.0, &faults);
        config.seed = seed;
        config.period_ms = period_ms;
        config.link.baud = baud;
        let mut last_s = 0.0;
        let mut plugged = true;
        for happening in board(config) {
            prop_assert!(happening.at_s() >= last_s);
            last_s = happening.at_s();
            match happening {
                Happening::Unplugged { .. } => {
                    prop_assert!(plugged);
                    plugged = false;
                }
                Happening::Replugged { .. } => {
                    prop_assert!(!plugged);
                    plugged = true;
                }
                Happening::Bytes(burst) => {
                    prop_assert!(plugged && !burst.bytes.is_empty());
                    if let Some(sampled_s) = burst.sampled_s {
                        let wire_s = baud.map_or(0.0, |baud| 10.0 * burst.bytes.len() as f64 / f64::from(baud));
                        prop_assert!(burst.arrival_s >= sampled_s + wire_s + 0.001);
                        prop_assert_eq!(burst.bytes.last(), Some(&b'\n'));
                        prop_assert_eq!(burst.tip_degc.len(), 2);
                    }
                }
            }
        }
    }
}
