//! The native protocol beyond its published vectors: round trips, damage, places of faults.

use proptest::prelude::*;

use crate::wire::{
    Dialect, Field, Frame, Framer, Hello, Labelled, LineFault, MAX_CHANNELS, Native, NtcSide,
    Sample, Unit, crc16, encode_hello, encode_remark, encode_sample, request_hello, request_period,
};

fn with_crc(body: &str) -> Vec<u8> {
    format!("{body}*{:04X}", crc16(body.as_bytes())).into_bytes()
}

#[test]
fn a_fault_says_where_it_is() {
    let number = |field, at| LineFault::Number { field, at };
    let table = [
        (">18,4500,1,2.", number(2, 11)),
        (">18,4500,1*2,3", number(1, 9)),
        (">18,4500,-,5", number(1, 9)),
        (
            ">18x,4500,1",
            LineFault::Counter {
                what: "sequence number",
                at: 1,
            },
        ),
        (
            ">18,-1,1",
            LineFault::Counter {
                what: "board clock",
                at: 4,
            },
        ),
        (
            ">18,4500",
            LineFault::FieldCount {
                found: 0,
                limit: MAX_CHANNELS,
            },
        ),
        (
            ">1,2,3,4,5,6,7,8,9,10,11",
            LineFault::FieldCount {
                found: 9,
                limit: MAX_CHANNELS,
            },
        ),
        (
            "!duskmark 1 id=a channels=2  unit=degc",
            LineFault::Syntax {
                at: 28,
                expected: "one key=value pair",
            },
        ),
        (
            "!duskmark 1 id=a channels=2 Speed=3 unit=degc",
            LineFault::Syntax {
                at: 28,
                expected: "one key=value pair",
            },
        ),
        (
            "!duskmark 1 id=a channels=2 unit=degc reset=POWER",
            LineFault::BadValue {
                key: "reset",
                at: 44,
            },
        ),
        (
            "!duskmark 1 id=a channels=2 unit=degc reset=abcdefghijklmnopq",
            LineFault::BadValue {
                key: "reset",
                at: 44,
            },
        ),
        (
            "!duskmark 1 id=a channels=12 unit=degc",
            LineFault::BadValue {
                key: "channels",
                at: 26,
            },
        ),
        (
            "!duskmark 1 id=a channels=2",
            LineFault::MissingKey { key: "unit" },
        ),
        (
            "!duskmark 1 id=a id=b",
            LineFault::RepeatedKey { key: "id" },
        ),
        (
            "!duskmark 7 anything",
            LineFault::NewerVersion {
                version: 7,
                known: 1,
            },
        ),
        (
            "!duskmark 9999999999",
            LineFault::NewerVersion {
                version: u32::MAX,
                known: 1,
            },
        ),
    ];
    for (body, expected) in table {
        assert_eq!(Native.parse(&with_crc(body)), Err(expected), "{body}");
    }
}

#[test]
fn a_word_for_no_number_spares_the_other_channels() {
    for word in ["nan", "NaN", "-inf", "ovf"] {
        let parsed = Native.parse(&with_crc(&format!(">18,4500,{word},30011")));
        let Ok(Frame::Sample(sample)) = parsed else {
            panic!("{word}: {parsed:?}")
        };
        let fields = [
            Field::NotANumber,
            Field::Number {
                value: 30011.0,
                decimals: 0,
            },
        ];
        assert_eq!(sample.fields[..], fields, "{word}");
    }
}

#[test]
fn messages_are_plain_sentences() {
    let damaged = Native
        .parse(b">17,4250,33121,30011*1ECC")
        .unwrap_err()
        .to_string();
    assert!(
        damaged.starts_with("the checksum does not fit: the line says 1ECC"),
        "{damaged}"
    );
    let newer = Native
        .parse(&with_crc("!duskmark 2 x"))
        .unwrap_err()
        .to_string();
    assert_eq!(
        newer,
        "the board speaks version 2 of the line protocol; version 1 is known here"
    );
}

#[test]
fn requests_are_lines_of_their_own() {
    assert_eq!(request_hello(), b"?\n");
    assert_eq!(request_period(250), b"?period_ms=250\n");
}

#[test]
fn a_remark_cannot_smuggle_control_characters() {
    let mut line = Vec::new();
    encode_remark(&mut line, "lid \u{1b}[2J open \u{b0}");
    let parsed = Native.parse(line.strip_suffix(b"\n").unwrap());
    assert_eq!(parsed, Ok(Frame::Remark("lid ?[2J open ?".to_owned())));
}

#[test]
fn nothing_of_an_earlier_line_stays_in_a_frame_that_is_used_again() {
    let labelled = Labelled.parse(b"slate: 24.9 C, moss: 22.1 C").unwrap();
    let lines = [
        with_crc(">17,4250,33120,30011,1,2"),
        with_crc(">18,4500,-3.25"),
        with_crc("!duskmark 1 id=a channels=2 unit=degc"),
        with_crc(">19,4750,1,2,x"),
        with_crc(">20,5000,5,,6"),
        b"# lid open".to_vec(),
    ];
    for first in &lines {
        for line in &lines {
            let mut frame = labelled.clone();
            let _ = Native.parse_into(first, &mut frame);
            let parsed = Native.parse_into(line, &mut frame).map(|()| frame);
            assert_eq!(parsed, Native.parse(line), "{}", line.escape_ascii());
        }
        let mut frame = labelled.clone();
        let parsed = Native.parse_into(first, &mut frame).map(|()| frame);
        assert_eq!(parsed, Native.parse(first), "{}", first.escape_ascii());
    }
}

/// Numbers that the protocol can carry, as they would be printed.
fn field() -> impl Strategy<Value = Field> {
    let number = (-9_999_999_999_i64..10_000_000_000, 0..6_u8).prop_map(|(scaled, decimals)| {
        // The value nearest to the printed digits, which is what reading them must give.
        let text = format!("{scaled}e-{decimals}");
        Field::Number {
            value: text.parse().unwrap(),
            decimals,
        }
    });
    prop_oneof![4 => number, 1 => Just(Field::Empty), 1 => Just(Field::NotANumber)]
}

fn hello() -> impl Strategy<Value = Hello> {
    let unit = prop_oneof![Just(Unit::Degc), Just(Unit::Ohm), Just(Unit::Adc)];
    let side = prop_oneof![Just(NtcSide::Low), Just(NtcSide::High)];
    let times = (
        prop::option::of(1..100_000_u32),
        prop::option::of(0..10_000_u32),
    );
    (
        "[A-Za-z0-9_.-]{1,24}",
        1..=8_u8,
        unit,
        1..=99_999_u32,
        1..=99_999_u32,
        side,
        times,
    )
        .prop_map(
            |(board_id, channels, unit, full, ohm, side, (period_ms, skew_us))| {
                let adc = unit == Unit::Adc;
                Hello {
                    version: 1,
                    board_id,
                    channels,
                    unit,
                    full_scale: adc.then_some(full),
                    fixed_ohm: adc.then_some(f64::from(ohm)),
                    ntc_side: adc.then_some(side),
                    period_ms,
                    skew_us: skew_us.filter(|_| !adc),
                }
            },
        )
}

fn sample_line() -> impl Strategy<Value = (Sample, Vec<u8>)> {
    (
        any::<u32>(),
        any::<u32>(),
        prop::collection::vec(field(), 1..=5),
    )
        .prop_map(|(seq, board_ms, fields)| {
            let mut line = Vec::new();
            encode_sample(&mut line, seq, board_ms, &fields);
            let fields = fields.into_iter().collect();
            let (seq, board_ms) = (Some(seq), Some(board_ms));
            (
                Sample {
                    seq,
                    board_ms,
                    fields,
                    ..Sample::default()
                },
                line,
            )
        })
}

/// All frames that a stream of bytes gives.
fn frames(stream: &[u8]) -> Vec<Frame> {
    let mut frames = Vec::new();
    Framer::new().push(stream, |line| frames.extend(line.parse(&Native)));
    frames
}

/// Every single flipped bit of a line (with its LF) gives no frame, or the very same one: the case
/// of a hexadecimal digit means nothing, and a line may also end with CR.
fn assert_no_flip_passes(line: &[u8], frame: &Frame) -> Result<(), TestCaseError> {
    for bit in 0..line.len() * 8 {
        let mut damaged = line.to_vec();
        damaged[bit / 8] ^= 1 << (bit % 8);
        damaged.push(b'\n');
        for passed in frames(&damaged) {
            prop_assert_eq!(&passed, frame, "bit {} of {}", bit, line.escape_ascii());
        }
    }
    Ok(())
}

#[test]
fn what_is_no_number_is_written_as_an_empty_field_or_a_word() {
    let number = |value| Field::Number { value, decimals: 1 };
    let mut line = Vec::new();
    let fields = [
        number(f64::NAN),
        number(f64::INFINITY),
        Field::Empty,
        Field::NotANumber,
        number(20.5),
    ];
    encode_sample(&mut line, 7, 250, &fields);
    assert!(
        line.starts_with(b">7,250,,,,nan,20.5*"),
        "{}",
        line.escape_ascii()
    );
}

proptest! {
    #[test]
    fn a_written_sample_reads_the_same((sample, line) in sample_line()) {
        prop_assert_eq!(frames(&line), [Frame::Sample(sample)]);
    }

    #[test]
    fn a_written_hello_reads_the_same(hello in hello()) {
        let mut line = Vec::new();
        encode_hello(&mut line, &hello);
        prop_assert_eq!(frames(&line), [Frame::Hello(hello)]);
    }

    #[test]
    fn no_flipped_bit_of_a_sample_passes((sample, line) in sample_line()) {
        assert_no_flip_passes(&line, &Frame::Sample(sample))?;
    }

    #[test]
    fn no_flipped_bit_of_a_hello_passes(hello in hello()) {
        let mut line = Vec::new();
        encode_hello(&mut line, &hello);
        assert_no_flip_passes(&line, &Frame::Hello(hello))?;
    }

    #[test]
    fn no_burst_of_sixteen_bits_passes((sample, line) in sample_line(), at in any::<prop::sample::Index>(), burst in 1..=u16::MAX) {
        // A CRC of 16 bits finds every burst of at most 16 bits (W. W. Peterson, D. T. Brown,
        // Cyclic codes for error detection, 1961), here inside the part that it covers.
        let star = line.iter().rposition(|&byte| byte == b'*').unwrap();
        let at = at.index(star - 1);
        let mut damaged = line.clone();
        damaged[at] ^= (burst >> 8) as u8;
        damaged[at + 1] ^= (burst & 0xFF) as u8;
        for passed in frames(&damaged) {
            prop_assert!(!matches!(passed, Frame::Sample(_)), "{:?} of {:?}", passed, sample);
        }
    }

    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..140)) {
        let _ = Native.parse(&bytes);
    }

    #[test]
    fn arbitrary_text_with_a_right_checksum_never_panics(body in "[!>#][ -~]{0,110}") {
        let line = with_crc(&body);
        if let Ok(Frame::Sample(sample)) = Native.parse(&line) {
            prop_assert!(sample.seq.is_some() && sample.board_ms.is_some());
        }
    }

    #[test]
    fn near_samples_with_a_right_checksum_are_read_by_the_grammar(body in ">[0-9]{0,11},[0-9]{0,11}(,[-+.0-9e*]{0,7}){0,9}") {
        // The published grammar, written down a second time.
        let fields: Vec<&str> = body[1..].split(',').collect();
        let counter = |text: &&str| text.len() <= 10 && text.parse::<u32>().is_ok();
        let reading = |text: &&str| {
            let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
            let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
            let all = |part: &str, most| (1..=most).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
            text.is_empty() || *text == "--" || *text == "---" || all(whole, 10) && all(fraction, 9)
        };
        let good = (3..=10).contains(&fields.len())
            && fields[..2].iter().all(counter)
            && fields[2..].iter().all(reading);
        prop_assert_eq!(Native.parse(&with_crc(&body)).is_ok(), good, "{}", body);
    }
}
