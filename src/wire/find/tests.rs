//! Which dialect it is: from whole streams, with what stands around the readings.

use proptest::prelude::*;

use crate::wire::{DialectKind, Finder, Framer, Verdict, encode_hello};
use crate::wire::{Hello, Unit};

/// What a finder makes of a stream that begins with the opening of a port.
fn found(stream: &[u8]) -> Finder {
    let mut framer = Framer::new();
    framer.after_open();
    let mut finder = Finder::new();
    framer.push(stream, |line| finder.look(&line));
    finder
}

#[test]
fn each_dialect_is_found_with_a_reason() {
    use DialectKind::{Json, Labelled, Native, Plain};
    let table: [(&[u8], DialectKind, &str); 9] = [
        (b"0,33120,30011*5A7E\n>17,4250,33120,30011*1ECC\n", Native, "native: 1 of 2 lines has a right checksum"),
        (b"\n!duskmark 1 id=a channels=1 unit=degc*208B\n", Native, "duskmark's own lines: the board has introduced itself"),
        (b"4,25.1\n23.4,25.1\n23.4,25.1\n23.5,25.1\n", Plain, "plain: 3 of 4 lines are 2 numbers with separators"),
        (b"\n23.4\n23.4\n23.5\n", Plain, "plain: 3 of 3 lines are one number"),
        (b"\nhello\nslate,moss\n23.4,25.1\n23.4,25.1\n23.5,25.1\n", Plain, "plain: 3 of 5 lines are 2 numbers with separators"),
        (b"\nT1: 23.4 C\nT2: 25.1 C\nT1: 23.5 C\n", Labelled, "labelled: 3 of 3 lines are labels with numbers"),
        (b"\nreading...\nslate=1 moss=2\nreading...\nslate=1 moss=2\nreading...\nslate=1 moss=2\n", Labelled, "labelled: 3 of 6 lines are labels with numbers"),
        (b"\n{\"a\":1}\n{\"a\":1}\n{\"a\":1}\n", Json, "json: 3 of 3 lines are JSON objects with numbers"),
        (b"\n{\"a\":1}\nnoise\n{\"a\":1}\n\n{\"a\":1,\"b\":2}\n", Json, "json: 3 of 4 lines are JSON objects with numbers"),
    ];
    for (stream, kind, reason) in table {
        let finder = found(stream);
        assert_eq!(
            finder.verdict(),
            Verdict::Decided(kind),
            "{}",
            stream.escape_ascii()
        );
        assert_eq!(finder.reason(), reason, "{}", stream.escape_ascii());
    }
}

#[test]
fn too_little_decides_nothing() {
    for stream in [
        b"".as_slice(),
        b"\n23.4,25.1\n23.4,25.1\n",
        // The first line may be half of one, so it speaks for nothing.
        b"23.4,25.1\n23.4,25.1\n23.4,25.1\n",
        b"\n1\n1,2\n1,2,3\n1\n1,2\n",
        b"\nnan,nan\nnan,nan\nnan,nan\n",
        b"\n>17,4250,33120,30011*1ECD\n",
    ] {
        let finder = found(stream);
        assert_eq!(
            finder.verdict(),
            Verdict::Undecided,
            "{}",
            stream.escape_ascii()
        );
        assert!(
            finder.reason().contains("too few to tell"),
            "{}",
            finder.reason()
        );
    }
}

#[test]
fn what_fits_nothing_is_described() {
    let noise: Vec<u8> = (0..400_u32).map(|n| (n * 97 % 251) as u8).collect();
    let table: [(Vec<u8>, &str); 5] = [
        (
            noise,
            "% of the bytes are no text: this looks like another baud rate",
        ),
        (
            b"\nGood morning\n".repeat(9),
            "9 lines of text, but no readings in a form that is understood",
        ),
        (
            b">17,4250,33120,30011*1ECD\n".repeat(3),
            "native lines, but 3 of 3 have a wrong checksum and none a right one",
        ),
        (
            [vec![b'x'; 300], b"\n".to_vec()].concat(),
            "1 of 1 lines are too long to be readings",
        ),
        (Vec::new(), "no line has come"),
    ];
    for (stream, reason) in table {
        let mut finder = found(&stream);
        assert!(matches!(finder.conclude(), Verdict::Unknown(_)), "{reason}");
        assert!(
            finder.reason().ends_with(reason),
            "{} / {reason}",
            finder.reason()
        );
    }
}

#[test]
fn one_fifth_of_strange_bytes_is_not_another_baud_rate_and_more_is() {
    let stream = |strange: usize| {
        let mut line = vec![b'x'; 80 - strange];
        line.extend(vec![0x80; strange]);
        line.push(b'\n');
        [b"\n".to_vec(), line].concat()
    };
    for (strange, reason) in [
        (
            16,
            "1 lines of text, but no readings in a form that is understood",
        ),
        (
            18,
            "22 % of the bytes are no text: this looks like another baud rate",
        ),
    ] {
        let mut finder = found(&stream(strange));
        let Verdict::Unknown(statistics) = finder.conclude() else {
            panic!("{:?}", finder.verdict())
        };
        assert_eq!(statistics.strange_bytes as usize, strange);
        let share = strange as f64 / 80.0;
        assert!((statistics.strange_share() - share).abs() < 1e-12);
        assert_eq!(finder.reason(), reason);
    }
}

#[test]
fn many_lines_that_fit_nothing_are_unknown_without_being_asked() {
    let mut stream = b"\nGood morning".repeat(20);
    assert!(matches!(found(&stream).verdict(), Verdict::Unknown(_)));
    // Long boot text is no reason to give up.
    stream.extend_from_slice(b"\n23.4\n23.4\n23.4\n");
    assert_eq!(
        found(&stream).verdict(),
        Verdict::Decided(DialectKind::Plain)
    );
}

#[test]
fn a_newer_protocol_is_told_at_once() {
    let finder = found(b"\n!duskmark 2 id=K7F2 channels=2 unit=adc*0304\n");
    let Verdict::Unknown(statistics) = finder.verdict() else {
        panic!("{:?}", finder.verdict())
    };
    assert_eq!(statistics.other_version, Some(2));
    assert!(
        finder.reason().contains("speaks version 2"),
        "{}",
        finder.reason()
    );
}

#[test]
fn a_decision_stays_except_for_a_native_hello() {
    let plain = b"\n23.4,25.1\n23.4,25.1\n23.4,25.1\n".to_vec();
    let labelled = b"slate=1\nslate=1\nslate=1\nslate=1\n";
    let stayed = found(&[&plain[..], labelled].concat());
    assert_eq!(stayed.verdict(), Verdict::Decided(DialectKind::Plain));
    let hello = Hello {
        version: 1,
        board_id: "K7F2".to_owned(),
        channels: 2,
        unit: Unit::Degc,
        full_scale: None,
        fixed_ohm: None,
        ntc_side: None,
        period_ms: Some(250),
        skew_us: None,
    };
    let mut stream = plain;
    encode_hello(&mut stream, &hello);
    assert_eq!(
        found(&stream).verdict(),
        Verdict::Decided(DialectKind::Native)
    );
    // A damaged hello changes nothing.
    let damaged = stream.len() - 3;
    stream[damaged] ^= 1;
    assert_eq!(
        found(&stream).verdict(),
        Verdict::Decided(DialectKind::Plain)
    );
}

proptest! {
    #[test]
    fn noise_is_never_taken_for_a_native_board(stream in prop::collection::vec(any::<u8>(), 0..2000)) {
        let finder = found(&stream);
        prop_assert_ne!(finder.verdict(), Verdict::Decided(DialectKind::Native));
        prop_assert!(!finder.reason().is_empty());
    }
}
