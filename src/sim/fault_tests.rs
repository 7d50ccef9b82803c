//! The virtual board when things go wrong.

use proptest::prelude::*;

use super::tests::{board, bursts, faulty, is_sealed, lines, numbers};
use super::*;

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
fn a_board_that_ends_its_line_at_boot_is_heard_after_a_reset() {
    let mut config = faulty(20.0, &[(8.1, FaultKind::Reset)]);
    config.ends_line_at_boot = true;
    let all = lines(config);
    assert_eq!(
        all.iter()
            .filter(|line| line.starts_with("!duskmark") && is_sealed(line))
            .count(),
        2
    );
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
        let mut waking = board(config.clone());
        let mut woken = Vec::new();
        while let Some(wake_s) = waking.wake_s() {
            woken.extend(std::iter::from_fn(|| waking.next_before(wake_s)));
        }
        prop_assert!(woken.into_iter().eq(board(config.clone())), "a live user sees the same");
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
